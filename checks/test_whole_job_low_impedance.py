"""Series and parallel on low impedance, on the invented patio: what two coils in parallel do to voltage, level, limiter and
load, by the circuit of the driver (a quarter of Re, Le and Res; half the force factor, so 6.02 dB more at one voltage; Small,
JAES 20 (1972)), and what an output rated into 4 ohm must bear.

A line's document hangs loudspeakers in parallel only; coils may be in series or parallel (`coils`).
"""

import json
import math
import os

import pytest

import spice_lines as spice
import whole_jobs
from tool import run
from whole_job_made import answer, told, whole, written
from whole_job_sites import PATIO, TERRACES

pytestmark = pytest.mark.skipif(spice.NGSPICE is None and not os.environ.get("CI"), reason="ngspice is not installed")
HZ = 10 ** 1.8  # the third octave of 63 Hz (IEC 61260-1)


def test_two_coils_in_parallel_are_a_quarter_of_two_in_series():
    """At direct current and at every band: the load itself, without its cable."""
    series, parallel = (whole("patio").lines[line] for line in ("S", "T"))
    expected = answer("patio", "expect")["lines"]
    for line, tag in ((series, "W1"), (parallel, "W2")):
        [z] = spice.impedances([line.circuit("w", joint=tag, within=line.behind(tag))], [0.0])
        [dc] = [r for r in expected[line.name]["readings"] if r["place"] == {"downstream": tag} and r["frequency_hz"] == 0.0]
        assert dc["ohm"] == pytest.approx(abs(z[0]), rel=0.002)
    assert parallel.loads["W2"]["re"] == series.loads["W1"]["re"] / 4 == 12.8 / 4


@pytest.mark.parametrize("coils", ["series", "parallel"])
def test_two_coils_behind_a_transformer(coils, tmp_path):
    """On 100 V the transformer is wound for the catalogue's 16 ohm: with its coils in parallel a subwoofer loads it four times."""
    sub = 'model = "ground-sub-270"\nposition = [13.5, 6]'
    assert sub in TERRACES
    text = TERRACES.replace(sub, f'model = "ground-sub-320"\nposition = [13.5, 6]\ncoils = "{coils}"')
    folder, rebuilt = written(tmp_path, text), whole_jobs.Whole(text).lines["S"]
    solved = told("lines", folder)["report"]["lines"]["S"]
    reached, impedance = whole_jobs.voltages(rebuilt, solved["frequencies_hz"])
    assert solved["impedance_ohm"] == pytest.approx(impedance, rel=0.002)
    assert solved["loads"][0]["joint_v"] == pytest.approx(reached["W1"], rel=0.002)
    [z] = spice.impedances([rebuilt.circuit("r")], [0.0, 100.0, 315.0, 1000.0, 10_000.0])
    readings = [r["ohm"] for r in told("expect", folder)["lines"]["S"]["readings"] if r["place"] == "rack"]
    assert readings == pytest.approx([abs(one) for one in z], rel=0.002)


def level(folder):
    """Level of W1 in the 63 Hz band at a place, dB."""
    probe = told("predict", folder, "--at", "4,3")["at"]
    [heard] = [one for one in probe["loudspeakers"] if one["loudspeaker"] == "W1"]
    return heard["band_levels_db"][min(range(31), key=lambda k: abs(probe["frequencies_hz"][k] - HZ))]


@pytest.mark.parametrize("gain", [0.0, -9.0, -25.0])
def test_the_level_follows_the_wiring_of_the_coils(tmp_path, gain):
    """The same subwoofer, coils in parallel instead of in series: 6.02 dB at one voltage, and 20 lg of the voltages that reach it.
    The output keeps its 75 V times the gain until its limits, 200 W into 8 ohm and 250 W into 4 ohm: at full scale both meet
    them, at -9 and -25 dB neither, and what is missing from 6.02 dB is what the cable takes."""
    patio = PATIO.replace('inputs = [1, 5]\ngain = "-9 dB"', f'inputs = [1, 5]\ngain = "{gain} dB"')
    turned = patio.replace('coils = "series"', 'coils = "parallel"')
    reached = []
    for text in (patio, turned):
        line = whole_jobs.Whole(text).lines["S"]
        volts, _ = whole_jobs.voltages(line, [HZ])
        reached.append(volts["W1"][0] * line.driven_v(gain) / line.drive_v)
    expected = 20 * math.log10(2 * reached[1] / reached[0])
    levels = [level(written(tmp_path / str(k), text)) for k, text in enumerate((patio, turned))]
    assert levels[1] - levels[0] == pytest.approx(expected, abs=0.02)
    assert gain == 0.0 or 5.0 < expected < 6.02


@pytest.mark.parametrize("channel,tag,line,ohm", [("C3", "W1", "S", 16.0), ("C4", "W2", "T", 4.0)])
def test_a_limiter_holds_the_rated_power_of_the_coils_as_wired(channel, tag, line, ohm):
    """sqrt(P R) at the loudspeaker, 250 W into 16 ohm in series, 4 ohm in parallel; at the output more by what the line loses."""
    rebuilt = whole("patio").lines[line]
    volts, _ = whole_jobs.voltages(rebuilt, [1000.0])
    most = math.sqrt(250.0 * ohm) * rebuilt.drive_v / volts[tag][0]
    plan = answer("patio", "tune")["report"]["channels"][channel]["plan"]
    assert plan["limiter"]["v_rms"] == pytest.approx(most, abs=0.11), "typed in to 0.1 V, rounded down"


def findings(name_or_folder):
    return [f for f in told("lines", name_or_folder)["report"]["findings"] if f["severity"] == "error"]


def test_two_loudspeakers_of_8_ohm_in_parallel_fit_an_output_for_4_ohm(tmp_path):
    """An output's least load is a rated impedance, and the modulus of one may fall to 80 % of it (IEC 60268-5, rated impedance;
    from memory): 3.25 ohm is within 4 ohm."""
    _, z = whole_jobs.voltages(whole("patio").lines["A"], [10 ** (n / 40) for n in range(72, 172)])
    assert 0.8 * 4.0 < min(z) < 4.0
    assert not [f for f in findings(written(tmp_path, PATIO)) if f["about"]["id"] == "C1"]


# Both subwoofers with their coils in parallel, 4 ohm each, on one output: 2 ohm.
ON_ONE = PATIO.replace('[lines.S]\nchannel = "C3"', '[lines.S]\nchannel = "C4"').replace('coils = "series"', 'coils = "parallel"')


def test_coils_in_parallel_on_purpose_fit_an_output_rated_into_their_load(tmp_path):
    """The job says parallel, the output is rated 250 W into 2 ohm and for loads down to 2 ohm: nothing to mend."""
    amplifier = whole("patio").catalogue["amplifiers"]["low-4x250"]
    assert (amplifier["power_2ohm"], amplifier["minimum_load"]) == ("250 W", "2 ohm")
    assert not [f for f in findings(written(tmp_path, ON_ONE)) if f["about"]["id"] in ("W1", "W2", "C4")]


def test_coils_in_parallel_on_an_output_for_4_ohm_are_an_error(tmp_path):
    text = ON_ONE.replace('"P2"\noutput = 2', '"P1"\noutput = 2').replace(
        '"P1"\noutput = 2\nhigh_pass = { corner = "95 Hz" }', '"P2"\noutput = 2\nhigh_pass = { corner = "95 Hz" }')
    found = [f for f in findings(written(tmp_path, text)) if f["about"]["id"] == "C4"]
    assert found and "must not go below 4.00 ohm" in found[0]["sentence"], found


def test_what_is_in_the_rack_without_processing_is_not_asked_to_filter(tmp_path):
    """P1 has no processing (catalogue): a high-pass and a limiter of its channels cannot be loaded into it."""
    assert whole("patio").catalogue["amplifiers"]["low-2x150"]["processing"] is False
    done = run("check", written(tmp_path, PATIO), "--json")
    told_of = [f for f in json.loads(done.stdout)["findings"] if "processing" in f["sentence"]]
    assert {f["about"]["id"] for f in told_of} & {"P1", "C1", "C2"}, done.stdout[:600]
