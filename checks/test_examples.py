"""The harbour front is what its generator writes, so that neither is changed without the other."""

import pathlib
import subprocess
import sys

HARBOUR = pathlib.Path(__file__).resolve().parent.parent / "examples" / "harbour-steps"


def test_the_harbour_front_is_what_its_generator_writes():
    run = subprocess.run([sys.executable, HARBOUR / "generate.py"], capture_output=True, text=True, check=True)
    assert run.stdout == (HARBOUR / "job.toml").read_text(), "run examples/harbour-steps/generate.py again"
