"""Calls the built tool for the checks: the binary named by LOAMLINE_BIN."""

import io
import json
import os
import pathlib
import subprocess
import zipfile

ROOT = pathlib.Path(__file__).resolve().parent.parent


def run(*arguments, text=None, cwd=None):
    """Runs the tool; gives back exit code, standard output and standard error."""
    binary = os.environ.get("LOAMLINE_BIN")
    if not binary:
        raise RuntimeError("LOAMLINE_BIN is not set; run ./test, or set it to the built binary")
    return subprocess.run([binary, *map(str, arguments)], input=text, capture_output=True, text=True, cwd=cwd)


def served(data, *more, before=None):
    """Starts the server; gives back its process and what it says once it listens. `before` is run ahead of the program."""
    command = [os.environ.get("LOAMLINE_BIN", ""), "serve", "--json", "--port", "0", "--data", str(data), *more]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, preexec_fn=before)
    text = ""
    while True:
        line = process.stdout.readline()
        assert line, f"the server ended: {text}"
        text += line
        try:
            return process, json.loads(text)
        except json.JSONDecodeError:
            continue


def zipped(files):
    """Files by name as one ZIP, as the server takes a folder in."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return packed.getvalue()


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
