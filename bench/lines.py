"""Our line solver beside ngspice on the same nets and frequencies, one run, ratios printed.

`python3 bench/lines.py TARGET/release/lines`, with the Python the checks use (it draws the nets and netlists with them). ngspice's own analysis is timed (its `rusage` of repeated AC analyses, reading and
setting up left out), ours is the best of many solutions. Both solve the 31 third-octave bands.
"""

import json
import pathlib
import random
import re
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).parent.parent / "checks"))
from test_network_ngspice import NGSPICE, netlist, random_line  # noqa: E402

REPEATS = 200


def as_line(document):
    speaker = lambda s: {"resistance": s} if "resistance_ohm" in s else {"thiele_small": s}  # noqa: E731
    return {
        "name": "bench",
        "service": "low_impedance",
        "source_joint": "amp",
        "runs": [
            {"name": f"R{k}", "from": r["from"], "to": r["to"], "length_m": r["length_m"], "pair": r["cable"]}
            for k, r in enumerate(document["runs"])
        ],
        "loads": [
            {
                "name": f"L{k}",
                "at": load["at"],
                "connection": {"circuit": load["transformer"]} if "transformer" in load else "direct",
                "loudspeaker": speaker(load["loudspeaker"]),
                "nominal_ohm": 8,
            }
            for k, load in enumerate(document["loads"])
        ],
    }


def spice_seconds(document):
    text, _, _ = netlist(document)
    text += [".control", f"repeat {REPEATS}", "ac dec 10 19.9526231497 19952.6231497", "destroy all", "end"]
    text += ["rusage totalanalysistime", "rusage time", ".endc", ".end"]
    run = subprocess.run([NGSPICE, "-b", "/dev/stdin"], input="\n".join(text) + "\n", capture_output=True, text=True)
    found = re.search(r"Total analysis time \(seconds\) = ([\d.]+)", run.stdout + run.stderr)
    if not found:
        sys.exit("ngspice did not say how long its analysis took:\n" + run.stdout[-1500:] + run.stderr[-1500:])
    return float(found.group(1)) / REPEATS


def main():
    if NGSPICE is None:
        sys.exit("ngspice is not installed (Debian package ngspice)")
    binary = sys.argv[1]
    print("joints   ngspice, us   ours, us   ratio")
    for joints, chords in [(10, 0), (30, 0), (100, 0), (300, 0), (30, 3)]:
        document = random_line(random.Random(joints + chords), joints, chords)
        with tempfile.NamedTemporaryFile("w", suffix=".json") as file:
            json.dump(as_line(document), file)
            file.flush()
            run = subprocess.run([binary, "--line", file.name, "300"], capture_output=True, text=True, check=True)
        ours, theirs = json.loads(run.stdout)["seconds"], spice_seconds(document)
        shape = f"{joints}{' mesh' if chords else ''}"
        print(f"{shape:>7}   {theirs * 1e6:>11.1f}   {ours * 1e6:>8.2f}   {theirs / ours:>5.0f}")


if __name__ == "__main__":
    main()
