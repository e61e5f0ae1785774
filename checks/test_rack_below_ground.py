"""A rack in a cellar: its cable climbs to the ground, and that counts in what is cut, read and lost. On the invented terraces,
whose lengths are counted again by `whole_jobs.py`: plan, steps in the ground, rises at both ends, service loops.
"""

import os

import pytest
import spice_lines as spice
import whole_jobs
from papers import flowing
from test_whole_job_quantities import billed, of
from tool import run
from whole_job_made import told, written
from whole_job_sites import TERRACES

pytestmark = pytest.mark.skipif(spice.NGSPICE is None and not os.environ.get("CI"), reason="ngspice is not installed")

DEPTH_M = 2.6
CELLAR = TERRACES.replace('height = "80 cm"', f'height = "-{DEPTH_M} m"')


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return written(tmp_path_factory.mktemp("cellar"), CELLAR)


def test_the_rise_is_in_every_run_from_the_rack(folder):
    """From 80 cm above the ground to 2.6 m below it: 1.8 m more of every run that leaves the rack, with 5 % of waste."""
    above, below = whole_jobs.Whole(TERRACES), whole_jobs.Whole(CELLAR)
    for name, line in below.lines.items():
        for (run_, a, _, metres), (_, _, _, before) in zip(line.runs, above.lines[name].runs, strict=True):
            assert metres - before == pytest.approx(1.8 if a == "R1" else 0.0, abs=1e-9), run_
    lines = told("expect", folder)["lines"]
    for name, line in below.lines.items():
        lengths = {r["id"]: r["electrical_m"] for r in lines[name]["runs"]}
        assert lengths == pytest.approx({run_: metres for run_, _, _, metres in line.runs}, abs=0.01)


def test_readings_and_losses_follow(folder):
    rebuilt = whole_jobs.Whole(CELLAR)
    report, expected = told("lines", folder)["report"], told("expect", folder)["lines"]
    for name, line in rebuilt.lines.items():
        [z] = spice.impedances([line.circuit("c")], [0.0, 1000.0])
        rack = {r["frequency_hz"]: r["ohm"] for r in expected[name]["readings"] if r["place"] == "rack"}
        assert [rack[0.0], rack[1000.0]] == pytest.approx([abs(one) for one in z], rel=0.002), name
        solved = report["lines"][name]
        reached, _ = whole_jobs.voltages(line, solved["frequencies_hz"])
        for load in solved["loads"]:
            assert load["joint_v"] == pytest.approx(reached[load["load"]], rel=0.002)


def test_the_cable_is_cut_so_and_the_rack_sheet_says_where_it_leaves(folder, tmp_path):
    out = tmp_path / "pack"
    assert run("pack", folder, "--out", out).returncode in (0, 1)
    assert of(billed(out), "cable") == pytest.approx(whole_jobs.Whole(CELLAR).cut_metres(), abs=0.06)
    assert "leave it 2.60 m below the ground" in flowing(out / "crew-pack.pdf")


def test_no_rack_is_deeper_than_ten_metres(tmp_path):
    deep = TERRACES.replace('height = "80 cm"', 'height = "-10.5 m"')
    done = run("check", written(tmp_path, deep))
    assert done.returncode == 2 and "-10" in done.stderr, done.stderr
