"""A minute of a working day: 20 people who edit a job and 20 who look at it. Everybody is answered, every acknowledged edit is
there after a new start, of the files only the log grows, memory stays about level.

Source of the expected values: what the clients were told, kept by `calm.py`; the bound on memory is the project's own, and wider
than the 5 % of the hour in `./test nightly`, since in a minute what the allocator gives back a little later still counts.
"""

import subprocess
import sys

from tool import ROOT


def test_a_minute_of_a_working_day(capsys):
    command = [sys.executable, str(ROOT / "checks" / "calm.py"), "--minutes", "1", "--seed", "1", "--most", "1.25"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=900)
    with capsys.disabled():
        print("\n" + "\n".join(line for line in done.stdout.splitlines() if "memory" in line or "acknowledged" in line))
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-2000:]
    assert "\n0 things are wrong" in done.stdout
