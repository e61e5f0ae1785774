"""The web app in Debian's Chromium against the built program: an empty job walked to a downloaded PDF by hand and by a proposed
design, a proposal watched, compared, accepted, pinned, stopped and refused, a plan underneath from a picture and a PDF, a
dragged loudspeaker and the figures that follow, existing cable with its length from a reading, starts and pairs of lines, sources with
their leads and the gain that follows, two browsers merging and asked, undo after a kill, every page narrow, wide and on a 4K screen, light
and dark, by the rules of axe-core and floors for type and targets, the same walk with a keyboard alone, no motion where none is
wanted, the working behind every figure done over by
hand, and the first page within a second.

The steps are in web/e2e, one file for each subject; what they measure is printed. Sources: axe-core (npm) for accessibility;
the weight of the app as gzip packs it (Python's zlib).
"""

import gzip
import os
import pathlib
import subprocess

import pytest

WEB = pathlib.Path(__file__).resolve().parent.parent / "web"
SPECS = sorted(path.name for path in (WEB / "e2e").glob("*.spec.ts"))


def test_there_is_something_to_try():
    assert SPECS, "web/e2e holds no *.spec.ts"


@pytest.mark.parametrize("spec", SPECS)
def test_in_the_browser(spec, capsys):
    done = subprocess.run(
        ["npm", "run", "--silent", "e2e", "--", f"e2e/{spec}"],
        cwd=WEB, env={**os.environ, "NO_COLOR": "1"}, capture_output=True, text=True, timeout=900,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    measured = [line for line in done.stdout.splitlines() if line.startswith(("pointer event", "from an empty", "first page", "estate"))]
    with capsys.disabled():
        for line in measured:
            print(f"\n   {line}", end="")


# Fetched when it is opened: the PDF reader, the pages of equipment and firm, the maker of pictures of the view; what a reader
# of another language than English needs; the pages fetched when the browser has nothing else to do.
LATER = tuple(f"assets/{part}" for part in
              ("pdf", "Equipment", "Firm", "picture", "es", "Cable", "Processing", "Papers", "Visits"))


def test_the_app_is_light():
    """What a first visit loads, fonts included, is under 400 kB; what is seldom opened comes when it is."""
    packed = {
        path.relative_to(WEB / "dist").as_posix(): len(gzip.compress(path.read_bytes(), 9))
        for path in (WEB / "dist").rglob("*") if path.is_file()
    }
    assert packed, "web/dist is empty; run web/build"
    later = sum(size for name, size in packed.items() if name.startswith(LATER))
    assert sum(packed.values()) - later < 400_000, packed
