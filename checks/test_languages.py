"""Languages that are shipped: every key and every value in braces of the English file, nothing left in English by mistake; every
word a crew reads in Spanish comes from the Spanish file or the job; no text over other text or over the edge, A4 and Letter.

Source of the method: the files themselves, read with Python's own TOML reader; poppler-utils for words and their boxes on the page.
"""

import atexit
import json
import re
import tomllib

import papers
import pytest
import tool
from test_papers_flags import LETTERS, UNITS, texts
from test_papers_pages import PAGE, WORD, test_every_file_is_whole_and_tagged as whole
from test_papers_pages import test_no_text_lies_over_other_text as apart
from test_papers_pages import test_only_the_last_page_of_a_section_is_less_than_half_full as full

atexit.register(papers.remove)
NAMES = ["en", "en-us", "es"]
ROUNDING = 1.0
# Files of the parts a crew reads, by their keys in the language file.
CREW = ["crew", "as-built", "before-work", "work-plan", "electrical", "service", "labels"]
OFFICE = ["proposal", "quotation", "certificate", "guide"]
# Words that are the same in Spanish (or units and names of standards), so that an equal text is no text forgotten.
ALIKE = {*UNITS, *"N no ohm megohm rack racks subwoofer subwoofers gas cable cables total material base normal XLR phono RCA Butterworth Linkwitz Riley Bessel Firmware Q h K F C m³ ft³ min".split()}


def flat(table, at=""):
    for key, value in table.items():
        place = f"{at}.{key}" if at else key
        if isinstance(value, dict):
            yield from flat(value, place)
        else:
            yield place, value


def shipped(name):
    done = tool.run("language", name)
    assert done.returncode == 0, done.stderr
    return dict(flat(tomllib.loads(done.stdout)))


def braces(value):
    return set(re.findall(r"\{(\w+)\}", value if isinstance(value, str) else " ".join(value)))


@pytest.fixture(scope="module")
def english():
    return shipped("en")


@pytest.mark.parametrize("name", NAMES[1:])
def test_every_key_and_every_value_is_there(name, english):
    own = shipped(name)
    base = own.pop("base", None)
    assert (base is None) == (name == "es")
    missing, strange = set(english) - set(own), set(own) - set(english)
    assert not strange, f"{name} has keys that nothing reads: {sorted(strange)}"
    assert base or not missing, f"{name} lacks {sorted(missing)}"
    for key, value in own.items():
        assert type(value) is type(english[key]), key
        assert braces(value) == braces(english[key]), f"{name}, {key}: {value!r}"
        if isinstance(value, list):
            # What stands beside what in these lists is found by its place.
            assert len(value) == len(english[key]) or key.startswith("work.tools."), key


def test_nothing_is_left_in_english(english):
    own = shipped("es")
    alike = [key for key in english if key != "language" and own[key] == english[key] and not key.startswith("file.")]
    left = {key: english[key] for key in alike if isinstance(english[key], str)
            and set(re.findall(LETTERS, re.sub(r"\{\w+\}", "", english[key]))) - ALIKE - {w.capitalize() for w in ALIKE}}
    assert not left, left


def test_american_english_states_only_what_differs_and_has_the_words_of_its_trade(english):
    own = shipped("en-us")
    assert not [key for key, value in own.items() if key in english and value == english[key]]
    told = " ".join(text for value in {**english, **own}.values() for text in ([value] if isinstance(value, str) else value))
    for ours, theirs in [("turf", "sod"), (r"\beaves", "soffit"), ("residual-current", "GFCI"), ("programme", "program"), ("neighbour", "neighbor"), ("colour", "color"), (" cane", "flag")]:
        assert theirs in told and not re.search(ours, re.sub(r"\{\w+\}", "", told), re.IGNORECASE), ours


def test_a_language_that_is_not_there_is_refused_with_those_that_are():
    done = tool.run("language", "latin")
    assert done.returncode == 2 and "en, en-us, es" in done.stderr


# ---- pages ----

SPANISH = [("--language", "es"), ("--language", "es", "--paper", "letter", "--units", "us")]
AMERICAN = [("--language", "en-us", "--paper", "letter", "--units", "us")]


def inside(file):
    """No word reaches over the edge of its page."""
    out = papers.poppler("pdftotext", "-bbox-layout", file, "-")
    for number, (width, height, page) in enumerate(PAGE.findall(out), 1):
        for x0, y0, x1, y1, word in WORD.findall(page):
            assert float(x0) >= -ROUNDING and float(y0) >= -ROUNDING, f"{file.name}, page {number}: {word}"
            assert float(x1) <= float(width) + ROUNDING, f"{file.name}, page {number}: {word} is cut on the right"
            assert float(y1) <= float(height) + ROUNDING, f"{file.name}, page {number}: {word} is cut below"


@pytest.fixture(scope="module", params=[(name, flags) for name in papers.EXAMPLES for flags in SPANISH + AMERICAN],
                ids=lambda p: f"{p[0]}-{p[1][1]}{'-letter' if '--paper' in p[1] else ''}")
def made(request):
    name, flags = request.param
    out = papers.packed(name, *flags)
    words = {**shipped("en"), **shipped(flags[1])}
    files = sorted(out.glob("*.pdf"))
    wanted = {f"{words[f'file.{part}']}.pdf" for part in CREW + OFFICE if part != "labels"}
    assert {file.name for file in files} >= wanted
    return [file for file in files if file.name != f"{words['file.labels']}.pdf"]


def test_pages_are_whole_and_nothing_lies_over_anything(made):
    whole(made)
    apart(made)


def test_no_text_is_cut(made):
    for file in made:
        inside(file)


def test_no_page_is_half_empty(made):
    full(made)


@pytest.mark.parametrize("name", papers.EXAMPLES)
def test_every_word_a_crew_reads_in_spanish_is_spanish_or_the_jobs(name):
    """Held against the words of the Spanish file themselves: an English word that reaches a page from elsewhere is none of them."""
    out = papers.packed(name, "--crew-language", "es")
    own = shipped("es")
    known = {word.lower() for value in own.values() for text in ([value] if isinstance(value, str) else value)
             for word in re.findall(LETTERS, re.sub(r"\{\w+\}", " ", text))}
    read = papers.job(name)
    # What is shipped in the catalogue is described in Spanish, and none of its English reaches a crew.
    described = json.loads((tool.ROOT / "catalogue" / "language" / "es.json").read_text())
    known |= {word.lower() for table in described.values() for text in table.values() for word in re.findall(LETTERS, text)}
    for table in described:
        for entry in (read["catalogue"]["prices"]["tasks"] if table == "tasks" else read["catalogue"][table]).values():
            del entry["description"]
    known |= {word.lower() for text in texts(read) for word in re.findall(LETTERS, text)} | {u.lower() for u in UNITS}
    # What is typed at the command line stands on the sheet of an existing cable end.
    known |= {"loamline", "locate", "job", "stub", "reading", "write", "dc"}
    # Names of the sheets of paper.
    known |= {"letter", "tabloid"}
    for part in CREW:
        file = out / f"{own[f'file.{part}']}.pdf"
        if part == "labels" and not file.exists():
            continue
        strange = {word for word in re.findall(LETTERS, papers.text(file)) if word.lower() not in known}
        assert not strange, f"{file.name}: {sorted(strange)}"
    # What the office and the client read is English still.
    assert "Quotation" in papers.text(out / "quotation.pdf") and (out / "proposal.pdf").exists()


# ---- who decides ----


def job_with(tmp_path, about):
    folder = tmp_path / "job"
    folder.mkdir()
    text = (papers.folder("walled-courtyard") / "job.toml").read_text()
    assert text.count("\n[job]\n") == 1
    (folder / "job.toml").write_text(text.replace("\n[job]\n", f"\n[job]\n{about}\n"))
    return folder


def made_for(tmp_path, about, *flags):
    out = tmp_path / "out"
    done = tool.run("pack", job_with(tmp_path, about), "--out", out, "--only", "crew,quotation", *flags)
    assert done.returncode in (0, 1), done.stderr
    return {file.name for file in out.glob("*.pdf")}


FIRM = 'language = "en"\ncrew_language = "es"\n'


@pytest.mark.parametrize(("about", "firm", "flags", "crew", "office"), [
    ("", None, [], "en", "en"),
    ('crew_language = "es"', None, [], "es", "en"),
    ('language = "es"', None, [], "es", "es"),
    ('language = "es"\ncrew_language = "en"', None, [], "en", "es"),
    ("", FIRM, [], "es", "en"),
    ('crew_language = "en"', FIRM, [], "en", "en"),
    ('crew_language = "es"', None, ["--language", "en"], "en", "en"),
    ("", FIRM, ["--language", "es", "--crew-language", "en"], "en", "es"),
])
def test_the_command_comes_before_the_job_and_the_job_before_the_firm(tmp_path, about, firm, flags, crew, office):
    if firm:
        (tmp_path / "firm.toml").write_text(firm)
        flags = [*flags, "--firm", tmp_path / "firm.toml"]
    names = made_for(tmp_path, about, *flags)
    assert names == {f"{shipped(crew)['file.crew']}.pdf", f"{shipped(office)['file.quotation']}.pdf"}


def test_a_job_in_a_language_there_is_not_is_refused_with_its_place(tmp_path):
    done = tool.run("check", job_with(tmp_path, 'crew_language = "latin"'))
    assert done.returncode == 2 and "crew_language" in done.stderr and "en-us" in done.stderr, done.stderr


def test_a_file_laid_over_another_changes_what_it_states(tmp_path):
    (tmp_path / "ours.toml").write_text('base = "es"\n[name]\ncrew = "Carpeta de la cuadrilla"\n')
    out = tmp_path / "out"
    done = tool.run("pack", papers.folder("walled-courtyard"), "--out", out, "--only", "crew", "--language", tmp_path / "ours.toml")
    assert done.returncode in (0, 1), done.stderr
    text = papers.flowing(out / "carpeta-de-obra.pdf")
    assert "Carpeta de la cuadrilla" in text and "Orden de trabajo" in text
    (tmp_path / "ours.toml").write_text('base = "es"\n[name]\ncrw = "x"\n')
    done = tool.run("pack", papers.folder("walled-courtyard"), "--out", out, "--language", tmp_path / "ours.toml")
    assert done.returncode == 2 and "there is no name.crw" in done.stderr


def test_schedules_and_data_stay_in_the_language_of_the_office():
    out = papers.packed("walled-courtyard", "--crew-language", "es")
    assert (out / "cut-list.csv").exists() and (out / "pack.json").exists() and (out / "etiquetas.csv").exists()
    assert json.loads((out / "pack.json").read_text())
