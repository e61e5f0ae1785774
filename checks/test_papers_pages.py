"""Every page of every paper, as it comes out of the printer: whole files, tagged, no text over other text, no page less than half full
but the last of its section; A4 and Letter, metric and American.

Source of the method: `qpdf --check` (an implementation of PDF of its own) for the files, poppler-utils for tags and for the boxes of
words. What half full is, is counted from the lowest word of a page, between the margins of 22 mm above and 18 mm below.
"""

import atexit
import functools
import html
import math
import re
import shutil
import subprocess

import papers
import pytest

atexit.register(papers.remove)
PER_MM = 72 / 25.4
TOP, BOTTOM = 22 * PER_MM, 18 * PER_MM
# What a box reaches over its letters, points.
ROUNDING = 7.0
SETS = [(), ("--paper", "letter", "--units", "us")]
# Words of a heading of a section are 17 pt high, those of what stands below are 13 pt or less; a box is higher than its letters.
HEADING = 17.0
# Boxes of a line reach into those of the next where lines stand close, and halves of an accent do: a fifth of the smaller is text
# over text.
OVER = 0.2
WORD = re.compile(r'<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">(.*?)</word>', re.DOTALL)
PAGE = re.compile(r'<page width="([\d.]+)" height="([\d.]+)">(.*?)</page>', re.DOTALL)


@functools.cache
def boxes(pdf):
    """Of each page: its height, and every word with its box, points from the upper left corner."""
    out = papers.poppler("pdftotext", "-bbox-layout", pdf, "-")
    return [
        (float(height), [(*map(float, found[:4]), html.unescape(found[4])) for found in WORD.findall(page)])
        for _, height, page in PAGE.findall(out)
    ]


@pytest.fixture(scope="module", params=[(name, flags) for name in papers.EXAMPLES for flags in SETS], ids=lambda p: f"{p[0]}{'-us' if p[1] else ''}")
def made(request):
    name, flags = request.param
    out = papers.packed(name, *flags)
    files = sorted(out.glob("*.pdf"))
    assert {file.name for file in files} >= set(papers.PDFS)
    return files


def area(box):
    return max(box[2] - box[0], 0.0) * max(box[3] - box[1], 0.0)


def over(a, b):
    both = (max(a[0], b[0]), max(a[1], b[1]), min(a[2], b[2]), min(a[3], b[3]))
    if both[2] <= both[0] or both[3] <= both[1]:
        return False
    return area(both) > OVER * min(area(a), area(b))


def test_every_file_is_whole_and_tagged(made):
    assert shutil.which("qpdf"), "install qpdf"
    for file in made:
        done = subprocess.run(["qpdf", "--check", file], capture_output=True, text=True)
        assert done.returncode == 0, f"{file.name}: {done.stdout}{done.stderr}"
        assert re.search(r"Tagged:\s+yes", papers.poppler("pdfinfo", file)), file.name


def test_no_text_lies_over_other_text(made):
    for file in made:
        for number, (_, words) in enumerate(boxes(file), 1):
            words = sorted((w for w in words if w[4].strip() and area(w) > 0), key=lambda w: w[1])
            for i, a in enumerate(words):
                for b in words[i + 1:]:
                    if b[1] >= a[3]:
                        break
                    assert not over(a, b), f"{file.name}, page {number}: {a[4]!r} and {b[4]!r} at {a[:2]}"


def test_only_the_last_page_of_a_section_is_less_than_half_full(made):
    for file in made:
        if file.name == "labels.pdf":
            continue  # a sheet of labels ends where the labels end
        pages = boxes(file)
        bodies = [[w for w in words if w[1] > TOP - ROUNDING and w[3] < height - BOTTOM + ROUNDING] for height, words in pages]
        for number, ((height, _), body, after) in enumerate(zip(pages, bodies, bodies[1:]), 1):
            assert body and after, f"{file.name}, page {number} or the next is empty"
            full = (max(w[3] for w in body) - TOP) / (height - TOP - BOTTOM)
            heads = [w for w in after if w[3] - w[1] >= HEADING and w[1] < TOP + HEADING]
            assert full >= 0.5 or heads, f"{file.name}, page {number}: {full:.0%} full, and the next begins no section"


@pytest.mark.parametrize("name", papers.EXAMPLES)
def test_letters_of_plans_are_seven_points_or_more(name):
    for file in sorted((papers.packed(name) / "drawings").glob("*.svg")):
        sizes = [float(size) for size in re.findall(r'font-size="([\d.]+)"', file.read_text())]
        assert sizes and min(sizes) * PER_MM >= 7, f"{file.name}: {min(sizes)} mm"


@pytest.mark.parametrize("name", papers.EXAMPLES)
def test_a_plan_that_cannot_be_read_is_cut_into_parts(name):
    """By the places in the job: at the scale of the whole, more than a tenth of them within half a symbol, or a scale past 1:600."""
    drawings = papers.packed(name) / "drawings"
    read, plan = papers.job(name), (drawings / "plan.svg").read_text()
    places = [tuple(thing["position"]) for kind in ("loudspeakers", "joints", "racks", "stubs", "marks") for thing in read.get(kind, {}).values()]
    whole = papers.flowing(papers.packed(name) / "crew-pack.pdf")
    scale = float(re.search(r"1:(\d+) on A4", whole)[1])
    hidden = sum(any(0.05 <= math.dist(a, b) < 1.5e-3 * scale for b in places) for a in places)
    crowded = scale > 600 or hidden > 0.1 * len(places)
    parts = sorted(drawings.glob("plan-*.svg"))
    assert bool(parts) or not crowded, (scale, hidden, len(places))
    assert len(parts) <= 8 and "<svg" in plan


def test_boxes_are_told_apart():
    assert over((0, 0, 10, 10), (5, 5, 15, 15)) and not over((0, 0, 10, 10), (9, 9, 19, 19))
    assert not over((0, 0, 10, 10), (10, 0, 20, 10))
