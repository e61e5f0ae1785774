"""The handover certificate says what the job's visits have and nothing else: every reading that stands with the verdict of
`expect --json`, measured levels, meters, serial numbers, taps that differ, notes; limits and wishes as the brief has them.

Source of the method: poppler-utils for text; the job's own file says what was entered, the command line what is judged.
"""

import atexit
import json
import re

import papers
import pytest
import tool

atexit.register(papers.remove)


def certificate(out):
    return papers.flowing(out / "handover-certificate.pdf")


@pytest.mark.parametrize("name", papers.EXAMPLES)
@pytest.mark.parametrize("flags", [[], ["--paper", "letter", "--units", "us"]], ids=["A4", "Letter"])
def test_every_area_limit_line_and_piece_is_on_it(name, flags):
    read = papers.job(name)
    text = certificate(papers.packed(name, "--only", "certificate", *flags))
    for area in read["areas"].values():
        assert re.search(rf"{re.escape(area['name'])} {papers.number(area['target']):.0f} dBA, within", text), area["name"]
    words = set(re.findall(r"[\w./+-]+", text))
    assert set(read["loudspeakers"]) | set(read["amplifiers"]) | set(read["lines"]) <= words
    for neighbour in read.get("neighbours", {}).values():
        assert f"{papers.number(neighbour['day']):.0f} dBA" in text
    for tag, neighbour in read.get("neighbours", {}).items():
        named = set(re.findall(r"[\w./+-]+", neighbour["name"]))
        assert named <= words and f"({tag})" not in text, "a neighbour goes by the name people gave"
    for who in ("For the firm", "For the client", "Witness of the measurements"):
        assert who in text


@pytest.mark.parametrize("name", papers.EXAMPLES)
def test_every_reading_that_stands_has_its_verdict(name):
    told = json.loads(tool.run("expect", papers.folder(name), "--json").stdout)["readings"]
    text = certificate(papers.packed(name, "--only", "certificate"))
    read = papers.job(name).get("visits", {})
    standing = [r for r in told if not r["superseded"] and r["as_it_was"] is None]
    assert len([r for visit in read.values() for r in visit.get("readings", {})]) >= len(standing)
    unread = set(papers.job(name)["lines"]) - {r["line"] for r in standing}
    assert text.count("no reading is entered") == len(unread)
    for r in standing:
        grade = r["grade"] or "not judged"
        assert re.search(rf"{r['date']} {r['at'] or 'rack'} [^%]{{0,60}}{grade}", text), r


ENTERED = """
[visits.H]
date = "2027-03-01"
kind = "handover"
notes = "Heard with the client at dusk."
levels.t = { area = "AREA", level = "68.7 dBA" }
levels.n = { neighbour = "NEIGHBOUR", level = "47.3 dBA" }
meters.m = { kind = "impedance", name = "Bridge", serial = "B-9041", calibrated = "2027-01-15" }
meters.s = { kind = "level", name = "Class 1 meter", serial = "S-5512", calibrated = "2026-11-30" }
done.t = { work = "tap", at = "TAG", tap = "2.5 W" }
"""


def test_what_is_entered_on_a_visit_is_on_it(tmp_path):
    read = papers.job("guesthouse-garden")
    tag = next(tag for tag, l in read["loudspeakers"].items() if "tap" in l)
    entered = ENTERED.replace("AREA", next(iter(read["areas"]))).replace("NEIGHBOUR", "east").replace("TAG", tag)
    job = tmp_path / "job"
    job.mkdir()
    (job / "job.toml").write_text((papers.folder("guesthouse-garden") / "job.toml").read_text() + entered)
    out = tmp_path / "pack"
    done = tool.run("pack", job, "--out", out, "--only", "certificate")
    assert done.returncode in (0, 1), done.stderr
    text = certificate(out)
    target = papers.number(next(iter(read["areas"].values()))["target"])
    difference = f"{68.7 - target:+.1f} dB".replace("-", "\N{MINUS SIGN}")
    assert re.search(rf"68\.7 dBA {re.escape(difference)}", text)
    assert "47.3 dBA" in text and "Heard with the client at dusk." in text
    for meter in ("Bridge B-9041 2027-01-15", "Class 1 meter S-5512 2026-11-30"):
        assert meter in text, meter
    assert f"{tag}: tap set to 2.5 W on 2027-03-01; the design has" in text


LATER = """
[visits.Z]
date = "2031-05-02"
kind = "fault"
notes = "A spade went through it."
levels.t = { area = "AREA", level = "99.9 dBA" }
meters.m = { kind = "impedance", name = "Another bridge", serial = "B-1", calibrated = "2031-01-15" }
"""


def test_what_comes_after_the_handover_leaves_it_as_it_was_signed(tmp_path):
    read = papers.job("guesthouse-garden")
    tag = next(tag for tag, l in read["loudspeakers"].items() if "tap" in l)
    area = next(iter(read["areas"]))
    entered = ENTERED.replace("AREA", area).replace("NEIGHBOUR", "east").replace("TAG", tag)
    (tmp_path / "job.toml").write_text(
        (papers.folder("guesthouse-garden") / "job.toml").read_text() + entered + LATER.replace("AREA", area)
    )
    out = tmp_path / "pack"
    done = tool.run("pack", tmp_path, "--out", out, "--only", "certificate")
    assert done.returncode in (0, 1), done.stderr
    text = certificate(out)
    assert "68.7 dBA" in text and "Heard with the client at dusk." in text
    for later in ("99.9 dBA", "A spade", "Another bridge"):
        assert later not in text, later


def test_a_level_over_its_limit_is_told_and_stands_on_it(tmp_path):
    read = papers.job("guesthouse-garden")
    limit = papers.number(read["neighbours"]["east"]["day"])
    entered = f'''
[visits.H]
date = "2027-03-01"
kind = "handover"
levels.n = {{ neighbour = "east", level = "{limit + 5:g} dBA" }}
levels.t = {{ area = "{next(iter(read["areas"]))}", level = "{papers.number(next(iter(read["areas"].values()))["target"]) + 12:g} dBA" }}
'''
    (tmp_path / "job.toml").write_text((papers.folder("guesthouse-garden") / "job.toml").read_text() + entered)
    found = json.loads(tool.run("check", tmp_path, "--json").stdout)["findings"]
    measured = {f["about"]["table"]: f for f in found if "was measured on 2027-03-01" in f["sentence"]}
    assert set(measured) == {"areas", "neighbours"} and {f["severity"] for f in measured.values()} == {"warning"}
    assert f"{limit + 5:.1f} dBA was measured on 2027-03-01, 5.0 dB over the limit of {limit:g} dBA" in measured["neighbours"]["sentence"]
    assert "12.0 dB above" in measured["areas"]["sentence"]
    out = tmp_path / "pack"
    tool.run("pack", tmp_path, "--out", out, "--only", "certificate")
    text = certificate(out)
    assert "5.0 dB over" in text and "louder" in text


@pytest.mark.parametrize(
    ("level", "why"),
    [
        ('{ level = "60 dBA" }', "does not say where"),
        ('{ area = "terrace", neighbour = "east", level = "60 dBA" }', "in an area and at a neighbour"),
        ('{ area = "terrace" }', "has no value"),
        ('{ area = "terrace", floor = "g", level = "60 dBA" }', "only a neighbour has floors"),
    ],
)
def test_a_level_of_no_place_or_of_two_is_refused(tmp_path, level, why):
    (tmp_path / "job.toml").write_text((papers.folder("guesthouse-garden") / "job.toml").read_text() + f'\n[visits.X]\ndate = "2027-03-01"\nlevels.l = {level}\n')
    done = tool.run("check", tmp_path)
    assert done.returncode == 2 and why in done.stderr + done.stdout


def test_a_level_of_what_is_not_there_is_said(tmp_path):
    (tmp_path / "job.toml").write_text((papers.folder("guesthouse-garden") / "job.toml").read_text() + '\n[visits.X]\ndate = "2027-03-01"\nlevels.l = { area = "terace", level = "60 dBA" }\n')
    text = re.sub(r"\s+", " ", tool.run("check", tmp_path).stdout)
    assert 'level l names area "terace", which there is none of; did you mean "terrace"?' in text
