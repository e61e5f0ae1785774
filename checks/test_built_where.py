"""Paper and mains are facts of the job: from its file alone the command line and the server print on the same sheet and reckon with
the same mains, of the job, of its units or of the rack; an option of one call comes before the sheet.

Source of the method: poppler-utils for text and size of sheets (A4 is ISO 216; Letter, ANSI A, is 612 by 792 points, Tabloid 792 by
1224); the current of a load of so many watts goes with one over the voltage, here against the 230 V of the example.
"""

import atexit
import json
import re

import papers
import pytest
import tool
from over_http import fetched, imported_text, server  # noqa: F401 (fixture)
from test_server import ask

atexit.register(papers.remove)
JOB = "guesthouse-garden"
OF_RACK = 'mains = "230 V"\ncircuit = "16 A"\n'
A4, LETTER, TABLOID = (595, 842), (612, 792), (792, 1224)
# What stands under [job], what stands at the rack; the sheet and the volts and amperes that follow.
PLACES = {
    "nothing said": ("", "", A4, (230, 16)),
    "by units": ('units = "us"\n', "", LETTER, (120, 20)),
    "job": ('paper = "Letter"\nmains = "120 V"\ncircuit = "15 A"\n', "", LETTER, (120, 15)),
    "job before units": ('units = "us"\npaper = "A4"\nmains = "100 V"\n', "", A4, (100, 20)),
    "rack before job": ('units = "us"\npaper = "Tabloid"\nmains = "120 V"\n', OF_RACK, TABLOID, (230, 16)),
}


def text_of(about, rack):
    text = (papers.folder(JOB) / "job.toml").read_text()
    for old, new in ((OF_RACK, rack), ("[job]\n", "[job]\n" + about)):
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


def sheet(pdf):
    """Width and height of its sheets in whole points; one size in a file, upright or on its side."""
    info = papers.poppler("pdfinfo", "-l", 99, pdf)
    sizes = {tuple(sorted(round(float(x)) for x in size)) for size in re.findall(r"size: +([\d.]+) x ([\d.]+) pts", info)}
    assert len(sizes) == 1, info
    return sizes.pop()


def mains(pdf):
    return [(float(v), float(a)) for v, a in re.findall(r"([\d.]+) V, circuit of ([\d.]+) A", papers.flowing(pdf))]


def currents(folder):
    racks = json.loads(tool.run("lines", folder, "--json").stdout)["report"]["racks"]
    return [draw["eighth_current_a"] for rack in racks.values() for draw in rack["draws"]]


def downloaded(server, job, query, folder):
    status, _, body = ask(server.address, "GET", f"/api/jobs/{job}/papers/electrical-notes.pdf{query}")
    assert status == 200, body[:300]
    pdf = folder / f"over-http-{len(list(folder.iterdir()))}.pdf"
    pdf.write_bytes(body)
    return pdf


@pytest.fixture(params=PLACES, ids=str)
def place(request, tmp_path):
    about, rack, size, of_rack = PLACES[request.param]
    text = text_of(about, rack)
    (tmp_path / "job.toml").write_text(text)
    return tmp_path, text, size, of_rack


def test_papers_are_as_the_file_says_on_the_command_line_and_over_http(place, server):
    folder, text, size, of_rack = place
    out = folder / "pack"
    assert tool.run("pack", folder, "--out", out, "--only", "electrical,quotation,crew").returncode in (0, 1)
    assert sheet(out / "quotation.pdf") == sheet(out / "electrical-notes.pdf") == size
    assert mains(out / "electrical-notes.pdf") == mains(out / "crew-pack.pdf") == [of_rack]
    mine = downloaded(server, imported_text(server, text), "", folder)
    assert sheet(mine) == size and mains(mine) == [of_rack]


def test_amplifiers_draw_their_current_from_the_mains_of_the_place(place):
    folder, _, _, (volts, _) = place
    mine, example = currents(folder), currents(papers.folder(JOB))
    assert len(mine) == len(example) > 0
    for a, b in zip(mine, example):
        assert a == pytest.approx(b * 230 / volts, rel=1e-9)


def test_a_sheet_that_is_asked_for_comes_before_the_jobs(tmp_path, server):
    text = text_of('units = "us"\npaper = "Tabloid"\n', "")
    (tmp_path / "job.toml").write_text(text)
    out = tmp_path / "pack"
    assert tool.run("pack", tmp_path, "--out", out, "--only", "electrical", "--paper", "a4").returncode in (0, 1)
    assert sheet(out / "electrical-notes.pdf") == A4
    job = imported_text(server, text)
    assert sheet(downloaded(server, job, "?paper=Letter", tmp_path)) == LETTER
    # Other units leave the sheet that the job states.
    assert sheet(downloaded(server, job, "?units=metric", tmp_path)) == TABLOID


def test_an_edit_of_the_job_changes_the_papers_at_once(tmp_path, server):
    job = imported_text(server, text_of("", ""))
    assert (sheet(before := downloaded(server, job, "", tmp_path)), mains(before)) == (A4, [(230, 16)])
    revision = fetched(server, f"/api/jobs/{job}")["revision"]
    patch = [{"op": "add", "path": f"/job/{key}", "value": value} for key, value in (("paper", "Letter"), ("mains", "120 V"))]
    made = {"edit_id": "6a2f8f0e-0f8e-4a57-9d0e-2f5f3f2b7c11", "base_revision": revision, "patch": patch, "who": "Ada", "note": "Where it is built"}
    status, _, body = ask(server.address, "POST", f"/api/jobs/{job}/edits", made)
    assert status == 200, body
    assert (sheet(after := downloaded(server, job, "", tmp_path)), mains(after)) == (LETTER, [(120, 16)])


@pytest.mark.parametrize(("line", "where", "way_out"), [
    ('paper = "A5"', "job.paper", "Tabloid"), ('paper = "letter"', "job.paper", "Letter"),
    ('mains = "12 kV"', "job.mains", "260"), ('circuit = "0.2 A"', "job.circuit", "125"),
])
def test_what_cannot_be_is_refused_at_its_place(tmp_path, line, where, way_out):
    (tmp_path / "job.toml").write_text(text_of(f"{line}\n", ""))
    done = tool.run("check", tmp_path)
    assert done.returncode == 2 and where in done.stderr and way_out in done.stderr, done.stderr
