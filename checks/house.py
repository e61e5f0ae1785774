"""House rules that a program can check; `./test` runs it before anything is built.

- A crate knows exactly the crates that the table in `docs/architecture.md` says, and every one of them is used.
- No files of a crate import each other in a circle, but those listed in `checks/house.toml` with a reason.
- What a crate must not contain (files, clocks, locks, printing, dependencies) is not in it: see `checks/house.toml`.
- `Result<_, String>` is counted per library crate; the count may only shrink.
- Every crate has a README that its documentation includes.
- Types with a schema have names of their own: in the description of the interface the one would hide the other.

A list that names what is no longer there fails too. What it cannot see: methods called through a value.
"""

import pathlib
import sys
import tomllib

from rust_source import Crate, circles

HEADER = "| crate | knows | deliberately absent |"
PREFIX = "loamline-"


def manifests(root):
    """Folder and manifest of every crate of the workspace, by the folder's name."""
    out = {}
    workspace = tomllib.loads((root / "Cargo.toml").read_text())["workspace"]
    for pattern in workspace["members"]:
        for folder in sorted(root.glob(pattern)):
            if (folder / "Cargo.toml").exists():
                manifest = tomllib.loads((folder / "Cargo.toml").read_text())
                out[folder.name] = (folder, manifest)
    return out


def dependencies(manifest):
    """Names of everything a crate depends on, tests and build script included."""
    tables = [manifest, *manifest.get("target", {}).values()]
    kinds = ("dependencies", "build-dependencies", "dev-dependencies")
    return {name for table in tables for kind in kinds for name in table.get(kind, {})}


def drawn(root):
    """Crate -> crates it knows and what is absent from it, as the table in the architecture page says."""
    text = (root / "docs" / "architecture.md").read_text()
    if HEADER not in text:
        raise SystemExit(f'docs/architecture.md: the table with the header "{HEADER}" is missing')
    out = {}
    for line in text.split(HEADER, 1)[1].splitlines()[2:]:
        if not line.startswith("|"):
            break
        crate, knows, absent = (cell.strip() for cell in line.strip().strip("|").split("|"))
        out[crate.strip("`")] = ({word.strip("` ") for word in knows.split(",") if word.strip("` ")}, absent)
    return out


def arrow_problems(root, crates):
    page = drawn(root)
    for name in sorted(page.keys() - crates.keys()):
        yield f"docs/architecture.md: the table has a crate {name} that does not exist; take its row out"
    for name, (folder, manifest) in crates.items():
        has = {d.removeprefix(PREFIX) for d in dependencies(manifest) if d.startswith(PREFIX)}
        if name not in page:
            yield f"docs/architecture.md: the table has no row for the crate {name}; add one"
            continue
        knows, absent = page[name]
        for other in sorted(has - knows):
            yield f"{name} depends on {other}, which docs/architecture.md does not say; should it?"
        for other in sorted(knows - has):
            yield f"docs/architecture.md says that {name} knows {other}, and it does not; correct its row"
        if not absent:
            yield f"docs/architecture.md: the row of {name} does not say what is deliberately absent"
        text = "".join(file.read_text() for file in sorted(folder.rglob("*.rs")))
        for other in sorted(has):
            if PREFIX.replace("-", "_") + other.replace("-", "_") not in text:
                yield f"{name} depends on {other} and never names it; take it out of its Cargo.toml"


def circle_problems(root, sources, listed):
    found = {}
    for crate in sources.values():
        for circle in circles(crate.arrows()):
            found[frozenset(str(file.relative_to(root)) for file in circle)] = crate
    known = {frozenset(entry["files"]): entry.get("reason", "") for entry in listed}
    for files, crate in found.items():
        if files not in known:
            arrows = crate.arrows()
            ties = [
                f"    {name} -> {str(to.relative_to(root))}: {', '.join(sorted(names))}"
                for name in sorted(files)
                for to, names in sorted(arrows.get(root / name, {}).items())
                if str(to.relative_to(root)) in files
            ]
            yield "files import each other in a circle; move what they share to a file of its own:\n" + "\n".join(ties)
        elif not known[files].strip():
            yield f"checks/house.toml: the circle of {', '.join(sorted(files))} is listed without a reason"
    for files in known:
        if files not in found:
            yield (
                f"checks/house.toml lists a circle of {', '.join(sorted(files))} that is no longer there, or has other"
                " files; correct the list"
            )


def contains(code, words):
    return any(code[i : i + len(words)] == words for i in range(len(code) - len(words) + 1))


def parts(path):
    """`std::fs` or `println!` as the words of a file."""
    return path.replace("::", " :: ").replace("!", " !").split()


def absence_problems(root, sources, rules, crates):
    for rule in rules:
        named = rule.get("crates", []) + rule.get("everywhere_but", [])
        for name in sorted(set(named) - crates.keys()):
            yield f"checks/house.toml: there is no crate {name}; correct the rule \"{rule['why']}\""
        inside = rule.get("crates") or [name for name in crates if name not in rule["everywhere_but"]]
        for name in inside:
            for word in rule.get("words", []):
                for file, code in sources[name].files.items() if name in sources else ():
                    if contains(code, parts(word)):
                        yield f"{file.relative_to(root)} uses {word}; {rule['why']}"
            for prefix in rule.get("dependencies", []) if name in crates else ():
                for dependency in sorted(dependencies(crates[name][1])):
                    if dependency.startswith(prefix):
                        yield f"{name} depends on {dependency}; {rule['why']}"


def string_errors(code):
    """How many types `Result<_, String>` there are."""
    count = 0
    for i in range(len(code) - 1):
        if code[i] != "Result" or code[i + 1] != "<":
            continue
        depth, last, several = 1, [], False
        for word in code[i + 2 :]:
            depth += (word in "<([{") - (word in ">)]}") if len(word) == 1 else 0
            if depth == 0:
                break
            several |= word == "," and depth == 1
            last = [] if word == "," and depth == 1 else [*last, word]
        # `Result<String>` is somebody's short name for a result with an error of its own.
        count += several and last == ["String"]
    return count


def string_error_problems(sources, allowed):
    for name, crate in sources.items():
        found, most = sum(map(string_errors, crate.files.values())), allowed.get(name, 0)
        if found > most:
            yield (
                f"{name} has {found} times Result<_, String>, at most {most} allowed: make errors typed, with subject and"
                " numbers"
            )
        elif found < most:
            yield f"{name} has {found} times Result<_, String>; lower the {most} in checks/house.toml to {found}"
    for name in sorted(allowed.keys() - sources.keys()):
        yield f"checks/house.toml counts Result<_, String> of a crate {name} that is not looked at; take it out"


def readme_problems(root, crates, roots):
    for name, (folder, _) in crates.items():
        if name not in roots:
            continue
        if not (folder / "README.md").exists():
            yield f"{folder.relative_to(root)}/README.md is missing: a sentence on what it is, what is absent, where to start"
        elif '#![doc = include_str!("../README.md")]' not in roots[name].read_text():
            yield f'{roots[name].relative_to(root)} does not include its README: #![doc = include_str!("../README.md")]'


def schema_names(code):
    """Names of the types that derive `ToSchema`."""
    for i, word in enumerate(code):
        if word in ("struct", "enum") and i + 1 < len(code):
            back, depth = i - 1, 0
            # Attributes and visibility stand before it.
            while back >= 0 and (depth or code[back] in ("]", "#", "pub", ")", "crate")):
                depth += (code[back] in ("]", ")")) - (code[back] in ("[", "("))
                back -= 1
            if "ToSchema" in code[back + 1 : i]:
                yield code[i + 1]


def schema_problems(root, sources):
    first = {}
    for crate in sources.values():
        for file, code in crate.files.items():
            for name in schema_names(code):
                other = first.setdefault(name, file)
                if other != file:
                    yield (
                        f"{file.relative_to(root)} and {other.relative_to(root)} both have a type {name} with a schema; give"
                        " each a name of its own"
                    )


def problems(root):
    """Everything that breaks a rule, a sentence each."""
    rules = tomllib.loads((root / "checks" / "house.toml").read_text())
    crates = manifests(root)
    candidates = {name: (folder / "src" / "lib.rs", folder / "src" / "main.rs") for name, (folder, _) in crates.items()}
    roots = {
        name: next(file for file in files if file.exists())
        for name, files in candidates.items()
        if any(file.exists() for file in files)
    }
    sources = {name: Crate(file) for name, file in roots.items()}
    libraries = {name: crate for name, crate in sources.items() if roots[name].name == "lib.rs"}
    return [
        *arrow_problems(root, crates),
        *circle_problems(root, sources, rules.get("circle", [])),
        *absence_problems(root, sources, rules.get("absent", []), crates),
        *string_error_problems(libraries, rules.get("string_errors", {})),
        *readme_problems(root, crates, roots),
        *schema_problems(root, sources),
    ]


def main():
    root = pathlib.Path(sys.argv[1] if len(sys.argv) > 1 else __file__).resolve()
    root = root if root.is_dir() else root.parent.parent
    found = problems(root)
    if found:
        sys.exit("\n".join(found) + f"\n\nhouse rules broken: {len(found)}")


if __name__ == "__main__":
    main()
