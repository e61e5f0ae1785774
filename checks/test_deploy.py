"""What docs/deploy.md has people copy: the unit is one that systemd takes (`systemd-analyze verify`, where it is installed), and both
files start the program with options it knows, in a way it runs. Source of what is expected: systemd's own program, and `serve --help`.
"""

import os
import pathlib
import re
import shlex
import shutil
import subprocess

import pytest

from tool import run

PAGE = (pathlib.Path(__file__).resolve().parent.parent / "docs" / "deploy.md").read_text()


def block(language):
    """The only block of a language."""
    blocks = re.findall(rf"```{language}\n(.*?)```", PAGE, re.S)
    assert len(blocks) == 1, (language, len(blocks))
    return blocks[0]


def commands():
    unit = re.search(r"^ExecStart=(.*)$", block("ini"), re.M).group(1)
    composed = re.search(r"exec (loamline serve .*?) > /dev/null", block("yaml")).group(1)
    return [shlex.split(unit), shlex.split(composed)]


def test_both_files_start_the_program_with_options_it_knows():
    help_text = run("serve", "--help").stdout
    known = set(re.findall(r"--[a-z-]+", help_text))
    for command in commands():
        assert pathlib.PurePath(command[0]).name == "loamline" and command[1] == "serve"
        asked = {word for word in command if word.startswith("--")}
        assert {"--data", "--share", "--metrics-listen"} <= asked and asked <= known, asked - known
    # Both say where the database is by the variable that the help names, never on the command line.
    assert "LOAMLINE_DATABASE" in help_text and PAGE.count("LOAMLINE_DATABASE=") == 2
    assert not any("postgres://" in word for command in commands() for word in command)


def test_systemd_takes_the_unit(tmp_path):
    if not shutil.which("systemd-analyze"):
        pytest.skip("systemd is not installed")
    # The program and the database of this computer are elsewhere.
    unit = block("ini").replace("/usr/local/bin/loamline", os.environ["LOAMLINE_BIN"])
    unit = unit.replace(" postgresql.service", "").replace("User=loamline\n", "")
    file = tmp_path / "loamline.service"
    file.write_text(unit)
    done = subprocess.run(["systemd-analyze", "verify", "--man=no", str(file)], capture_output=True, text=True, timeout=60)
    about = [line for line in done.stderr.splitlines() if "loamline" in line]
    assert done.returncode == 0 and not about, done.stderr
    # It would tell of a line that is wrong.
    file.write_text(unit.replace("TimeoutStopSec=30", "TimeoutStopSec=soon"))
    done = subprocess.run(["systemd-analyze", "verify", "--man=no", str(file)], capture_output=True, text=True, timeout=60)
    assert "ignoring: soon" in done.stderr, done.stderr
