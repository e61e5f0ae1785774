"""The words that docs/voice.md says are not used are in no text that anybody reads: the language files, strings of the program
and of the app, schemas, pages, examples, the catalogue, and what the built tool says of its commands.

The list is the project's own, with no outside source; a word slipped into a text of each kind is found (`words.py` reads them).
"""

import pathlib

import pytest
import tool
import words

ROOT = pathlib.Path(__file__).resolve().parent.parent
PAGE = (ROOT / "docs" / "voice.md").read_text()

# Where a word of the list means something else, and what: one that is no longer there fails.
MEANT = {
    ("docs/voice.md", "please"): "the rule itself",
}


def amiss(all_texts, meant=()):
    return [f"{where}: \"{word}\" in \"...{around}...\"" for where, word, around in words.found(PAGE, all_texts)
            if (where, word) not in meant]


def test_no_text_has_a_word_that_is_not_used():
    texts = words.texts(ROOT)
    assert amiss(texts, MEANT) == []
    there = {(where, word) for where, word, _ in words.found(PAGE, texts)}
    assert set(MEANT) <= there, "an exception for what is no longer there"


def test_no_command_says_one_of_itself():
    said = words.helps(lambda *arguments: tool.run(*arguments).stdout)
    assert len(said) > 15 and all(text.strip() for [text] in said.values()), list(said)
    assert amiss(said) == []


def test_texts_of_every_kind_are_read():
    """Each pattern of files leads to texts, and a sentence known to be in each kind is among them."""
    texts = words.texts(ROOT)
    for pattern, _ in words.KINDS:
        here = [path.relative_to(ROOT).as_posix() for path in ROOT.glob(pattern)]
        assert any(texts.get(where) for where in here), pattern
    for where, part in {
        "crates/papers/language/en.toml": "drive it with a rubber mallet on a driving cap, never on the thread",
        "crates/study/src/levels.rs": "Echoes may be heard over",
        "web/src/visits/work.ts": "opened and found good",
        "web/src/pages/cable/Way.svelte": "Drag the cable on the plan to lead it through a point",
        "docs/schema/job.schema.json": "In parallel: impedance halves.",
        "docs/tour.md": "Echoes may be heard over",
        "examples/walled-courtyard/job.toml": "in parallel are a 4 ohm load",
        "catalogue/prices.toml": "Strain relief (cable tie)",
    }.items():
        assert any(part in " ".join(text.split()) for text in texts[where]), (where, part)


def test_the_table_is_whole():
    rows = words.table(PAGE)
    assert len(rows) > 20 and all(len(row) == 3 and all(row) for row in rows)
    listed = [word.strip() for row in rows for word in row[0].split(",")]
    assert len(listed) == len(set(listed)) and all(listed), "a word stands twice"
    # What is to be said instead has none of them.
    assert amiss({"instead": [row[2] for row in rows]}) == []


@pytest.mark.parametrize("word", words.patterns(PAGE))
def test_each_word_is_found(word):
    typed = word.replace("#", "12.5")
    for text in (f"Line A {typed}: look there.", typed.capitalize(), typed.replace(" ", "\n  ")):
        assert any(hit[1] == word for hit in words.found(PAGE, {"x": [text]})), text
    assert not [hit for hit in words.found(PAGE, {"x": [f"pre{typed}", f"{{{typed}}}", f"`{typed}`"]}) if hit[1] == word]


SLIPPED = {
    "crates/papers/language/en.toml": '[joint]\nopened = "opened and found sound"\n',
    "crates/a/src/lib.rs": 'fn f() -> String { format!("joint {id} is opened and found \\\n        sound") }\n',
    "web/src/A.svelte": "<script>let a = 1; // found sound\n</script>\n<p>Opened and found sound.</p>\n",
    "web/src/a.ts": "/* found sound */ const a = `Joint ${id} opened and found sound`;\n",
    "docs/schema/job.schema.json": '{"properties": {"a": {"description": "A joint opened and found\\n sound."}}}',
    "docs/a.md": "A joint is found\nsound.\n",
    "README.md": "A joint is found sound.\n",
    "examples/a/job.toml": "note = \"found sound\"\n",
    "catalogue/a.toml": "# found sound\n",
    "demo": "echo 'found sound'\n",
}


@pytest.mark.parametrize("where", SLIPPED)
def test_a_word_slipped_in_is_found_where_it_is_read(where, tmp_path):
    path = tmp_path / where
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(SLIPPED[where])
    assert [(hit[0], hit[1]) for hit in words.found(PAGE, words.texts(tmp_path))] == [(where, "found sound")]


@pytest.mark.parametrize("where,text", [
    ("crates/a/src/lib.rs", '// found sound\nfn f() {}\n#[cfg(test)]\nmod tests { const A: &str = "opened and found sound"; }\n'),
    ("crates/a/src/lib.rs", 'const KEY: &str = "pitch";\n'),
    ("web/src/a.test.ts", "it('is found sound', () => {});\n"),
    ("web/src/a.ts", "const field = { field: 'pitch', at: '/pitch' };\n"),
    ("examples/a/job.toml", 'pitch = "-10 deg"\n'),
    ("docs/third-party.md", "please\n"),
])
def test_keys_comments_and_tests_are_no_texts(where, text, tmp_path):
    path = tmp_path / where
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)
    assert list(words.found(PAGE, words.texts(tmp_path))) == []


def test_what_is_filled_in_counts_as_a_number(tmp_path):
    (tmp_path / "web" / "src").mkdir(parents=True)
    (tmp_path / "web" / "src" / "A.svelte").write_text("<p>About {next.minutes} min; tells {next.bits.toFixed(1)} bit.</p>\n")
    assert [hit[1] for hit in words.found(PAGE, words.texts(tmp_path))] == ["tells # bit"]


def test_a_command_s_own_words_are_read_to_the_last_subcommand():
    said = {
        ("--help",): "Does it.\n\nCommands:\n  look  Looks\n  help  Helps\n\nOptions:\n  -h\n",
        ("look", "--help"): "Looks.\n\nCommands:\n  far   Looks far\n",
        ("look", "far", "--help"): "Looks whether a line is sound.\n",
    }
    found = list(words.found(PAGE, words.helps(lambda *arguments: said[arguments])))
    assert [hit[:2] for hit in found] == [("loamline look far --help", "is sound")]
