"""What `./run` says while it builds, against an invented cargo that says what the real one does: how far it is, on a terminal and
elsewhere; warnings and errors as they are; nothing where nothing was to be built. How long it takes is not looked at. The contract is the project's own, with no outside source.
"""

import os
import subprocess

import pytest

from tool import ROOT

CARGO = """#!/usr/bin/env bash
if [ "$1" = tree ]; then
  printf 'loamline v0.1.0 (/here)\\nserde v1.0.0\\nserde v1.0.0 (*)\\nserde_derive v1.0.0 (proc-macro)\\nrayon v1.0.0\\n'
  exit
fi
[ "$1 $2 $3" = "build --release --locked" ] || exit 99
cat "$CARGO_SAYS" >&2
exit "$CARGO_ENDS"
"""


@pytest.fixture
def ran(tmp_path):
    """Runs `./run ARGUMENTS` beside a cargo that says and ends so; on a terminal with `screen`."""
    (tmp_path / "bin").mkdir()
    cargo = tmp_path / "bin" / "cargo"
    cargo.write_text(CARGO)
    cargo.chmod(0o755)
    tool = tmp_path / "target" / "release" / "loamline"
    tool.parent.mkdir(parents=True)

    def run(says, *arguments, ends=0, built=True, screen=False):
        (tmp_path / "says").write_text(says)
        tool.unlink(missing_ok=True)
        if built:
            tool.symlink_to(os.environ["LOAMLINE_BIN"])
        env = {**os.environ, "PATH": f"{tmp_path / 'bin'}:{os.environ['PATH']}", "CARGO_SAYS": str(tmp_path / "says"),
               "CARGO_ENDS": str(ends), "CARGO_TARGET_DIR": str(tmp_path / "target")}
        command = [str(ROOT / "run"), *arguments]
        if screen:
            command = ["script", "-qec", " ".join(command), "/dev/null"]
        return subprocess.run(command, env=env, capture_output=True, text=True, stdin=subprocess.DEVNULL)

    return run


FRESH = "    Finished `release` profile [optimized] target(s) in 0.20s\n"
BUILDS = "   Compiling serde v1.0.0\n   Compiling rayon v1.0.0\n" + FRESH


def test_nothing_is_said_where_nothing_is_built(ran):
    done = ran(FRESH, "--version")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("loamline ")


def test_how_far_it_is_elsewhere_than_on_a_terminal(ran):
    done = ran(BUILDS, "--version")
    assert done.returncode == 0
    assert "Building: 1 of at most 4 crates begun" in done.stderr
    assert "Building ended after" in done.stderr
    assert "Finished" not in done.stderr
    # A build from nothing says how long it may take; this one is not.
    assert "From nothing" not in done.stderr


def test_a_first_build_says_how_long_it_may_take(ran):
    # There is no tool afterwards either: this cargo builds none.
    done = ran(BUILDS, "--version", built=False)
    assert "From nothing this takes about" in done.stderr


def test_a_terminal_has_one_line_that_is_written_over(ran):
    done = ran(BUILDS, "--version", screen=True)
    assert "2 of at most 4 crates begun" in done.stdout and "now rayon" in done.stdout
    assert "\n".join(done.stdout.split("\r\n")).count("\nBuilding:") == 0


def test_errors_pass_and_end_it(ran):
    told = "error[E0425]: cannot find value `x` in this scope\n --> src/main.rs:1:1\n"
    done = ran("   Compiling serde v1.0.0\n" + told, "--version", ends=101)
    assert done.returncode == 2
    assert told in done.stderr
    assert done.stdout == ""


def test_arguments_and_exit_codes_are_the_tools(ran, tmp_path):
    done = ran(FRESH, "check", str(tmp_path / "none"))
    assert done.returncode == 2 and "there is no job in" in done.stderr
