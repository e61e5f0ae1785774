"""A job on a phone without a network, in Debian's Chromium against the built program: reload, a day of readings and photos
through a kill, the office's power cut while it takes them in, two phones on one line, a wrong clock, a full phone; papers;
pairing by HTTPS, turned away and paired again; how an amplifier was left, asked
about field by field; the phone's rules of readings against the engine's on 2000 random cases of
each; a job that an earlier version of the app took along; the program updated under a phone, an open page and half a
page, each loaded anew once with nothing lost; the first ranking with the processor slowed four times.

The steps are in web/e2e/visits, one file for each subject; what they measure is printed. Sources: the engine itself for
the rules (crates/study/examples/phone_readings says what the cases are), axe-core (npm) for accessibility, Chromium's own
network, quota and processor emulation for the rest.
"""

import os
import re
import subprocess

import pytest
from tool import ROOT, example

WEB = ROOT / "web"
SPECS = sorted(path.name for path in (WEB / "e2e" / "visits").glob("*.spec.ts"))
SETS = 2000
MEASURED = re.compile("200 readings|reading to ranking|[0-9]{4,} (reading sets|rankings|sets|series|readings)")


def test_there_is_something_to_try():
    assert len(SPECS) >= 3, SPECS


@pytest.fixture(scope="session")
def sets(tmp_path_factory):
    """Random cases of the example with what the engine says of each."""
    program = example("loamline-study", "phone_readings")
    file = tmp_path_factory.mktemp("phone") / "sets.json"
    with open(file, "w") as out:
        subprocess.run([program, ROOT / "examples" / "guesthouse-garden", str(SETS)], stdout=out, check=True, timeout=900)
    return file


@pytest.mark.parametrize("spec", SPECS)
def test_on_the_phone(spec, sets, capsys):
    done = subprocess.run(
        ["npm", "run", "--silent", "e2e", "--", f"e2e/visits/{spec}"],
        cwd=WEB, env={**os.environ, "NO_COLOR": "1", "LOAMLINE_SETS": str(sets)},
        capture_output=True, text=True, timeout=900,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    with capsys.disabled():
        for line in done.stdout.splitlines():
            if MEASURED.match(line):
                print(f"\n   {line}", end="")
