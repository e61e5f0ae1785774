"""Whom a job is for, on the papers that go to them and to the crew; the photos of a first look, on the as-built sheet.

Source of the method: poppler-utils for text and pages. Which papers carry an address is common practice, no source.
"""

import atexit
import re
import shutil

import papers
import pytest
import tool

atexit.register(papers.remove)
NAME, ADDRESS = "The owners of the courtyard", "12 Upper Lane"
WHO = "The caretaker \u00b7 keys \u00b7 012 345 \u00b7 gate@example.org"
MORE = f"""
[client]
name = "{NAME}"
address = "{ADDRESS}"
[client.contacts.c1]
name = "The caretaker"
role = "keys"
telephone = "012 345"
mail = "gate@example.org"

[visits.look]
date = "2026-03-01"
kind = "survey"
[visits.look.photos.p2]
file = "gate.jpg"
position = [3, 4.5]
notes = "Gate, 0.8 m wide"
[visits.look.photos.p3]
file = "wall.jpg"
"""


def packed(tmp_path, more):
    folder = tmp_path / "job"
    shutil.copytree(papers.folder("walled-courtyard"), folder)
    text = folder / "job.toml"
    text.write_text(text.read_text() + more)
    out = tmp_path / "out"
    only = "proposal,quotation,certificate,guide,before-work,as-built,labels"
    done = tool.run("pack", folder, "--out", out, "--only", only)
    assert done.returncode in (0, 1), done.stderr
    return out


def told(pdf):
    """The text, column by column, every gap one space."""
    return re.sub(r"\s+", " ", papers.poppler("pdftotext", pdf, "-"))


@pytest.fixture(scope="module")
def out(tmp_path_factory):
    return packed(tmp_path_factory.mktemp("client"), MORE)


@pytest.mark.parametrize("pdf", ["proposal", "quotation", "handover-certificate", "client-guide", "before-work", "as-built"])
def test_the_client_stands_on_papers_that_go_to_them_and_to_the_crew(out, pdf):
    assert f"{NAME}, {ADDRESS}" in told(out / f"{pdf}.pdf")


def test_the_crew_knows_whom_to_speak_to_and_nobody_else_is_told(out):
    assert WHO in told(out / "before-work.pdf")
    for pdf in ["proposal", "quotation", "client-guide", "as-built"]:
        assert "012 345" not in papers.flowing(out / f"{pdf}.pdf"), pdf
    assert NAME not in (out / "labels.csv").read_text()


def test_the_guide_stays_one_sheet(out):
    assert len(papers.pages(out / "client-guide.pdf")) == 2


def test_photos_are_listed_with_their_places(out):
    text = papers.flowing(out / "as-built.pdf")
    assert re.search(r"2026-03-01 3\.00? m / 4\.50? m gate\.jpg Gate, 0\.8 m wide", text), text[:2000]
    assert "wall.jpg" in text


def test_without_a_client_nothing_is_said_of_one(tmp_path):
    out = packed(tmp_path, "")
    assert "People to speak to" not in told(out / "before-work.pdf")
    assert "What there is to see" not in told(out / "as-built.pdf")
