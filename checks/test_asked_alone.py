"""What is asked for alone is what the whole says of it: parts of a pack made by themselves are those of the whole pack to the byte,
a line's expected readings those among all lines. No outside reference is needed.
"""

import json

import pytest

import papers
from tool import run

# Parts that tell no level, and the files of each in a pack in English.
PARTS = {
    "quotation": ["quotation.pdf"], "crew": ["crew-pack.pdf"], "as-built": ["as-built.pdf"], "work-plan": ["plan-of-work.pdf"],
    "electrical": ["electrical-notes.pdf"], "guide": ["client-guide.pdf"], "service": ["service-sheet.pdf"],
    "tables": ["cable-schedule.csv", "loudspeaker-schedule.csv", "bill-of-quantities.csv"], "labels": ["labels.csv"],
}


@pytest.mark.parametrize("name", ["walled-courtyard", "guesthouse-garden"])
def test_parts_made_alone_are_those_of_the_whole_pack(name, tmp_path):
    whole = papers.packed(name)
    done = run("pack", papers.folder(name), "--out", tmp_path, "--only", ",".join(PARTS))
    assert done.returncode in (0, 1), done.stderr
    made = {str(f.relative_to(tmp_path)): f.read_bytes() for f in tmp_path.rglob("*") if f.is_file()}
    assert len(made) >= len(PARTS)
    for files in PARTS.values():
        assert set(files) <= made.keys()
    for file, content in made.items():
        assert content == (whole / file).read_bytes(), file


@pytest.mark.parametrize("name", papers.EXAMPLES)
def test_a_line_asked_for_alone_reads_as_among_all(name):
    def told(*more):
        done = run("expect", papers.folder(name), "--json", *more)
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)

    everything = told()
    for line in everything["lines"]:
        alone = told("--line", line)
        assert alone["lines"] == {line: everything["lines"][line]}
        assert alone["readings"] == [r for r in everything["readings"] if r["line"] == line]


def test_a_line_there_is_not_is_refused():
    done = run("expect", papers.folder("guesthouse-garden"), "--line", "Z")
    assert done.returncode == 2 and '"Z"' in done.stderr
