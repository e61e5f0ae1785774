"""The invented estates of the benchmarks, for the checks: `target/release/estates`, built with everything else, writes them."""

import os
import pathlib
import subprocess


def estate(folder, loudspeakers, seed=1):
    """A job folder with an estate of so many loudspeakers in it."""
    program = pathlib.Path(os.environ["LOAMLINE_BIN"]).with_name("estates")
    subprocess.run([program, "write", str(loudspeakers), folder, "--seed", str(seed)], check=True, timeout=60)
    return folder
