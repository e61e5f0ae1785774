"""Every sentence template in the sources against the language files: none that a language lacks, none that nothing says any more,
the same values in braces, and every value given where a template is used.

Source of the method: the sources and the JSON, read here; nothing of the tool is used but for the sentences of one phone's pack and
the findings of two jobs.
"""

import json
import re

import papers
import pytest
from over_http import ask, fetched, imported_text, server  # noqa: F401
from tool import ROOT, run

# `say!("..", name = value)` and `template!("..")`.
CALL = re.compile(r'\b(say|template)!\s*\(\s*"((?:[^"\\]|\\.)*)"', re.DOTALL)
# Words that are the same in Spanish.
ALIKE = {"rack", "cable", "subwoofer", "subwoofers"}
LANGUAGES = sorted((ROOT / "crates" / "terms" / "language").glob("*.json"))


def unescaped(text):
    text = re.sub(r"\\\n\s*", "", text)
    return text.replace('\\"', '"').replace("\\'", "'").replace("\\n", "\n").replace("\\\\", "\\")


def code(path):
    """What of a file is neither a test nor a comment."""
    text = re.split(r"#\[cfg\(test\)\]\s*mod \w+ \{", path.read_text())[0]
    return re.sub(r"^\s*//.*$", "", text, flags=re.MULTILINE)


def until_closed(text, start):
    """What stands from there to the parenthesis that closes the call, texts taken out."""
    bare = re.sub(r'"(?:[^"\\]|\\.)*"', '""', text[start:], flags=re.DOTALL)
    depth = 1
    for at, letter in enumerate(bare):
        depth += {"(": 1, "[": 1, "{": 1, ")": -1, "]": -1, "}": -1}.get(letter, 0)
        if depth == 0:
            return bare[:at]
    raise AssertionError("a call that is never closed")


def braces(text):
    return set(re.findall(r"\{(\w+)\}", text))


def templates():
    """Every template, with the file it is in, how it is used and the values given there."""
    for path in sorted((ROOT / "crates").glob("*/src/**/*.rs")):
        text = code(path)
        for found in CALL.finditer(text):
            # Values of a call that stands within this one are its own.
            rest, given, depth = until_closed(text, found.end()), set(), 0
            for part in re.finditer(r"[(\[{]|[)\]}]|\b(\w+) = ", rest):
                depth += {"(": 1, "[": 1, "{": 1}.get(part[0], 0) - {")": 1, "]": 1, "}": 1}.get(part[0], 0)
                if part[1] and depth == 0:
                    given.add(part[1])
            yield unescaped(found[2]), path.relative_to(ROOT), found[1], given


def caution():
    text = (ROOT / "crates" / "terms" / "src" / "insulation.rs").read_text()
    return unescaped(re.search(r'INSULATION_CAUTION: &str = "((?:[^"\\]|\\.)*)"', text, re.DOTALL)[1])


def bounds():
    """Sentences of the table of bounds: each is a template of its own, said where it is passed."""
    row = re.compile(r'= (?:\w+ )?\d[\d_]* \w+,\s*"(?:[^"\\]|\\.)*",\s*"(?:[^"\\]|\\.)*",\s*"((?:[^"\\]|\\.)*)";', re.DOTALL)
    return {unescaped(text) for path in (ROOT / "crates/limits/src/table").glob("*.rs") for text in row.findall(path.read_text())}


def test_every_value_of_a_template_is_given_where_it_is_used():
    used = list(templates())
    assert len(used) > 80
    for template, path, macro, given in used:
        if macro == "say":
            assert given == braces(template), f"{path}: {template!r} is given {sorted(given)}"


@pytest.mark.parametrize("path", LANGUAGES, ids=lambda p: p.stem)
def test_a_language_has_every_template_and_no_other(path):
    pairs = json.loads(path.read_text(), object_pairs_hook=list)
    own = dict(pairs)
    assert len(own) == len(pairs), "a template stands twice"
    ours = {template for template, *_ in templates()} | {caution()}
    # American English has only what is worded otherwise there.
    assert path.stem == "en-us" or not ours - set(own), f"{path.name} lacks {sorted(ours - set(own))}"
    # Of the bounds, those that somebody at the app may meet.
    strange = set(own) - ours - bounds()
    assert not strange, f"{path.name} has what nothing says: {sorted(strange)}"
    assert path.stem == "en-us" or len(set(own) & bounds()) > 30
    for english, said in own.items():
        assert braces(english) == braces(said), english
        assert said.strip() and (english[:1] == " ") == (said[:1] == " "), english
        # Letters of more than one name: a phrase forgotten would be the same.
        words = re.sub(r"[^A-Za-z]+", " ", re.sub(r"\{\w+\}", " ", english)).split()
        assert said != english or not [w for w in words if w not in {"V", "RMS", "dB", "dBA", "error", *ALIKE}], english


# Where a refusal or a problem of a field begins, and what only a program that calls the interface meets.
REFUSAL = re.compile(r"\b(?:ApiError::(?:new|field|invalid|report|not_found)|FieldProblem::new|refused|bad|nothing_to_do)\(")
FOR_PROGRAMS = {"api/extract.rs", "web.rs", "live/mod.rs", "store/postgres/hands.rs"}
OF_PROGRAMS = re.compile(
    r"The job is at revision \{revision\}; \{seen\}|Another edit was sent under this id|is no date and time"
    r"|This edit changes nothing; it needs|This cannot be the id of an edit|\{value\} m is no|The brief says nothing of the|of the firm's$"
)
TEXT = re.compile(r'"((?:[^"\\]|\\.)*)"', re.DOTALL)


def call_from(text, start):
    """A call from behind its parenthesis to the one that closes it, texts in it."""
    bare = TEXT.sub(lambda m: '"' + "x" * len(m[1]) + '"', text)
    depth = 1
    for at in range(start, len(bare)):
        depth += {"(": 1, ")": -1}.get(bare[at], 0)
        if depth == 0:
            return text[start:at]
    raise AssertionError("a call that is never closed")


def without_said(call):
    out, upto = "", 0
    for found in re.finditer(r"\bsay!\(", call):
        if found.start() >= upto:
            out += call[upto:found.start()]
            upto = found.end() + len(call_from(call + ")", found.end()))
    return out + call[upto:]


def test_what_the_server_refuses_is_said_through_the_files():
    """No refusal that somebody at the app may meet is a text of its own."""
    seen, plain = 0, []
    folder = ROOT / "crates" / "server" / "src"
    for path in sorted(folder.rglob("*.rs")):
        name = path.relative_to(folder).as_posix()
        if path.name == "tests.rs" or name in FOR_PROGRAMS:
            continue
        text = code(path)
        for found in REFUSAL.finditer(text):
            seen += 1
            for said in TEXT.findall(without_said(call_from(text, found.end()))):
                said = unescaped(said)
                if re.search(r"[A-Za-z]{2} [A-Za-z]{2}", said) and not OF_PROGRAMS.search(said):
                    plain.append(f"{name}: {said}")
    assert seen > 100 and not plain, "\n".join(plain)


def test_no_answer_has_a_sentence_that_knows_no_language():
    """What is told to people in an answer is a `Sentence` or `Told`, never a text alone."""
    field = re.compile(r"^    (?:pub )?(sentence|summary|nearest|next|no_passkey|damaged|told|along|changed): (?:Option<|Vec<)*String", re.MULTILINE)
    # What a person wrote, what a client is shown in the papers' words, and what is kept of a log.
    own = {"api/jobs.rs", "store/mod.rs", "client/shown.rs", "client/changed.rs", "store/sqlite/backup.rs"}
    plain = []
    for crate in ("server", "propose", "study", "faults", "tune"):
        folder = ROOT / "crates" / crate / "src"
        for path in sorted(folder.rglob("*.rs")):
            name = path.relative_to(folder).as_posix()
            if name not in own:
                plain += [f"{crate}/{name}: {found[1]}" for found in field.finditer(code(path))]
    assert not plain, plain


def test_a_refusal_carries_what_other_languages_say(server):  # noqa: F811
    status, _, body = ask(server.address, "GET", "/api/jobs/nothing")
    error = json.loads(body)["error"]
    assert (status, error["message"]) == (404, 'There is no job "nothing".')
    assert error["spoken"]["es"]["sentence"] == 'No existe la obra "nothing".'


def test_the_catalogue_is_described_in_the_language_asked_for(server):  # noqa: F811
    text = (papers.folder("guesthouse-garden") / "job.toml").read_text()
    at = f"/api/jobs/{imported_text(server, text)}/catalogue"
    english, spanish = fetched(server, at), fetched(server, f"{at}?language=es")
    own = json.loads((ROOT / "catalogue" / "language" / "es.json").read_text())
    for table, said in own.items():
        both = [c["prices"]["tasks"] if table == "tasks" else c[table] for c in (english, spanish)]
        assert set(said) == set(both[0]), f"{table}: {sorted(set(said) ^ set(both[0]))}"
        for id, description in said.items():
            assert both[1][id]["description"] == description != both[0][id]["description"], id


def with_crew(language):
    text = (papers.folder("guesthouse-garden") / "job.toml").read_text()
    return text.replace("\n[job]\n", f'\n[job]\ncrew_language = "{language}"\n', 1)


def test_a_phones_pack_speaks_the_crews_language(server):  # noqa: F811
    english, spanish = (fetched(server, f"/api/jobs/{imported_text(server, with_crew(name))}/visit-pack") for name in ("en", "es"))
    assert (english["language"], spanish["language"]) == ("en", "es")
    assert english["order"] == english["order_spoken"] == spanish["order"], "ticks are known by the English words"
    own = json.loads((ROOT / "crates" / "terms" / "language" / "es.json").read_text())
    for ours, theirs in zip(spanish["order"], spanish["order_spoken"], strict=True):
        assert theirs["stage"] == own[ours["stage"]] and theirs["reason"] == own[ours["reason"]]
        assert len(ours["steps"]) == len(theirs["steps"])
        assert all(a["about"] == b["about"] and a["action"] != b["action"] for a, b in zip(ours["steps"], theirs["steps"]))
    healthy = own["The line reads as it should."]
    for line, table in spanish["tables"].items():
        sentences = [h["sentence"] for h in table["hypotheses"]]
        assert healthy in sentences, line
        assert not [s for s in sentences if re.search(r"\b(is|the|leaks?|shorted|swapped)\b", s)], line
        # A measure still stands where it is said to stand, metres in the text.
        for h in table["hypotheses"]:
            for measure in h.get("measures", []):
                said = h["sentence"].encode("utf-16-le")[2 * measure["from"]:2 * measure["to"]].decode("utf-16-le")
                assert said == f"{measure['value']:.1f} m", h["sentence"]


def test_the_order_of_work_is_told_in_every_language_beside_the_english(server):  # noqa: F811
    text = (papers.folder("guesthouse-garden") / "job.toml").read_text()
    answer = fetched(server, f"/api/jobs/{imported_text(server, text)}/processing")
    assert set(answer["order_spoken"]) == {"es", "en-us"}
    own = words_of("es")
    for ours, theirs in zip(answer["order"], answer["order_spoken"]["es"], strict=True):
        assert (theirs["stage"], theirs["reason"]) == (own[ours["stage"]], own[ours["reason"]])


BEGUN = 'format = 1\n[job]\nname = "Begun"\n'


def words_of(language):
    return json.loads((ROOT / "crates" / "terms" / "language" / f"{language}.json").read_text())


def test_findings_carry_what_other_languages_say(server):  # noqa: F811
    found = fetched(server, f"/api/jobs/{imported_text(server, BEGUN)}/findings")["findings"]
    spanish, american = words_of("es"), words_of("en-us")
    whole = [f for f in found if f["sentence"] in spanish]
    assert {"No loudspeaker stands yet.", "There is no rack: nothing says where the amplifiers stand."} <= {f["sentence"] for f in whole}
    for f in whole:
        assert f["spoken"]["es"] == {"sentence": spanish[f["sentence"]], "mend": spanish[f["mend"]]}
        # American English stands there only where it words something otherwise.
        otherwise = f["sentence"] in american or f["mend"] in american
        assert ("en-us" in f["spoken"]) == otherwise
    assert "Add a program." in {f["spoken"].get("en-us", {}).get("mend") for f in whole}


def test_measures_of_a_finding_stand_in_every_language(server):  # noqa: F811
    text = (papers.folder("guesthouse-garden") / "job.toml").read_text()
    found = fetched(server, f"/api/jobs/{imported_text(server, text)}/findings")["findings"]
    assert found and all("es" in f["spoken"] for f in found), [f["sentence"] for f in found if "es" not in f.get("spoken", {})]
    for f in found:
        for said in f["spoken"].values():
            units = said["sentence"].encode("utf-16-le")
            own = [units[2 * m["from"]:2 * m["to"]].decode("utf-16-le") for m in said.get("measures", [])]
            english = [f["sentence"][m["from"]:m["to"]] for m in f.get("measures", [])]
            assert sorted(own) == sorted(english), said["sentence"]


def test_a_table_of_findings_is_in_the_language_asked_for(tmp_path):
    job, spanish = tmp_path / "job.toml", words_of("es")
    job.write_text(BEGUN)
    english, asked = run("check", tmp_path), run("check", tmp_path, "--language", "es")
    assert english.returncode == asked.returncode != 2, english.stderr + asked.stderr
    flat = [" ".join(text.split()) for text in (english.stdout, asked.stdout)]
    for words in ("No loudspeaker stands yet.", "finding", "warning"):
        assert words in flat[0] and spanish[words] in flat[1] and words not in flat[1]
    # The job's own, where none is asked for; what is asked for goes before it.
    job.write_text(BEGUN.replace("[job]\n", '[job]\nlanguage = "es"\n'))
    assert run("check", tmp_path).stdout == asked.stdout
    assert run("check", tmp_path, "--language", "en").stdout == english.stdout
    unknown = run("check", tmp_path, "--language", "latin")
    assert unknown.returncode == 2 and "the languages are en, en-us, es" in unknown.stderr
