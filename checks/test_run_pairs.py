"""The pair a line takes, run by run: on the invented terraces the trunk of two pairs ends at J1, and each line goes on in
two-conductor cable, line S from the trunk's second pair. What must be read is the circuit's (ngspice); colours are the
catalogue's.
"""

import json
import os
import tomllib

import pytest
import spice_lines as spice
import whole_jobs
from over_http import imported
from test_server import Server, ask
from test_whole_job_quantities import billed, of
from tool import run
from whole_job_made import told, written
from whole_job_sites import TERRACES

pytestmark = pytest.mark.skipif(spice.NGSPICE is None and not os.environ.get("CI"), reason="ngspice is not installed")

SPUR = TERRACES.replace(
    'S2 = { from = "J1", to = "W1" }', 'S2 = { from = "J1", to = "W1", cable = "burial-2x2.5mm2", pair = 1 }')
assert SPUR != TERRACES
METER_HZ = [0.0, 100.0, 315.0, 1000.0, 10_000.0]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return written(tmp_path_factory.mktemp("spur"), SPUR)


def test_a_run_takes_no_pair_its_cable_has_not(tmp_path):
    done = run("check", written(tmp_path, SPUR.replace(", pair = 1 }", ", pair = 2 }")))
    said = "run S2 of line S uses pair 2, and the cable \"burial-2x2.5mm2\" has 2 conductors"
    assert done.returncode == 2 and said in done.stderr, done.stderr
    assert run("check", written(tmp_path, SPUR)).returncode in (0, 1)
    # Said or not, where there is one pair that is the one.
    stated = told("lines", written(tmp_path, SPUR))["report"]
    assert told("lines", written(tmp_path, SPUR.replace(", pair = 1 }", " }")))["report"] == stated


def test_readings_and_what_is_bought(folder, tmp_path):
    rebuilt = whole_jobs.Whole(SPUR)
    expected = told("expect", folder)["lines"]
    for name in ("B", "S"):
        [z] = spice.impedances([rebuilt.lines[name].circuit("c")], METER_HZ)
        rack = [r["ohm"] for r in expected[name]["readings"] if r["place"] == "rack"]
        assert rack == pytest.approx([abs(one) for one in z], rel=0.002), name
    assert run("pack", folder, "--out", tmp_path, "--only", "data").returncode in (0, 1)
    assert of(billed(tmp_path), "cable") == pytest.approx(rebuilt.cut_metres(), abs=0.06)


def test_the_joint_sheet_joins_the_colours_of_both_sides(folder, tmp_path):
    assert run("pack", folder, "--out", tmp_path, "--only", "data").returncode in (0, 1)
    joints = {j["at"]: j for j in json.loads((tmp_path / "pack.json").read_text())["joints"]}
    assert joints["J1"]["arriving"] == ["B1+S1"]
    wires = {(c["line"], c["positive"]): [(w["cable"], w["colour"]) for w in c["wires"]] for c in joints["J1"]["conductors"]}
    # Of a cable of two pairs the first is red and black, the second white and green (catalogue).
    assert wires == {
        ("B", True): [("B1+S1", "red"), ("B2", "red"), ("B4", "red")],
        ("B", False): [("B1+S1", "black"), ("B2", "black"), ("B4", "black")],
        ("S", True): [("B1+S1", "white"), ("S2", "red")],
        ("S", False): [("B1+S1", "green"), ("S2", "black")],
    }
    at_the_end = {(c["line"], c["positive"]): (c["wires"][0]["colour"], c["terminal"]) for c in joints["W1"]["conductors"]}
    assert at_the_end == {("S", True): ("red", "+"), ("S", False): ("black", "-")}


def test_the_interface_and_the_phone_name_the_same_conductors(folder, tmp_path):
    server = Server(tmp_path / "data")
    try:
        job = imported(server, folder)
        for what in ("lines", "visit-pack"):
            runs = json.loads(ask(server.address, "GET", f"/api/jobs/{job}/{what}")[2])["runs"]
            colours = {r["id"]: (r["positive"], r["negative"]) for r in runs if r["line"] == "S"}
            assert colours == {"S1": (["white"], ["green"]), "S2": (["red"], ["black"])}
    finally:
        server.stop()


def swapped(at=None):
    """Line B as far as J1, behind it the subwoofer of line S: at the rack, or at J1 looking away from it."""
    both = whole_jobs.Whole(SPUR).lines
    line, other = both["B"], both["S"]
    line.real["runs"] = {"B1": line.real["runs"]["B1"], "S2": other.real["runs"]["S2"]}
    line.real["loads"] = {"W1": other.real["loads"]["W1"]}
    within = (["J1", "W1"], ["S2"]) if at else None
    [z] = spice.impedances([line.circuit("s", joint=at, within=within)], METER_HZ)
    return z


def typed(impedances, at=""):
    words = []
    for f, z in zip(METER_HZ, impedances, strict=True):
        if not at or f in (0.0, 1000.0):
            words += ["--reading", f"{at}z@{f}Hz={abs(z)!r}ohm" if f else f"{at}dc={abs(z)!r}ohm"]
    return words


def test_pairs_swapped_at_the_joint_are_found(folder):
    fault = {"kind": "swapped_at", "joint": "J1", "line": "S"}

    def best(*words):
        d = told("locate", folder, "--line", "B", *words)["located"]["diagnosis"]
        members = d["answers"][0]["members"]
        return [d["explanations"][k] for k in members]

    # The same cable leads to J1, so that at the rack it reads as if the lines had changed places there.
    at_rack = [e["fault"] for e in best(*typed(swapped()))]
    assert fault in at_rack and {"kind": "swapped", "line": "S"} in at_rack
    # J1 opened and read away from the rack tells the two apart.
    [only] = best(*typed(swapped()), *typed(swapped("J1"), "J1:"))
    assert only["fault"] == fault
    assert only["sentence"] == "Behind J1 this is line S: the pairs of the two lines are swapped there."


def test_a_new_route_keeps_the_pair(tmp_path):
    """Where a run joins what it joined before, its cable and its pair stay."""
    text = TERRACES.replace(
        'A2 = { from = "L1", to = "L2" }', 'A2 = { from = "L1", to = "L2", cable = "burial-4x2.5mm2", pair = 2, fixed = true }')
    where = written(tmp_path, text)
    done = run("route", where)
    assert done.returncode in (0, 1), done.stderr
    runs = tomllib.loads((where / "job.toml").read_text())["lines"]["A"]["runs"]
    [kept] = [r for r in runs.values() if {r["from"], r["to"]} == {"L1", "L2"}]
    assert kept["pair"] == 2 and kept["cable"] == "burial-4x2.5mm2"
