"""Lengths in sentences, in the units that are asked for: what `--units us` prints against the metres of `--json`, converted here
(a foot is 0.3048 m by definition); and what `new` writes for either, against the job file itself."""

import csv
import json
import re
import tomllib

import pytest

from tool import ROOT, run
from whole_job_shown import tables

FT_M = 0.3048
JOB = ROOT / "examples" / "guesthouse-garden"
METRES = re.compile(r"(?<![\w.])(\d+(?:\.\d+)?) m\b(?!/)")
LENGTH = r"(?:(\d+) ft)?(?: ?(\d+) in)?"


def flat(text):
    """A table's words in a row."""
    return " ".join(text.split())


def test_where_a_fault_lies_is_told_in_feet():
    """Every listed explanation with a length, its metres in the same order as feet; the words around them are the same."""
    words = ["locate", JOB, "--line", "A", "--reading", "dc=0.4ohm"]
    found = json.loads(run(*words, "--json").stdout)["located"]["diagnosis"]
    us = flat(run(*words, "--units", "us").stdout)
    # What is listed: answers above half a percent.
    listed = [found["explanations"][m] for a in found["answers"] if a["probability"] >= 0.005 for m in a["members"]]
    told = [e["sentence"] for e in listed if METRES.search(e["sentence"])]
    assert len(told) >= 3, listed
    for sentence in told:
        metres = [float(m) for m in METRES.findall(sentence)]
        around = METRES.split(sentence)[::2]
        shown = re.search(LENGTH.join(map(re.escape, around)), us)
        assert shown, (sentence, us)
        for m, (feet, inches) in zip(metres, zip(*[iter(shown.groups())] * 2, strict=True), strict=True):
            length = (int(feet or 0) + int(inches or 0) / 12) * FT_M
            # JSON tells tenths of a metre and the table whole feet, each rounded from the length itself.
            assert abs(length - m) <= 0.5 * FT_M + 0.051, (m, feet, inches)
    assert not METRES.search(us), METRES.findall(us)


def test_a_lead_too_long_is_told_in_feet(tmp_path):
    """9.14 m of unbalanced lead are 30 ft (29.99), and the 5 m beyond which it hums 16 ft (16.4)."""
    text = (JOB / "job.toml").read_text()
    assert text.count('length = "1.5 m"') == 2
    (tmp_path / "job.toml").write_text(text.replace('length = "1.5 m"', "length = 9.14"))
    metric, us = (flat(run("sources", tmp_path, *words).stdout) for words in ([], ["--units", "us"]))
    assert "Lead W1 is 9.1 m long and unbalanced; beyond 5 m it picks up hum" in metric, metric
    assert "Lead W1 is 30 ft long and unbalanced; beyond 16 ft it picks up hum" in us, us


@pytest.mark.parametrize(
    ("words", "money", "place"),
    [
        ([], {"currency": "EUR"}, {"mains": "230 V", "circuit": "16 A", "paper": "A4"}),
        (["--units", "us"], {"currency": "USD", "tax": "0 %"}, {"mains": "120 V", "circuit": "20 A", "paper": "Letter"}),
        (
            ["--units", "us", "--currency", "cad", "--tax", "5 %", "--circuit", "15 A", "--paper", "tabloid"],
            {"currency": "CAD", "tax": "5 %"},
            {"mains": "120 V", "circuit": "15 A", "paper": "Tabloid"},
        ),
    ],
)
def test_a_new_job_has_money_mains_and_paper_of_its_units_and_says_so(tmp_path, words, money, place):
    done = run("new", tmp_path / "garden", *words)
    assert done.returncode == 0, done.stderr
    job = tomllib.loads((tmp_path / "garden" / "job.toml").read_text())
    assert {k: job["job"][k] for k in ("currency", "tax") if k in job["job"]} == money
    # Once, for the whole job: its rack says nothing of its own.
    assert {k: job["job"][k] for k in place} == place and not place.keys() & job["racks"]["house"].keys()
    # The job says its units, and lengths in it are typed in them.
    us = "us" in words
    assert job["job"]["units"] == ("us" if us else "metric")
    assert job["areas"]["terrace"]["outline"][0] == (["6 ft", "6 ft"] if us else [2, 2])
    assert job["lines"]["A"]["cable"] == ("burial-2x14awg" if us else "burial-2x2.5mm2")
    said = flat(done.stdout)
    assert f"Amounts are in {money['currency']}" in said and f"{place['mains']}, {place['circuit']} circuits" in said
    assert f"papers are {place['paper']}." in said
    assert "--currency" in said and max(map(len, done.stdout.splitlines())) <= 80 + len(str(tmp_path))
    assert run("check", tmp_path / "garden").returncode == 0


def test_a_new_job_refuses_what_cannot_be(tmp_path):
    for words, why in ((["--mains", "12 kV"], "mains"), (["--currency", "dollars"], "three letters"), (["--tax", "much"], "--tax"), (["--paper", "A5"], "Tabloid")):
        done = run("new", tmp_path / "garden", *words)
        assert done.returncode == 2 and why in done.stderr, (words, done.stderr)
        assert not (tmp_path / "garden").exists()


def test_a_job_in_feet_is_told_in_feet_without_asking(tmp_path):
    """Every table of a job begun in feet: no metre in it; in metres where that is asked for, and the same JSON whatever it says."""
    assert run("new", tmp_path / "garden", "--units", "us").returncode == 0
    for words in (["check"], ["lines"], ["sources"], ["expect"], ["predict"], ["predict", "--at", "20 ft,10 ft"], ["route", "--dry"]):
        command, *more = words
        done = run(command, tmp_path / "garden", *more)
        assert done.returncode in (0, 1), done.stderr
        assert not METRES.search(done.stdout), (words, METRES.findall(done.stdout))
    at = run("predict", tmp_path / "garden", "--at", "20 ft,10 ft")
    assert "20 ft" in at.stdout
    assert METRES.search(run("predict", tmp_path / "garden", "--at", "20 ft,10 ft", "--units", "metric").stdout)
    told = [json.loads(run("lines", tmp_path / "garden", "--json", *units).stdout) for units in ([], ["--units", "metric"])]
    assert told[0] == told[1]


def test_cable_is_told_in_whole_feet(tmp_path):
    """What is cut is rounded up to a foot, and no table of cable has an inch."""
    job = tmp_path / "garden"
    assert run("new", job, "--units", "us").returncode == 0
    shown = run("route", job, "--dry").stdout
    assert " ft" in shown and not re.search(r"\d in\b", shown), shown
    cut = json.loads(run("route", job, "--dry", "--json").stdout)["cables"]
    metres = sum(cable["length_m"] for order in cut for spool in order["spools"] for cable in spool["cuts"])
    [now] = re.findall(r"before, (\d+) ft now", shown)
    assert int(now) * FT_M == pytest.approx(metres, abs=1e-6)
    # The sum is of what is told line by line, and so are the sums by type of cable.
    for heading in ("Cable schedule", "Spools"):
        [(columns, rows)] = [(columns, rows) for head, columns, rows in tables(shown) if head == heading]
        told = [int(row[columns.index("to cut")].removesuffix(" ft")) for row in rows if row[columns.index("to cut")].endswith(" ft")]
        assert told and sum(told) == int(now), (heading, told, now)


def test_a_price_by_the_foot_is_charged_by_the_foot(tmp_path):
    """Whole feet times the price of one, by hand; a price that does not say by what is named as taken by the metre."""
    job = tmp_path / "garden"
    assert run("new", job, "--units", "us").returncode == 0
    assert run("route", job).returncode in (0, 1)

    def billed(name, book):
        (tmp_path / f"{name}.csv").write_text(book)
        done = run("pack", job, "--out", tmp_path / name, "--only", "tables", "--prices", tmp_path / f"{name}.csv")
        assert done.returncode in (0, 1), done.stderr
        with open(tmp_path / name / "bill-of-quantities.csv", encoding="utf-8-sig", newline="") as file:
            return {row["Code"]: row for row in csv.DictReader(file) if row["Code"]}, done.stderr

    code = next(code for code in billed("any", "code,price\n")[0] if code.startswith("cable/"))
    by_foot, told = billed("feet", f"code,price,unit\nmargin,0,\n{code},2.5,ft\n")
    row = by_foot[code]
    assert row["Unit"] == "ft" and float(row["Price of one"]) == 2.5
    assert float(row["Amount"]) == pytest.approx(2.5 * int(row["Quantity"]), abs=0.011)
    assert "by the metre" not in told
    by_metre, told = billed("metres", f"code,price\nmargin,0\n{code},2.5\n")
    assert f"Taken by the metre: the prices of {code}." in told
    # A foot is 0.3048 m by definition.
    assert float(by_metre[code]["Amount"]) == pytest.approx(0.3048 * float(row["Amount"]), abs=0.02)
