"""Writes docs/third-party.md: what of others goes into the program and the web app, and under which licence it is taken.
`--check` only compares.

What there is comes from Cargo.lock and web/package-lock.json, whose checksums fix every byte, on all systems the program can
be built for: the page is the same wherever it is made. Licence files are read from the sources that cargo and npm unpack, so
`npm ci` must have run in web/ (./test sees to it; `--node-modules DIR` names another folder).

Where an author leaves the choice, Apache-2.0 is taken, whose text is LICENSE-APACHE and which asks for NOTICE files beside it.
All other licences ask for their text with the names in it: they are kept, once for all that share the words.
"""

import argparse
import json
import pathlib
import re
import subprocess
import sys
from collections import defaultdict

ROOT = pathlib.Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "third-party.md"
# Of the web app's development dependencies, what the compiler puts into the page.
COMPILED_IN = ("clsx", "esm-env", "svelte")
# Sources of other languages within a crate, with the file that has their licence.
WITHIN = {"tikv-jemalloc-sys": ["jemalloc/COPYING"]}
# Needs nothing kept, or has its text in the root of this project.
NOTHING_KEPT = {"Apache-2.0", "0BSD", "CC0-1.0", "Unlicense"}
# Words in the name of a licence file that say which licence it is.
NAMED = {"apache", "bsd", "mit", "unlicense", "zlib"}
LICENCE_FILE = re.compile(r"^(licen[cs]e|copying|copyright|unlicense|ofl)", re.IGNORECASE)
COPYRIGHT = re.compile(r"^\W*(copyright|\(c\)|©)\s*(\(c\)|©|\d|[A-Z]).*", re.IGNORECASE)
HEAD = """# What of others is in loamline

Written by `checks/notices.py` from `Cargo.lock`, `web/package-lock.json` and `crates/papers/fonts`; `./test` holds it against
them. It names everything that goes into the program on any system, what builds it by macros included, and into the web app.
What only tests, fuzzing and benchmarks use is not handed on and not listed.

Where an author leaves the choice, Apache-2.0 is taken: its text is [LICENSE-APACHE](../LICENSE-APACHE). The sources of a crate
are at `https://crates.io/crates/NAME/VERSION`, those of a package of the web app at
`https://www.npmjs.com/package/NAME/v/VERSION`.
"""


class Package:
    """Something of somebody else's, with the folder it is unpacked in."""

    def __init__(self, name, version, licence, folder, authors=()):
        self.name, self.version, self.licence, self.authors = name, version, licence, [a.split(" <")[0] for a in authors]
        self.folder = pathlib.Path(folder)
        self.taken = taken(licence)

    def files(self, pattern):
        there = [f for f in sorted(self.folder.iterdir()) if f.is_file() and pattern.match(f.name)]
        return there + [self.folder / f for f in WITHIN.get(self.name, []) if pattern is LICENCE_FILE]

    def texts(self):
        """The licence files that go with what it is taken under."""
        files = self.files(LICENCE_FILE)
        other = NAMED - {licence.split("-")[0].lower() for licence in self.taken}
        mine = [f for f in files if not any(word in f.name.lower() for word in other)]
        return [text for text in map(read, mine or files) if not re.match(r"\s*apache license", text, re.IGNORECASE)]


def read(path):
    text = path.read_bytes().decode("utf-8", "replace").replace("\r\n", "\n").replace("\f", "\n")
    return "\n".join(line.rstrip() for line in text.split("\n")).strip("\n")


def taken(expression):
    """The licences a package is taken under: of every choice Apache-2.0, else what needs nothing kept, else the first."""
    plain = re.sub(r"\s*/\s*", " OR ", expression)
    out = []
    for part in re.split(r"\s+AND\s+", plain):
        inner = re.sub(r"^\((.*)\)$", r"\1", part.strip())
        if "(" in inner or ")" in inner:
            sys.exit(f"{expression}: choices within choices are not understood here; teach checks/notices.py to read them")
        choice = re.split(r"\s+OR\s+", inner)
        free = [licence for licence in ["Apache-2.0", *sorted(NOTHING_KEPT)] if licence in choice]
        out.append((free or choice)[0])
    return out


def crates():
    """Every crate from outside that goes into the program, on any system."""
    command = ["cargo", "metadata", "--locked", "--format-version", "1", "--manifest-path", str(ROOT / "Cargo.toml")]
    told = json.loads(subprocess.run(command, check=True, stdout=subprocess.PIPE).stdout)
    packages = {p["id"]: p for p in told["packages"]}
    needs = {
        node["id"]: [d["pkg"] for d in node["deps"] if any(k["kind"] is None for k in d["dep_kinds"])]
        for node in told["resolve"]["nodes"]
    }
    seen, todo = set(), [p["id"] for p in told["packages"] if p["name"] == "loamline"]
    while todo:
        this = todo.pop()
        if this not in seen:
            seen.add(this)
            todo += needs[this]
    found = [packages[i] for i in seen if packages[i]["source"]]
    for p in sorted(found, key=lambda p: (p["name"], p["version"])):
        if not p["license"]:
            sys.exit(f"the crate {p['name']} names no licence; find out and say so here, or do without it")
        yield Package(p["name"], p["version"], p["license"], pathlib.Path(p["manifest_path"]).parent, p["authors"])


def web(modules):
    """Every package that goes into the web app."""
    lock = json.loads((ROOT / "web" / "package-lock.json").read_text())
    for place, p in sorted(lock["packages"].items()):
        name = place.removeprefix("node_modules/")
        if not place or p.get("optional") or (p.get("dev") and name not in COMPILED_IN):
            continue
        folder = modules / name
        if not folder.is_dir():
            sys.exit(f"{folder} is not there; run: npm ci --prefix web")
        yield Package(name, p["version"], p["license"], folder)


def table(packages):
    yield "| package | version | licence | taken under |"
    yield "|---|---|---|---|"
    for p in packages:
        yield f"| {p.name} | {p.version} | {p.licence} | {' and '.join(p.taken)} |"


def fenced(text):
    fence = "```"
    while fence in text:
        fence += "`"
    return f"{fence}text\n{text}\n{fence}"


def wording(text):
    """A licence without the names in it, its titles and its line ends: what many share."""
    body = [line for line in text.split("\n") if not COPYRIGHT.match(line)]
    words = re.sub(r"[^a-z0-9]+", " ", " ".join(body).lower()).strip()
    return re.sub(r"^(the )?(mit|isc|zlib)( license)?( mit)? ", "", words)


def names(text):
    return [line.strip() for line in text.split("\n") if COPYRIGHT.match(line)]


def kept(packages):
    """Licence texts that must go along, each once, with whom it is from."""
    groups, without = defaultdict(list), []
    for p in packages:
        if set(p.taken) <= NOTHING_KEPT and p.name not in WITHIN:
            continue
        texts = p.texts()
        if p.name in WITHIN and set(p.taken) <= NOTHING_KEPT:
            texts = [read(p.folder / file) for file in WITHIN[p.name]]
        if not texts:
            without.append(p)
        for text in texts:
            groups[wording(text)].append((p, text))
    for of in sorted(groups.values(), key=lambda of: (-len(of), of[0][0].name)):
        first, text = of[0]
        licences = sorted({" and ".join(p.taken) for p, _ in of})
        who = first.name if len(of) == 1 else f"{len(of)} packages"
        yield f"### {', '.join(licences)}: {who}\n"
        if len(of) == 1:
            yield fenced(text) + "\n"
            continue
        for p, own in of:
            yield f"- {p.name} {p.version}: {'; '.join(dict.fromkeys(names(own))) or 'names nobody'}"
        yield "\n" + fenced("\n".join(line for line in text.split("\n") if not COPYRIGHT.match(line)).strip("\n")) + "\n"
    if without:
        yield "### Without a licence file of their own\n"
        yield "Under the licence their manifest names, in the words above; authors as in the manifest.\n"
        for p in without:
            yield f"- {p.name} {p.version}, {' and '.join(p.taken)}: {', '.join(p.authors) or 'names nobody'}"
        yield ""


def notices(packages):
    for p in packages:
        for file in p.files(re.compile(r"^notice", re.IGNORECASE)):
            yield f"### {p.name} {p.version}\n\n{fenced(read(file))}\n"


def page(modules):
    """The whole page."""
    of_program, of_web = list(crates()), list(web(modules))
    everything = of_program + of_web
    fonts = ROOT / "crates" / "papers" / "fonts"
    faces = ", ".join(sorted(file.stem for file in fonts.glob("*.ttf")))
    return "\n".join([
        HEAD,
        f"## In the program: {len(of_program)} crates\n",
        *table(of_program),
        f"\n## In the web app: {len(of_web)} packages\n",
        *table(of_web),
        "\n## Fonts\n",
        f"In the papers: {faces} (`crates/papers/fonts`), under the SIL Open Font License 1.1, whose text follows. The web app has",
        "the same face from `@fontsource/barlow`. The typesetting library's own faces come with `typst-assets`; their licences are",
        "in its notice.\n",
        fenced(read(fonts / "OFL.txt")),
        "\n## SQLite\n",
        "The crate `libsqlite3-sys` has the source of SQLite in it, which its authors have put in the public domain.\n",
        "## Licence texts\n",
        *kept(everything),
        "## Notices\n",
        *notices(everything),
    ])


def main():
    options = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    options.add_argument("--check", action="store_true", help="only compare")
    options.add_argument("--node-modules", type=pathlib.Path, default=ROOT / "web" / "node_modules")
    asked = options.parse_args()
    fresh = page(asked.node_modules)
    if not asked.check:
        PAGE.write_text(fresh)
    elif not PAGE.exists() or PAGE.read_text() != fresh:
        sys.exit("docs/third-party.md is out of date; run: python3 checks/notices.py")


if __name__ == "__main__":
    main()
