"""Labels: every tag of the job is on one and nothing else is; sheets measured from the picture of the page; codes read as a
telephone would; the list for label printers says the same.

Source of the method: poppler-utils draws and reads the pages, zxing-cpp reads the QR codes (ISO/IEC 18004: four modules of
quiet zone on every side, 4 v + 17 modules of a version v). Where labels lie is worked out here from their measures. That 5 pt
is the least a person reads at arm's length, and that printers leave up to 4.5 mm white, is common practice, no source.
"""

import atexit
import json
import re
import subprocess
import urllib.parse

import numpy
import papers
import pytest
import tool
from whole_job_made import folder

atexit.register(papers.remove)
IN = 25.4
DPI = 600
STOCKS = {
    # Paper, flags, size, columns and rows, gap, sheet; millimetres.
    "usual A4": ("A4", [], (70, 36), (3, 8), (0, 0), (210, 297)),
    "fine A4": ("A4", ["--labels", "63.5 mm x 38.1 mm, 3 x 7, gap 2.5 mm x 0 mm"], (63.5, 38.1), (3, 7), (2.5, 0), (210, 297)),
    "usual Letter": ("letter", [], (2.625 * IN, IN), (3, 10), (IN / 8, 0), (8.5 * IN, 11 * IN)),
    "wide Letter": ("letter", ["--labels", "4 x 1 1/3 in, 2 x 7, gap 3/16 x 0 in"], (4 * IN, 4 / 3 * IN), (2, 7), (3 / 16 * IN, 0), (8.5 * IN, 11 * IN)),
}


def sheet(name, *flags):
    return papers.packed(name, "--only", "labels", *flags)


def cells(size, grid, gap, paper):
    """Upper left corners of the labels, in the middle of the sheet, row by row."""
    left, top = ((whole - n * (one + between) + between) / 2 for whole, n, one, between in zip(paper, grid, size, gap))
    return [(left + i * (size[0] + gap[0]), top + k * (size[1] + gap[1])) for k in range(grid[1]) for i in range(grid[0])]


def picture(pdf, page, dpi=DPI):
    from PIL import Image

    stem = papers.FOLDER / f"sheet-{pdf.parent.name}-{page}-{dpi}"
    subprocess.run(["pdftoppm", "-r", str(dpi), "-gray", "-f", str(page), "-l", str(page), "-singlefile", "-png", pdf, stem], check=True)
    Image.MAX_IMAGE_PIXELS = None
    return Image.open(f"{stem}.png").convert("L")


def rows_of(out):
    return papers.table(out / "labels.csv")


def per_sheet(rows, corners):
    return [rows[i:i + len(corners)] for i in range(0, len(rows), len(corners))]


def job_of(name):
    """A job by the name of an example, or a made whole job."""
    if name in papers.EXAMPLES:
        return papers.job(name), sheet(name)
    import tomllib

    out = papers.FOLDER / f"labels-of-{name}"
    if not out.exists():
        assert tool.run("pack", folder(name), "--out", out, "--only", "labels,tables").returncode in (0, 1)
    return tomllib.loads((folder(name) / "job.toml").read_text()), out


@pytest.mark.parametrize("name", [*papers.EXAMPLES, "hotel", "terraces"])
def test_every_tag_is_on_a_label_and_every_label_is_of_the_job(name):
    read, out = job_of(name)
    found = {}
    for row in rows_of(out):
        found.setdefault(row["What"], []).append(row["Tag"])
    assert set(found) <= {"cable", "joint", "existing cable", "loudspeaker", "output", "input"}
    for what, table in [("joint", "joints"), ("loudspeaker", "loudspeakers"), ("output", "channels"), ("input", "leads")]:
        assert sorted(found.get(what, [])) == sorted(read.get(table, {})), what
    # A cable has a label at each of its ends, and the tags of all its runs.
    runs = [run for line in read["lines"].values() for run in line.get("runs", {})]
    tags = found.get("cable", [])
    assert all(tags.count(tag) == 2 for tag in tags)
    assert sorted(part for tag in set(tags) for part in tag.split("+")) == sorted(runs)
    # Existing cable has one for each pair at each end.
    catalogue = papers.job("guesthouse-garden")["catalogue"]["cables"] | read.get("cables", {})
    for tag, stub in read.get("stubs", {}).items():
        ends = 1 + bool(stub.get("rack") or len(read["racks"]) == 1)
        assert found["existing cable"].count(tag) == ends * (catalogue[stub["cable"]]["conductors"] // 2)
    assert set(found.get("existing cable", [])) == set(read.get("stubs", {}))


@pytest.mark.parametrize("name", papers.EXAMPLES)
def test_labels_and_schedules_have_the_same_tags(name):
    out = papers.packed(name)
    labelled = {}
    for row in rows_of(out):
        labelled.setdefault(row["What"], set()).add(row["Tag"])
    assert labelled["loudspeaker"] == {row["Tag"] for row in papers.table(out / "loudspeaker-schedule.csv")}
    assert labelled["cable"] == {row["Tag"] for row in papers.table(out / "cable-schedule.csv")}
    crew = set(re.findall(r"[\w./+-]+", papers.text(out / "crew-pack.pdf")))
    assert set().union(*labelled.values()) <= crew
    loudspeakers = {row["Tag"]: row for row in papers.table(out / "loudspeaker-schedule.csv")}
    for row in rows_of(out):
        if row["What"] == "loudspeaker":
            schedule = loudspeakers[row["Tag"]]
            assert row["Text 1"] == schedule["Model"]
            told = [f"Line {schedule['Line']}" if schedule["Line"] else "", f"tap {schedule['Tap, W']} W" if schedule["Tap, W"] else ""]
            assert row["Text 2"] == ", ".join(filter(None, told))
            assert row["Text 3"] in ("plays all round", f"bearing {float(schedule['Bearing, °']):.0f}°")


@pytest.mark.parametrize("stock", STOCKS)
def test_labels_lie_within_a_fifth_of_a_millimetre_of_their_measures(stock):
    paper, flags, size, grid, gap, whole = STOCKS[stock]
    out = sheet("guesthouse-garden", "--paper", paper, *flags)
    corners, rows = cells(size, grid, gap, whole), rows_of(out)
    grey = numpy.asarray(picture(out / "labels.pdf", 1))
    per_mm = DPI / 25.4
    assert abs(grey.shape[1] / per_mm - whole[0]) < 0.1 and abs(grey.shape[0] / per_mm - whole[1]) < 0.1
    across, down = (max(1.5, 4.5 - first) for first in corners[0])
    side = min(size[1] - 2 * down, 0.4 * size[0])
    for (left, top), _ in zip(corners, rows):
        # The right part of a label has the code and nothing else.
        x, y = left + size[0] - across - side, top
        part = grey[round(y * per_mm):round((y + size[1]) * per_mm), round(x * per_mm):round((left + size[0]) * per_mm)] < 128
        columns, lines = numpy.flatnonzero(part.any(0)) / per_mm + x, numpy.flatnonzero(part.any(1)) / per_mm + y
        dark = columns[-1] - columns[0]
        # Quiet zones of four modules on both sides make it up to its side.
        modules = min((4 * v + 17 for v in range(1, 41)), key=lambda n: abs(side * n / (n + 8) - dark))
        edge = 4 * side / (modules + 8)
        assert abs(dark - side * modules / (modules + 8)) < 0.2
        assert abs(columns[-1] + edge - (left + size[0] - across)) < 0.2
        assert abs((lines[0] + lines[-1]) / 2 - (top + size[1] / 2)) < 0.2


@pytest.mark.parametrize("stock", STOCKS)
def test_every_label_has_its_own_text_inside_and_its_code_reads(stock):
    import zxingcpp

    paper, flags, size, grid, gap, whole = STOCKS[stock]
    out = sheet("guesthouse-garden", "--paper", paper, *flags)
    corners, pdf = cells(size, grid, gap, whole), out / "labels.pdf"
    sheets = per_sheet(rows_of(out), corners)
    boxes = papers.poppler("pdftotext", "-bbox", pdf, "-").split("<page ")[1:]
    assert len(boxes) == len(sheets)
    for number, (page, rows) in enumerate(zip(boxes, sheets), 1):
        words = re.findall(r'xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">([^<]+)<', page)
        seen = 0
        image = picture(pdf, number, 300)
        for (left, top), row in zip(corners, rows):
            inside = []
            for *box, word in words:
                x0, y0, x1, y1 = (float(edge) * 25.4 / 72 for edge in box)
                # A box is higher than its letters: by a tenth of it at the top.
                if left <= x0 and x1 <= left + size[0] and top <= y0 + 0.1 * (y1 - y0) and y1 <= top + size[1]:
                    inside.append(word.replace("&amp;", "&"))
                    # A box is as high as a line of its letters, 1.2 times their size or more.
                    assert y1 - y0 > 5 * 25.4 / 72, (word, y1 - y0)
            told = " ".join([row["Tag"], row["What"], *(row[f"Text {n}"] for n in (1, 2, 3))]).split()
            # In any order: words of two columns close to each other are read across them.
            assert sorted(inside) == sorted(told), row
            seen += len(inside)
            edges = (round(edge * 300 / 25.4) for edge in (left, top, left + size[0], top + size[1]))
            codes = zxingcpp.read_barcodes(image.crop(tuple(edges)))
            assert [code.text for code in codes] == [row["QR code"]]
        assert seen == len(words), "text outside every label"


def test_a_code_opens_the_thing_on_the_firms_server():
    firm = papers.FOLDER / "labels-firm.toml"
    firm.write_text('name = "Example Grounds"\nserver = "https://jobs.example/j/"\nlabels = "99.1 mm x 38.1 mm, 2 x 7, gap 2.5 mm x 0 mm"\n')
    rows = rows_of(sheet("guesthouse-garden", "--firm", firm))
    sorts = {"cable": "cable", "joint": "joint", "loudspeaker": "loudspeaker", "output": "output", "input": "input"}
    for row in rows:
        address, tag = row["QR code"].rsplit("/", 1)
        assert address == f"https://jobs.example/j/#tag/GG-26-014/{sorts[row['What']]}" and urllib.parse.unquote(tag) == row["Tag"]
    # The firm's own stock: 14 on a sheet.
    assert len(papers.pages(sheet("guesthouse-garden", "--firm", firm) / "labels.pdf")) == -(-len(rows) // 14)
    plain = rows_of(sheet("guesthouse-garden"))
    assert {row["QR code"] for row in plain} == {f"GG-26-014 {row['What']} {row['Tag']}" for row in plain}


@pytest.mark.parametrize(
    ("stock", "why"),
    [
        ("70 mm x 36 mm, 3 x 9", "A4 is 210 x 297 mm"),
        ("30 mm x 10 mm, 3 x 8", "at least 45 x 20 mm"),
        ("labels", "write it as"),
        ("70 mm x 36 mm, 3 x 8, sideways", "a gap or a margin"),
    ],
)
def test_a_stock_that_does_not_fit_is_refused(stock, why):
    done = tool.run("pack", papers.folder("guesthouse-garden"), "--out", papers.FOLDER / "no-labels", "--only", "labels", "--labels", stock)
    assert done.returncode == 2 and why in done.stderr


def test_an_overview_has_the_tags_of_loudspeakers_that_fit(tmp_path):
    """The garden with a gate far off: its plan is too small for all tags, which stand on plans of its parts."""
    text = (papers.folder("guesthouse-garden") / "job.toml").read_text()
    (tmp_path / "job").mkdir()
    (tmp_path / "job" / "job.toml").write_text(text + '\n[marks.M99]\nname = "Gate post"\nposition = [160, 110]\n')
    done = tool.run("pack", tmp_path / "job", "--out", tmp_path / "pack", "--only", "data")
    assert done.returncode in (0, 1), done.stderr
    plans = {p["name"]: p["tags"] for p in json.loads((tmp_path / "pack" / "pack.json").read_text())["drawings"]}
    assert len(plans) > 1, "the tags would all fit on one plan"
    loudspeakers = set(re.findall(r"^\[loudspeakers\.(\w+)\]$", text, re.MULTILINE))
    assert loudspeakers & set(plans["plan"]), "none fits where the garden is 3 cm wide"
    assert loudspeakers <= {tag for name, tags in plans.items() if name != "plan" for tag in tags}


def test_an_end_stands_on_one_line_with_its_tag():
    """On labels as wide as this "este extremo en L2" takes two lines, and L2 does not stand alone in the second."""
    pdf = sheet("guesthouse-garden", "--language", "es", "--labels", "50 mm x 22 mm, 4 x 10") / "etiquetas.pdf"
    lines = papers.poppler("pdftotext", "-raw", pdf, "-").splitlines()
    assert any(re.fullmatch(r"(.* )?en L2", line.strip()) for line in lines), lines[:8]
    assert not [line for line in lines if re.search(r"\bextremo en\s*$", line)]
