"""Papers of a job that says its units: a copy of an example in feet leaves no metric figure on any of them, the example itself none
in feet; depth of cable, the request for location of services, and what the firm's meter reads at.

Source of the method: poppler-utils for text and size of sheets; a foot is 0.3048 m and an inch 25.4 mm by definition.
"""

import atexit
import re
import shutil

import papers
import pytest
import tool

atexit.register(papers.remove)
JOB = "guesthouse-garden"
METRIC = re.compile(r"(?<![\w.])\d[\d.]*\s?(?:m|mm|cm|km|kg|m²|m³|mm²|m³/h|°C)(?![\w/²³'])")
# A number before "in" may count pieces ("12 in all"): inches are told by what they measure elsewhere.
AMERICAN = re.compile(r"\d\s?(?:ft|lb|cu\s?yd|sq\s?ft|°F|ft³/min)(?![\w])|\d+/\d+ in\b")
# Models are called by the size of their cone, and plugs by their bore, wherever they are sold.
NAMES = re.compile(r"\b\d+ mm(?=,| with| firing)|jack \d\.\d mm")
US = [
    ('currency = "EUR"', 'currency = "USD"\nunits = "us"\ntax = 0\nmeter = [0, "250 Hz", "1 kHz"]'),
    ("[site.local]", '[site.locating]\nnumber = "QX-20931"\nmade = "2 March"\nfrom = "5 March"\nuntil = "19 March"\n\n[site.local]'),
]


@pytest.fixture(scope="module")
def american():
    """The example in feet: its own words, cable by gauge, a request for location."""
    where = papers.FOLDER / "american"
    shutil.copytree(papers.folder(JOB), where, dirs_exist_ok=True)
    text = (where / "job.toml").read_text()
    for old, new in US:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    text = re.sub(r"(burial|conduit)-(\d)x[\d.]+mm2", r"burial-\2x14awg", text)
    (where / "job.toml").write_text(text)
    out = papers.FOLDER / "american-pack"
    assert tool.run("pack", where, "--out", out).returncode in (0, 1)
    return where, out


def seen(out):
    return {pdf: NAMES.sub("", papers.flowing(out / pdf)) for pdf in papers.PDFS}


def test_a_job_in_feet_has_no_metric_figure_on_paper(american):
    for pdf, text in seen(american[1]).items():
        assert not METRIC.findall(text), (pdf, [text[max(0, f.start() - 40) : f.end() + 20] for f in METRIC.finditer(text)])


def test_a_job_in_metres_has_none_in_feet():
    for pdf, text in seen(papers.packed(JOB)).items():
        assert not AMERICAN.findall(text), (pdf, [text[max(0, f.start() - 40) : f.end() + 20] for f in AMERICAN.finditer(text)])


def test_sheets_are_letter_where_the_job_is_in_feet(american):
    """ANSI A, 8 1/2 by 11 in, is 612 by 792 points."""
    for pdf in ("proposal.pdf", "quotation.pdf"):
        info = papers.poppler("pdfinfo", american[1] / pdf)
        assert re.search(r"Page size: +612 x 792 pts", info), (pdf, info)


def test_an_option_on_the_command_line_overrides_the_job(american):
    where, _ = american
    out = papers.FOLDER / "american-in-metres"
    assert tool.run("pack", where, "--out", out, "--only", "crew", "--units", "metric").returncode in (0, 1)
    text = papers.flowing(out / "crew-pack.pdf")
    assert METRIC.search(text) and not AMERICAN.search(text)
    assert "A4" in text and "14 AWG" in text


def test_tables_on_the_command_line_follow_the_job(american):
    where, _ = american
    own = tool.run("route", where, "--dry").stdout
    assert re.search(r"Cable to cut: \d+ ft before, \d+ ft now", own), own[-400:]
    assert re.search(r"Cable to cut: [\d.]+ m before", tool.run("route", where, "--dry", "--units", "metric").stdout)


def test_cable_is_called_as_the_trade_says_it(american):
    crew = papers.flowing(american[1] / "crew-pack.pdf")
    assert "14/2 direct burial" in crew and "conductors, 14 AWG" not in crew


def test_the_cover_has_the_request_for_location(american):
    """Number and last day on the cover, and both with the day it was made on the sheet for before work; a line where none is known."""
    where, out = american
    cover = re.sub(r"\s+", " ", papers.pages(out / "crew-pack.pdf")[0])
    assert "QX-20931; its marks hold until 19 March" in cover
    sheet = papers.flowing(out / "before-work.pdf")
    assert "QX-20931, 2 March" in sheet and re.search("5 March . 19 March", sheet)
    plain = re.sub(r"\s+", " ", papers.pages(papers.packed(JOB) / "crew-pack.pdf", 330)[0])
    assert re.search(r"Request for location of services \.{8,}; its marks hold until \.{8,}", plain)


def test_how_deep_cable_lies_stands_on_route_sheets_and_plan(american):
    """Stated for trenches (450 mm, of which 17.7 in are 18 to a rule of half inches); slits take it too where they have no figure."""
    read = papers.job(JOB)
    assert papers.number(read["site"]["local"]["cable_cover"]) == 0.45
    for out, figure in ((papers.packed(JOB), "450 mm"), (american[1], "18 in")):
        text = papers.flowing(out / "crew-pack.pdf")
        assert "The local code decides; it asks for" in text
        assert re.search(rf"slit cut with a spade {figure} of ground over it at least {figure}", text), figure
        assert re.search(rf"Ground over cable, at least: [^.]*slit {figure}[^.]*\. The local code decides\.", text), figure


def test_sheets_of_readings_have_the_frequencies_of_the_jobs_meter(american, tmp_path):
    crew = papers.flowing(american[1] / "crew-pack.pdf")
    assert re.search(r"DC, ohm .{0,40}250 Hz, ohm .{0,40}1 kHz, ohm", crew)
    expected = tool.run("expect", american[0]).stdout
    assert "250 Hz ohm" in expected and "10 kHz ohm" not in expected
    # The firm's count where the job states none.
    (tmp_path / "firm.toml").write_text('meter = ["dc", "500 Hz"]\n')
    done = tool.run("pack", papers.folder(JOB), "--out", tmp_path, "--only", "crew", "--firm", tmp_path / "firm.toml")
    assert done.returncode in (0, 1), done.stderr
    text = papers.flowing(tmp_path / "crew-pack.pdf")
    assert "500 Hz, ohm" in text and "1 kHz, ohm" not in text
