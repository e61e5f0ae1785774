"""The house check of `./test` against an invented house of four crates: it finds nothing in a good one, and each rule
broken in turn (an arrow not drawn, one drawn too many, a circle of files, a stale list, a lock in an engine) is found.
"""

import pathlib

import pytest

from house import problems
from rust_source import Crate, circles, tokens

HEAD = '#![doc = include_str!("../README.md")]\n'

GOOD = {
    "Cargo.toml": '[workspace]\nmembers = ["crates/*"]\n',
    "docs/architecture.md": (
        "# House\n\n| crate | knows | deliberately absent |\n|---|---|---|\n"
        "| `field` | | files |\n| `job` | field | engines |\n| `sheets` | job | physics |\n| `cli` | sheets | physics |\n"
    ),
    "checks/house.toml": """
[[absent]]
crates = ["field"]
words = ["std::fs", "Mutex"]
dependencies = ["loamline-job"]
why = "engines are pure"

[[absent]]
everywhere_but = ["sheets"]
dependencies = ["typst"]
why = "typesetting lives in sheets"

[[absent]]
everywhere_but = ["cli"]
words = ["println!"]
why = "only the command line prints"

[string_errors]
job = 1
""",
    "crates/field/Cargo.toml": '[package]\nname = "loamline-field"\n',
    "crates/field/README.md": "# field\n",
    # A folder whose head passes on what its files define, and a file that takes it through the head: no circle.
    "crates/field/src/lib.rs": HEAD + "mod sums;\nmod wave;\nmod shape;\npub use sums::sum;\n",
    "crates/field/src/sums.rs": (
        "use crate::shape::Disc;\nuse crate::wave::{self, Wave};\n"
        "pub fn sum(w: &Wave, d: &Disc) -> f64 { wave::size(w) * d.0 }\n"
        "/* println! in a comment, */ const TEXT: &str = \"and std::fs in a text\";\n"
        "#[cfg(test)]\nmod tests { use std::sync::Mutex; use super::*; fn t() { println!(\"{}\", 1); } }\n"
    ),
    "crates/field/src/wave.rs": "pub struct Wave(pub f64);\npub fn size(w: &Wave) -> f64 { w.0 }\n",
    "crates/field/src/shape/mod.rs": "mod disc;\nmod edge;\npub use disc::Disc;\npub use edge::edge;\n",
    "crates/field/src/shape/disc.rs": "pub struct Disc(pub f64);\n",
    "crates/field/src/shape/edge.rs": "use super::Disc;\npub fn edge(d: &Disc) -> f64 { d.0 }\n",
    "crates/job/Cargo.toml": '[package]\nname = "loamline-job"\n[dependencies]\nloamline-field.workspace = true\n',
    "crates/job/README.md": "# job\n",
    "crates/job/src/lib.rs": HEAD + "pub use loamline_field::sum;\npub fn read() -> Result<Vec<(u8, u8)>, String> { todo() }\n",
    "crates/sheets/Cargo.toml": (
        '[package]\nname = "loamline-sheets"\n[dependencies]\nloamline-job.workspace = true\ntypst-pdf = "1"\n'
    ),
    "crates/sheets/README.md": "# sheets\n",
    "crates/sheets/src/lib.rs": HEAD + "pub use loamline_job::read;\n",
    "crates/cli/Cargo.toml": '[package]\nname = "loamline"\n[dependencies]\nloamline-sheets.workspace = true\n',
    "crates/cli/README.md": "# cli\n",
    "crates/cli/src/main.rs": HEAD + 'fn main() { println!("{:?}", loamline_sheets::read()); }\n',
}

CIRCLE = {
    "crates/field/src/wave.rs": "use super::sums::sum;\npub struct Wave(pub f64);\npub fn size(w: &Wave) -> f64 { sum(w) }\n"
}
LISTED = """
[[circle]]
files = ["crates/field/src/sums.rs", "crates/field/src/wave.rs"]
reason = "kept for the test"
"""


def build(folder, *changes):
    """Writes the good house with changes: a text replaces a file, a pair replaces a piece of it, `None` takes it away."""
    files = dict(GOOD)
    for change in changes:
        for name, new in change.items():
            if isinstance(new, tuple):
                assert new[0] in files[name], f"{name} has no {new[0]}"
                files[name] = files[name].replace(*new)
            elif new is None:
                del files[name]
            else:
                files[name] = new
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    return folder


def test_nothing_is_found_in_a_good_house(tmp_path):
    assert problems(build(tmp_path)) == []


PAGE = "docs/architecture.md"
BROKEN = {
    "an arrow that is not drawn": ({PAGE: ("| field | engines", "| | engines")}, "job depends on field, which"),
    "an arrow that no crate has": ({PAGE: ("| `field` | |", "| `field` | cli |")}, "says that field knows cli"),
    "a crate without a row": ({PAGE: ("| `job` | field | engines |\n", "")}, "no row for the crate job"),
    "a row without a crate": ({PAGE: ("| `cli` |", "| `gone` | | files |\n| `cli` |")}, "a crate gone that does not exist"),
    "absence left unsaid": ({PAGE: ("| engines |", "| |")}, "the row of job does not say"),
    "a dependency that is not used": (
        {"crates/job/src/lib.rs": ("pub use loamline_field::sum;\n", "")},
        "job depends on field and never names it",
    ),
    "a test dependency that is not drawn": (
        {
            "crates/sheets/Cargo.toml": ("typst-pdf", "[dev-dependencies]\nloamline-field.workspace = true\ntypst-pdf"),
            "crates/sheets/src/lib.rs": ("loamline_job::read", "loamline_job::read; // loamline_field"),
        },
        "sheets depends on field, which",
    ),
    "a circle of files": (CIRCLE, "crates/field/src/sums.rs -> crates/field/src/wave.rs: Wave, size"),
    "a circle by paths alone": (
        {"crates/field/src/wave.rs": "pub struct Wave(pub f64);\npub fn size(w: &Wave) -> f64 { crate::sums::sum(w) }\n"},
        "crates/field/src/wave.rs -> crates/field/src/sums.rs: sum",
    ),
    "a circle through the head of a folder": (
        {
            "crates/field/src/shape/disc.rs": "use crate::shape::edge;\npub struct Disc(pub f64);\nfn f(d: &Disc) { edge(d); }\n"
        },
        "crates/field/src/shape/edge.rs -> crates/field/src/shape/disc.rs: Disc",
    ),
    "a circle with the head of a folder itself": (
        {
            "crates/field/src/shape/mod.rs": "mod disc;\nmod edge;\npub use disc::Disc;\npub use edge::edge;\npub fn half() { edge(); }\n",
            "crates/field/src/shape/edge.rs": "use super::half;\npub fn edge() { half() }\n",
        },
        "crates/field/src/shape/mod.rs -> crates/field/src/shape/edge.rs: edge",
    ),
    "a listed circle that is gone": (
        {"checks/house.toml": GOOD["checks/house.toml"] + LISTED},
        "that is no longer there",
    ),
    "a listed circle without a reason": (
        {**CIRCLE, "checks/house.toml": GOOD["checks/house.toml"] + LISTED.replace("kept for the test", " ")},
        "is listed without a reason",
    ),
    "a lock in an engine": (
        {"crates/field/src/wave.rs": ("pub struct", "use std::sync::{Arc, Mutex};\npub struct")},
        "crates/field/src/wave.rs uses Mutex; engines are pure",
    ),
    "a file read in an engine": (
        {"crates/field/src/wave.rs": ("pub fn size(w: &Wave) -> f64 {", 'pub fn size(w: &Wave) -> f64 { std::fs::read("x");')},
        "crates/field/src/wave.rs uses std::fs; engines are pure",
    ),
    "an engine that knows the job": (
        {"crates/field/Cargo.toml": '[package]\nname = "loamline-field"\n[dependencies]\nloamline-job.workspace = true\n'},
        "field depends on loamline-job; engines are pure",
    ),
    "typesetting elsewhere": (
        {"crates/job/Cargo.toml": ("[dependencies]", '[dependencies]\ntypst = "1"')},
        "job depends on typst; typesetting lives in sheets",
    ),
    "printing elsewhere": (
        {"crates/sheets/src/lib.rs": ("pub use", 'pub fn p() { println!("x"); }\npub use')},
        "crates/sheets/src/lib.rs uses println!; only the command line prints",
    ),
    "one sentence more as an error": (
        {"crates/job/src/lib.rs": ("pub fn read", "pub fn more() -> Result<(), String> { todo() }\npub fn read")},
        "job has 2 times Result<_, String>, at most 1 allowed",
    ),
    "a count of sentences that is out of date": (
        {"checks/house.toml": ("job = 1", "job = 2")},
        "job has 1 times Result<_, String>; lower the 2",
    ),
    "a count for a crate that is gone": ({"checks/house.toml": ("job = 1", "job = 1\ngone = 1")}, "of a crate gone"),
    "a rule for a crate that is gone": ({"checks/house.toml": ('["field"]', '["field", "gone"]')}, "there is no crate gone"),
    "two schemas of one name": (
        {
            "crates/field/src/wave.rs": ("pub struct", "#[derive(Clone, utoipa::ToSchema)]\n#[serde(tag = \"k\")]\npub enum Twice {}\npub struct"),
            "crates/job/src/lib.rs": ("pub fn read", "#[cfg_attr(feature = \"schema\", derive(utoipa::ToSchema))]\npub struct Twice;\npub fn read"),
        },
        "both have a type Twice with a schema",
    ),
    "a crate without a README": ({"crates/job/README.md": None}, "crates/job/README.md is missing"),
    "a README that is not included": ({"crates/job/src/lib.rs": (HEAD, "")}, "crates/job/src/lib.rs does not include"),
}


@pytest.mark.parametrize("broken", BROKEN)
def test_each_broken_rule_is_found(broken, tmp_path):
    change, expected = BROKEN[broken]
    found = problems(build(tmp_path, change))
    assert any(expected in problem for problem in found), found


def test_a_circle_that_is_listed_with_a_reason_is_let_pass(tmp_path):
    assert problems(build(tmp_path, CIRCLE, {"checks/house.toml": GOOD["checks/house.toml"] + LISTED})) == []


def test_modules_that_a_macro_declares_are_read(tmp_path):
    files = {
        "lib.rs": "mod all;\npub struct Answer;\n",
        "all/mod.rs": "macro_rules! list { ($($name:ident)*) => { $(mod $name;)* } }\nlist! { first second }\n",
        "all/first.rs": "use super::second::two;\npub fn one() { two() }\n",
        "all/second.rs": "pub fn two() -> crate::Answer { super::first::one() }\n",
    }
    for name, text in files.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text)
    crate = Crate(tmp_path / "lib.rs")
    assert len(crate.files) == 4
    names = [[file.relative_to(tmp_path).as_posix() for file in circle] for circle in circles(crate.arrows())]
    assert names == [["all/first.rs", "all/second.rs"]]


def test_words_in_comments_texts_and_lifetimes_are_no_code():
    text = "fn f<'a>(c: char) -> &'a str { if c == '\"' { r#\"use \"std::fs\" // x\"# } else { \"\\\"\" } } // Mutex"
    assert tokens(text).count('""') == 3
    assert not {"use", "std", "Mutex"} & set(tokens(text))


def test_this_house_has_every_crate_read(request):
    root = pathlib.Path(__file__).resolve().parent.parent
    unread = []
    for folder in sorted((root / "crates").iterdir()):
        file = next(f for f in (folder / "src" / "lib.rs", folder / "src" / "main.rs") if f.exists())
        crate = Crate(file)
        # What is not reached is test code: files under `#[cfg(test)] mod name;`.
        for other in sorted(set((folder / "src").rglob("*.rs")) - crate.files.keys()):
            parents = [other.parent / "mod.rs", other.parent.with_suffix(".rs"), other.parent / "lib.rs"]
            texts = [p.read_text() for p in parents if p.exists()]
            # Or a file of another name, said so beside the module.
            texts += [p.read_text() for p in other.parent.glob("*.rs") if f'#[path = "{other.name}"]' in p.read_text()]
            declared = (f"#[cfg(test)]\nmod {other.stem};", f'#[cfg(test)]\n#[path = "{other.name}"]\nmod tests;')
            if not any(line in text for text in texts for line in declared):
                unread.append(other.relative_to(root).as_posix())
    assert unread == []
