"""What the invented whole jobs take, counted again from job.toml and catalogue by `whole_quantities.py`: cable, joints,
connectors that take every wire put in them, metres laid, holes; what the as-built sheet says was built; distances that can be
taped; money with the decimals its currency has (ISO 4217).
"""

import json
import math
import re
from collections import Counter

import pytest

import whole_jobs
import whole_quantities as count
from tool import run
from whole_job_houses import HOTEL
from whole_job_made import JOBS, packed, pages_of, text_of, told, whole, written
from whole_job_sites import TERRACES

every_job = pytest.mark.parametrize("name", JOBS)


def billed(out):
    return {i["code"]: float(i["quantity"]) for i in json.loads((out / "pack.json").read_text())["quotation"]["items"]}


def of(bill, kind):
    return {code.split("/")[1]: n for code, n in bill.items() if code.startswith(f"{kind}/")}


@every_job
def test_cable_is_bought_by_the_length_of_its_runs(name):
    bought, cut = of(billed(packed(name)), "cable"), whole(name).cut_metres()
    assert bought.keys() == cut.keys()
    for cable, length in cut.items():
        assert bought[cable] == pytest.approx(length, abs=0.06)


@every_job
def test_pieces_and_work_are_counted(name):
    job, bill = whole(name).job, billed(packed(name))
    assert of(bill, "loudspeaker") == Counter(one["model"] for one in job["loudspeakers"].values())
    assert of(bill, "amplifier") == Counter(one["model"] for one in job["amplifiers"].values())
    models = whole(name).catalogue["loudspeakers"]
    mounts = Counter(one.get("mount", models[one["model"]]["mount"]) for one in job["loudspeakers"].values())
    ends = count.joints(whole(name))
    soil, gravel = count.holes(whole(name))
    task = of(bill, "task")
    assert task["test-line"] == len(job["lines"])
    assert task["commission-channel"] == len(job["channels"])
    assert task.get("stake", 0) == mounts["stake"]
    assert task["joint"] == len(ends)
    assert task["strain-tie"] == sum(map(len, ends.values()))
    assert task.get("hole", 0) == pytest.approx(soil, abs=6e-4)
    assert task.get("gravel", 0) == pytest.approx(gravel, abs=6e-4)
    # Every wall is gone through by a passage, every buried service in a sleeve.
    assert "wall-hole" not in task and "service-crossing" not in task


@every_job
def test_connectors_take_the_wires_put_in_them(name):
    rebuilt, wanted = whole(name), Counter()
    for tag, ends in count.joints(rebuilt).items():
        for sizes in count.wires(rebuilt, tag, ends):
            wanted[count.connector(rebuilt, sizes)] += 1
    assert of(billed(packed(name)), "connector") == wanted


@every_job
def test_metres_laid(name):
    """Walked in steps of 2 cm; the tool looks every 0.1 m for sleeves and faces, once for each end of such a stretch."""
    laid, walked = of(billed(packed(name)), "laying"), count.laid(whole(name))
    assert laid.keys() == walked.keys()
    for way, length in walked.items():
        assert laid[way] == pytest.approx(length, abs=0.25), (way, laid, walked)


def test_a_shared_cable_that_was_there_already_is_one_cable(tmp_path):
    """Of the terraces, the cable of two pairs down to J1 lies there: joints as before, nothing of it bought or laid."""
    text = TERRACES
    for way in re.findall(r'^[BS]1 = \{ from = "R1".* (?=\}$)', TERRACES, re.MULTILINE):
        text = text.replace(way, f"{way.rstrip()}, existing = true ")
    rebuilt = whole_jobs.Whole(text)
    assert run("pack", written(tmp_path / "job", text), "--out", tmp_path / "pack", "--only", "data").returncode in (0, 1)
    bill, ends = billed(tmp_path / "pack"), count.joints(rebuilt)
    assert of(bill, "task")["joint"] == len(ends) and of(bill, "task")["strain-tie"] == sum(map(len, ends.values()))
    assert of(bill, "cable") == pytest.approx(rebuilt.cut_metres(), abs=0.06)
    assert of(bill, "laying") == pytest.approx(count.laid(rebuilt), abs=0.25)
    [joint] = [j for j in json.loads((tmp_path / "pack" / "pack.json").read_text())["joints"] if j["at"] == "J1"]
    assert joint["arriving"] == ["B1+S1"]


def as_built(name):
    """The table of lines of the as-built sheet: line, channel, cable and metres of every row; a line's further cables have
    rows without its name."""
    text = pages_of(packed(name) / "as-built.pdf").split("Readings of the finished lines")[0]
    described = "|".join(re.escape(c["description"]) for c in whole(name).catalogue["cables"].values())
    rows, line, channel = [], None, None
    for row in re.finditer(rf"^ *(?:(\S+) +(C\d) +)?({described}) +([\d.]+) m\b", text, re.MULTILINE):
        line, channel = (row[1], row[2]) if row[1] else (line, channel)
        rows.append((line, channel, row[3], float(row[4])))
    return rows


@every_job
def test_the_as_built_sheet_has_the_metres_that_were_built(name):
    """What lies in the ground: existing cable and new, without the waste that was cut off, each type for itself; a cable that
    several lines share counts with the first of them and stands as its tag with the others."""
    rebuilt, rows = whole(name), as_built(name)
    assert list(dict.fromkeys(row[0] for row in rows)) == list(rebuilt.lines)
    wanted = {}
    for cable, length, first, _, _ in rebuilt.ledger():
        key = (first, rebuilt.catalogue["cables"][cable]["description"])
        wanted[key] = wanted.get(key, 0.0) + length
    for line, channel, cable, metres in rows:
        assert channel == rebuilt.job["lines"][line]["channel"]
        assert metres == pytest.approx(wanted.pop((line, cable), 0.0), abs=0.06), (line, cable)
    assert not wanted, "every cable of every line stands on the sheet"


def test_cable_over_a_bank_goes_up_and_down(tmp_path):
    """The terraces at one height with the bank 1.1 m above both: a run straight across it takes 2.2 m more, and is cut so."""
    text = TERRACES.replace('elevation = "2.35 m"', 'elevation = "0 m"').replace('B4 = { from = "J1"', 'B4 = { from = "R1"')
    rebuilt = whole_jobs.Whole(text)
    run_ = rebuilt.job["lines"]["B"]["runs"]["B4"]
    assert rebuilt.climb(rebuilt.way(run_)) == pytest.approx(2.2)
    runs = told("expect", written(tmp_path, text))["lines"]["B"]["runs"]
    [length] = [r["electrical_m"] for r in runs if r["id"] == "B4"]
    assert length == pytest.approx(rebuilt.conductor_metres(run_), abs=0.001)


def test_a_joint_of_thick_and_thin_wire_gets_a_connector_that_holds_both(tmp_path):
    """Of the shipped connectors none takes 2.5 mm2 and 16 AWG (1.31 mm2) together: said, or two in a row; never one whose
    stated range leaves the thin wire loose."""
    old = 'cable = "burial-2x14awg", existing = true'
    assert old in HOTEL
    text = HOTEL.replace(old, 'cable = "burial-2x16awg", existing = true')
    rebuilt = whole_jobs.Whole(text)
    assert run("pack", written(tmp_path / "job", text), "--out", tmp_path / "pack", "--only", "data").returncode in (0, 1)
    joints = json.loads((tmp_path / "pack" / "pack.json").read_text())["joints"]
    [joint] = [j for j in joints if j["at"] == "L2"]
    size = {tag: count.area_mm2(rebuilt.catalogue["cables"][rebuilt.lines["A"].cable[tag]]["conductor"]) for tag in ("A2", "A3")}
    for conductor in joint["conductors"]:
        for name in conductor["connectors"]:
            smallest = count.area_mm2(rebuilt.catalogue["connectors"][name]["smallest"])
            for wire in conductor["wires"]:
                assert size[wire["cable"]] >= smallest - 1e-9, (name, smallest, wire, size)


def test_a_pair_in_use_for_something_else_has_no_reading_to_take():
    """"Leave it alone" and a loop to read, which asks for its far end to be joined, cannot stand in one row."""
    sheet = pages_of(packed("hotel") / "crew-pack.pdf").split("Existing cable end T2")[-1].split("Enter the loop read on any pair")[0]
    assert "in use for" in sheet and "leave it alone" in sheet
    [row] = re.findall(r"^ *1 +red positive.*$", sheet, re.MULTILINE)
    assert not re.search(r"\d\.\d+", row), row


def test_no_tape_goes_through_a_house():
    """Places on the south face of the restaurant's house, taped from its corners: seen from there along the face or past it."""
    rebuilt, crew = whole("restaurant"), pages_of(packed("restaurant") / "crew-pack.pdf")
    [outline] = [rebuilt.outline(b) for b in rebuilt.job["buildings"].values()]
    taped = {}
    for sheet in re.split(r"\n *(?=[LW]\d {2,})", crew):
        tag = re.match(r" *([LW]\d) ", sheet)
        corners = re.findall(r"from house/(\d) +([\d.]+) m", sheet)
        if tag and len(corners) == 2:
            taped[tag.group(1)] = corners
    assert taped.keys() == rebuilt.job["loudspeakers"].keys()
    through = []
    for tag, corners in taped.items():
        at = rebuilt.at(tag)
        for corner, metres in corners:
            fixed = outline[int(corner) - 1]
            assert math.dist(at, fixed) == pytest.approx(float(metres), abs=0.0006)
            on_the_way = ([at[k] + t / 100 * (fixed[k] - at[k]) for k in (0, 1)] for t in range(1, 100))
            through += [(tag, corner, metres)] if any(whole_jobs.inside(outline, p) for p in on_the_way) else []
    assert not through


def test_yen_have_no_hundredths():
    """ISO 4217 gives the yen no minor unit (from memory): an invoice in hundredths of a yen cannot be paid."""
    assert whole("hotel").job["job"]["currency"] == "JPY"
    amounts = re.findall(r"JPY ([\d ]+(?:[.,]\d+)?)", text_of(packed("hotel") / "quotation.pdf"))
    assert len(amounts) >= 3, "net, tax and total"
    assert not [amount for amount in amounts if "." in amount or "," in amount], amounts
