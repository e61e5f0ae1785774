"""The terrace of the checks of readings: a terrace under apartments with three lines and three visits (a short of 0.4 ohm,
20 kohm to earth, a cut line), what its lines should read, and what is to be said of every reading.

What a line should read is worked out here: copper by ASTM B258 gauge and IEC 60028, the primary's copper of a tap as half of
what its insertion loss leaves to copper (0.3 to 0.7 of it, one share for a model), voice coils as the catalogue states them,
lines as trees of resistances; the interval by first-order propagation of the tool's stated tolerances. At 1 kHz by ngspice
(spice_lines). The limit of insulation, 1 Mohm, is common practice, no source.
"""

import json
import math
import random
import tomllib

import pytest

import spice_lines
from tool import ROOT, run

ALPHA = 0.00393
OFFSET_OHM = 0.2  # four times the meter's 0.05 ohm
Z95, Z999 = 1.959964, 3.290527

# Runs in metres, as measured on site: line -> run -> (from, to, metres).
RUNS = {
    "A": {"a1": ("R1", "J1", 10.0), "a2": ("J1", "L1", 6.0), "a3": ("J1", "L2", 8.0)},
    "B": {"b1": ("R1", "L3", 14.0), "b2": ("L3", "L4", 6.0)},
    "C": {"c1": ("R1", "L5", 20.0), "c2": ("L5", "L6", 10.0)},
}
TAPS = {"L1": 10.0, "L2": 10.0, "L5": 20.0, "L6": 5.0}  # L3 and L4 are low impedance
PLACES = {"L1": (12, 3), "L2": (12, -3), "L3": (6, 8), "L4": (9, 9), "L5": (3, 12), "L6": (9, 13)}

JOB = """format = 1

[job]
name = "Terrace under apartments"
reference = "TA-1"

[brief]
supply = "100 V"

[areas.terrace]
outline = [[2, 1], [10, 1], [10, 7], [2, 7]]
target = "66 dBA"

[neighbours.flats]
points = [[6, 16]]
height = "6 m"
day = "70 dBA"
night = "60 dBA"

[site]
outline = [[-2, -6], [18, -6], [18, 16], [-2, 16]]
ground = "lawn"

[surfaces.bed]
outline = [[1, 7.5], [11, 7.5], [11, 9.5], [1, 9.5]]
kind = "bed"

[surfaces.border]
outline = [[11, 0.5], [13, 0.5], [13, 9.5], [11, 9.5]]
kind = "bed"

[racks.R1]
position = [0, 0]

[amplifiers.P1]
model = "line-4x280"
rack = "R1"

[amplifiers.P2]
model = "LOW"
rack = "R1"

[channels.CA]
amplifier = "P1"
output = 1
high_pass = { corner = "90 Hz" }

[channels.CB]
amplifier = "P2"
output = 1
high_pass = { corner = "90 Hz" }

[channels.CC]
amplifier = "P1"
output = 2
high_pass = { corner = "90 Hz" }

[joints.J1]
position = [9, 0]
kind = "box"
"""


def dc_parts(copper=None, winding=1.0, coil=1.0, warm=1.0):
    """Ohms of every run (there and back) and of every loudspeaker at direct current, errors as factors."""
    mine = spice_lines.conductor_ohm_per_m("14 AWG", "stranded")
    runs = {
        name: 2 * mine * metres * (copper or {}).get(name, 1.0) * warm
        for line in RUNS.values()
        for name, (_, _, metres) in line.items()
    }
    model = CATALOGUE["loudspeakers"]["stake-110-wide"]
    passed = 10 ** (-spice_lines.number(model["transformer"]["insertion_loss"]) / 10)
    loads = {}
    for tag in PLACES:
        # A steady current sees the primary's copper alone; the core has a tenth of the loss.
        if tag in TAPS:
            loads[tag] = 100.0**2 / TAPS[tag] * (1 - passed) * 0.9 * 0.5 * winding * warm
        else:
            loads[tag] = spice_lines.number(model["impedance"]["thiele_small"]["re"]) * coil * warm
    return runs, loads


def dc(line, at=None, until=None, each=None, **errors):
    """Ohms at the rack or at a joint looking away from it; built `until` a run only; `each` factors of single loads."""
    runs, loads = dc_parts(**errors)
    names = list(RUNS[line])
    names = names[: names.index(until) + 1] if until else names

    def seen(node):
        siemens = 1 / (loads[node] * (each or {}).get(node, 1.0)) if node in loads else 0.0
        for name in names:
            start, end, _ = RUNS[line][name]
            if start == node and (behind := seen(end)):
                siemens += 1 / (runs[name] + 1 / behind)
        return siemens

    return 1 / seen(at or "R1")


def interval(line, at=None, until=None, z=Z95):
    """First-order propagation on ln(ohm + offset): lengths, temperature, windings or coils (a quarter of their variance
    common to a model), what is not known of a transformer model's windings, the meter."""
    ohm = dc(line, at, until)
    value = lambda **errors: math.log(dc(line, at, until, **errors) + OFFSET_OHM)  # noqa: E731
    step = 1e-4
    slope = lambda **errors: (value(**errors) - value()) / step  # noqa: E731
    one = 1 + step
    every = {name: one for name in RUNS[line]}
    squares = [(0.02 * slope(copper=every)) ** 2, (ALPHA * 8 * slope(warm=one)) ** 2]
    squares += [(0.04 * slope(copper={name: one})) ** 2 for name in RUNS[line]]
    deviation = 0.05 if line == "B" else 0.08
    both = slope(coil=one) if line == "B" else slope(winding=one)
    squares.append(0.25 * (deviation * both) ** 2)
    if line != "B":
        # The share of a model, even from 0.3 to 0.7, and 40 % of the core's tenth, which copper has the less.
        squares += [(0.4 / math.sqrt(12) / 0.5 * both) ** 2, (0.4 * 0.1 / 0.9 * both) ** 2]
    squares += [0.75 * (deviation * slope(each={tag: one})) ** 2 for tag in PLACES]
    squares += [(0.01 * ohm / (ohm + OFFSET_OHM)) ** 2, (0.05 / (ohm + OFFSET_OHM)) ** 2]
    off = z * math.sqrt(sum(squares))
    return [(ohm + OFFSET_OHM) * math.exp(sign * off) - OFFSET_OHM for sign in (-1, 1)]


CATALOGUE = {}
for kind in ("cables", "loudspeakers", "amplifiers"):
    CATALOGUE[kind] = tomllib.loads((ROOT / "catalogue" / f"{kind}.toml").read_text())[kind]
LOW = next(id for id, a in CATALOGUE["amplifiers"].items() if "power_8ohm" in a or "power_4ohm" in a)


def z_1khz():
    """Line A at 1 kHz by ngspice, nothing erring."""
    job = tomllib.loads(document([]))
    expected = {"runs": [{"id": i, "from": f, "to": t, "electrical_m": m} for i, (f, t, m) in RUNS["A"].items()]}
    line = spice_lines.Line(job, expected, "A", CATALOGUE)
    real = spice_lines.built(line, random.Random(1), perfect=True)
    return abs(spice_lines.impedances([spice_lines.netlist(real, {"kind": "none"}, {}, "x")], [1000.0])[0][0])


def document(visits):
    text = JOB.replace('"LOW"', f'"{LOW}"')
    for line, runs in RUNS.items():
        supply = 'supply = "low impedance"\n' if line == "B" else ""
        text += f'\n[lines.{line}]\nchannel = "C{line}"\ncable = "burial-2x14awg"\ntopology = "tree"\n{supply}'
        text += f"\n[lines.{line}.runs]\n"
        for name, (start, end, metres) in runs.items():
            text += f'{name} = {{ from = "{start}", to = "{end}", length = "{metres} m" }}\n'
    for tag, (x, y) in PLACES.items():
        line = next(l for l, runs in RUNS.items() if any(tag in r for r in runs.values()))
        tap = f'tap = "{TAPS[tag]:g} W"\n' if tag in TAPS else ""
        text += f'\n[loudspeakers.{tag}]\nmodel = "stake-110-wide"\nposition = [{x}, {y}]\nline = "{line}"\n{tap}'
    return text + "".join(visits)


# visit, reading, line, at, frequency (None: to earth), ohm or "open", above; what must be said: grade, side.
def readings():
    below = lambda low, high, z=0.5: low + z * (high - low)  # noqa: E731
    a, j1, b, c = interval("A"), interval("A", "J1"), interval("B"), interval("C")
    stage = interval("A", until="a2")
    l4, far = interval("B", "L4"), interval("B", "L4", z=Z999)
    return [
        ("V0", "r1", "A", None, 0.0, below(*stage), False, "good", "within"),
        ("V1", "r1", "A", None, 0.0, below(*a), False, "good", "within"),
        ("V1", "r2", "A", None, 1000.0, z_1khz(), False, "good", "within"),
        ("V1", "r3", "A", "J1", 0.0, below(*j1), False, "good", "within"),
        ("V1", "r4", "B", None, 0.0, below(*b), False, "good", "within"),
        ("V1", "r5", "C", None, 0.0, below(*c), False, "good", "within"),
        ("V1", "r6", "A", None, None, 2e8, True, "good", "within"),
        ("V1", "r7", "B", "L4", 0.0, 0.5 * (l4[1] + far[1]), False, "doubtful", "high"),
        ("V2", "r1", "A", None, 0.0, below(*a, 0.9), False, "good", "within"),
        ("V2", "r2", "A", None, 1000.0, 0.4 * z_1khz(), False, "bad", "low"),
        ("V2", "r3", "A", "J1", 0.0, 3.0 * dc("A", "J1"), False, "bad", "high"),
        ("V2", "r4", "B", None, 0.0, 0.4, False, "bad", "short"),
        ("V2", "r5", "C", None, 0.0, 20_000.0, True, "bad", "open"),
        ("V2", "r8", "C", None, 1000.0, "open", False, "bad", "open"),
        ("V2", "r9", "C", "L5", 0.0, "open", False, "bad", "open"),
        ("V2", "r6", "A", None, None, 20_000.0, False, "bad", "low"),
        ("V2", "r7", "C", None, None, 4e5, False, "doubtful", "low"),
    ]


DAYS = {"V0": ("2025-03-01", "building"), "V1": ("2025-04-17", "handover"), "V2": ("2026-05-02", "maintenance")}
DONE = {
    "V0": '\n[visits.V0.done]\n"a1-laid" = { work = "laid", line = "A", run = "a1" }\n'
    '"a2-laid" = { work = "laid", line = "A", run = "a2" }\n"L1-placed" = { work = "placed", at = "L1" }\n'
    '\n[visits.V0.photos]\np1 = { file = "j1.jpg", at = "J1", notes = "before it was closed" }\n'
}


def typed(visit, only=None):
    date, kind = DAYS[visit]
    text = f'\n[visits.{visit}]\ndate = "{date}"\nkind = "{kind}"\n\n[visits.{visit}.readings]\n'
    for v, id, line, at, hz, ohm, above, _, _ in readings():
        if v != visit or (only and id not in only):
            continue
        parts = [f'line = "{line}"'] + ([f'at = "{at}"'] if at else [])
        shown = ohm if ohm == "open" else f"{ohm!r} ohm"
        parts.append(f'leakage = "{shown}"' if hz is None else f'dc = "{shown}"' if hz == 0 else
                     f'impedance = "{shown}", frequency = "1 kHz"')
        text += f"{id} = {{ {', '.join(parts)}{', above = true' if above else ''} }}\n"
    return text + DONE.get(visit, "")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("terrace") / "job"
    made.mkdir()
    (made / "job.toml").write_text(document([typed(v) for v in DAYS]))
    return made


def answer(*arguments):
    done = run(*arguments, "--json")
    assert done.returncode in (0, 1), done.stderr
    return json.loads(done.stdout)


def by_id(rows, grade="grade", says="says"):
    return {(r["visit"], r["reading"]): (r[grade], r[says]) for r in rows}


def wanted():
    """What is to be said of every reading."""
    return {(v, id): (grade, says) for v, id, *_, grade, says in readings()}


def agree(rows):
    for key, (grade, says) in wanted().items():
        told = rows.get(key)
        assert told, (key, sorted(rows))
        assert told == (grade, says), (key, told)
