"""Cable and ground details of the crew pack: those the job has use for and no others, with the place's own figures.

Source of the method: poppler-utils for text; the job and the catalogue as written say what is mounted how, which services cross the
site and which figures are asked for there; the ways of laying are those of the client's bill of quantities (CSV).
"""

import atexit
import re

import papers
import pytest

atexit.register(papers.remove)
TITLES = {
    "laying/slit": "Slit in a lawn",
    "laying/trench": "Trench",
}


@pytest.fixture(scope="module", params=papers.EXAMPLES)
def crew(request):
    out = papers.packed(request.param, "--only", "crew,tables")
    text = papers.flowing(out / "crew-pack.pdf")
    _, heading, section = text.rpartition("Cable and ground details")
    return papers.job(request.param), out, section if heading else ""


def mounts(read):
    models = read["catalogue"]["loudspeakers"]
    return {l.get("mount", models[l["model"]]["mount"]) for l in read["loudspeakers"].values()}


def test_only_what_the_job_needs_is_drawn(crew):
    read, out, section = crew
    bill = {row["Code"] for row in papers.table(out / "bill-of-quantities.csv")}
    for code, title in TITLES.items():
        assert (f"{title} " in section) == (code in bill), title
    assert ("Subwoofer in its hole" in section) == ("in ground" in mounts(read))
    assert ("Base of concrete" in section) == ("base" in mounts(read))
    mains = any(s["kind"] == "electric" for s in read.get("services", {}).values())
    assert ("Beside mains cable" in section) == mains


def test_figures_are_those_of_the_place_or_are_left_to_write_in(crew):
    read, _, section = crew
    local = read["site"].get("local", {})
    for key, words in (("cable_cover", "Ground over the cable"), ("from_mains", "Distance kept"), ("frost_depth", "Depth the ground freezes to")):
        for found in re.findall(rf"{words}: (at least|as the local code asks)(?: (\d+) mm)?", section):
            assert found[0] == ("at least" if key in local else "as the local code asks"), words
            if key in local:
                assert float(found[1]) == pytest.approx(1000 * papers.number(local[key])), words


def test_american_details_are_in_inches():
    text = papers.flowing(papers.packed("guesthouse-garden", "--only", "crew", "--paper", "letter", "--units", "us") / "crew-pack.pdf")
    section = text.rpartition("Cable and ground details")[2]
    # 0.5 m are 19.69 in: half an inch more than that is never less.
    assert "at least 20 in" in section and not re.search(r"at least [\d.]+ mm", section)
