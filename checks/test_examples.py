"""The harbour front is what its generator writes, so that neither is changed without the other."""

import pathlib
import subprocess
import sys

QUAYSIDE = pathlib.Path(__file__).resolve().parent.parent / "examples" / "quayside-hotel"


def test_the_harbour_front_is_what_its_generator_writes():
    run = subprocess.run([sys.executable, QUAYSIDE / "generate.py"], capture_output=True, text=True, check=True)
    assert run.stdout == (QUAYSIDE / "job.toml").read_text(), "run examples/quayside-hotel/generate.py again"
