"""Loudspeakers in series and series-parallel on low impedance: the invented patio with two strings of two in parallel.

The circuit is drawn by hand for ngspice (whole_jobs, spice_lines): the current goes through the first loudspeaker of a string,
along one conductor of the run that leads on, through the second and back along the other conductor. At direct current it is
sums of resistances, worked out here a second time.
"""

import json
import math
import os
import re

import pytest
import spice_lines as spice
import whole_jobs
from over_http import imported
from papers import flowing
from test_server import Server, ask
from tool import run
from whole_job_made import told, written
from whole_job_sites import PATIO

pytestmark = pytest.mark.skipif(spice.NGSPICE is None and not os.environ.get("CI"), reason="ngspice is not installed")

METER_HZ = [0.0, 100.0, 315.0, 1000.0, 10_000.0]
STRINGS = PATIO.replace('A3 = { from = "J1", to = "L2", cable = "burial-2x14awg", length = "26 ft" }\n', '''\
A3 = { from = "J1", to = "L2", cable = "burial-2x14awg", length = "26 ft" }
A4 = { from = "L1", to = "L4", cable = "burial-2x14awg", in_series = true }
A5 = { from = "L5", to = "L2", cable = "burial-2x14awg", length = "5 m" }
''').replace('to = "L2", cable = "burial-2x14awg", length = "26 ft"', 'to = "L5", cable = "burial-2x14awg", length = "26 ft"')
STRINGS = STRINGS.replace('A5 = { from = "L5"', 'A5 = { in_series = true, from = "L5"') + '''
[loudspeakers.L4]
model = "stake-165-wide"
position = ["400 cm", "650 cm"]
bearing = 170
line = "A"
[loudspeakers.L5]
model = "stake-165-wide"
position = ["600 cm", "50 cm"]
bearing = 350
line = "A"
'''


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return written(tmp_path_factory.mktemp("strings"), STRINGS)


@pytest.fixture(scope="module")
def rebuilt():
    return whole_jobs.Whole(STRINGS).lines["A"]


def test_every_reading_is_the_circuits(folder, rebuilt):
    """At the rack, at every joint looking away from it, and at every stage of building: where a string ends, nothing flows."""
    line = told("expect", folder)["lines"]["A"]
    seen = 0
    for r in line["readings"]:
        at = None if r["place"] == "rack" else r["place"]["downstream"]
        within = rebuilt.behind(at) if at else None
        [[z]] = spice.impedances([rebuilt.circuit("e", joint=at, within=within)], [r["frequency_hz"]])
        assert r["ohm"] == pytest.approx(abs(z), rel=0.002), (at, r["frequency_hz"])
        seen += 1
    assert seen == 5 * 6  # the rack, J1 and four loudspeakers
    # Built branch after branch; every run is joined to what is there already.
    joints, runs = [rebuilt.start], []
    assert len(line["stages"]) == len(rebuilt.runs)
    for stage in line["stages"]:
        joint = stage["joint"]
        name, a, _, _ = next(one for one in rebuilt.runs if one[2] == joint)
        assert a in joints
        joints, runs = [*joints, joint], [*runs, name]
        within = (list(joints), list(runs))
        for r in stage["readings"]:
            [[z]] = spice.impedances([rebuilt.circuit("s", within=within)], [r["frequency_hz"]])
            expected = None if abs(z) > 20_000 else pytest.approx(abs(z), rel=0.002)
            assert r["ohm"] == expected, (joint, r["frequency_hz"], abs(z))


def test_direct_current_by_hand(folder, rebuilt):
    loop = {name: 2 * rebuilt.ohm_per_m[name] * metres for name, _, _, metres in rebuilt.runs}
    coil = rebuilt.loads["L1"]["re"]
    first = loop["A2"] + coil + loop["A4"] + coil
    second = loop["A3"] + coil + loop["A5"] + coil
    expected = loop["A1"] + 1 / (1 / first + 1 / second)
    readings = told("expect", folder)["lines"]["A"]["readings"]
    [rack] = [r["ohm"] for r in readings if r["place"] == "rack" and r["frequency_hz"] == 0.0]
    assert rack == pytest.approx(expected, rel=0.002)


def test_what_reaches_each_and_what_the_cable_loses(folder, rebuilt):
    """The loss is that of the cable: against the share of the voltage at the output each has where the cable loses nothing."""
    solved = told("lines", folder)["report"]["lines"]["A"]
    frequencies = solved["frequencies_hz"]
    reached, impedance = whole_jobs.voltages(rebuilt, frequencies)
    assert solved["impedance_ohm"] == pytest.approx(impedance, rel=0.002)
    assert solved["drive_v"] == pytest.approx(rebuilt.drive_v, rel=0.002)
    rows, shares = whole_jobs.solved_at(rebuilt, frequencies), whole_jobs.shares(rebuilt, frequencies)
    for load in solved["loads"]:
        tag = load["load"]
        k = list(rebuilt.loads).index(tag)
        assert load["joint_v"] == pytest.approx(reached[tag], rel=0.002), tag
        lost = [20 * math.log10(abs(row[-2]) * share[k] / abs(row[k])) for row, share in zip(rows, shares, strict=True)]
        assert load["loss_db"] == pytest.approx(lost, abs=0.01), tag
        # Two alike share the voltage evenly.
        assert [share[k] for share in shares] == pytest.approx([0.5] * len(shares), rel=1e-3), tag


def alone(text):
    """L1 by itself on its output."""
    text = re.sub(r"\[loudspeakers\.L[245]\]\n(?:[^\[].*\n)+", "", text)
    return re.sub(r"^A[345] = .*\n", "", text, flags=re.MULTILINE)


def test_the_level_follows_the_voltage(folder, tmp_path):
    """L1 in a string against L1 by itself: 20 lg of the voltages it stands across, each worked out by ngspice."""
    k = 17  # 1 kHz among the third octaves from 20 Hz on (IEC 61260-1)
    heard = []
    for where, text in ((folder, STRINGS), (written(tmp_path, alone(STRINGS)), alone(STRINGS))):
        probe = told("predict", where, "--at", "3,5")["at"]
        [one] = [l for l in probe["loudspeakers"] if l["loudspeaker"] == "L1"]
        heard.append((one["band_levels_db"][k], whole_jobs.voltages(whole_jobs.Whole(text).lines["A"], [1000.0])[0]["L1"][0]))
    (series, series_v), (own, own_v) = heard
    assert series - own == pytest.approx(20 * math.log10(series_v / own_v), abs=0.03)
    assert series_v < 0.6 * own_v


def test_the_limiter_holds_the_rated_power_of_one_in_the_string(folder, rebuilt):
    """sqrt(P R) at the loudspeaker, and at the output by as much more as it stands across less (60 W into 8 ohm)."""
    model = whole_jobs.catalogue()["loudspeakers"]["stake-165-wide"]
    rated, nominal = spice.number(model["rated"]), spice.number(model["nominal"])
    volts, _ = whole_jobs.voltages(rebuilt, [1000.0])
    most = min(math.sqrt(rated * nominal) * rebuilt.drive_v / v[0] for v in volts.values())
    plan = told("tune", folder)["report"]["channels"]["C1"]["plan"]
    assert plan["limiter"]["v_rms"] == pytest.approx(most, abs=0.11), "typed in to 0.1 V, rounded down"


def test_what_fits_the_output_in_strings_does_not_side_by_side(folder, tmp_path):
    """P1 is for 4 ohm: two strings of 16 ohm are 8, four of 8 ohm in parallel are 2."""
    errors = lambda where: [f for f in told("lines", where)["report"]["findings"]  # noqa: E731
                            if f["severity"] == "error" and f["about"]["id"] == "C1"]
    assert not errors(folder)
    [found] = errors(written(tmp_path, STRINGS.replace("in_series = true", "in_series = false")))
    assert "must not go below 4.00 ohm" in found["sentence"]


def test_what_is_not_alike_in_series_is_told(folder, tmp_path):
    unlike = STRINGS.replace('[loudspeakers.L4]\nmodel = "stake-165-wide"', '[loudspeakers.L4]\nmodel = "stake-110-wide"')
    found = [f["sentence"] for f in told("lines", written(tmp_path, unlike))["report"]["findings"]]
    assert any(s.startswith("L1 and L4 stand in series and are not alike") for s in found), found
    assert not any("not alike" in f["sentence"] for f in told("lines", folder)["report"]["findings"])


def located(folder, impedances):
    words = []
    for f, z in zip(METER_HZ, impedances, strict=True):
        words += ["--reading", f"z@{f}Hz={abs(z)!r}ohm" if f else f"dc={abs(z)!r}ohm"]
    return told("locate", folder, "--line", "A", *words)["located"]["diagnosis"]


@pytest.mark.parametrize("fault,alike", [
    ({"kind": "open", "run": "A4"}, [{"kind": "missing", "load": "L1"}, {"kind": "missing", "load": "L4"}]),
    ({"kind": "missing", "load": "L4"}, [{"kind": "open", "run": "A4"}]),
    ({"kind": "short_at", "joint": "L4"}, []),
    ({"kind": "high_splice", "run": "A5"}, []),
])
def test_faults_in_a_string_are_found(fault, alike, folder, rebuilt):
    """A broken conductor anywhere in a string takes the whole string out: no reading tells which of them it is."""
    size = {"at": 0.5, "contact": 0.03, "ohm": 20.0, "joint": "L5"}
    [z] = spice.impedances([rebuilt.circuit("f", fault, size)], METER_HZ)
    diagnosis = located(folder, z)
    explained = {k: e["fault"] for k, e in enumerate(diagnosis["explanations"])}
    best = [explained[k] for k in diagnosis["answers"][0]["members"]]
    assert fault in best, (best, diagnosis["explanations"][:3])
    for one in alike:
        assert one in best, best
    for e in diagnosis["explanations"]:
        if e["fault"] == {"kind": "missing", "load": "L4"}:
            assert "L1 stands in series with it and is silent too" in e["sentence"]
        if e["fault"] == {"kind": "missing", "load": "L2"}:
            assert "L5 stands in series with it and is silent too" in e["sentence"]


def test_the_papers_show_the_wiring(folder, tmp_path):
    out = tmp_path / "pack"
    done = run("pack", folder, "--out", out)
    assert done.returncode in (0, 1), done.stderr
    joints = {j["at"]: j for j in json.loads((out / "pack.json").read_text())["joints"]}
    met = [(c["positive"], [(w["cable"], w["colour"]) for w in c["wires"]], c["terminal"]) for c in joints["L1"]["conductors"]]
    assert met == [
        (True, [("A2", "red")], "+"), (True, [("A4", "red")], "-"), (False, [("A2", "black"), ("A4", "black")], None)]
    text = flowing(out / "crew-pack.pdf")
    assert "L1 stands in series with L4: its second terminal goes to the positive of A4, and the negatives pass it by" in text
    assert "Line A: L1 in series with L4" in text and "Line A: L5 in series with L2" in text
    assert "the negative of A4 joins the negative of the cable from the rack" in text
    assert text.count("in series") > 6, "also at the cables on the plan"


def test_the_phone_and_the_interface_have_it(folder, tmp_path):
    server = Server(tmp_path / "data")
    try:
        job = imported(server, folder)
        pack = json.loads(ask(server.address, "GET", f"/api/jobs/{job}/visit-pack")[2])
        runs = {r["id"]: r["in_series"] for r in pack["runs"] if r["line"] == "A"}
        assert runs == {"A1": False, "A2": False, "A3": False, "A4": True, "A5": True}
        assert pack["resolved"]["lines"]["A"]["runs"]["A4"]["in_series"] is True
        said = {json.dumps(h["fault"], sort_keys=True): h["sentence"] for h in pack["tables"]["A"]["hypotheses"]}
        assert "L1 stands in series with it" in said['{"kind": "missing", "load": "L4"}']
    finally:
        server.stop()


@pytest.mark.parametrize("text,said", [
    (STRINGS.replace('supply = "low impedance"', 'supply = "100 V"', 1), "every loudspeaker stands across the line"),
    (STRINGS.replace('A2 = { from = "J1"', 'A2 = { in_series = true, from = "J1"'), "which is no loudspeaker to be in series with"),
    (STRINGS.replace('[loudspeakers.L4]', '[joints.L4]').replace(
        'model = "stake-165-wide"\nposition = ["400 cm", "650 cm"]\nbearing = 170\nline = "A"', 'position = ["400 cm", "650 cm"]'),
     "so that no current flows through L1"),
])
def test_what_makes_no_circuit_is_refused(text, said, tmp_path):
    done = run("check", written(tmp_path, text))
    assert done.returncode == 2 and said in done.stderr, done.stderr


def test_a_new_route_leaves_a_line_in_series_as_it_lies(tmp_path):
    where = written(tmp_path, STRINGS)
    before = (where / "job.toml").read_text()
    done = run("route", where, "--json")
    assert done.returncode in (0, 1), done.stderr
    assert "stays as it lies" in done.stdout
    line = lambda text: text[text.index("[lines.A]") : text.index("[lines.B]")]  # noqa: E731
    assert line((where / "job.toml").read_text()) == line(before)
