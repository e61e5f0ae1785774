"""The plan of work: its hours are the bill's, no day is longer than the crew has, what waits comes after what it waits for, and what
is loaded is every material of the bill once.

Source of the method: poppler-utils for text; hours, quantities and descriptions are those of the bill of quantities (CSV). The order
of the work is common practice, no source.
"""

import atexit
import re
from decimal import Decimal

import papers
import pytest
import tool

atexit.register(papers.remove)
# Task as printed, and what it waits for.
AFTER = {
    "Ground opened, cable laid": ["Holes through walls", "Buried services crossed"],
    "Loudspeakers put up": ["Holes dug", "Pilot holes and stakes"],
    "Joints made": ["Ground opened, cable laid", "Loudspeakers put up"],
    "Lines measured": ["Joints made"],
    "Channels loaded": ["Lines measured", "Amplifiers mounted"],
}
TASKS = ["Holes through walls", "Buried services crossed", "Holes dug", "Pilot holes and stakes", "Ground opened, cable laid", "Loudspeakers put up", "Joints made", "Amplifiers mounted", "Other work", "Lines measured", "Channels loaded"]
ROW = re.compile(rf"(Travel and setting up|{'|'.join(TASKS)}).*? ([\d.]+) ?h(?= |$)")


def plan_of(out):
    """Days of a plan: rows of what is done and for how many hours, and the text of the day."""
    text = papers.flowing(out / "plan-of-work.pdf")
    assert re.search(r" Day 1 ", text)
    days = re.split(r" Day \d+ (?!of)", text)[1:]
    return text, [([(name, Decimal(hours)) for name, hours in ROW.findall(day)], day) for day in days]


@pytest.fixture(scope="module", params=papers.EXAMPLES)
def made(request):
    out = papers.packed(request.param, "--only", "work-plan,tables")
    return out, *plan_of(out), papers.table(out / "bill-of-quantities.csv")


def labour(row):
    [key] = [k for k in row if k.startswith("Labour")]
    return Decimal(row[key] or 0)


def test_hours_are_the_bills_and_fit_into_the_day(made):
    _, _, days, bill = made
    work = sum(hours for rows, _ in days for name, hours in rows if name != "Travel and setting up")
    assert work == sum(labour(row) for row in bill if row["Code"] != "task/visit")
    travel = sum(hours for rows, _ in days for name, hours in rows if name == "Travel and setting up")
    assert travel == sum(labour(row) for row in bill if row["Code"] == "task/visit")
    # Two people, eight hours on site, where the job says nothing else.
    assert all(sum(hours for name, hours in rows if name != "Travel and setting up") <= 16 for rows, _ in days)


def test_nothing_is_begun_before_what_it_waits_for(made):
    _, _, days, _ = made
    done = [name for rows, _ in days for name, _ in rows]
    for task, befores in AFTER.items():
        for before in befores:
            if task in done and before in done:
                assert done.index(task) > len(done) - 1 - done[::-1].index(before), (before, task)


def test_every_material_is_loaded_once(made):
    _, text, _, bill = made
    for row in bill:
        if row["Code"].split("/")[0] in ("loudspeaker", "amplifier", "cable", "connector"):
            assert text.count(f"{row['Description']}, ") == 1, row["Description"]


def test_another_crew_has_its_own_days():
    folder = papers.FOLDER / "plan-of-four"
    folder.mkdir()
    text = (papers.folder("guesthouse-garden") / "job.toml").read_text()
    (folder / "job.toml").write_text(text + '\n[work]\ncrew = 4\nhours = "9 h"\ndaylight = "08:00 to 16:30"\n')
    out = papers.FOLDER / "plan-of-four-papers"
    done = tool.run("pack", folder, "--out", out, "--only", "work-plan,tables")
    assert done.returncode in (0, 1), done.stderr
    told, days = plan_of(out)
    assert "08:00 to 16:30" in told
    assert len(days) < len(plan_of(papers.packed("guesthouse-garden", "--only", "work-plan,tables"))[1])
    indoors = ("Amplifiers mounted", "Lines measured", "Channels loaded", "Travel and setting up")
    for rows, _ in days:
        assert sum(hours for name, hours in rows if name != "Travel and setting up") <= 36
        assert sum(hours for name, hours in rows if name not in indoors) <= 34
    (folder / "job.toml").write_text(text + "\n[work.tasks.digging]\nfrom_day = 2\n")
    refused = tool.run("check", folder)
    assert refused.returncode == 2 and "crossings" in refused.stderr


def test_a_later_phase_has_days_of_its_own():
    """One line of the garden next spring. Second way: the papers of that phase alone, and the bill they carry."""
    folder = papers.FOLDER / "plan-of-phases"
    folder.mkdir()
    text = (papers.folder("guesthouse-garden") / "job.toml").read_text()
    lines = re.findall(r"^\[lines\.(\w+)\]$", text, re.MULTILINE)
    for line in lines:
        phase = "spring" if line == lines[-1] else "now"
        text = text.replace(f"[lines.{line}]\n", f'[lines.{line}]\nphase = "{phase}"\n')
    text += '\n[phases.now]\nname = "This summer"\nfirst_day = "June 8"\n'
    text += '[phases.spring]\nname = "Next spring"\nfirst_day = "March 15"\n'
    (folder / "job.toml").write_text(text)
    out, alone = papers.FOLDER / "plan-of-phases-papers", papers.FOLDER / "plan-of-spring"
    for to, part in ((out, []), (alone, ["--phase", "spring"])):
        done = tool.run("pack", folder, "--out", to, "--only", "work-plan,tables,proposal", *part)
        assert done.returncode in (0, 1), done.stderr
    told = papers.flowing(out / "plan-of-work.pdf")
    assert "This summer, from June 8: Day 1" in told
    now, spring = told.split("Next spring, from March 15: Day 1")
    work = [(name, Decimal(hours)) for name, hours in ROW.findall(spring) if name != "Travel and setting up"]
    bill = papers.table(alone / "bill-of-quantities.csv")
    assert work and sum(hours for _, hours in work) == sum(labour(row) for row in bill if row["Code"] != "task/visit")
    assert "Lines measured" in now and "Lines measured" in spring, "each phase is measured and switched on by itself"
    client = papers.flowing(out / "proposal.pdf")
    assert "This summer, from June 8: Day 1" in client and "Next spring, from March 15: Day 1" in client
