"""The invented whole jobs as the tool and the independent rebuild take them: each folder, answer and pack made once."""

import atexit
import copy
import functools
import json
import pathlib
import re
import shutil
import subprocess
import tempfile

import whole_jobs
from tool import run
from whole_job_houses import HOTEL, RESTAURANT
from whole_job_sites import PATIO, TERRACES
from whole_job_texts import GARDEN, RETROFIT

JOBS = {"garden": GARDEN, "retrofit": RETROFIT, "terraces": TERRACES, "patio": PATIO, "restaurant": RESTAURANT,
        "hotel": HOTEL}
FOLDER = pathlib.Path(tempfile.mkdtemp(prefix="whole-jobs-"))
atexit.register(shutil.rmtree, FOLDER, ignore_errors=True)


def written(folder, text):
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "job.toml").write_text(text)
    return folder


def told(command, folder, *more):
    done = run(command, folder, *more, "--json")
    assert done.returncode in (0, 1), done.stderr
    return json.loads(done.stdout)


@functools.cache
def whole(name):
    """A job rebuilt without the tool."""
    return whole_jobs.Whole(JOBS[name])


@functools.cache
def folder(name):
    return written(FOLDER / name, JOBS[name])


def answer(name, command):
    """What the tool says of a job, as data. A check may change what it gets."""
    return copy.deepcopy(asked(name, command))


@functools.cache
def asked(name, command):
    return told(command, folder(name))


@functools.cache
def packed(name):
    """The folder of a job's papers."""
    out = FOLDER / f"{name}-pack"
    done = run("pack", folder(name), "--out", out)
    assert done.returncode in (0, 1), done.stderr
    return out


@functools.cache
def text_of(pdf):
    """The text of a PDF, every gap one space."""
    done = subprocess.run(["pdftotext", str(pdf), "-"], capture_output=True, text=True, check=True)
    return re.sub(r"\s+", " ", done.stdout)


@functools.cache
def pages_of(pdf):
    """The text of a PDF set as on the page."""
    return subprocess.run(["pdftotext", "-layout", str(pdf), "-"], capture_output=True, text=True, check=True).stdout
