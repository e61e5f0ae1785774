"""Sources, leads and inputs: the gain structure, its findings, what is refused, and what the papers say.

The figures are worked out a second time here, from the job's and the catalogue's own TOML by the definitions alone: dBV is re
1 V, dBu re 1 mW in 600 ohm (0.7746 V); an input's sensitivity drives its output to a full-scale sine; a programme lies below
that by its crest factor less 3.01 dB; sides that differ add by energy, alike by voltage. Levels in front of a loudspeaker: its
sensitivity, the power that reaches it (P = V^2/R through tap and transformer), 6.02 dB less where it was measured in half
space, and 20 lg of the distance (inverse square law). What a unit is called and what it means is read here by a parser of
this file's own, not by the tool.
"""

import json
import math
import re
import tomllib

import pytest

import papers
import tool

SINE_DB = 20 * math.log10(math.sqrt(2))
DBU_V = math.sqrt(0.6)
# Third octaves of the octaves 500 Hz to 2 kHz.
MID_HZ = [1000 * 10 ** (n / 10) for n in range(-4, 5)]


def volts(text):
    if isinstance(text, (int, float)):
        return float(text)
    number, unit = re.fullmatch(r"([-+]?[\d.]+)\s*(\w+)", text).groups()
    number = float(number)
    scale = {"V": 1, "mV": 1e-3, "uV": 1e-6}
    if unit in scale:
        return number * scale[unit]
    return {"dBV": 1.0, "dBu": DBU_V}[unit] * 10 ** (number / 20)


def number(value):
    return float(value.split()[0]) if isinstance(value, str) else float(value)


def shipped():
    merged = {}
    for path in sorted((tool.ROOT / "catalogue").glob("*.toml")):
        for table, entries in tomllib.loads(path.read_text()).items():
            merged.setdefault(table, {}).update(entries)
    return merged


def db(ratio):
    return 20 * math.log10(ratio)


def response_db(model, hz):
    """Straight over the logarithm of frequency between the points stated, ends held."""
    scale = {"Hz": 1, "kHz": 1000}
    points = sorted((float(k.split()[0]) * scale[k.split()[1]], number(v)) for k, v in model["response"].items())
    if hz <= points[0][0]:
        return points[0][1]
    for (f0, v0), (f1, v1) in zip(points, points[1:]):
        if hz <= f1:
            return v0 + (v1 - v0) * math.log(hz / f0) / math.log(f1 / f0)
    return points[-1][1]


def in_front_db(job, catalogue, channel, solved):
    """Level of a full-scale sine at the nearest listener, loudest loudspeaker of a channel; voltages at the terminals as the
    lines give them at full drive, which `test_nameplate.py` holds against a nodal analysis of its own."""
    near = number(job.get("brief", {}).get("nearest_listener", 0.5))
    levels = []
    for tag, placed in job["loudspeakers"].items():
        line = job["lines"].get(placed.get("line"), {})
        if line.get("channel") != channel:
            continue
        model, whole = catalogue["loudspeakers"][placed["model"]], solved["lines"][placed["line"]]
        up = whole["full_scale_v"] / whole["drive_v"]
        volts_at = dict(zip(whole["frequencies_hz"], solved["loudspeakers"][tag]["loudspeaker_v"], strict=True))
        space = 6.02 if model.get("reference") == "half space" else 0
        bands = []
        for f in MID_HZ:
            volt = up * next(v for hz, v in volts_at.items() if abs(hz / f - 1) < 0.01)
            bands.append(response_db(model, f) + 10 * math.log10(volt**2 / number(model["nominal"])))
        levels.append(number(model["sensitivity"]) - space + sum(bands) / len(bands) - db(near))
    return max(levels)


def expected(job, catalogue, channel, solved):
    """The gain structure of a channel, from the definitions."""
    c = job["channels"][channel]
    amplifier = catalogue["amplifiers"][job["amplifiers"][c["amplifier"]]["model"]]
    inputs = amplifier["inputs"]
    sensitivity, greatest = volts(inputs["sensitivity"]), volts(inputs["greatest"])
    programme = job["programmes"].get(c.get("programme", next(iter(job["programmes"]))), {})
    over = number(programme.get("crest_factor", 12)) - SINE_DB
    full, most = next((l["full_scale_v"], l["drive_v"]) for i, l in solved["lines"].items()
                      if job["lines"][i]["channel"] == channel)
    wanted_db = number(c.get("gain", 0)) - over
    sources, noises = {}, []
    for id, lead in job["leads"].items():
        if lead["amplifier"] != c["amplifier"] or lead["input"] not in c["inputs"]:
            continue
        s = job["sources"][lead["source"]]
        one = sources.setdefault(lead["source"], {"sides": [], "noise": [], "headroom": []})
        if s["output"] == "optical":
            one["sides"] += [10 ** (-over / 20)] * (2 if s["signal"] == "stereo" else 1)
            one["headroom"].append(None)
            continue
        level = volts(s.get("nominal", "-10 dBV" if s["output"] == "unbalanced" else "+4 dBu"))
        one["sides"].append(level / sensitivity)
        highest = volts(s["highest"]) if "highest" in s else level * 10 ** (over / 20)
        one["headroom"].append(db(greatest / highest))
        if "noise" in s:
            one["noise"].append(volts(s["noise"]) / sensitivity)
    alike = 1.0
    for one in sources.values():
        energy = math.sqrt(sum(v * v for v in one["sides"]))
        one["gain"] = wanted_db - db(energy)
        alike = max(alike, sum(one["sides"]) / energy)
        noises += [full * n * 10 ** (one["gain"] / 20) for n in one["noise"]]
    source_noise = math.sqrt(sum(n * n for n in noises)) if noises else None
    own = volts(amplifier["noise"]) if "noise" in amplifier else None
    known = [n for n in (source_noise, own) if n is not None]
    return {
        "full": full,
        "wanted": full * 10 ** (wanted_db / 20),
        "gain": max((o["gain"] for o in sources.values()), default=None),
        "margin": db(most / full) - number(c.get("gain", 0)) - db(alike),
        "sources": sources,
        "source_noise": source_noise,
        "noise_dba": in_front_db(job, catalogue, channel, solved) + db(math.hypot(*known) / full) if known else None,
    }


def told(folder, command="sources"):
    done = tool.run(command, folder, "--json")
    assert done.returncode in (0, 1), done.stderr
    return json.loads(done.stdout)["report"]


def compare(folder, own=""):
    job = tomllib.loads((folder / "job.toml").read_text())
    catalogue = shipped()
    for table, entries in tomllib.loads(own).items():
        catalogue[table].update(entries)
    report, solved = told(folder), told(folder, "lines")
    adding = [id for id, c in job["channels"].items() if c.get("inputs")]
    assert list(report["channels"]) == adding and adding
    for id, found in report["channels"].items():
        want = expected(job, catalogue, id, solved)
        assert found["full_output_v"] == pytest.approx(want["full"], rel=1e-9)
        assert found["wanted_v"] == pytest.approx(want["wanted"], rel=1e-9)
        assert found["wanted_dbu"] == pytest.approx(db(want["wanted"] / DBU_V), abs=1e-9)
        assert found["gain_db"] == pytest.approx(want["gain"], abs=1e-9)
        assert found["clipping_margin_db"] == pytest.approx(want["margin"], abs=1e-9)
        assert [s["source"] for s in found["sources"]] == list(want["sources"])
        for s in found["sources"]:
            of = want["sources"][s["source"]]
            assert s["needed_gain_db"] == pytest.approx(of["gain"], abs=1e-9)
            assert s["turn_down_db"] == pytest.approx(want["gain"] - of["gain"], abs=1e-9)
            assert [i["headroom_db"] for i in s["inputs"]] == pytest.approx(of["headroom"], abs=1e-9)
        if want["source_noise"] is None:
            assert found["source_noise_v"] is None
        else:
            assert found["source_noise_v"] == pytest.approx(want["source_noise"], rel=1e-9)
        # Voltages differ by up to a few hundredths of a decibel from band to band.
        assert found["noise_dba"] == pytest.approx(want["noise_dba"], abs=0.1)
    return report


def test_the_example_has_its_gain_structure():
    report = compare(papers.folder("guesthouse-garden"))
    assert report["findings"] == []


CATALOGUE = """
[amplifiers.mixed]
description = "Four channels, six inputs and an optical one"
channels = 4
line_voltages = ["70.7 V"]
line_power = "200 W"
power_8ohm = "100 W"
maximum_voltage = "100 V"
maximum_current = "12 A"
minimum_load = "4 ohm"
noise = "{noise}"
idle = "20 W"
price = 400
inputs = {{ count = 6, connector = "XLR", sensitivity = "{sensitivity}", greatest = "{greatest}", highest_gain = "{most}", optical = 1 }}

[amplifiers.silent]
description = "Nothing is known of its inputs"
channels = 4
line_voltages = ["70.7 V"]
line_power = "200 W"
maximum_voltage = "100 V"
maximum_current = "12 A"
idle = "20 W"
price = 400
"""
USUAL = {"noise": "-60 dBu", "sensitivity": "+4 dBu", "greatest": "+24 dBu", "most": "12 dB"}

JOB = """
format = 1
[job]
name = "Sources of every kind"
[brief]
supply = "70.7 V"
nearest_listener = "0.7 m"
quiet_night = "24 dBA"
[programmes.music]
crest_factor = "14 dB"
[programmes.speech]
spectrum = "pink"
crest_factor = "9 dB"
[areas.lawn]
outline = [[0, 1], [10, 1], [10, 8], [0, 8]]
target = "68 dBA"
[racks.R1]
position = [0, 0]
[amplifiers.P1]
model = "mixed"
rack = "R1"
[amplifiers.P2]
model = "silent"
rack = "R1"
[channels.C1]
amplifier = "P1"
output = 1
inputs = [1, 2, 3]
programme = "music"
gain = "-9 dB"
high_pass = { corner = "90 Hz" }
limiter = { rms = "70 V" }
[channels.C2]
amplifier = "P1"
output = 2
inputs = [7, 3]
programme = "speech"
gain = "-16 dB"
high_pass = { corner = "90 Hz" }
limiter = { rms = "70 V" }
[lines.A]
channel = "C1"
cable = "burial-2x14awg"
[lines.A.runs.A1]
from = "R1"
to = "L1"
[lines.B]
channel = "C2"
cable = "burial-2x14awg"
supply = "low impedance"
[lines.B.runs.B1]
from = "R1"
to = "L2"
[loudspeakers.L1]
model = "stake-165-wide"
position = [3, 0]
tap = "10 W"
line = "A"
[loudspeakers.L2]
model = "stake-110-narrow"
position = [6, 0]
line = "B"
[sources.player]
kind = "player"
rack = "R1"
signal = "stereo"
output = "unbalanced"
connector = "jack 3.5 mm"
noise = "-88 dBV"
[sources.mic]
kind = "microphone receiver"
rack = "R1"
signal = "mono"
output = "balanced"
connector = "XLR"
nominal = "-6 dBu"
highest = "+18 dBu"
noise = "-94 dBu"
[sources.tv]
kind = "television"
rack = "R1"
signal = "stereo"
output = "optical"
connector = "optical"
[leads.W1]
source = "player"
side = "left"
amplifier = "P1"
input = 1
length = "3 m"
[leads.W2]
source = "player"
side = "right"
amplifier = "P1"
input = 2
length = "3 m"
[leads.W3]
source = "mic"
amplifier = "P1"
input = 3
length = "12 m"
[leads.W4]
source = "tv"
amplifier = "P1"
input = 7
"""


def made(tmp_path, changes=(), **catalogue):
    text = JOB
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    own = CATALOGUE.format(**{**USUAL, **catalogue})
    (tmp_path / "catalogue").mkdir()
    (tmp_path / "catalogue" / "own.toml").write_text(own)
    (tmp_path / "job.toml").write_text(text)
    return own


def test_sources_of_every_kind_have_their_gain_structure(tmp_path):
    own = made(tmp_path)
    report = compare(tmp_path, own)
    assert report["findings"] == [] and report["quiet_night_dba"] == 24
    # By hand: +4 dBu of sensitivity, -10 dBV on both sides: 20 lg(0.3162 / 1.2277) + 3.01 = -8.77 dB below full scale;
    # wanted are -9 - (14 - 3.01) = -19.99 dB.
    assert report["channels"]["C1"]["sources"][0]["needed_gain_db"] == pytest.approx(-19.99 + 8.77, abs=0.01)


@pytest.mark.parametrize(
    "changes, catalogue",
    [
        ([('crest_factor = "14 dB"', 'crest_factor = "6 dB"'), ('gain = "-9 dB"', 'gain = "-20 dB"')], {}),
        ([('noise = "-88 dBV"', 'nominal = "1.1 V"\nhighest = "2 V"')], {"sensitivity": "0.5 V"}),
        ([('nearest_listener = "0.7 m"', 'nearest_listener = "2 m"')], {"noise": "2 mV", "greatest": "3 V"}),
        ([('inputs = [7, 3]', 'inputs = [7]')], {"sensitivity": "0 dBu"}),
    ],
)
def test_the_gain_structure_follows_what_is_stated(tmp_path, changes, catalogue):
    compare(tmp_path, made(tmp_path, changes, **catalogue))


@pytest.mark.parametrize(
    "changes, catalogue, severity, about, said",
    [
        ([], {"most": "0 dB", "sensitivity": "20 V"}, "warning", "C1", r"Source player is too weak for channel C1: \+\d+\.\d dB of gain is needed, and at most \+0\.0 dB can be set"),
        ([], {"greatest": "+10 dBu"}, "warning", "W3", r"Lead W3 overloads input 3: 6\.15 V arrives, and it takes 2\.45 V without clipping, 8\.0 dB less"),
        ([('side = "left"\n', "")], {}, "error", "W1", "Lead W1 joins the left and the right output of source player"),
        ([("inputs = [1, 2, 3]", "inputs = [1, 3]")], {}, "warning", "C1", "Channel C1 gets the left side of source player alone: what is on the right is missing there"),
        ([("inputs = [1, 2, 3]", "inputs = [1]"), ("inputs = [7, 3]", "inputs = [2]"), ('programme = "speech"', 'programme = "music"')], {}, "warning", "C2", "Channel C1 plays the left side"),
        ([('input = 1\nlength = "3 m"', 'input = 1\nlength = "5.5 m"')], {}, "warning", "W1", r"Lead W1 is 5\.5 m long and unbalanced; beyond 5 m"),
        ([("input = 7", "input = 4"), ("inputs = [7, 3]", "inputs = [4]")], {}, "error", "W4", "The light guide of lead W4 goes to input 4 of amplifier P1, which takes a voltage"),
        ([("input = 3", "input = 7"), ('source = "tv"\namplifier = "P1"\ninput = 7', 'source = "tv"\namplifier = "P1"\ninput = 4')], {}, "error", "W3", "Lead W3 brings a voltage to input 7 of amplifier P1, which takes light"),
        ([("inputs = [7, 3]", "inputs = [3]")], {}, "note", "W4", "Lead W4 ends at input 7 of amplifier P1, which no channel adds"),
        ([("inputs = [7, 3]", "inputs = [7, 6]")], {}, "note", "C2", "Channel C2 adds input 6, where no lead ends"),
        ([('quiet_night = "24 dBA"', 'quiet_night = "1 dBA"')], {"noise": "20 mV"}, "warning", "C1", r"Channel C1 hisses: \d+\.\d dBA at the nearest listener, at most 1\.0 dBA"),
        ([('gain = "-9 dB"', 'gain = "-1 dB"')], {}, "warning", "C1", r"Channel C1 cuts peaks off: .*, 2\.0 dB too much where both sides are alike"),
    ],
    ids=lambda v: v if isinstance(v, str) and len(v) < 8 else "",
)
def test_what_is_wrong_is_told(tmp_path, changes, catalogue, severity, about, said):
    made(tmp_path, changes, **catalogue)
    findings = told(tmp_path)["findings"]
    hits = [f for f in findings if f["about"]["id"] == about and re.search(said, f["sentence"])]
    assert len(hits) == 1 and hits[0]["severity"] == severity and hits[0]["mend"], findings
    # The same stands among all findings of the job.
    checked = json.loads(tool.run("check", tmp_path, "--json").stdout)["findings"]
    assert hits[0] in checked


@pytest.mark.parametrize(
    "changes, said",
    [
        ([("input = 2", "input = 1")], "leads W1 and W2 both go to input 1 of amplifier P1: two outputs are never joined"),
        ([("input = 3", "input = 8")], "amplifier P1 has no input 8"),
        ([('amplifier = "P1"\ninput = 3', 'amplifier = "P2"\ninput = 3')], "nothing is known of the inputs of amplifier P2"),
        ([('source = "tv"', 'source = "radio"')], 'there is no source called "radio"'),
        ([("inputs = [7, 3]", "inputs = [9]")], "amplifier P1 has no input 9"),
        ([("inputs = [7, 3]", "inputs = [3, 3]")], "channel C2 names input 3 twice"),
        ([('source = "mic"', 'source = "mic"\nside = "right"')], "source mic is mono and has one signal"),
        ([('nominal = "-6 dBu"', 'nominal = "-6 dB"')], '"-6 dB" is a level; a signal voltage is wanted'),
        ([('rack = "R1"\nsignal = "mono"', 'rack = "R7"\nsignal = "mono"')], 'there is no rack called "R7"'),
    ],
)
def test_bad_input_is_refused_with_a_sentence(tmp_path, changes, said):
    made(tmp_path, changes)
    done = tool.run("sources", tmp_path)
    assert done.returncode == 2 and said in done.stderr and not done.stdout, done.stderr


def test_a_job_without_sources_says_what_to_state():
    done = tool.run("sources", papers.folder("quayside-hotel"))
    assert done.returncode == 0 and "state the sources" in re.sub(r"\s+", " ", done.stdout)


def test_rack_and_as_built_sheets_show_inputs_settings_and_how_it_was_left():
    out = papers.packed("guesthouse-garden")
    job = tomllib.loads((papers.folder("guesthouse-garden") / "job.toml").read_text())
    crew, built = papers.flowing(out / "crew-pack.pdf"), papers.flowing(out / "as-built.pdf")
    for side in ("left", "right"):
        assert f"{job['sources']['player']['name']}, {side} side" in crew
    assert "joined at the amplifier" in crew and "Two outputs are never joined" in crew
    assert "0.316 V" in crew
    record = job["amplifiers"]["P1"]["commissioned"]
    for value in record.values():
        assert value in crew and value in built
    assert "never write it here" in built
    # The gain to set between input and output stands with that of the design.
    gain = told(papers.folder("guesthouse-garden"))["channels"]["P1-1"]["gain_db"]
    shown = f"{abs(gain):.1f} dB from input to output (\u221211.5 dB re full scale)"
    assert shown in crew
    settings = papers.flowing(papers.packed("walled-courtyard") / "crew-pack.pdf")
    assert "of 2026-01;" in settings and "see that these are the newest" in settings


def test_tuning_starts_from_the_makers_settings_and_never_goes_below_them(tmp_path):
    """A copy of the model with stricter settings than its own data ask for: the channel gets at least those."""
    catalogue = shipped()
    own = (tool.ROOT / "catalogue" / "loudspeakers.toml").read_text()
    start = own.index("[loudspeakers.stake-165-wide]")
    model = own[start : own.index("[loudspeakers.", start + 10)]
    strict = model.replace('high_pass = "70 Hz"', 'high_pass = "70 Hz"\nsettings = { date = "edition 7", high_pass = { kind = "butterworth", order = 6, corner = "120 Hz" }, equaliser = { one = { kind = "bell", frequency = "800 Hz", gain = "-2 dB", q = 1 } }, limiter = { rms = "6 V", peak = "9 V" } }')
    assert strict != model
    made(tmp_path)
    plain = json.loads(tool.run("tune", tmp_path, "--json").stdout)["report"]["channels"]["C1"]
    (tmp_path / "catalogue" / "strict.toml").write_text(strict)
    done = tool.run("tune", tmp_path, "--json")
    report = json.loads(done.stdout)["report"]
    c = report["channels"]["C1"]
    assert c["makers"] == [{"model": "stake-165-wide", "date": "edition 7"}] and plain["makers"] == []
    high = [p for p in c["plan"]["chain"]["passes"] if p["response"] == "high-pass"]
    assert high[0]["corner_hz"] >= 120 and high[0]["order"] >= 6
    before = [p for p in plain["plan"]["chain"]["passes"] if p["response"] == "high-pass"]
    assert before[0]["corner_hz"] < 120 and before[0]["order"] == 4
    first = c["plan"]["chain"]["equaliser"][0]
    assert (first["frequency_hz"], first["gain_db"], first["q"]) == (800, -2, 1) and c["makers_sections"] == 1
    # 6 V at the terminals: as much more at the amplifier as the circuit says. By the nameplate, 8 ohm behind a tap of 10 W at
    # 70.7 V less 0.8 dB, it is 70.7 / sqrt(8.32 * 8) times as much at the line; the driver is not 8 ohm at 1 kHz.
    lines = told(tmp_path, "lines")
    drive, volt = lines["lines"]["A"]["drive_v"], lines["loudspeakers"]["L1"]["loudspeaker_v"][17]
    at_amplifier = 6 * drive / volt
    assert at_amplifier == pytest.approx(6 * 70.7 / math.sqrt(10 * 10 ** (-0.08) * 8), rel=0.05)
    assert c["plan"]["limiter"]["v_rms"] == pytest.approx(at_amplifier, abs=0.15)
    assert c["plan"]["limiter"]["v_peak"] == pytest.approx(1.5 * at_amplifier, abs=0.15)
    assert c["makers_limit"] == "L1"
    assert catalogue["loudspeakers"]["stake-165-wide"].get("settings") is None


def test_a_makers_low_pass_is_kept_and_the_command_line_says_what_was_added(tmp_path):
    own = (tool.ROOT / "catalogue" / "loudspeakers.toml").read_text()
    start = own.index("[loudspeakers.stake-165-wide]")
    model = own[start : own.index("[loudspeakers.", start + 10)]
    asks = 'settings = { date = "edition 8", low_pass = { kind = "butterworth", order = 6, corner = "9 kHz" } }'
    made(tmp_path)
    (tmp_path / "catalogue" / "low.toml").write_text(model.replace('high_pass = "70 Hz"', f'high_pass = "70 Hz"\n{asks}'))
    channels = json.loads(tool.run("tune", tmp_path, "--json").stdout)["report"]["channels"]
    [low] = [p for p in channels["C1"]["plan"]["chain"]["passes"] if p["response"] == "low-pass"]
    assert low["corner_hz"] == 9000 and low["order"] == 6
    assert not [p for p in channels["C2"]["plan"]["chain"]["passes"] if p["response"] == "low-pass"]
    said = re.sub(r"\s+", " ", tool.run("tune", tmp_path).stdout)
    assert said.count("The maker's settings for") == 1
    added = len(channels["C1"]["plan"]["chain"]["equaliser"])
    assert ("The maker's settings for stake-165-wide of edition 8 are where these start. "
            f"0 of the {added} equaliser sections are the maker's; {added} were added") in said


def test_different_makers_settings_on_one_channel_are_told(tmp_path):
    made(tmp_path, [("[loudspeakers.L2]", '[loudspeakers.L3]\nmodel = "satellite-100"\nposition = [4, 0]\ntap = "10 W"\nline = "A"\n[loudspeakers.L2]'), ("[lines.B]", '[lines.A.runs.A2]\nfrom = "L1"\nto = "L3"\n[lines.B]')])
    report = json.loads(tool.run("tune", tmp_path, "--json").stdout)["report"]
    told_of = [f for f in report["findings"] if "different settings" in f["sentence"]]
    assert len(told_of) == 1 and "stake-165-wide (none), satellite-100 (2026-01)" in told_of[0]["sentence"]
