"""Makes packs for the checks of the papers, reads them with poppler, and reads a job with its catalogue from the TOML."""

import copy
import csv
import functools
import json
import pathlib
import re
import shutil
import subprocess
import tempfile
import tomllib

import tool

EXAMPLES = ["guesthouse-garden", "walled-courtyard", "quayside-hotel"]
PDFS = ["proposal.pdf", "quotation.pdf", "crew-pack.pdf", "as-built.pdf", "before-work.pdf", "plan-of-work.pdf", "electrical-notes.pdf", "handover-certificate.pdf", "client-guide.pdf", "service-sheet.pdf"]
FOLDER = pathlib.Path(tempfile.mkdtemp(prefix="papers-"))


def folder(name):
    return tool.ROOT / "examples" / name


@functools.cache
def packed(name, *flags):
    """The folder of a pack, made once for the same flags."""
    out = FOLDER / f"{len(list(FOLDER.iterdir()))}-{name}"
    done = tool.run("pack", folder(name), "--out", out, *flags)
    assert done.returncode in (0, 1), done.stderr
    return out


def remove():
    shutil.rmtree(FOLDER, ignore_errors=True)


def poppler(program, *arguments):
    """What a program of poppler-utils prints."""
    assert shutil.which(program), "install poppler-utils"
    return subprocess.run([program, *map(str, arguments)], capture_output=True, text=True, check=True).stdout


@functools.cache
def pages(pdf, width=None):
    """The text of a PDF, page by page, set as on the page; of so many points from its left edge."""
    part = [] if width is None else ["-x", 0, "-y", 0, "-W", width, "-H", 2000]
    return poppler("pdftotext", "-layout", *part, pdf, "-").split("\f")[:-1]


def text(pdf, width=None):
    return "\n".join(pages(pdf, width))


def flowing(pdf):
    """The text of a PDF with every gap one space."""
    return re.sub(r"\s+", " ", text(pdf))


def table(path):
    """A CSV of the pack as rows by heading."""
    with open(path, encoding="utf-8-sig", newline="") as f:
        return list(csv.DictReader(f, strict=True))


def job(name):
    """A job as written, with the shipped catalogue under "catalogue": nothing of the tool is used. A check may change what it gets."""
    return copy.deepcopy(written(name))


@functools.cache
def written(name):
    """What `job` copies, read once."""
    read = tomllib.loads((folder(name) / "job.toml").read_text())
    catalogue = {}
    for file in sorted((tool.ROOT / "catalogue").glob("*.toml")):
        for kind, entries in tomllib.loads(file.read_text()).items():
            catalogue.setdefault(kind, {}).update(entries)
    read["catalogue"] = catalogue
    return read


FACTORS = {"m": 1.0, "cm": 0.01, "mm": 0.001, "in": 0.0254, "ft": 0.3048, "W": 1.0, "min": 60.0, "h": 3600.0, "%": 0.01, "dB": 1.0, "dBA": 1.0, "V": 1.0}


def number(value):
    """A quantity as the files write it, in SI units: `0.4`, "2 h 30 min", "5 %"."""
    if not isinstance(value, str):
        return float(value)
    parts = value.split(" ")
    return sum(float(figure) * FACTORS[unit] for figure, unit in zip(parts[::2], parts[1::2], strict=True))


@functools.cache
def default(schema, kind, key):
    """What the published schema says a key is worth where a file leaves it out, in SI units."""
    file = json.loads((tool.ROOT / "docs" / "schema" / f"{schema}.schema.json").read_text())
    return file["$defs"][kind]["properties"][key]["default"]


def position(read, tag):
    """Where something with a tag stands."""
    for kind in ["racks", "loudspeakers", "joints", "stubs", "marks"]:
        if tag in read.get(kind, {}):
            return tuple(read[kind][tag]["position"])
    raise KeyError(tag)


def ways(read):
    """Every run: line, id, run as written, its corners from end to end."""
    for line, entry in read["lines"].items():
        for run_id, run in entry["runs"].items():
            corners = [position(read, run["from"]), *map(tuple, run.get("via", [])), position(read, run["to"])]
            yield line, run_id, run, corners
