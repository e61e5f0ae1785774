"""The pack as its reader sees it: text taken out of the PDFs with poppler's pdftotext.

Source of the method: poppler-utils (Debian), an implementation of PDF of its own. What must be on the papers is
common practice, no source, except the sums, which are plain arithmetic.
"""

import csv
import json
import os
import re
import shutil
import subprocess
from decimal import Decimal
from pathlib import Path

import pytest

EXAMPLES = Path(__file__).resolve().parent.parent / "examples"
BIN = os.environ["LOAMLINE_BIN"]
SAFETY = ["hearing", "shock", "unplugged", "buried services", "pools", "residual-current", "lift", "local code"]


@pytest.fixture(scope="module", params=["juniper-court", "tram-yard-cafe", "harbour-steps"])
def made(request, tmp_path_factory):
    out = tmp_path_factory.mktemp(request.param)
    subprocess.run([BIN, "pack", str(EXAMPLES / request.param), "--out", str(out)], check=True, capture_output=True)
    return out


def text_of(path):
    assert shutil.which("pdftotext"), "install poppler-utils"
    return subprocess.run(["pdftotext", "-layout", str(path), "-"], capture_output=True, text=True, check=True).stdout


def test_every_tag_of_a_drawing_is_in_a_schedule_and_the_other_way_round(made):
    data = json.loads((made / "pack.json").read_text())
    drawn = {tag for drawing in data["drawings"] for tag in drawing["tags"]}
    words = set(re.findall(r"[\w./-]+", text_of(made / "crew-pack.pdf")))
    assert drawn, "there is something on the drawings"
    assert drawn <= words, f"on a drawing only: {sorted(drawn - words)}"
    with open(made / "loudspeaker-schedule.csv", encoding="utf-8-sig") as f:
        scheduled = {row["Tag"] for row in csv.DictReader(f)}
    with open(made / "cable-schedule.csv", encoding="utf-8-sig") as f:
        scheduled |= {row["Run"] for row in csv.DictReader(f)}
    assert scheduled <= drawn, f"in a schedule only: {sorted(scheduled - drawn)}"


def test_the_bill_adds_up_to_the_cent(made):
    with open(made / "bill-of-quantities.csv", encoding="utf-8-sig") as f:
        rows = list(csv.DictReader(f))
    items = [r for r in rows if r["Code"]]
    sums = {r["Description"]: Decimal(r["Amount"]) for r in rows if not r["Code"]}
    net = sum(Decimal(r["Amount"]) for r in items) + sums["Set aside for things not listed"]
    assert net == sums["Net"]
    assert sums["Net"] + sums["Tax"] == sums["Total"]
    printed = re.sub(r"\D", "", text_of(made / "quotation.pdf"))
    assert re.sub(r"\D", "", str(sums["Total"])) in printed


def test_safety_is_always_in_the_papers(made):
    for name in ["crew-pack.pdf", "as-built.pdf"]:
        text = re.sub(r"\s+", " ", text_of(made / name)).lower()
        missing = [word for word in SAFETY if word not in text]
        assert not missing, f"{name}: {missing}"
    for name in ["proposal.pdf", "quotation.pdf"]:
        assert "before any digging" in re.sub(r"\s+", " ", text_of(made / name))


def test_papers_are_tagged_and_numbered(made):
    for name in ["crew-pack.pdf", "proposal.pdf", "quotation.pdf", "as-built.pdf"]:
        info = subprocess.run(["pdfinfo", str(made / name)], capture_output=True, text=True, check=True).stdout
        assert re.search(r"Tagged:\s+yes", info), name
        pages = int(re.search(r"Pages:\s+(\d+)", info).group(1))
        assert f"Page {pages} of {pages}" in text_of(made / name)
        if name == "proposal.pdf":
            assert 2 <= pages <= 4
