"""The guided tour of `./run demo` against the tool itself: every stop shows whole lines of what its command prints, in their
order, within 80 columns, and nothing is left behind; on a terminal it waits for Enter at every stop but the last. That it shows
what was meant is what it holds itself to: a piece that is not found ends it. The contract is the project's own, with no outside
source.
"""

import os
import pty
import re
import shlex
import shutil
import subprocess

import pytest

from tool import ROOT, run

STOP = re.compile(r"^(\d+) of (\d+)\. (.+\?)$", re.MULTILINE)
WIDTH = 80


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    """What it says where nobody presses Enter, and whether its folder is gone."""
    scratch = tmp_path_factory.mktemp("tour")
    done = subprocess.run([ROOT / "demo"], capture_output=True, text=True, stdin=subprocess.DEVNULL,
                          env={**os.environ, "TMPDIR": str(scratch)})
    assert done.returncode == 0, done.stderr
    assert not list(scratch.iterdir())
    return done.stdout


def stops(text):
    """For each stop its command and what is shown of the answer."""
    parts = STOP.split(text)[1:]
    for number, of, _, body in zip(*[iter(parts)] * 4):
        before, _, rest = body.partition("\n$ loamline ")
        command, _, shown = rest.partition("\n")
        assert before.strip(), f"stop {number} says nothing of its command"
        yield int(number), int(of), command, shown.split("\nThat was it.")[0]


def test_every_stop_is_there_once(told):
    found = list(stops(told))
    assert len(found) >= 10
    assert [number for number, *_ in found] == list(range(1, len(found) + 1))
    assert {of for _, of, *_ in found} == {len(found)}


def test_what_is_shown_is_what_the_command_prints(told, tmp_path):
    shutil.copytree(ROOT / "examples" / "guesthouse-garden", tmp_path / "guesthouse-garden")
    printed = {}
    for number, _, command, shown in stops(told):
        if command not in printed:
            done = run(*shlex.split(command), cwd=tmp_path)
            assert done.returncode in (0, 1), done.stderr
            printed[command] = done.stdout.splitlines()
        lines = [line for line in shown.splitlines() if line and line != "..."]
        assert len(lines) >= 3, f"stop {number} shows next to nothing"
        rest = iter(printed[command])
        for line in lines:
            assert line in rest, f"stop {number}: `loamline {command}` does not print \"{line}\" there"


def test_lines_fit_a_terminal(told):
    assert [line for line in told.splitlines() if len(line) > WIDTH] == []


def test_commands_it_names_at_the_end_are_there(told):
    end = told[told.index("That was it."):]
    for name in re.findall(r"\./run (\w+)", end):
        assert run(name, "--help").returncode == 0, name
    for page in re.findall(r"docs/\S+\.md", end):
        assert (ROOT / page).exists(), page


def test_a_terminal_waits_for_enter(told):
    mine, its = pty.openpty()
    process = subprocess.Popen([ROOT / "demo"], stdin=its, stdout=its, stderr=its)
    os.close(its)
    heard, pressed = "", 0
    while True:
        try:
            more = os.read(mine, 65536).decode(errors="replace")
        except OSError:  # the other end is closed
            break
        if not more:
            break
        heard += more
        if heard.count("-- Enter for the next") > pressed:
            pressed += 1
            assert len(STOP.findall(heard.replace("\r", ""))) == pressed, "it went on without Enter"
            os.write(mine, b"\n")
    os.close(mine)
    assert process.wait(30) == 0
    assert pressed == len(list(stops(told))) - 1
