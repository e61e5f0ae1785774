"""A whole job rebuilt from its text and the catalogue alone, to be compared with what the tool says of it.

Read with tomllib, drawn for ngspice with the elements of `spice_lines`. Nothing here comes from the tool: lengths of runs are
plan lengths, steps in the ground, rises and service loops (or as stated), existing cable is 2 r l of the pairs a line takes,
n pairs in parallel having 1/n of the resistance and inductance and n times the capacitance.

Two like coils on one former: in parallel the force factor and the turns are half those in series, so that Re, Le and the
motional Res, which go by their squares, are a quarter (Small, JAES 20 (1972), equivalent circuit of the driver). Gain counts
from full scale: of a line its voltage, on low impedance the greatest of the amplifier. Full drive is what it gives at most: on
low impedance its rated power P at the load R it is rated into, sqrt(P R). Between two such loads the voltage follows in
proportion, below the least it gives the power of the least (common practice, no source); the load is what hangs on it where
that is lowest, of the frequencies its filters pass. Several lines on one output share its output impedance.
"""

import copy
import functools
import math
import re
import subprocess
import tomllib

import spice_lines as spice
from tool import ROOT

METRES = {"m": 1.0, "ft": 0.3048, "in": 0.0254, "mm": 0.001, "cm": 0.01}
HEALTHY = {"kind": "healthy"}


def metres(value):
    """Metres of a length as the files write it: 0.4, "32 mm", "31 ft 6 in"."""
    if isinstance(value, str):
        parts = value.split()
        return sum(float(number) * METRES[unit] for number, unit in zip(parts[::2], parts[1::2], strict=True))
    return float(value)


def inside(outline, at):
    """Whether a place lies in a polygon: ray casting."""
    (x, y), odd = at, False
    for (ax, ay), (bx, by) in zip(outline, outline[1:] + outline[:1]):
        if (ay > y) != (by > y) and x < (bx - ax) * (y - ay) / (by - ay) + ax:
            odd = not odd
    return odd


def catalogue():
    read = {}
    for file in ("cables", "loudspeakers", "amplifiers", "prices"):
        read |= tomllib.loads((ROOT / "catalogue" / f"{file}.toml").read_text())
    return read


class Whole:
    """A job and what follows from it."""

    def __init__(self, text):
        self.job = tomllib.loads(text)
        self.catalogue = catalogue()
        self.lines = {name: WholeLine(self, name) for name in self.job["lines"]}
        for line in self.lines.values():
            line.together = [other for other in self.lines.values() if other.fed is line.fed and other.volts is None]

    def at(self, tag):
        for table in ("loudspeakers", "joints", "racks", "stubs"):
            if tag in self.job.get(table, {}):
                return [metres(c) for c in self.job[table][tag]["position"]]
        raise KeyError(tag)

    def rise(self, tag):
        """Cable between the ground and where it is connected."""
        if tag in self.job["racks"]:
            return abs(metres(self.job["racks"][tag].get("height", 0.5)))
        if tag in self.job["loudspeakers"]:
            placed = self.job["loudspeakers"][tag]
            return max(metres(placed.get("height", self.catalogue["loudspeakers"][placed["model"]]["centre_height"])), 0.0)
        return 0.0

    def way(self, run):
        return [self.at(run["from"]), *([metres(c) for c in p] for p in run.get("via", [])), self.at(run["to"])]

    def outline(self, entry):
        return [[metres(c) for c in corner] for corner in entry["outline"]]

    @functools.cached_property
    def levels(self):
        """Surfaces as outline and height of the ground, in the order of the file."""
        surfaces = self.job.get("surfaces", {}).values()
        return [(self.outline(s), metres(s.get("elevation", 0.0))) for s in surfaces]

    def elevation(self, at):
        """Height of the ground: of the surface listed last that holds the place."""
        return next((height for outline, height in reversed(self.levels) if inside(outline, at)), 0.0)

    def climb(self, way):
        """Up and down along a way, walked in steps of 5 cm between its corners."""
        heights = [self.elevation(way[0])]
        for a, b in zip(way, way[1:]):
            steps = math.ceil(math.dist(a, b) / 0.05)
            heights += [self.elevation([a[i] + k / steps * (b[i] - a[i]) for i in (0, 1)]) for k in range(1, steps + 1)]
        return sum(abs(b - a) for a, b in zip(heights, heights[1:]))

    def conductor_metres(self, run):
        if "length" in run:
            return metres(run["length"])
        way = self.way(run)
        plan = sum(math.dist(a, b) for a, b in zip(way, way[1:]))
        loops = 2 * metres(self.catalogue["prices"]["service_loop"])
        return plan + self.climb(way) + self.rise(run["from"]) + self.rise(run["to"]) + loops

    def stub_pairs(self, stub):
        """Pairs by line: those a line names; else the number it uses in its own cable where free, else the next free."""
        cable = self.catalogue["cables"][self.job["stubs"][stub]["cable"]]
        free = self.job["stubs"][stub].get("free_pairs", range(1, cable["conductors"] // 2 + 1))
        here = {name: line for name, line in self.job["lines"].items() if line.get("start") == stub}
        taken = [pair for line in here.values() for pair in line.get("stub_pairs", [])]
        pairs = {}
        for name, line in here.items():
            pairs[name] = line.get("stub_pairs")
            if pairs[name] is None:
                left = [pair for pair in free if pair not in taken]
                pairs[name] = [line.get("pair", 1) if line.get("pair", 1) in left else left[0]]
                taken += pairs[name]
        return pairs

    def colours(self, cable, pairs):
        """Positive and negative conductors of pairs, by the catalogue."""
        names = self.catalogue["cables"][cable]["colours"]
        return [names[2 * p - 2] for p in pairs], [names[2 * p - 1] for p in pairs]

    def ledger(self):
        """Cables as they lie: type, metres, first line, tag, whether bought. Runs on one way in different pairs are one cable,
        and so is the existing cable of a stub."""
        lying = {}
        for name, line in self.job["lines"].items():
            if line.get("start") in self.job.get("stubs", {}):
                stub = self.job["stubs"][line["start"]]
                lying.setdefault(("stub", line["start"]), [stub["cable"], metres(stub["length"]), name, [line["start"]], False])
            for tag, run in line["runs"].items():
                cable, existing = run.get("cable", line["cable"]), bool(run.get("existing"))
                one = lying.setdefault((cable, run["from"], run["to"], repr(run.get("via")), existing), [cable, 0.0, name, [], not existing])
                one[1] = max(one[1], self.conductor_metres(run))
                one[3].append((run.get("pair", line.get("pair", 1)), tag))
        joined = lambda tags: "+".join(tag if isinstance(tag, str) else tag[1] for tag in sorted(tags))  # noqa: E731
        return [(cable, length, first, joined(tags), bought) for cable, length, first, tags, bought in lying.values()]

    def cut_metres(self):
        """Cable to buy, by type, with its waste: every cable is cut to the tenth of a metre above, and what is bought is their sum."""
        waste = 1 + float(self.catalogue["prices"]["waste"].split()[0]) / 100
        sums = {}
        for cable, length, _, _, bought in self.ledger():
            if bought:
                sums[cable] = sums.get(cable, 0.0) + math.ceil(length * waste * 10 - 1e-6) / 10
        return sums


class WholeLine:
    """A line from the rack on, with what `spice_lines` wants of one."""

    def __init__(self, whole, name):
        job, line = whole.job, whole.job["lines"][name]
        supply = line.get("supply", job["brief"]["supply"])
        self.name, self.volts = name, None if supply == "low impedance" else spice.number(supply)
        self.fed = fed = job["channels"][line["channel"]]
        channel = job["amplifiers"][fed["amplifier"]]
        self.amplifier = amplifier = whole.catalogue["amplifiers"][channel["model"]]
        # Two outputs bridged stand in series.
        self.output_ohm = spice.number(amplifier.get("output_impedance", 0.05)) * (2 if fed.get("bridged") else 1)
        self.runs, self.ohm_per_m, self.pairs, self.cable = [], {}, {}, {}
        self.start = line.get("start", channel["rack"])
        if self.start in job.get("stubs", {}):
            stub = job["stubs"][self.start]
            rack = stub.get("rack", next(iter(job["racks"])))
            self.add(whole, self.start, rack, self.start, metres(stub["length"]), stub["cable"],
                     whole.stub_pairs(self.start)[name])
            self.start = rack
        for run, r in line["runs"].items():
            self.add(whole, run, r["from"], r["to"], whole.conductor_metres(r), r.get("cable", line["cable"]),
                     [r.get("pair", line.get("pair", 1))])
        here = {tag: one for tag, one in job["loudspeakers"].items() if one.get("line") == name}
        self.loads = {tag: self.load(one, whole.catalogue["loudspeakers"][one["model"]]) for tag, one in here.items()}
        self.in_series = {run for run, r in line["runs"].items() if r.get("in_series")}
        self.real = spice.built(self, None, perfect=True)
        for run in self.in_series:
            self.real["runs"][run]["in_series"] = True
        for run, pairs in self.pairs.items():
            self.real["runs"][run]["l"] /= len(pairs)
            self.real["runs"][run]["c"] *= len(pairs)

    @functools.cached_property
    def drive_v(self):
        return self.volts or full_drive_v(self)

    @property
    def full_scale_v(self):
        return self.volts or (2 if self.fed.get("bridged") else 1) * spice.number(self.amplifier["maximum_voltage"])

    def driven_v(self, gain_db):
        """Open-circuit voltage of the channel at a gain."""
        return min(self.full_scale_v * 10 ** (gain_db / 20), math.inf if self.volts else self.drive_v)

    def load(self, placed, model):
        load = spice.Line.load(self, placed, model)
        load["wired"] = load["nominal"]
        if "dual_coil" in model:
            each = spice.number(model["dual_coil"]["each"])
            catalogued = "series" if load["nominal"] > each else "parallel"
            wired = placed.get("coils", catalogued)
            factor = 1.0 if wired == catalogued else 4.0 if wired == "series" else 0.25
            # A transformer is wound for the catalogue's load, whatever is hung on it.
            for key in ("re", "le", "wired") if load["tap"] else ("re", "le", "wired", "nominal"):
                load[key] *= factor
        return load

    def add(self, whole, run, a, b, length, cable, pairs):
        described = whole.catalogue["cables"][cable]
        one = spice.conductor_ohm_per_m(described["conductor"], described["strands"])
        self.runs.append((run, a, b, length))
        self.ohm_per_m[run], self.pairs[run], self.cable[run] = one / len(pairs), pairs, cable

    def behind(self, joint):
        return spice.Line.behind(self, joint)

    def circuit(self, prefix, fault=HEALTHY, size=None, joint=None, within=None):
        return spice.netlist(self.real, fault, size or {}, prefix, joint=joint, within=within)

    def stages(self):
        """Joints and runs each time a run was added, in the order of the runs from the rack outwards."""
        joints, runs, left = [self.start], [], list(self.runs)
        while left:
            run = next(r for r in left if r[1] in joints)
            left.remove(run)
            joints, runs = [*joints, run[2]], [*runs, run[0]]
            yield run[2], (list(joints), list(runs))


def passed_hz(fed):
    """The band the filters of a channel pass; without a filter, from 20 Hz and to 20 kHz (IEC 61260-1 third octaves)."""
    corner = lambda key, open_hz: spice.number(fed[key]["corner"]) if key in fed else open_hz  # noqa: E731
    return corner("high_pass", 10**1.3), corner("low_pass", 10**4.3)


def full_drive_v(line):
    """Open-circuit voltage at which an amplifier comes to what it is rated to give into all that hangs on its channel."""
    low, high = passed_hz(line.fed)
    steps = math.ceil(200 * math.log10(high / low))
    frequencies = [low * (high / low) ** (k / steps) for k in range(steps + 1)]
    solved = spice.impedances([one.circuit(f"d{k}") for k, one in enumerate(line.together)], frequencies)
    heaviest = max((sum(1 / z for z in here) for here in zip(*solved, strict=True)), key=abs)
    ohm, both = 1 / abs(heaviest), 2 if line.fed.get("bridged") else 1
    rated = [(both * load, math.sqrt(both * spice.number(line.amplifier[key]) * both * load))
             for load in (2, 4, 8) if (key := f"power_{load}ohm") in line.amplifier]
    (least, least_v), *_ = rated
    volts = least_v * math.sqrt(ohm / least) if ohm <= least else rated[-1][1]
    for (a, a_v), (b, b_v) in zip(rated, rated[1:]):
        if a < ohm <= b:
            volts = a_v + (b_v - a_v) * (ohm - a) / (b - a)
    most = [volts, both * spice.number(line.amplifier["maximum_voltage"]), ohm * spice.number(line.amplifier["maximum_current"])]
    return min(most) * abs(1 + line.output_ohm * heaviest)


def solved_at(line, frequencies, terminals=False):
    """Complex voltages every loudspeaker stands across (or has at its own terminals, behind its transformer) and at the rack at
    full drive, and the current of the source into this line: a row for each frequency."""
    elements, start = line.circuit("v")
    elements = [e for e in elements if not e.startswith(("Iv ", "Rgv "))]
    source = [f"Vs open 0 DC 0 AC {line.drive_v!r}", f"Rs open out {line.output_ohm!r}", f"Vi out {start} DC 0 AC 0"]
    for k, other in enumerate(one for one in line.together if one.name != line.name and line.volts is None):
        more, beside = other.circuit(f"o{k}")
        source += [*(e for e in more if not e.startswith((f"Io{k} ", f"Rgo{k} "))), f"Vo{k} out {beside} DC 0 AC 0"]
    onward = {a for run, a, _, _ in line.runs if run in line.in_series}
    across = {tag: f"v(v{tag},v{tag}_o)" if tag in onward else f"v(v{tag})" for tag in line.loads}
    if terminals:
        across |= {tag: f"v(sv{tag})" for tag, load in line.loads.items() if load["tap"]}
    wanted = [across[tag] for tag in line.loads] + [f"v({start})", "i(Vi)"]
    text = ["* line", *source, *elements, ".control", "set width=500", "set numdgt=12"]
    for f in frequencies:
        text.append(f"ac lin 1 {f!r} {f!r}")
        text += [f"print {w}" for w in wanted]
    text += [".endc", ".end"]
    run = subprocess.run([spice.NGSPICE, "-b", "/dev/stdin"], input="\n".join(text) + "\n", capture_output=True, text=True,
                         check=False)
    number = r"= ([-+]?\d[\d.]*e[-+]\d+),\s*([-+]?\d[\d.]*e[-+]\d+)"
    values = [complex(float(a), float(b)) for a, b in re.findall(number, run.stdout)]
    assert len(values) == len(wanted) * len(frequencies), run.stdout[-1000:] + run.stderr[-2000:]
    return [values[k * len(wanted) : (k + 1) * len(wanted)] for k in range(len(frequencies))]


def voltages(line, frequencies):
    """|V| each loudspeaker stands across at full drive, and |Z| at the rack: lists over the frequencies."""
    rows = solved_at(line, frequencies)
    reached = {tag: [abs(row[k]) for row in rows] for k, tag in enumerate(line.loads)}
    return reached, [abs(row[-2] / row[-1]) for row in rows]


def terminals(line, frequencies):
    """|V| at every loudspeaker's own terminals at full drive: lists over the frequencies."""
    rows = solved_at(line, frequencies, terminals=True)
    return {tag: [abs(row[k]) for row in rows] for k, tag in enumerate(line.loads)}


def shares(line, frequencies):
    """The part of the voltage at the amplifier's terminals each loudspeaker stands across where the cable loses nothing: all of
    it but in series. A row for each frequency."""
    bare = copy.copy(line)
    bare.real = copy.deepcopy(line.real)
    for run in bare.real["runs"].values():
        run["r"], run["l"], run["c"] = 1e-6, 1e-15, 1e-18
    return [[abs(v / row[-2]) for v in row[:-2]] for row in solved_at(bare, frequencies)]


def lost_db(line, frequency):
    """What the cable takes on the way from the amplifier's terminals to every loudspeaker, dB."""
    [row], [share] = solved_at(line, [frequency]), shares(line, [frequency])
    return {tag: 20 * math.log10(abs(row[-2]) * share[k] / abs(row[k])) for k, tag in enumerate(line.loads)}
