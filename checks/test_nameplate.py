"""From the nameplate to the level 1 m ahead, by hand, band by band to 0.05 dB and in dBA: every shipped model on every supply and
tap it has (a job for each model and supply), two coils in series and in parallel, one to four loudspeakers on one output at low
impedance, long cable, gains below and above what an output gives.

The circuit is solved here by nodal analysis with numpy (a conductance matrix of joints, coupled coils by their inductance matrix,
moving coils by Small, JAES 20 (1972)); element values come out of watts, one after the other (`spice_lines.windings`), from the
text of the job and the catalogue (`whole_jobs.py`). An amplifier is a voltage behind its output impedance: full scale is the
line's voltage, at low impedance the greatest of the amplifier, times the gain, until the voltage, the current or the rated power
that it gives into all that hangs on it where that is lowest (see `whole_jobs.py` for loads between two ratings).

The level is the sensitivity (for 1 W into the nominal impedance, so for sqrt(Z) volts) with 20 lg 2 off where it was measured in
half space, the response over the logarithm of frequency, 20 lg of the voltage at the terminals over sqrt(Z), the share of the
programme in the band (pink: 1/31), its crest factor over a sine's 3.01 dB, the gain; air over 1 m by PyPI acoustics (ISO 9613-1),
A-weighting by IEC 61672-1:2013 Annex E. Heard is the straight path alone.
"""

import json
import math
import warnings

import numpy as np
import pytest

import spice_lines as spice
import whole_jobs
from tool import run
from whole_gain import CREST_DB

warnings.simplefilter("ignore")
from acoustics.atmosphere import Atmosphere  # noqa: E402

BANDS_HZ = np.array([1000 * 10 ** (n / 10) for n in range(-17, 14)])  # IEC 61260-1
LIMIT_DB = 0.05
HEIGHT_M = 1.6  # as high as a standing listener's ears
CATALOGUE = whole_jobs.catalogue()
MODELS = CATALOGUE["loudspeakers"]
AIR_DB_PER_M = Atmosphere(temperature=293.15, pressure=101.325, relative_humidity=70.0).attenuation_coefficient(BANDS_HZ)


def a_weighting_db(hz):
    """IEC 61672-1:2013 Annex E, pole frequencies 20.598997, 107.65265, 737.86223 and 12194.217 Hz."""
    f1, f2, f3, f4 = 20.598997, 107.65265, 737.86223, 12194.217

    def gain(f):
        return f4**2 * f**4 / ((f**2 + f1**2) * np.sqrt((f**2 + f2**2) * (f**2 + f3**2)) * (f**2 + f4**2))

    return 20 * np.log10(gain(hz) / gain(1000.0))


# --- The circuit.

class Nodes:
    """Admittances between named joints at one frequency; "0" is the other conductor."""

    def __init__(self, hz):
        self.s, self.index, self.parts = 2j * math.pi * hz, {}, []

    def at(self, node):
        return None if node == "0" else self.index.setdefault(node, len(self.index))

    def add(self, a, b, siemens):
        self.parts.append((self.at(a), self.at(b), siemens))

    def coils(self, a, b, first_h, second_h, mutual_h):
        """Two coupled coils from a and from b to the other conductor: I = L^-1 V / s."""
        inverse = np.linalg.inv(np.array([[first_h, mutual_h], [mutual_h, second_h]])) / self.s
        self.parts.append(((self.at(a), self.at(b)), inverse, None))

    def matrix(self):
        y = np.zeros((len(self.index), len(self.index)), complex)
        for a, b, siemens in self.parts:
            if siemens is None:
                y[np.ix_(a, a)] += b
                continue
            for one, other in ((a, b), (b, a)):
                if one is not None:
                    y[one, one] += siemens
                    if other is not None:
                        y[one, other] -= siemens
        return y


def hang(nodes, line, prefix, root):
    """A line's cable and loudspeakers, its start joint being `root`."""
    name = lambda joint: root if joint == line.start else f"{prefix}{joint}"  # noqa: E731
    s = nodes.s
    for cable in line.real["runs"].values():
        a, b = name(cable["a"]), name(cable["b"])
        nodes.add(a, b, 1 / (cable["r"] + s * cable["l"]))
        nodes.add(a, "0", s * cable["c"] / 2)
        nodes.add(b, "0", s * cable["c"] / 2)
    for tag, load in line.real["loads"].items():
        at = name(tag)
        if load["tap"]:
            at = transformer(nodes, spice.windings(load, load["tap"], line.volts), name(tag), f"{prefix}{tag}")
        motional = load["re"] * load["qms"] / load["qes"]
        w = 2 * math.pi * load["fs"]
        of_cone = 1 / motional + s * load["qms"] / (motional * w) + w * load["qms"] / (s * motional)
        nodes.add(at, "0", 1 / (load["re"] + s * load["le"] + 1 / of_cone))


def transformer(nodes, coils, at, name):
    """Copper, two coupled coils, the core's loss across the second, copper; gives back the driver's terminal."""
    inside, core, terminal = (f"{name} {part}" for part in ("inside", "core", "terminal"))
    turns, magnetising = coils["turns"], coils["magnetising"]
    nodes.add(at, inside, 1 / coils["primary"])
    nodes.coils(inside, core, magnetising + coils["leakage"], magnetising / turns**2, magnetising / turns)
    if coils["core"]:
        nodes.add(core, "0", turns**2 / coils["core"])
    nodes.add(core, terminal, 1 / coils["secondary"])
    return terminal


def solved(line, hz):
    """For 1 V behind the output impedance: the voltage at every terminal of a line, and the admittance of all on the output."""
    nodes = Nodes(hz)
    hang(nodes, line, "own ", "out")
    for k, other in enumerate(one for one in together(line) if one is not line):
        hang(nodes, other, f"beside {k} ", "out")
    matrix, out = nodes.matrix(), nodes.index["out"]
    feed = np.zeros(len(matrix), complex)
    feed[out] = 1 / line.output_ohm
    driven = matrix.copy()
    driven[out, out] += 1 / line.output_ohm
    volts = np.linalg.solve(driven, feed)
    load_s = (1 - volts[out]) / (line.output_ohm * volts[out])
    terminal = lambda tag: f"own {tag} terminal" if line.loads[tag]["tap"] else f"own {tag}"  # noqa: E731
    return {tag: abs(volts[nodes.index[terminal(tag)]]) for tag in line.loads}, load_s


def together(line):
    return line.together if line.volts is None else [line]


def most_v(line):
    """Open-circuit voltage at the first limit, at low impedance."""
    low, high = whole_jobs.passed_hz(line.fed)
    steps = math.ceil(200 * math.log10(high / low))
    load_s = max((solved(line, low * (high / low) ** (k / steps))[1] for k in range(steps + 1)), key=abs)
    ohm = 1 / abs(load_s)
    rated = [(load, spice.number(line.amplifier[f"power_{load}ohm"])) for load in (2, 4, 8) if f"power_{load}ohm" in line.amplifier]
    loads, volts = [load for load, _ in rated], [math.sqrt(load * watts) for load, watts in rated]
    by_power = volts[0] * math.sqrt(ohm / loads[0]) if ohm < loads[0] else float(np.interp(ohm, loads, volts))
    limits = [by_power, spice.number(line.amplifier["maximum_current"]) * ohm]
    open_v = min(limits) * abs(1 + line.output_ohm * load_s)
    return min(open_v, spice.number(line.amplifier["maximum_voltage"]))


def by_hand(line, tag, gain_db):
    """Level of every band 1 m ahead, dB."""
    model = MODELS[line.real["loads"][tag]["model"]]
    open_v = (line.volts or spice.number(line.amplifier["maximum_voltage"])) * 10 ** (gain_db / 20)
    if line.volts is None:
        open_v = min(open_v, most_v(line))
    volts = open_v * np.array([solved(line, hz)[0][tag] for hz in BANDS_HZ])
    points = sorted((float(k.split()[0]) * (1e3 if k.endswith("kHz") else 1.0), float(v)) for k, v in model["response"].items())
    response = np.interp(np.log(BANDS_HZ), np.log([f for f, _ in points]), [v for _, v in points])
    space_db = 20 * math.log10(2) if model.get("reference") == "half space" else 0.0
    programme_db = 10 * math.log10(1 / 31) - (CREST_DB - 10 * math.log10(2))
    return (spice.number(model["sensitivity"]) - space_db + response + 20 * np.log10(volts / math.sqrt(line.loads[tag]["wired"]))
            + programme_db - AIR_DB_PER_M)


# --- The jobs.

HEAD = """format = 1
[job]
name = "Nameplates"
reference = "NP-1"
[brief]
supply = "{supply}"
[programmes.noise]
spectrum = "pink"
[site]
ground = "lawn"
[site.air]
temperature = "20 C"
humidity = "70 %"
pressure = "1013.25 hPa"
[racks.R]
position = [-3, 0]
"""


def job_text(supply, amplifier, lines, gain_db=0.0, channels=None, bridged=False):
    """A job of lines, each a list of loudspeakers (tag, model, more keys, metres of cable before it), on outputs in their order or
    as `channels` says."""
    text, channels = HEAD.format(supply=supply), channels or list(range(len(lines)))
    for k in range(-(-(max(channels) + 1) // 4)):
        text += f'[amplifiers.P{k}]\nmodel = "{amplifier}"\nrack = "R"\n'
    for c in sorted(set(channels)):
        text += f'[channels.C{c}]\namplifier = "P{c // 4}"\noutput = {c % 4 + 1}\nprogramme = "noise"\ngain = "{gain_db} dB"\n'
    row = 0
    for n, (line, channel) in enumerate(zip(lines, channels, strict=True)):
        text += f'[lines.N{n}]\nchannel = "C{channel}"\ncable = "burial-2x2.5mm2"\ntopology = "tree"\n[lines.N{n}.runs]\n'
        before = "R"
        for tag, _, _, metres in line:
            text += f'r{tag} = {{ from = "{before}", to = "{tag}", length = "{metres} m" }}\n'
            before = tag
        for tag, model, more, _ in line:
            text += f'[loudspeakers.{tag}]\nmodel = "{model}"\nposition = [0, {5 * row}]\nheight = "{HEIGHT_M} m"\nbearing = 90\n'
            text += f'pitch = 0\nmount = "bracket"\nline = "N{n}"\n{more}'
            row += 1
    return text


def heard(folder, text, tag):
    """Bands and dBA of the straight path 1 m ahead of a loudspeaker."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "job.toml").write_text(text)
    x, y = whole_jobs.tomllib.loads(text)["loudspeakers"][tag]["position"]
    done = run("predict", folder, f"--at={x + 1},{y}", "--ear", f"{HEIGHT_M} m", "--json")
    assert done.returncode in (0, 1), done.stderr
    [one] = [l for l in json.loads(done.stdout)["at"]["loudspeakers"] if l["loudspeaker"] == tag]
    [straight] = [p for p in one["paths"] if p["way"] == "straight"]
    assert straight["length_m"] == pytest.approx(1.0, abs=1e-6)
    return np.array(straight["band_levels_db"]), straight["level_dba"]


def compare(folder, text, gain_db=0.0):
    """Every loudspeaker of a job: the bands, and all of them in dBA."""
    whole, count = whole_jobs.Whole(text), 0
    for line in whole.lines.values():
        for tag in line.loads:
            expected = by_hand(line, tag, gain_db)
            bands, dba = heard(folder, text, tag)
            off = np.abs(bands - expected)
            assert off.max() < LIMIT_DB, (tag, BANDS_HZ[off.argmax()], bands[off.argmax()], expected[off.argmax()])
            assert dba == pytest.approx(10 * math.log10(np.sum(10 ** ((expected + a_weighting_db(BANDS_HZ)) / 10))), abs=LIMIT_DB)
            count += 1
    return count


SUPPLIES = {"taps_25v": "25 V", "taps_70v": "70.7 V", "taps_100v": "100 V"}
TAPPED = [(model, key) for model, described in MODELS.items() for key in SUPPLIES if described.get("transformer", {}).get(key)]


def test_every_model_with_taps_is_among_the_jobs():
    assert len(TAPPED) >= 24 and {model for model, _ in TAPPED} == {m for m, d in MODELS.items() if "transformer" in d}


@pytest.mark.parametrize("model,key", TAPPED)
def test_every_tap_gives_what_the_circuit_does(tmp_path, model, key):
    """Each tap on a line of its own, ever more cable before it: up to 120 m."""
    taps = MODELS[model]["transformer"][key]
    lines = [[(f"L{k}", model, f'tap = "{tap}"\n', 5.0 + 115.0 * k / max(1, len(taps) - 1))] for k, tap in enumerate(taps)]
    assert compare(tmp_path, job_text(SUPPLIES[key], "line-4x280", lines), 0.0) == len(taps)


def test_loudspeakers_one_after_the_other_on_a_line_share_its_cable(tmp_path):
    line = [(f"L{k}", model, 'tap = "10 W"\n', 45.0) for k, model in enumerate(
        ["stake-165-wide", "bracket-165", "stake-110-narrow", "rock-165"])]
    assert compare(tmp_path, job_text("70.7 V", "line-4x280", [line], -7.5), -7.5) == 4


LOW = sorted(model for model, described in MODELS.items() if described.get("low_impedance", True))


@pytest.mark.parametrize("model", LOW)
def test_every_model_on_its_own_impedance(tmp_path, model):
    """Well below full drive, and at full scale, where an output of 75 V meets its rated power first."""
    for gain_db in (-25.0, 0.0):
        text = job_text("low impedance", "low-4x250", [[("L0", model, "", 18.0)]], gain_db)
        assert compare(tmp_path / f"{gain_db}", text, gain_db) == 1


@pytest.mark.parametrize("amplifier", ["low-4x250", "low-2x150"])
@pytest.mark.parametrize("gain_db", [-20.0, 0.0])
@pytest.mark.parametrize("side_by_side", [True, False])
def test_one_to_four_on_one_output(tmp_path, amplifier, gain_db, side_by_side):
    """On one line, and on lines of their own."""
    levels = []
    for count in range(1, 5):
        every = [(f"L{k}", "stake-165-wide", "", 3.0) for k in range(count)]
        lines = [every] if side_by_side else [[one] for one in every]
        text = job_text("low impedance", amplifier, lines, gain_db, channels=[0] * len(lines))
        assert compare(tmp_path / f"{count}", text, gain_db) == count
        levels.append(heard(tmp_path / f"{count}", text, "L0")[0][17])
    # Until a limit is met the first is no quieter for the others but by what output impedance and cable take.
    assert bool(levels[0] - levels[3] < 0.8) is (gain_db < 0)


@pytest.mark.parametrize("supply,amplifier,tap", [
    ("low impedance", "low-4x250", ""), ("low impedance", "low-2x150", ""),
    ("100 V", "line-4x280", 'tap = "100 W"\n'), ("70.7 V", "line-4x280", 'tap = "200 W"\n')])
@pytest.mark.parametrize("gain_db", [-25.0, 0.0])
def test_coils_as_they_are_wired(tmp_path, supply, amplifier, tap, gain_db):
    """Series where parallel is wanted, and parallel where series is: behind a transformer wound for the catalogue's load too."""
    levels = []
    for coils in ("series", "parallel"):
        more = f'{tap}coils = "{coils}"\n'
        text = job_text(supply, amplifier, [[("L0", "ground-sub-320", more, 12.0)]], gain_db)
        assert compare(tmp_path / coils, text, gain_db) == 1
        levels.append(heard(tmp_path / coils, text, "L0")[0][5])
    # 6.02 dB at one voltage, less what the cable takes, while the output keeps its voltage.
    assert gain_db == 0.0 or tap or 5.0 < levels[1] - levels[0] < 6.02


@pytest.mark.parametrize("metres", [1.0, 60.0, 250.0])
def test_long_cable_at_low_impedance(tmp_path, metres):
    lines = [[("L0", "stake-165-narrow", "", metres), ("L1", "satellite-100", "", metres / 2)]]
    text = job_text("low impedance", "low-4x250", lines, -18.0)
    assert compare(tmp_path, text, -18.0) == 2


def test_gain_says_as_much_of_the_level(tmp_path):
    """10 dB of gain are 10 dB of level, at low impedance too, until full drive; more than that gives nothing."""
    at = []
    for gain_db in (-40.0, -30.0, -20.0, 0.0, 6.0):
        text = job_text("low impedance", "low-4x250", [[("L0", "stake-110-wide", "", 10.0)]], gain_db)
        at.append(heard(tmp_path / f"{gain_db}", text, "L0")[0][17])
    assert at[1] - at[0] == pytest.approx(10.0, abs=1e-6) and at[2] - at[1] == pytest.approx(10.0, abs=1e-6)
    assert at[3] - at[2] < 19.0 and at[4] == pytest.approx(at[3], abs=1e-9)
