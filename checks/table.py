"""Writes the table of checks in docs/checks.md from the first paragraph of each checks/test_*.py; `--check` only compares."""

import ast
import pathlib
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
BEGIN, END = "<!-- checks: written by checks/table.py -->", "<!-- end of checks -->"


def table():
    rows = ["| check | what against what |", "|---|---|"]
    for path in sorted((ROOT / "checks").glob("test_*.py")):
        text = ast.get_docstring(ast.parse(path.read_text()))
        if not text:
            sys.exit(f"{path.name} has no docstring; its first paragraph says what is checked against what")
        first = " ".join(text.split("\n\n")[0].split()).replace("|", "\\|")
        rows.append(f"| `{path.name}` | {first} |")
    return "\n".join(rows)


def main():
    page = ROOT / "docs" / "checks.md"
    text = page.read_text()
    before, rest = text.split(BEGIN)
    _, after = rest.split(END)
    new = f"{before}{BEGIN}\n{table()}\n{END}{after}"
    if "--check" in sys.argv:
        if new != text:
            sys.exit("the table of docs/checks.md is out of date; run: python3 checks/table.py")
    else:
        page.write_text(new)


if __name__ == "__main__":
    main()
