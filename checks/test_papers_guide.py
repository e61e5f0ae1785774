"""The client's guide: two pages, every loudspeaker on its plan, and of the garden what lies in it and nothing else.

Source of the method: poppler-utils for text and pages; the job and the bill say what lies in the garden. What a gardener has to
know is common practice, no source.
"""

import atexit
import re

import papers
import pytest

atexit.register(papers.remove)
GARDEN = {
    "laying/slit": "Cable lies in a slit in the lawn",
    "laying/staked": "Under mulch and gravel the cable lies on the ground",
    "laying/trench": "Over a trench the ground settles",
    "laying/lifted": "Where paving was lifted",
    "laying/clipped": "Cable on walls: no drilling",
}


def told(pdf):
    """The text of both pages, column by column, every gap one space."""
    return re.sub(r"\s+", " ", papers.poppler("pdftotext", pdf, "-"))


@pytest.fixture(scope="module", params=[(name, flags) for name in papers.EXAMPLES for flags in ([], ["--paper", "letter", "--units", "us"])], ids=str)
def guide(request):
    name, flags = request.param
    return name, papers.packed(name, "--only", "guide,tables", *flags), bool(flags)


def test_it_is_one_sheet_printed_on_both_sides(guide):
    _, out, american = guide
    pages = papers.pages(out / "client-guide.pdf")
    assert len(pages) == 2
    assert "On and off" in pages[0] and "In the garden" in pages[1] and "Whom to call" in pages[1]
    if american:
        assert not re.search(r"\d\s(m|mm|cm)\b", "\n".join(pages))


def test_every_loudspeaker_is_on_its_plan(guide):
    name, out, _ = guide
    read, first = papers.job(name), papers.pages(out / "client-guide.pdf")[0]
    # Where there is no room for a tag, the page says which.
    assert set(read["loudspeakers"]) | set(read["racks"]) <= set(re.findall(r"[\w./-]+", first))
    for area in read["areas"].values():
        assert set(re.findall(r"[\w'-]+", area.get("name", ""))) <= set(re.findall(r"[\w'-]+", first))


def test_the_garden_is_told_of_what_lies_in_it(guide):
    name, out, _ = guide
    text = told(out / "client-guide.pdf")
    lies = {row["Code"] for row in papers.table(out / "bill-of-quantities.csv")}
    for code, sentence in GARDEN.items():
        assert (code in lies) == (sentence in text), code
    read = papers.job(name)
    models = read["catalogue"]["loudspeakers"]
    mounts = {l.get("mount", models[l["model"]]["mount"]) for l in read["loudspeakers"].values()}
    assert ("in ground" in mounts) == ("Keep the port of a subwoofer in the ground free" in text)


def test_night_and_neighbours_are_as_agreed(guide):
    name, out, _ = guide
    read, text = papers.job(name), told(out / "client-guide.pdf")
    down = read.get("brief", {}).get("night_turn_down")
    assert ("No turning down by night was agreed" in text) == (down is None or papers.number(down) == 0)
    if down is not None and papers.number(down):
        assert f"turned down by {papers.number(down):.0f} dB" in text
    for neighbour in read.get("neighbours", {}).values():
        assert f"at most {papers.number(neighbour['day']):.0f} dBA" in text


def test_it_says_what_can_hurt_and_whom_to_call(guide):
    name, out, _ = guide
    text = told(out / "client-guide.pdf")
    for phrase in ["give a shock", "worked on dead", "hearing can be harmed", "Nobody touches bare wire", "never with a machine"]:
        assert phrase in text, phrase
    firm = papers.FOLDER / "guide-firm.toml"
    firm.write_text('name = "Example Grounds"\nlines = ["12 Example Lane", "+00 000 000"]\n')
    called = told(papers.packed(name, "--only", "guide", "--firm", firm) / "client-guide.pdf")
    assert "+00 000 000" in called and papers.job(name)["job"]["reference"] in called
