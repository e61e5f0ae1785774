"""The service sheet: what there is to check by what stands in the job, every piece with its day, spare parts counted a second
time from the bill.

Source of the method: poppler-utils for text; the job and its bill. Which checks a garden needs, and how many spares are kept,
is common practice, no source.
"""

import atexit
import math
import re

import papers
import pytest

atexit.register(papers.remove)


@pytest.fixture(scope="module", params=papers.EXAMPLES)
def sheet(request):
    out = papers.packed(request.param)
    return papers.job(request.param), out, papers.flowing(out / "service-sheet.pdf")


def test_what_is_checked_stands_in_the_job(sheet):
    read, _, text = sheet
    models = read["catalogue"]["loudspeakers"]
    placed = [models[l["model"]] | l for l in read["loudspeakers"].values()]
    surfaces = {s["kind"] for s in read.get("surfaces", {}).values()} | {read["site"].get("ground", "lawn")}
    there = {
        "Ports of the subwoofers": any(l["kind"] == "subwoofer" for l in placed),
        "Stakes and cabinets": any(l["mount"] in ("stake", "surface") for l in placed),
        "Brackets and fixings": any(l["mount"] in ("bracket", "eaves") for l in placed),
        "Irrigation heads": any(s["kind"] == "irrigation" for s in read.get("services", {}).values()),
        "What stands near water": "water" in surfaces,
        "Joints in boxes": any(j.get("kind", "buried") == "box" for j in read.get("joints", {}).values()),
        "Leads of the sources": bool(read.get("sources")),
        "Rack: fan filters": bool(read["amplifiers"]),
    }
    for check, wanted in there.items():
        assert (check in text) == wanted, check


def test_every_piece_has_its_row_and_the_day_it_was_handed_over(sheet):
    read, out, text = sheet
    assert set(read["loudspeakers"]) | set(read["amplifiers"]) | set(read["lines"]) <= set(re.findall(r"[\w./+-]+", text))
    days = [v["date"] for v in read.get("visits", {}).values() if v.get("kind") == "handover"]
    pieces = len(read["loudspeakers"]) + len(read["amplifiers"])
    if days:
        assert text.count(max(days)) >= pieces
    assert "unplugged or locked off" in text and "give a shock" in text


def test_spares_are_a_share_of_what_is_in_use(sheet):
    _, out, text = sheet
    for row in papers.table(out / "bill-of-quantities.csv"):
        used = float(row["Quantity"] or 0)
        if row["Code"].startswith("connector/"):
            keep, why = max(2, math.ceil(used / 10)), "one in ten"
        elif row["Code"].startswith("loudspeaker/"):
            keep, why = math.ceil(used / 20), "one for every twenty"
        else:
            continue
        assert re.search(rf"{re.escape(row['Description'])} {keep} {why}", text), row["Code"]
