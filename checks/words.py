"""Texts that people read, gathered from the project's files and the built tool, and the words of docs/voice.md that none has.

A text is: every value of a language file; a string of Rust or of the web app that reads as one (it has a space, or begins with a
capital letter), test code apart; what stands between the tags of a component; a description in a schema; a line of a page, an
example, a catalogue or a script. What stands in braces is filled in and counts as a number; what stands in backticks is the name
of something and no word.
"""

import json
import re
import tomllib

from rust_source import TOKEN

HEADER = "| not | where it is meant | but |"
BLOCK = re.compile(r"/\*.*?\*/|<!--.*?-->", re.DOTALL)
LINE = re.compile(r"(?<![:\"'`\w/])//[^\n]*")
STYLE = re.compile(r"<style.*?</style>", re.DOTALL)
SCRIPT = re.compile(r"<script.*?</script>", re.DOTALL)
# Strings of TypeScript, and what stands between tags once what is filled in is taken out.
STRING = re.compile(r"'(?:\\.|[^'\\\n])*'|\"(?:\\.|[^\"\\\n])*\"|`(?:\\.|[^`\\])*`", re.DOTALL)
BETWEEN = re.compile(r">([^<>]*[A-Za-z][^<>]*)<")
TESTS = re.compile(r"#\[cfg\(test\)\]\s*mod \w+ \{")
FILLED = re.compile(r"\$?\{[^{}]*\}")
NAMES = re.compile(r"`[^`\n]*`")


def table(page):
    """Rows of the table in the page: the words not used, where they are meant, what stands there instead."""
    if HEADER not in page:
        raise SystemExit(f'docs/voice.md: the table with the header "{HEADER}" is missing')
    rows = []
    for line in page.split(HEADER, 1)[1].splitlines()[2:]:
        if not line.startswith("|"):
            break
        rows.append([cell.strip() for cell in line.strip().strip("|").split("|")])
    return rows


def patterns(page):
    """A pattern for each word not used."""
    words = [word.strip() for row in table(page) for word in row[0].split(",")]
    return {word: re.compile(rf"(?<![\w-]){spelt(word)}(?![\w])", re.IGNORECASE) for word in words}


def spelt(word):
    pieces = [r"\d[\d.]*" if piece == "#" else re.escape(piece) for piece in word.split()]
    return r"\s+".join(pieces)


def reads_as_text(string):
    return bool(re.search(r"[A-Za-z]{2}\s|\s[A-Za-z]{2}", string) or re.match(r"[A-Z][a-z]", string))


def of_language(text):
    def values(value):
        if isinstance(value, str):
            yield value
        elif isinstance(value, dict):
            for v in value.values():
                yield from values(v)
        elif isinstance(value, list):
            for v in value:
                yield from values(v)

    return list(values(tomllib.loads(text)))


def of_rust(text):
    """Strings of the code, up to its tests; a string that goes on in the next line is one."""
    code = TESTS.split(text, maxsplit=1)[0]
    strings = [m.group() for m in TOKEN.finditer(code) if re.match(r'b?r?#*"', m.group())]
    return [s for s in (re.sub(r"\\\n\s*", "", s.strip("br#").strip('"')) for s in strings) if reads_as_text(s)]


def of_code(text):
    strings = [s[1:-1] for s in STRING.findall(LINE.sub("", BLOCK.sub("", text)))]
    return [s for s in strings if reads_as_text(s)]


def of_component(text):
    """Strings of its code and its attributes, and what stands between its tags."""
    text = STYLE.sub("", text)
    markup, inner = BLOCK.sub("", SCRIPT.sub("", text)), None
    while markup != inner:
        markup, inner = FILLED.sub("0", markup), markup
    return of_code(text) + BETWEEN.findall(markup)


def of_schema(text):
    def described(value):
        if isinstance(value, dict):
            for key, v in value.items():
                if key in ("description", "summary", "title") and isinstance(v, str):
                    yield v
                else:
                    yield from described(v)
        elif isinstance(value, list):
            for v in value:
                yield from described(v)

    return list(described(json.loads(text)))


def of_page(text):
    """A page without its programs, but for what they print; the table of words itself is no text of it."""
    if HEADER in text:
        before, after = text.split(HEADER, 1)
        text = before + "\n".join(line for line in after.splitlines() if not line.startswith("|"))
    return [text]


def of_lines(text):
    """Comments and values of a job, a catalogue, a script; the keys and ids of a line are no words."""
    return [re.sub(r'^\s*[\w."-]+ = ', "", line) for line in text.splitlines()]


# Where texts are, and how each kind is read.
KINDS = [
    ("crates/papers/language/*.toml", of_language),
    ("crates/*/src/**/*.rs", of_rust),
    ("web/src/**/*.svelte", of_component),
    ("web/src/**/*.ts", of_code),
    ("docs/schema/*.json", of_schema),
    ("docs/*.md", of_page),
    ("*.md", of_page),
    ("examples/*/job.toml", of_lines),
    ("catalogue/*.toml", of_lines),
    ("crates/*/src/**/*.toml", of_lines),
    ("run", of_lines),
    ("demo", of_lines),
]


def is_test(path):
    name = path.name
    return ".test." in name or ".fixture." in name or name in ("tests.rs", "checks.rs", "schema.ts") or "tests" in path.parts


def texts(root):
    """Texts by file, relative to the root; licences of others are not ours to word."""
    out = {}
    for pattern, read in KINDS:
        for path in sorted(root.glob(pattern)):
            if path.is_file() and not is_test(path.relative_to(root)) and path.name != "third-party.md":
                out[path.relative_to(root).as_posix()] = read(path.read_text())
    return out


def helps(run):
    """What the tool says of itself, command by command: `run(*arguments)` gives back what it prints."""
    out, ahead = {}, [()]
    while ahead:
        command = ahead.pop()
        said = run(*command, "--help")
        out[" ".join(("loamline", *command, "--help"))] = [said]
        part = re.search(r"^Commands:\n((?:  .*\n|\n)*)", said, re.MULTILINE)
        for name in re.findall(r"^  (\w[\w-]*)", part[1] if part else "", re.MULTILINE):
            if name != "help":
                ahead.append((*command, name))
    return out


def found(page, all_texts):
    """Words not used that a text has, as (where, word, the text around it)."""
    looked_for = patterns(page)
    for where, strings in all_texts.items():
        for string in strings:
            plain = NAMES.sub(" ", FILLED.sub("0", string))
            for word, pattern in looked_for.items():
                for hit in pattern.finditer(plain):
                    around = plain[max(0, hit.start() - 50) : hit.end() + 40]
                    yield where, word, " ".join(around.split())
