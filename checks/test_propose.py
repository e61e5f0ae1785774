"""A whole design proposed from the brief, on the smallest example and variations of it: what is promised of any search
for the cheapest plan (metamorphic tests; no outside source is needed for these), and the edits it gives.

More budget never makes a plan dearer, a lower target never raises its cost beyond what the search leaves open, and equal
input gives equal output whatever the number of threads.
"""

import csv
import json
import os
import re
import shutil
import subprocess
import tomllib

import pytest

import proposals
import tool
from whole_job_texts import ORCHARD

EXAMPLE = tool.ROOT / "examples" / "walled-courtyard"


def job(folder, *changes):
    """A copy of the example with pieces of its text replaced."""
    shutil.copytree(EXAMPLE, folder)
    path = folder / "job.toml"
    text = path.read_text()
    for old, new in changes:
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in the example"
        text = text.replace(old, new)
    path.write_text(text)
    return folder


def in_a_mirror(text, width=11.0):
    """The text of a job with every place and bearing turned over the middle of a site so wide."""
    text = re.sub(r"\[(-?[\d.]+), (-?[\d.]+)\]", lambda m: f"[{round(width - float(m[1]), 6)}, {m[2]}]", text)
    return re.sub(r"bearing = (\d+)", lambda m: f"bearing = {(360 - int(m[1])) % 360}", text)


def proposed(folder, *arguments, threads=None):
    """The proposal for a job, as data."""
    environment = dict(os.environ)
    if threads:
        environment["RAYON_NUM_THREADS"] = str(threads)
    done = subprocess.run(
        [os.environ["LOAMLINE_BIN"], "propose", str(folder), "--option", "least-cost", "--json", *arguments],
        capture_output=True, text=True, env=environment, timeout=300,
    )
    assert done.returncode in (0, 1), done.stderr
    return json.loads(done.stdout)["proposal"]


def price(proposal):
    """What the cheapest design costs."""
    assert proposal["failure"] is None, proposal["failure"]
    return float(proposal["options"][0]["figures"]["price"])


@pytest.fixture(scope="module")
def usual():
    return proposed(EXAMPLE)


def test_a_proposal_meets_the_brief(usual):
    figures = usual["options"][0]["figures"]
    assert price(usual) <= 4500.0, "the example's budget"
    assert figures["worst_share_within"] >= 0.95
    assert figures["neighbour_margin_db"] >= 3.0 - 0.05, "the margin the brief keeps when it names none"


def test_more_budget_never_makes_a_plan_dearer(usual, tmp_path):
    richer = proposed(job(tmp_path / "job", ("budget = 4500", "budget = 9000")))
    assert price(richer) <= price(usual) + 0.01


def test_a_lower_target_never_raises_the_cost(usual, tmp_path):
    # Places are chosen by their share of cable and priced as routed after that, which leaves a per cent or two open.
    softer = proposed(job(tmp_path / "job", ('target = "62 dBA"', 'target = "59 dBA"')))
    assert price(softer) <= price(usual) * 1.02


def test_the_mirrored_site_costs_the_same(usual, tmp_path):
    # The same garden seen in a mirror: every place and bearing turned over the north-south line.
    mirrored = job(tmp_path / "job")
    path = mirrored / "job.toml"
    path.write_text(in_a_mirror(path.read_text()))
    assert price(proposed(mirrored)) == pytest.approx(price(usual), rel=0.03), "routing and taps leave a few per cent"


def test_the_number_of_threads_changes_nothing(usual):
    assert proposed(EXAMPLE, threads=1) == usual


def test_the_number_of_threads_changes_no_offer():
    """Evener, louder and mixed designs are made side by side."""
    every = [o for kind in ("balanced", "most-even", "loudest", "least-cost-mixed") for o in ("--option", kind)]
    assert proposed(EXAMPLE, *every, threads=1) == proposed(EXAMPLE, *every, threads=3)


def test_what_is_written_is_a_job_that_passes_its_check(tmp_path):
    folder = job(tmp_path / "job")
    done = tool.run("propose", folder, "--write")
    assert done.returncode == 0, done.stderr
    checked = tool.run("check", folder)
    assert checked.returncode == 0, checked.stdout
    text = (folder / "job.toml").read_text()
    assert re.search(r"^# Walled courtyard", text, re.MULTILINE), "people's comments stay"


def test_a_brief_that_cannot_be_met_says_why_and_what_can(tmp_path):
    done = tool.run("propose", job(tmp_path / "job", ('night = "50 dBA"', 'night = "20 dBA"')))
    assert done.returncode == 1
    assert "flat" in done.stdout and "night" in done.stdout, done.stdout


def test_a_change_that_is_named_makes_a_brief_that_can_be_met(tmp_path):
    folder = job(tmp_path / "job", ('target = "62 dBA"', 'target = "66 dBA"'), ('day = "60 dBA"', 'day = "64 dBA"'),
                 ('night = "50 dBA"', 'night = "46 dBA"'))
    failure = proposed(folder)["failure"]
    assert failure["changes"], failure
    done = tool.run("propose", folder, "--accept", "1", "--write")
    assert done.returncode == 0, done.stderr
    checked = tool.run("check", folder)
    assert checked.returncode == 0, checked.stdout


def test_the_table_in_the_docs_is_of_now():
    # Only the smallest example is run again; a few per cent are left for engines that get more exact.
    text = proposals.PAGE.read_text()
    for example in proposals.EXAMPLES:
        told = [line for line in text.splitlines() if line.startswith(f"| {example} ")]
        assert len(told) >= 2 and "rule of thumb" in told[-1], f"{example} is not in {proposals.PAGE.name}"
    then = [line.split(" | ") for line in text.splitlines() if line.startswith("| walled-courtyard ")]
    now = [line.split(" | ") for line in proposals.rows("walled-courtyard")]
    for old, new in ((then[0], now[0]), (then[-1], now[-1])):
        assert float(new[2].split()[0]) == pytest.approx(float(old[2].split()[0]), rel=0.05), "the price; " + proposals.__doc__
        assert float(new[4].split()[0]) == pytest.approx(float(old[4].split()[0]), abs=0.5), "the spread"


@pytest.mark.parametrize("example", proposals.EXAMPLES)
def test_the_most_even_of_the_table_is_worth_its_money(example):
    """At most twice the cheapest, and evener than the rule of thumb where the budget pays for that at all."""
    lines = [line.strip("| \n").split(" | ") for line in proposals.PAGE.read_text().splitlines()]
    told = [line for line in lines if line[0] == example]
    number = lambda cell: float(cell.split()[0])
    [even] = [line for line in told if "most even" in line[1]]
    thumb = told[-1]
    assert thumb[1] == "rule of thumb"
    assert number(even[2]) <= 2 * number(told[0][2])
    budget = tomllib.loads((tool.ROOT / "examples" / example / "job.toml").read_text())["brief"].get("budget", float("inf"))
    assert number(even[3]) >= number(thumb[3]) or number(thumb[2]) > budget
    assert number(even[4]) <= number(thumb[4]) or number(thumb[2]) > budget


def test_the_largest_example_gets_a_design(tmp_path):
    # Nine areas of three programmes on terraces above each other, with neighbours on both sides.
    done = proposed(tool.ROOT / "examples" / "quayside-hotel")
    figures = done["options"][0]["figures"]
    assert figures["worst_share_within"] >= 0.95
    told = [line.split(" | ") for line in proposals.PAGE.read_text().splitlines() if line.startswith("| quayside-hotel ")]
    assert price(done) == pytest.approx(float(told[0][2].split()[0]), rel=0.1), "the price; " + proposals.__doc__
    assert price(done) < 0.85 * float(told[-1][2].split()[0]), "a seventh less than by rule of thumb, and it meets the brief"
    # Outputs are C1, C2, ..., and the cable of line C has other tags.
    assert not [f["sentence"] for f in done["options"][0]["findings"] if "the tag of" in f["sentence"]]


def test_where_no_hole_may_be_made_every_line_starts_at_the_old_cable(tmp_path):
    """A retrofit from the brief alone: the design passes the old cable (second way: the document it wrote, read by itself),
    makes no hole, and is built from papers that cost what was proposed, to the cent."""
    (tmp_path / "job.toml").write_text(ORCHARD)
    proposed_price = price(proposed(tmp_path, "--seed", "1", "--write"))
    job = tomllib.loads((tmp_path / "job.toml").read_text())
    assert job["lines"]
    assert {line["start"] for line in job["lines"].values()} == {"deck"}
    assert all(run_["from"] != "closet" for line in job["lines"].values() for run_ in line["runs"].values())
    found = json.loads(tool.run("check", tmp_path, "--json").stdout)["findings"]
    assert not [f for f in found if f["severity"] != "note" or "hole" in f["sentence"]], found
    out = tmp_path / "pack"
    assert tool.run("pack", tmp_path, "--out", out, "--only", "tables").returncode == 0
    rows = list(csv.reader((out / "bill-of-quantities.csv").read_text("utf-8-sig").splitlines()))
    assert next(row[-1] for row in rows if row[1] == "Total") == f"{proposed_price:.2f}"
