"""Calls the built tool for the checks: the binary named by LOAMLINE_BIN."""

import json
import os
import pathlib
import subprocess

ROOT = pathlib.Path(__file__).resolve().parent.parent


def run(*arguments, text=None, cwd=None):
    """Runs the tool; gives back exit code, standard output and standard error."""
    binary = os.environ.get("LOAMLINE_BIN")
    if not binary:
        raise RuntimeError("LOAMLINE_BIN is not set; run ./test, or set it to the built binary")
    return subprocess.run([binary, *map(str, arguments)], input=text, capture_output=True, text=True, cwd=cwd)


def calc(name, document=None, **inputs):
    """The answer of a calculator: `calc("tap", volts=70.7, watts=30)`, or with a document for --input."""
    arguments = [f"{key}={listed(value)}" for key, value in inputs.items()]
    text = None
    if document is not None:
        arguments += ["--input", "-"]
        text = json.dumps(document)
    done = run("calc", name, *arguments, "--json", text=text)
    assert done.returncode == 0, f"calc {name} {' '.join(arguments)}: {done.stderr}"
    return json.loads(done.stdout)


def results(name, document=None, **inputs):
    """The `results` of a calculator."""
    return calc(name, document, **inputs)["results"]


def example(crate, name):
    """Path of an example program of a crate, built beside the tool and in its profile."""
    binary = pathlib.Path(os.environ["LOAMLINE_BIN"]).resolve()
    profile = ["--release"] if binary.parent.name == "release" else []
    target = binary.parent.parent
    subprocess.run(
        ["cargo", "build", "--quiet", *profile, "--workspace", "--example", name, "--target-dir", str(target)],
        check=True, cwd=ROOT,
    )
    return binary.parent / "examples" / name


def listed(value):
    if isinstance(value, str):
        return value
    try:
        return ",".join(repr(float(item)) for item in value)
    except TypeError:
        return repr(float(value)) if isinstance(value, float) else str(value)
