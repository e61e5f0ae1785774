"""Visits to the invented whole jobs: faults put into the independent rebuild (ngspice), read by a perfect meter, explained by
`locate`; what visits, findings and years say of readings.
"""

import math
import os
import re

import pytest

import spice_lines as spice
from tool import run
from whole_job_made import JOBS, answer, folder, told, whole, written

pytestmark = pytest.mark.skipif(spice.NGSPICE is None and not os.environ.get("CI"), reason="ngspice is not installed")
METER_HZ = [0.0, 100.0, 315.0, 1000.0, 10_000.0]


def arguments(impedances):
    words = []
    for z, hz in zip(impedances, METER_HZ):
        ohm = "open" if abs(z) > spice.METER_RANGE_OHM else f"{abs(z)!r}ohm"
        words += ["--reading", f"z@{hz}Hz={ohm}" if hz else f"dc={ohm}"]
    return words


def located(name, line, impedances):
    return told("locate", folder(name), "--line", line, *arguments(impedances))["located"]


def best(found):
    """The faults of the likeliest answer."""
    diagnosis = found["diagnosis"]
    return [diagnosis["explanations"][k]["fault"] for k in diagnosis["answers"][0]["members"]] if diagnosis["answers"] else []


@pytest.mark.parametrize("name,line,fault,size", [
    ("terraces", "A", {"kind": "low_impedance", "load": "L2"}, {}),
    ("terraces", "B", {"kind": "open", "run": "B4"}, {"at": 0.6}),
    ("terraces", "S", {"kind": "short_along", "run": "S1"}, {"at": 0.5, "contact": 0.02}),
    ("patio", "A", {"kind": "missing", "load": "L2"}, {}),
    ("patio", "B", {"kind": "short_along", "run": "B1"}, {"at": 0.7, "contact": 0.02}),
    ("patio", "T", {"kind": "open", "run": "T1"}, {"at": 0.3}),
    ("restaurant", "A", {"kind": "wrong_tap", "load": "L1", "tap_w": 80.0}, {}),
    ("restaurant", "B", {"kind": "open", "run": "B3"}, {"at": 0.4}),
    ("hotel", "B", {"kind": "open", "run": "T1"}, {"at": 0.4}),
    ("hotel", "C", {"kind": "high_splice", "run": "K2"}, {"ohm": 60.0, "joint": "J1"}),
    ("hotel", "D", {"kind": "short_along", "run": "T2"}, {"at": 0.5, "contact": 0.02}),
    ("hotel", "D", {"kind": "wrong_tap", "load": "L8", "tap_w": 10.0}, {}),
])
def test_single_faults_are_found(name, line, fault, size):
    rebuilt = whole(name).lines[line]
    [z] = spice.impedances([rebuilt.circuit("f", fault, size)], METER_HZ)
    found = located(name, line, z)
    assert fault in best(found), found["diagnosis"]["explanations"][:3]
    if fault["kind"] == "short_along":
        index = next(k for k, e in enumerate(found["diagnosis"]["explanations"]) if e["fault"] == fault)
        stretch = found["diagnosis"]["explanations"][index]["stretch"]
        length = next(run_[3] for run_ in rebuilt.runs if run_[0] == fault["run"])
        at = size["at"] * length
        # A stretch may count from either end; the way of the run says which.
        ends = [stretch["low_m"], stretch["high_m"]]
        if stretch["from"] != next(run_[1] for run_ in rebuilt.runs if run_[0] == fault["run"]):
            ends = [length - end for end in reversed(ends)]
        assert ends[0] < at < ends[1], stretch


@pytest.mark.parametrize("name,line,other", [
    ("terraces", "B", "S"), ("restaurant", "A", "S"), ("patio", "S", "T"), ("hotel", "B", "C")])
def test_lines_that_changed_places_are_found(name, line, other):
    [z] = spice.impedances([whole(name).lines[other].circuit("o")], METER_HZ)
    assert {"kind": "swapped", "line": other} in best(located(name, line, z))


@pytest.mark.parametrize("name", JOBS)
def test_healthy_lines_are_good(name):
    for line, rebuilt in whole(name).lines.items():
        [z] = spice.impedances([rebuilt.circuit("h")], METER_HZ)
        likeliest = located(name, line, z)["diagnosis"]["explanations"][0]
        assert likeliest["fault"] == {"kind": "healthy"} and likeliest["probability"] > 0.8, (line, likeliest)


VISITS = """
[visits.V1]
date = "2026-06-02"
kind = "handover"
[visits.V1.readings]
r1 = {{ line = "A", dc = {first} }}
[visits.V2]
date = "2027-06-02"
kind = "maintenance"
[visits.V2.readings]
r1 = {{ line = "A", dc = {second} }}
"""


def visited(tmp_path, first, second, more=""):
    return written(tmp_path, JOBS["restaurant"] + VISITS.format(first=first, second=second) + more)


def test_a_wrong_reading_is_told_with_what_explains_it(tmp_path):
    """Line B with run B3 cut: at 1 kHz it reads as L3 alone. (Direct current would not tell: how much copper a primary has is known
    to within a factor of two where its maker says nothing.)"""
    [z] = spice.impedances([whole("restaurant").lines["B"].circuit("f", {"kind": "open", "run": "B3"}, {"at": 0.4})], METER_HZ)
    ohm = round(abs(z[METER_HZ.index(1000.0)]), 1)
    done = run("check", visited(tmp_path, 50.2, 50.0, f'r2 = {{ line = "B", impedance = {ohm}, frequency = "1 kHz" }}\n'))
    text = " ".join(done.stdout.split())
    low, high = ((r["low_ohm"], r["high_ohm"]) for r in answer("restaurant", "expect")["lines"]["B"]["readings"]
                 if r["place"] == "rack" and r["frequency_hz"] == 1000.0).__next__()
    assert f"Line B reads {ohm:.0f} ohm at the rack, 1 kHz (visit of 2027-06-02)" in text
    assert f"where {low:.0f} to {high:.0f} ohm is expected. Bad: too high." in text
    assert "run B3 open" in text and "L4 missing" in text


def test_a_leak_to_earth_is_never_what_one_good_line_in_twenty_reads(tmp_path):
    """At least 1 Mohm is a limit, not an interval that holds 95 of 100 good lines (common practice, no source)."""
    folder = visited(tmp_path, 50.2, 50.0, 'r2 = { line = "A", leakage = 300000 }\n')
    [leak] = [f for f in told("check", folder)["findings"] if "leaks to earth" in f["sentence"]]
    assert "one good line in twenty" not in leak["mend"], leak


def test_a_splice_gone_high_is_shown_at_an_end_of_its_run():
    """The sentence says "at an end of run"; a place to dig half way along it is no end."""
    rebuilt = whole("restaurant")
    size = {"ohm": 25.0, "joint": "J1"}
    [z] = spice.impedances([rebuilt.lines["B"].circuit("f", {"kind": "high_splice", "run": "B2"}, size)], METER_HZ)
    found = located("restaurant", "B", z)
    ends = {run_[0]: run_[1:3] for run_ in rebuilt.lines["B"].runs}
    seen = 0
    for explanation, place in zip(found["diagnosis"]["explanations"], found["places"]):
        if explanation["fault"]["kind"] == "high_splice":
            at = [place["at"]["x"], place["at"]["y"]] if isinstance(place["at"], dict) else place["at"]
            off = [math.dist(at, rebuilt.at(end)) for end in ends[explanation["fault"]["run"]]]
            assert min(off) < 0.02, (explanation["sentence"], place, off)
            seen += 1
    assert seen


def test_a_drift_towards_the_limit_is_not_called_nothing_to_fear(tmp_path):
    """3.6 % more in a year: on that course past the limit in about three years, though two readings are too few to be sure of
    it."""
    limit = next(r["high_ohm"] for r in answer("restaurant", "expect")["lines"]["A"]["readings"]
                 if r["place"] == "rack" and r["frequency_hz"] == 0.0)
    second = round(limit / 1.036**3.2, 2)
    text = " ".join(run("years", visited(tmp_path, round(second / 1.036, 2), second)).stdout.split())
    assert "nothing to fear" not in text, text[:400]
