"""Sheets for before work starts: services and what crosses them, limits, hazards with the job's own voltages, masses, heights and
levels; a change order.

Source of the method: poppler-utils for text; the job with the catalogue's masses, the cable schedule and `predict --json` say what
stands there. Which hazards a garden has, and that 15 kg are lifted alone, is common practice, no source.
"""

import atexit
import json
import math
import re

import papers
import pytest
import tool

atexit.register(papers.remove)
VOLTS = {"25 V": 25.0, "70.7 V": 70.7, "100 V": 100.0}


@pytest.fixture(scope="module", params=papers.EXAMPLES)
def sheets(request):
    out = papers.packed(request.param)
    return request.param, papers.job(request.param), papers.flowing(out / "before-work.pdf")


def test_every_service_is_told_with_a_box_to_tick(sheets):
    name, read, text = sheets
    for tag, service in read.get("services", {}).items():
        # Rounded down: a service is met no sooner than a spade expects it.
        depth = f"{math.floor(papers.number(service['depth']) * 100 + 1e-6) / 100:.2f} m" if "depth" in service else "not known"
        assert re.search(rf"{re.escape(tag)} {service['kind']}( service)? {re.escape(depth)}", text), tag
    assert ("The job knows of no buried service" in text) == (not read.get("services"))
    assert "No spade goes in before the owners" in text
    assert "Number of the request for location" in text


def test_hazards_are_those_of_the_job(sheets):
    name, read, text = sheets
    models = read["catalogue"]["loudspeakers"]
    masses = [float(str(models[l["model"]].get("mass", 0)).removesuffix(" kg")) for l in read["loudspeakers"].values()]
    assert ("Lifting" in text) == any(mass >= 15 for mass in masses)
    report = json.loads(tool.run("predict", papers.folder(name), "--json").stdout)
    loudest = re.search(r"Up to (\d+) dBA in front of ([\w-]+)", text)
    assert loudest and loudest[2] in read["loudspeakers"] and f'"{loudest[2]}"' in json.dumps(report)
    surfaces = {s["kind"] for s in read.get("surfaces", {}).values()}
    assert ("Open water on the site" in text) == ("water" in surfaces)
    assert ("Mains at the rack" in text) == bool(read["racks"])
    high = [volts for word, volts in VOLTS.items() if word in json.dumps([read.get("brief", {}).get("supply", "70.7 V"), *(l.get("supply") for l in read["lines"].values())])]
    assert ("Line voltage" in text) == bool(high)


def test_limits_background_and_change_have_lines_to_write_on(sheets):
    _, read, text = sheets
    for neighbour in read.get("neighbours", {}).values():
        assert f"at most {papers.number(neighbour['day']):.0f} dBA" in text
    for words in ("Ordinance or agreement the limit is from", "Background level, measured before", "Change order", "Hours of work, quiet hours", "Nothing of it is built before both have signed"):
        assert words in text, words


def test_american_sheets_have_feet_and_pounds():
    text = papers.flowing(papers.packed("guesthouse-garden", "--only", "before-work", "--paper", "letter", "--units", "us") / "before-work.pdf")
    assert not re.search(r"\d\s(m|mm|cm|kg)\b", text) and re.search(r"\d ft of ground will be opened", text)
