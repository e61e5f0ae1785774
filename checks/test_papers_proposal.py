"""The proposal's pages for a client to keep: what is heard as set, in the evening and by night (levels and limits by `predict` and
`neighbours`, less what the brief turns down), what happens on which day (the days of the plan of work), pictures of options,
photos of the visits with their places.

Source of the method: poppler-utils for text and pictures; Pillow for photos; the job's own file says what is turned down.
"""

import atexit
import collections
import json
import re
import shutil

import papers
import pytest
import tool
from PIL import Image

atexit.register(papers.remove)
STEPPED = ["guesthouse-garden", "quayside-hotel"]


def proposal(out):
    return papers.flowing(out / "proposal.pdf")


@pytest.mark.parametrize("name", STEPPED)
def test_what_is_heard_when(name):
    read = papers.job(name)
    brief = read["brief"]
    down = [0.0, papers.number(brief["evening_turn_down"]), papers.number(brief["night_turn_down"])]
    text = proposal(papers.packed(name, "--only", "proposal"))
    section = text[text.index("How loud, and when"):]
    # A head of two lines is read across the others.
    assert f"In the evening, {down[1]:.0f} dB lower" in section and re.search(f"By night, .{{0,20}} {down[2]:.0f} dB .{{0,60}}lower", section)
    levels = json.loads(tool.run("predict", papers.folder(name), "--json").stdout)["report"]["levels"]["areas"]
    for area in read["areas"]:
        mean = levels[area]["statistics"]["mean_dba"]
        wanted = " ".join(f"{mean - d:.0f} dBA" for d in down)
        assert wanted in section, (area, wanted)


@pytest.mark.parametrize("name", papers.EXAMPLES)
def test_the_plan_paints_the_sound_as_the_picture_does(name):
    # One key for both: each band of 3 dB is told under the plan and under the picture.
    bands = re.findall(r"\b(\d+) to (\d+) dBA\b", proposal(papers.packed(name, "--only", "proposal")))
    told = collections.Counter((int(low), int(high)) for low, high in bands if int(high) - int(low) == 3)
    assert len(told) >= 3 and all(often >= 2 for often in told.values()), told


@pytest.mark.parametrize("name", papers.EXAMPLES)
def test_days_are_those_of_the_plan_of_work(name):
    out = papers.packed(name, "--only", "proposal,work-plan")
    days = re.findall(r"\bDay (\d+)\b", papers.flowing(out / "plan-of-work.pdf"))
    section = proposal(out).partition("What happens on which day")[2]
    # A day on which nobody comes is in the plan of work alone.
    told = re.findall(r"\bDay (\d+)\b", section.partition("What it costs")[0])
    assert told and set(told) <= set(days) and told == sorted(told, key=int)
    assert max(map(int, told)) == max(map(int, days))


def test_options_have_a_picture_each(tmp_path):
    name = "walled-courtyard"
    figures = {"price": 4000, "areas": {}, "worst_spread_db": 2.0, "neighbour_margin_db": 3.0, "loudspeakers": 4, "subwoofers": 0, "watts": 40, "cable_m": 30, "digging_m": 0}
    options = [
        {"kinds": ["least-cost"], "figures": figures, "bill": [], "edit": []},
        {"kinds": ["most-even"], "figures": figures, "bill": [], "edit": [{"op": "replace", "path": "/loudspeakers/W1/position", "value": [0.15, 4.0]}]},
    ]
    sizes = {}
    for key in ("with", "without"):
        file = tmp_path / f"{key}.json"
        shown = options if key == "with" else [{k: v for k, v in o.items() if k != "edit"} for o in options]
        file.write_text(json.dumps({"proposal": {"options": shown}}))
        done = tool.run("pack", papers.folder(name), "--out", tmp_path / key, "--only", "proposal", "--options", file)
        assert done.returncode in (0, 1) and "no picture" not in done.stderr, done.stderr
        sizes[key] = (tmp_path / key / "proposal.pdf").stat().st_size
    # Two pictures of houses, ground and bands are some kilobytes each.
    assert sizes["with"] > sizes["without"] + 4000, sizes
    options[1]["edit"] = [{"op": "replace", "path": "/loudspeakers/W9/position", "value": [1, 1]}]
    (tmp_path / "with.json").write_text(json.dumps({"proposal": {"options": options}}))
    done = tool.run("pack", papers.folder(name), "--out", tmp_path / "gone", "--only", "proposal", "--options", tmp_path / "with.json")
    assert "no picture, the job has changed since it was proposed" in done.stderr


def test_photos_stand_with_their_places(tmp_path):
    folder = tmp_path / "yard"
    shutil.copytree(papers.folder("walled-courtyard"), folder)
    (folder / "attachments").mkdir(exist_ok=True)
    Image.new("RGB", (640, 480), (90, 120, 80)).save(folder / "attachments" / "west.jpg")
    Image.new("RGB", (300, 400), (150, 120, 90)).save(folder / "attachments" / "gate.png")
    (folder / "attachments" / "torn.jpg").write_bytes(b"\xff\xd8\xff\xe0 not a picture")
    with open(folder / "job.toml", "a") as file:
        file.write('\n[visits.first]\ndate = "2026-03-02"\nkind = "maintenance"\n')
        for key, photo, more in (("p1", "west.jpg", 'at = "W1"\nnotes = "The west wall above the bench"'), ("p2", "gate.png", 'notes = "The gate to the lane"'), ("p3", "torn.jpg", ""), ("p4", "gone.jpg", "")):
            file.write(f'[visits.first.photos.{key}]\nfile = "{photo}"\n{more}\n')
    done = tool.run("pack", folder, "--out", tmp_path / "out", "--only", "proposal")
    assert done.returncode in (0, 1), done.stderr
    assert "Left out: the photo torn.jpg cannot be printed" in done.stderr and "gone.jpg" not in done.stderr
    pdf = tmp_path / "out" / "proposal.pdf"
    text = papers.flowing(pdf)
    assert "Your garden as we found it" in text and "W1: The west wall above the bench" in text and "The gate to the lane" in text
    rows = papers.poppler("pdfimages", "-list", pdf).splitlines()[2:]
    sizes = {tuple(map(int, row.split()[3:5])) for row in rows if row.split()[2] == "image"}
    assert {(640, 480), (300, 400)} <= sizes, rows
