"""The examples' lines as ngspice circuits: built with errors, with one fault, read by a meter that errs.

Drawn without the tool: cable by ASTM B258 gauge sizes and IEC 60028 copper, a transformer as two coupled coils with copper in
the primary and the secondary, with the core's loss across the secondary's coil; a moving coil as Re, Le and a parallel R-L-C.
Only the lengths of the runs are the tool's own (`loamline expect --json`).

Of a transformer the maker states taps and insertion loss; what else the catalogue does not state is not known and is drawn
once for a model: the primary's share of the copper loss evenly from 0.3 to 0.7, core loss (a tenth of the loss) and leakage
(a third of the tap's impedance at 20 kHz) within 40 %. Where the primary's resistance is stated, at the tap with the least
impedance, other taps have ohms by the power 1 of their turns, give or take 0.25. Element values come from watts, one element
after the other.
"""

import cmath
import concurrent.futures
import math
import re
import shutil
import subprocess
import tomllib

from tool import ROOT

NGSPICE = shutil.which("ngspice")
DC_HZ = 1e-6  # ngspice has no zero in an AC analysis; a period of eleven days is as good
ALPHA = 0.00393  # copper, per kelvin (IEC 60028)

# Standard deviations: the tool's stated defaults. Components and lengths are drawn evenly within limits that have this
# deviation, as parts sorted to a tolerance are; temperature and meter are normal.
LENGTH, LENGTH_COMMON, TEMPERATURE_K = 0.04, 0.02, 8.0
CABLE_INDUCTANCE, CABLE_CAPACITANCE = 0.1, 0.2
PARTS = {"re": 0.05, "le": 0.1, "fs": 0.08, "qms": 0.15, "qes": 0.1, "winding": 0.08, "lm": 0.2, "turns": 0.01}
BATCH = 0.25
PRIMARY_SHARE, BY_TURNS, CORE, LEAKAGE = (0.3, 0.7), 0.25, 0.4, 0.4
CORE_PART, LEAKAGE_AT_20_KHZ = 0.1, 1 / 3  # where the maker says nothing
NOMINAL = {"share": 0.5, "by_turns": 1.0, "core": 1.0, "leakage": 1.0}
METER, METER_FLOOR_OHM, METER_PHASE_DEG, METER_RANGE_OHM = 0.01, 0.05, 1.0, 20_000.0


def number(value):
    """The number of "4.5 H", "0.3 mH", "100 V"; plain numbers as they are."""
    if not isinstance(value, str):
        return float(value)
    text, _, unit = value.partition(" ")
    return float(text) * {"mH": 1e-3, "mm": 1e-3, "%": 0.01}.get(unit, 1.0)


def spread(rng, deviation):
    """One plus an error spread evenly, with this standard deviation."""
    return 1 + rng.uniform(-1, 1) * math.sqrt(3) * deviation


# IEC 60228 class 5, plain copper at 20 C: area in mm2, greatest ohm per km.
CLASS_5 = {0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98, 4.0: 4.95, 6.0: 3.30, 10.0: 1.91}


def conductor_ohm_per_m(size, strands):
    """Resistance of one conductor at 20 C; a gauge by ASTM B258, 2 % more when stranded (ASTM B8)."""
    value, unit = size.split()
    if unit == "mm2":
        return CLASS_5[float(value)] / 1000
    area = math.pi / 4 * (0.127e-3 * 92 ** ((36 - float(value)) / 39)) ** 2
    return 1.7241e-8 / area * (1.02 if strands == "stranded" else 1.0)


VOLTS = {25.0: "taps_25v", 70.7: "taps_70v", 100.0: "taps_100v"}


class Line:
    """A line of an example as designed."""

    def __init__(self, job, expected, name, catalogue):
        supply = job["brief"]["supply"]
        self.name = name
        self.volts = None if supply == "low impedance" else number(supply)
        line = job["lines"][name]
        self.runs = [(run["id"], run["from"], run["to"], run["electrical_m"]) for run in expected["runs"]]
        self.start = self.runs[0][1]
        default = line["cable"]
        self.ohm_per_m = {}
        for run in self.runs:
            cable = line["runs"][run[0]].get("cable", default)
            conductor = catalogue["cables"][cable]["conductor"]
            self.ohm_per_m[run[0]] = conductor_ohm_per_m(conductor, catalogue["cables"][cable]["strands"])
        self.loads = {
            tag: self.load(one, catalogue["loudspeakers"][one["model"]])
            for tag, one in job["loudspeakers"].items()
            if one.get("line") == name
        }
        self.joints = list(dict.fromkeys([self.start] + [end for run in self.runs for end in run[1:3]]))

    def load(self, placed, model):
        ts = model["impedance"]["thiele_small"]
        load = {key: number(ts[key]) for key in ("re", "le", "fs", "qms", "qes")}
        load["nominal"] = number(model["nominal"])
        load["model"] = placed["model"]
        load["tap"] = None
        if self.volts and "transformer" in model and "tap" in placed:
            t = model["transformer"]
            key = VOLTS[self.volts]
            load |= {
                "tap": number(placed["tap"]),
                "taps": [number(tap) for tap in t[key]],
                "loss": number(t["insertion_loss"]),
                "magnetising": number(t["magnetising"]),
                "least": min(v * v / number(tap) for v, key in VOLTS.items() for tap in t.get(key, [])),
                "stated": {key: number(t[key]) for key in ("primary_resistance", "core_loss", "leakage") if key in t},
            }
        return load

    def run_ends(self, run):
        return next((a, b) for name, a, b, _ in self.runs if name == run)

    def behind(self, joint):
        """Joints and runs looking away from the rack from `joint`."""
        joints, runs = [joint], []
        for at in joints:
            for name, a, b, _ in self.runs:
                if a == at:
                    joints.append(b)
                    runs.append(name)
        return joints, runs


def drawn_windings(design, rng):
    """What is not known of a transformer model; what its maker states is within a quarter of what is usual."""
    of = lambda key, deviation: spread(rng, deviation / 4 if key in design["stated"] else deviation)  # noqa: E731
    share = rng.uniform(*PRIMARY_SHARE)
    return {"share": share, "by_turns": 1 + BY_TURNS * rng.gauss(0, 1), "core": of("core_loss", CORE),
            "leakage": of("leakage", LEAKAGE)}


def built(line, rng, perfect=False):
    """The line as a crew builds it: plain element values."""
    s = (lambda _rng, _d: 1.0) if perfect else spread
    warm = 1.0 if perfect else 1 + ALPHA * TEMPERATURE_K * rng.gauss(0, 1)
    common, inductance, capacitance = s(rng, LENGTH_COMMON), s(rng, CABLE_INDUCTANCE), s(rng, CABLE_CAPACITANCE)
    runs = {}
    for name, a, b, metres in line.runs:
        m = metres * common * s(rng, LENGTH)
        runs[name] = {"a": a, "b": b, "r": 2 * line.ohm_per_m[name] * m * warm, "l": 0.65e-6 * m * inductance,
                      "c": 60e-12 * m * capacitance}
    batches, loads, models = {}, {}, {}
    for tag, design in line.loads.items():
        batch = batches.setdefault(design["model"], {p: s(rng, d * math.sqrt(BATCH)) for p, d in PARTS.items()})
        own = {p: s(rng, d * math.sqrt(1 - BATCH)) * batch[p] for p, d in PARTS.items()}
        loads[tag] = dict(design) | {p: design[p] * own[p] for p in ("re", "le", "fs", "qms", "qes")}
        loads[tag]["re"] *= warm
        loads[tag]["own"] = own | {"winding": own["winding"] * warm}
        if design["tap"]:
            loads[tag]["windings"] = models.setdefault(design["model"], NOMINAL if perfect else drawn_windings(design, rng))
    return {"runs": runs, "loads": loads, "volts": line.volts, "start": line.start}


def faults(line, priors):
    """Every single fault of a line: (weight, fault as the tool names it)."""
    every = []
    for run, _, _, _ in line.runs:
        every += [(priors["open"], {"kind": "open", "run": run})]
        every += [(priors["short_along"], {"kind": "short_along", "run": run})]
        every += [(priors["high_splice"], {"kind": "high_splice", "run": run})]
    for joint in line.joints:
        if joint != line.start:
            every += [(priors["short_at"], {"kind": "short_at", "joint": joint})]
        every += [(priors["wet"], {"kind": "wet", "joint": joint})]
    for tag, load in line.loads.items():
        every += [(priors["missing"], {"kind": "missing", "load": tag})]
        if load["tap"]:
            every += [(priors["low_impedance"], {"kind": "low_impedance", "load": tag})]
            wrong = [tap for tap in load["taps"] if tap != load["tap"]]
            every += [
                (priors["wrong_tap"] / len(wrong), {"kind": "wrong_tap", "load": tag, "tap_w": tap}) for tap in wrong
            ]
    return every


def subject(fault):
    """What a fault alters: a run, a joint's insulation or a loudspeaker; two faults of one are no pair."""
    return next((key, fault[key]) for key in ("run", "joint", "load") if key in fault)


def sizes(fault, line, rng):
    """What the fault does not name: where along the run, how many ohms, at which end."""
    log = lambda low, high: low * (high / low) ** rng.random()  # noqa: E731
    kind = fault["kind"]
    size = {"at": rng.uniform(0.02, 0.98), "contact": log(0.01, 0.1)}
    if kind == "high_splice":
        size |= {"ohm": log(0.5, 500.0), "joint": line.run_ends(fault["run"])[rng.randrange(2)]}
    if kind == "wet":
        size["ohm"] = log(20.0, 10_000.0)
    return size


def netlist(real, fault, size, prefix, joint=None, within=None):
    """Lines of a netlist read at the rack, or at `joint` with only the runs and joints `within` it; and the node read.

    Of a fault of kind "two", `size` is that of the first and that of the second."""
    text = []
    wrong = [(fault["first"], size[0]), (fault["second"], size[1])] if fault["kind"] == "two" else [(fault, size)]
    of = lambda key, name: next(((f, s) for f, s in wrong if f.get(key) == name), ({"kind": None}, {}))  # noqa: E731
    root = joint or real["start"]
    node = lambda name: f"{prefix}{name}"  # noqa: E731
    joints, runs = within or (None, None)
    here = lambda name: joints is None or name in joints  # noqa: E731
    text += [f"I{prefix} 0 {node(root)} AC 1", f"Rg{prefix} {node(root)} 0 1e9"]
    for name, run in real["runs"].items():
        if runs is not None and name not in runs:
            continue
        # Behind a loudspeaker in series a run leaves its far terminal.
        a, b = node(run["a"]) + ("_o" if run.get("in_series") else ""), node(run["b"])
        mine, its = of("run", name)
        kind = mine["kind"]
        pieces = [(a, b, 1.0)]
        if kind in ("open", "short_along"):
            x = its["at"]
            ends = (node(name + "_x"), node(name + ("_x" if kind == "short_along" else "_y")))
            pieces = [(a, ends[0], x), (ends[1], b, 1 - x)]
            text += [f"Rx{prefix}{name}{k} {end} 0 1e12" for k, end in enumerate(ends)]
            if kind == "short_along":
                text.append(f"Rs{prefix}{name} {ends[0]} 0 {its['contact']!r}")
        for k, (p, q, share) in enumerate(pieces):
            tag = f"{prefix}{name}{k}"
            more = its["ohm"] if kind == "high_splice" else 0.0
            text.append(f"Rr{tag} {p} {tag}m {run['r'] * share + more!r}")
            text.append(f"Lr{tag} {tag}m {q} {run['l'] * share!r}")
            text.append(f"Ca{tag} {p} 0 {run['c'] * share / 2!r}")
            text.append(f"Cb{tag} {q} 0 {run['c'] * share / 2!r}")
    for k, (mine, its) in enumerate(wrong):
        if mine["kind"] in ("short_at", "wet") and here(mine["joint"]):
            ohm = its["contact"] if mine["kind"] == "short_at" else its["ohm"]
            text.append(f"Rj{prefix}{k} {node(mine['joint'])} 0 {ohm!r}")
    for tag, load in real["loads"].items():
        mine, _ = of("load", tag)
        kind = mine["kind"]
        onward = any(run.get("in_series") and run["a"] == tag for run in real["runs"].values())
        far = f"{node(tag)}_o" if onward else "0"
        if onward and here(tag):
            text.append(f"Ro{prefix}{tag} {far} 0 1e12")
        if here(tag) and kind != "missing":
            tap = mine["tap_w"] if kind == "wrong_tap" else load["tap"]
            if kind == "low_impedance":
                tap = None
            text += loudspeaker(load, tap, real["volts"], node(tag), f"{prefix}{tag}", far)
    return text, node(root)


def windings(load, tap, volts):
    """Elements of a transformer from the watts that each takes at its rated voltage, in the middle of the band."""
    drawn, stated, ohm = load["windings"], load["stated"], volts * volts / tap
    lost = tap * (1 - 10 ** (-load["loss"] / 10))
    at_least = stated.get("primary_resistance", 0.0) / load["least"]
    usual = min(CORE_PART * lost, lost - at_least * tap)
    core = stated.get("core_loss", usual / tap) * tap * drawn["core"]
    amperes = volts / ohm
    if "primary_resistance" in stated:
        primary = stated["primary_resistance"] * max(1.0, math.sqrt(ohm / load["least"])) ** drawn["by_turns"]
        primary = min(primary, (lost - core) / amperes**2)
    else:
        primary = drawn["share"] * (lost - core) / amperes**2
    across = volts - amperes * primary
    onwards = amperes - core / across
    through = math.sqrt((tap - lost) / load["nominal"])
    leakage = stated.get("leakage", LEAKAGE_AT_20_KHZ * load["least"] / (2 * math.pi * 20_000)) * ohm / load["least"]
    return {
        "primary": primary,
        "core": across**2 / core if core else None,
        "turns": through / onwards,
        "secondary": (lost - core - amperes**2 * primary) / through**2,
        "leakage": leakage * drawn["leakage"],
        "magnetising": load["magnetising"] * max(load["taps"]) / tap,
    }


def loudspeaker(load, tap, volts, terminal, k, far="0"):
    """From a terminal to another: the other conductor, or in series what goes on."""
    text = []
    if tap:
        coils, own = windings(load, tap, volts), load["own"]
        # Two coils with L1, L2 and k: leakage L1 (1 - k^2), magnetising k^2 L1, ratio k sqrt(L1 / L2).
        magnetising, turns = coils["magnetising"] * own["lm"], coils["turns"] * own["turns"]
        first = magnetising + coils["leakage"]
        text.append(f"Rp{k} {terminal} p{k} {coils['primary'] * own['winding']!r}")
        text.append(f"Lp{k} p{k} 0 {first!r}")
        text.append(f"Ls{k} e{k} 0 {magnetising / turns**2!r}")
        text.append(f"K{k} Lp{k} Ls{k} {math.sqrt(magnetising / first)!r}")
        if coils["core"]:
            text.append(f"Rc{k} e{k} 0 {coils['core'] / turns**2!r}")
        text.append(f"Rs{k} e{k} s{k} {coils['secondary'] * own['winding']!r}")
        terminal = f"s{k}"
    res, w = load["re"] * load["qms"] / load["qes"], 2 * math.pi * load["fs"]
    text.append(f"Re{k} {terminal} a{k} {load['re']!r}")
    text.append(f"Le{k} a{k} b{k} {load['le']!r}")
    text.append(f"Rm{k} b{k} {far} {res!r}")
    text.append(f"Cm{k} b{k} {far} {load['qms'] / (res * w)!r}")
    text.append(f"Lk{k} b{k} {far} {res / (w * load['qms'])!r}")
    return text


def impedances(circuits, frequencies, batch=20):
    """Complex impedance per circuit and frequency (0 for DC): ngspice solves `batch` circuits side by side."""
    batches = [circuits[k : k + batch] for k in range(0, len(circuits), batch)]
    with concurrent.futures.ThreadPoolExecutor(2) as pool:
        done = pool.map(lambda part: solve(part, frequencies), batches)
        return [z for part in done for z in part]


def voltages(elements, node, frequencies):
    """Complex voltage of a node of one circuit, its source given, per frequency."""
    return solve([(elements, node)], frequencies)[0]


def solve(circuits, frequencies):
    text = ["* lines"] + [element for elements, _ in circuits for element in elements]
    text += [".control", "set width=500", "set numdgt=10"]
    for f in frequencies:
        f = f or DC_HZ
        text.append(f"ac lin 1 {f!r} {f!r}")
        text += [f"print v({node})" for _, node in circuits]
    text += [".endc", ".end"]
    run = subprocess.run(
        [NGSPICE, "-b", "/dev/stdin"], input="\n".join(text) + "\n", capture_output=True, text=True, check=False
    )
    complexes = re.findall(r"= ([-+]?\d[\d.]*e[-+]\d+),\s*([-+]?\d[\d.]*e[-+]\d+)", run.stdout)
    values = [complex(float(a), float(b)) for a, b in complexes]
    assert len(values) == len(circuits) * len(frequencies), run.stdout[-1000:] + run.stderr[-2000:]
    return [values[k :: len(circuits)] for k in range(len(circuits))]


def shown(z, rng):
    """What a meter shows: ohms and degrees, or (None, None) beyond its range."""
    ohm = max(0.0, abs(z) * (1 + METER * rng.gauss(0, 1)) + METER_FLOOR_OHM * rng.gauss(0, 1))
    degrees = math.degrees(cmath.phase(z)) + METER_PHASE_DEG * rng.gauss(0, 1)
    return (ohm, degrees) if abs(z) <= METER_RANGE_OHM else (None, None)


def load_examples(expect):
    """Every line of the examples with loudspeakers: (example, Line); `expect` gives what the tool says of one."""
    catalogue = {}
    for kind in ("cables", "loudspeakers"):
        catalogue[kind] = tomllib.loads((ROOT / "catalogue" / f"{kind}.toml").read_text())[kind]
    every = []
    for example in ("guesthouse-garden", "quayside-hotel", "walled-courtyard"):
        job = tomllib.loads((ROOT / "examples" / example / "job.toml").read_text())
        for name, expected in expect(example)["lines"].items():
            every.append((example, Line(job, expected, name, catalogue)))
    return every
