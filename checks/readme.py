"""Rewrites the examples in README.md and docs/tour.md with what the tool prints, or with --check says where they differ.

Every ```console block that starts with `$ loamline` holds the command and its output. A line `...` stands for output left
out: what is before it and what is after it must be found in that order, whole lines in a row. Rewriting keeps such blocks'
pieces by their first lines. Commands that write (`pack`, `route`) are shown without output and are left alone.
"""

import difflib
import functools
import os
import pathlib
import re
import shlex
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
PAGES = ["README.md", "docs/tour.md"]
BLOCK = re.compile(r"```console\n\$ loamline (?P<command>[^\n]*)\n(?P<output>.*?)```", re.DOTALL)
LEFT_OUT = "..."


@functools.cache
def printed(command):
    """What the tool prints for a command, run in the project's folder."""
    done = subprocess.run(
        [os.environ["LOAMLINE_BIN"], *shlex.split(command)], capture_output=True, text=True, cwd=ROOT
    )
    if done.returncode == 2:
        raise SystemExit(f"an example, `loamline {command}`, is refused: {done.stderr}")
    return done.stdout.rstrip().splitlines()


def pieces(lines):
    """The shown lines as pieces between lines that say something is left out."""
    parts = [[]]
    for line in lines:
        if line == LEFT_OUT:
            parts.append([])
        else:
            parts[-1].append(line)
    return parts


def current(page, shown, output):
    """The shown lines as the tool prints them now."""
    parts = pieces(shown)
    if len(parts) == 1:
        return output
    fresh, after = [], 0
    for n, part in enumerate(parts):
        if n:
            fresh.append(LEFT_OUT)
        if not part:
            continue
        try:
            start = output.index(part[0], after)
        except ValueError:
            raise SystemExit(f"{page} shows \"{part[0]}\", which the tool no longer prints there") from None
        # A piece runs as long as it did; one that ends the block runs to the end.
        stop = len(output) if n == len(parts) - 1 else start + len(part)
        fresh += output[start:stop]
        after = stop
    return fresh


def renewed(page, text):
    """A page with its examples as the tool prints them now."""

    def example(match):
        shown = match["output"].splitlines()
        if not shown:
            return match[0]
        lines = current(page, shown, printed(match["command"]))
        return f"```console\n$ loamline {match['command']}\n" + "".join(f"{line}\n" for line in lines) + "```"

    if not BLOCK.search(text):
        raise SystemExit(f"{page} has no examples; take it out of checks/readme.py")
    return BLOCK.sub(example, text)


def main():
    """Rewrites, or with --check compares."""
    differ = False
    for page in PAGES:
        text = (ROOT / page).read_text()
        fresh = renewed(page, text)
        if "--check" not in sys.argv[1:]:
            (ROOT / page).write_text(fresh)
        elif fresh != text:
            differ = True
            sys.stdout.writelines(difflib.unified_diff(text.splitlines(True), fresh.splitlines(True), page, "printed"))
    if differ:
        raise SystemExit("pages show other output than the tool prints; run: python3 checks/readme.py")


if __name__ == "__main__":
    main()
