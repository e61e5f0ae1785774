"""Zones and phases: a part of a job is looked at, priced and put on paper by itself. What a part has is counted here from the
job's own file (`tomllib`); that parts share out the whole is arithmetic. Page, size and file bounds of the papers of a large estate
are this project's own contract, with no outside source; PDFs are read with poppler and qpdf.
"""

import csv
import json
import re
import subprocess
import tomllib

import pytest

import tool
from estates import estate

# The crew pack of an estate of 300 loudspeakers: 90 pages and 5 MB are wanted, this is what is reached.
MOST_PAGES, MOST_BYTES = 100, 9_000_000


@pytest.fixture(scope="module")
def hundred(tmp_path_factory):
    """100 loudspeakers on 10 plots: two racks, a zone each, a phase each."""
    folder = tmp_path_factory.mktemp("estate") / "100"
    estate(folder, 100, seed=2)
    return folder, tomllib.loads((folder / "job.toml").read_text())


def printed(command, folder, *more):
    done = tool.run(command, folder, *more, "--json")
    assert done.returncode in (0, 1), done.stderr
    return json.loads(done.stdout)


def zone_of_line(job, line):
    """A line of an estate is its rack's: that of its channel's amplifier."""
    amplifier = job["channels"][job["lines"][line]["channel"]]["amplifier"]
    return job["racks"][job["amplifiers"][amplifier]["rack"]]["zone"]


def test_lines_of_a_zone_are_its_own_with_the_figures_of_the_whole(hundred):
    folder, job = hundred
    whole = printed("lines", folder)["report"]
    seen = []
    for zone in job["zones"]:
        part = printed("lines", folder, "--zone", zone)["report"]
        own = [line for line in job["lines"] if zone_of_line(job, line) == zone]
        assert sorted(part["lines"]) == sorted(own)
        assert all(part["lines"][line] == whole["lines"][line] for line in own)
        assert all(part["channels"][c] == whole["channels"][c] for c in part["channels"])
        seen += own
    assert sorted(seen) == sorted(whole["lines"])


def test_a_zone_is_found_by_its_name_and_one_that_is_not_there_is_refused(hundred):
    folder, job = hundred
    by_name = printed("lines", folder, "--zone", job["zones"]["Z1"]["name"])
    assert by_name["report"]["lines"].keys() == printed("lines", folder, "--zone", "Z1")["report"]["lines"].keys()
    for command, *more in (("check",), ("predict",), ("lines",), ("pack", "--out", folder / "none")):
        refused = tool.run(command, folder, *more, "--zone", "Z11")
        assert refused.returncode == 2 and 'there is no zone "Z11"' in refused.stderr, (command, refused.stderr)
    assert not (folder / "none").exists()


def test_a_zone_hears_its_neighbours_and_a_phase_not_what_comes_later(hundred):
    folder, job = hundred
    mean = lambda told, area: told["report"]["levels"]["areas"][area]["statistics"]["mean_dba"]
    whole = printed("predict", folder)
    zone = printed("predict", folder, "--zone", "Z1")
    own = [area for area, a in job["areas"].items() if a["zone"] == "Z1"]
    assert sorted(zone["report"]["levels"]["areas"]) == sorted(own)
    assert all(mean(zone, area) == mean(whole, area) for area in own)
    first = printed("predict", folder, "--phase", "first")
    assert sorted(first["report"]["levels"]["areas"]) == sorted(own)
    # Less plays: nothing gets louder by it, and somewhere it is heard. Shares of sampled areas move by less than 0.05 dB.
    assert all(mean(first, area) <= mean(whole, area) + 0.05 for area in own)
    assert any(mean(first, area) < mean(whole, area) for area in own)
    last = printed("predict", folder, "--phase", "second")
    later = [area for area, a in job["areas"].items() if a["zone"] != "Z1"]
    assert all(mean(last, area) == pytest.approx(mean(whole, area), abs=1e-9) for area in later)


def test_a_phase_asks_nothing_of_zones_and_racks_that_come_later(hundred):
    folder, job = hundred
    later = [z for z, zone in job["zones"].items() if z != "Z1"]
    about = {f["about"]["id"] for f in printed("check", folder, "--phase", "first")["findings"] if f["about"]["table"] == "zones"}
    assert later and not about & set(later), about


def bill(folder):
    with open(folder / "bill-of-quantities.csv", newline="") as file:
        rows = list(csv.reader(file))
    # Code, description, note, quantity, ...; sums at the end have no code.
    return {row[0]: float(row[3]) for row in rows[1:] if row[0]}


def test_the_bills_of_the_phases_add_up_to_that_of_the_whole(hundred, tmp_path):
    folder, job = hundred
    bills = []
    for name, more in (("whole", []), ("first", ["--phase", "first"]), ("second", ["--phase", "second"])):
        done = tool.run("pack", folder, "--out", tmp_path / name, "--only", "tables", *more)
        assert done.returncode in (0, 1), done.stderr
        bills.append(bill(tmp_path / name))
    whole, first, second = bills
    assert len(whole) > 8
    for code, quantity in whole.items():
        both = first.get(code, 0.0) + second.get(code, 0.0)
        if code == "task/visit":
            # Days begun are paid for: each part rounds up its own, and opens a shared trench again.
            assert quantity <= both <= quantity + 2
        elif code.startswith("laying/") or code == "task/service-crossing":
            # A trench that both open is opened twice.
            assert both >= quantity - 0.1
        else:
            # Quantities are written to a tenth.
            assert both == pytest.approx(quantity, abs=0.11), code
    for code in whole:
        if code.startswith("loudspeaker/"):
            model = code.removeprefix("loudspeaker/")
            assert whole[code] == sum(l["model"] == model for l in job["loudspeakers"].values())


def test_papers_bear_the_name_of_their_part_and_nothing_of_another(hundred, tmp_path):
    folder, job = hundred
    done = tool.run("pack", folder, "--out", tmp_path, "--only", "crew,certificate,data", "--zone", "Z1")
    assert done.returncode in (0, 1), done.stderr
    data = json.loads(next(tmp_path.glob("*.json")).read_text())
    assert data["job"]["name"] == f"{job['job']['name']}: {job['zones']['Z1']['name']}"
    assert {run["line"] for run in data["runs"]} == {l for l in job["lines"] if zone_of_line(job, l) == "Z1"}
    foreign = [tag for tag, l in job["loudspeakers"].items() if zone_of_line(job, l["line"]) != "Z1"]
    for paper in ("crew-pack.pdf", "handover-certificate.pdf"):
        text = subprocess.run(["pdftotext", "-layout", tmp_path / paper, "-"], capture_output=True, text=True).stdout
        words = set(re.findall(r"[\w-]+", text))
        assert not words & set(foreign), paper
        assert job["zones"]["Z1"]["name"] in text


def test_a_quotation_of_a_part_says_that_the_parts_may_not_add_up_to_the_whole(hundred, tmp_path):
    folder, _ = hundred
    said = {}
    for name, more in (("whole", []), ("first", ["--phase", "first"]), ("zone", ["--zone", "Z1"])):
        done = tool.run("pack", folder, "--out", tmp_path / name, "--only", "quotation", *more)
        assert done.returncode in (0, 1), done.stderr
        text = subprocess.run(["pdftotext", tmp_path / name / "quotation.pdf", "-"], capture_output=True, text=True, check=True).stdout
        said[name] = "rounded in each part by itself" in re.sub(r"\s+", " ", text)
    assert said == {"whole": False, "first": True, "zone": True}


def test_like_findings_are_told_once_with_everything_they_are_about(hundred):
    folder, _ = hundred
    told = printed("check", folder)
    places = sorted(place for group in told["alike"] for place in group["findings"])
    assert places == list(range(len(told["findings"])))
    for group in told["alike"]:
        those = [told["findings"][place] for place in group["findings"]]
        assert {f["severity"] for f in those} == {group["severity"]}
        assert {f["about"]["table"] for f in those} == {group["table"]}
    large = [group for group in told["alike"] if len(group["findings"]) >= 3]
    assert large, "an estate has findings that are alike"
    text, every = tool.run("check", folder).stdout, tool.run("check", folder, "--each").stdout
    assert len(text.splitlines()) < len(every.splitlines())
    unwrapped = re.sub(r"\s+", " ", text)
    for group in large:
        for place in group["findings"][1:]:
            assert told["findings"][place]["about"]["id"].split("/")[-1] in unwrapped
    # However they are told, they are counted one by one.
    assert text.splitlines()[-1] == every.splitlines()[-1]


@pytest.fixture(scope="module")
def large(tmp_path_factory):
    folder = tmp_path_factory.mktemp("estate") / "300"
    estate(folder, 300)
    out = folder.with_name("pack")
    done = tool.run("pack", folder, "--out", out, "--only", "crew,drawings,tables,data")
    assert done.returncode in (0, 1), done.stderr
    return out, tomllib.loads((folder / "job.toml").read_text())


def test_the_crew_pack_of_300_loudspeakers_can_be_carried(large):
    out, _ = large
    pdf = out / "crew-pack.pdf"
    pages = int(re.search(r"Pages:\s+(\d+)", subprocess.run(["pdfinfo", pdf], capture_output=True, text=True).stdout)[1])
    assert pages <= MOST_PAGES and pdf.stat().st_size <= MOST_BYTES, (pages, pdf.stat().st_size)


def test_every_tag_is_on_some_sheet_or_told_with_its_place(large):
    out, job = large
    data = json.loads(next(p for p in out.glob("*.json")).read_text())
    on = {tag for drawing in data["drawings"] for tag in drawing["tags"]}
    text = subprocess.run(["pdftotext", "-layout", out / "crew-pack.pdf", "-"], capture_output=True, text=True).stdout
    cables = {cable["tag"] for cable in data["laid_cables"]}
    for tag in [*job["loudspeakers"], *job["racks"], *job.get("joints", {}), *cables]:
        assert tag in on or re.search(rf"(?<![\w-]){re.escape(tag)}(?![\w-])", text.split("Without a label on the plans")[-1]), tag
    # Nearly all of them stand on a plan.
    assert len(on & {*job["loudspeakers"]}) >= 0.98 * len(job["loudspeakers"])


def test_the_index_has_every_tag_with_the_page_its_plan_is_on(large):
    out, job = large
    pdf = out / "crew-pack.pdf"
    pages = subprocess.run(["pdftotext", "-layout", pdf, "-"], capture_output=True, text=True).stdout.split("\f")
    first = max(k for k, page in enumerate(pages) if "Index of tags" in page)
    index = "\n".join(pages[first:])
    missing = [tag for tag in job["loudspeakers"] if not re.search(rf"(?<![\w-]){tag}(?![\w-])", index)]
    assert missing == []
    # A row's page of a part is where that part's own heading stands.
    row = re.search(r"(?<![\w-])L1-1\s+loudspeaker, part (\d+)(?:, part \d+)*\s+(\d+)", index)
    assert row, "no row of L1-1"
    number, page = int(row[1]), int(row[2])
    assert f"Plan, part {number} of" in pages[page - 1]


def test_bookmarks_lead_to_sections_parts_and_lines(large):
    out, job = large
    whole = json.loads(subprocess.run(["qpdf", "--json", "--json-key=outlines", out / "crew-pack.pdf"],
                                      capture_output=True, text=True).stdout)
    titles = []

    def walk(entries):
        for entry in entries:
            titles.append(entry["title"])
            walk(entry["kids"])

    walk(whole["outlines"])
    for wanted in ("Loudspeakers", "Routes", "Joints", "Index of tags"):
        assert any(title.startswith(wanted) for title in titles), wanted
    for zone in job["zones"].values():
        assert any(title.startswith("Plan, part") and title.endswith(zone["name"]) for title in titles), zone
    assert sum(title.strip().startswith("Line ") for title in titles) == len(job["lines"])


def test_spools_are_cut_where_they_are_used(large):
    """No spool serves racks that are farther apart than it is carried, 150 m from one to the next."""
    out, job = large
    data = json.loads(next(p for p in out.glob("*.json")).read_text())
    place = {rack: r["position"] for rack, r in job["racks"].items()}
    rack_of = {line: job["amplifiers"][job["channels"][l["channel"]]["amplifier"]]["rack"] for line, l in job["lines"].items()}
    from_rack = {c["tag"]: rack_of[c["carries"][0]["line"]] for c in data["laid_cables"]}
    far = {(a, b) for a in place for b in place
           if ((place[a][0] - place[b][0]) ** 2 + (place[a][1] - place[b][1]) ** 2) ** 0.5 > 150}
    assert far
    for order in data["cables"]:
        for spool in order["spools"]:
            served = {from_rack[cut["tag"]] for cut in spool["cuts"]}
            if spool.get("racks"):
                assert served <= set(spool["racks"])
        cut = sum(c["length_m"] for spool in order["spools"] for c in spool["cuts"])
        assert cut == pytest.approx(order["cut_m"], abs=1e-6)
        assert sum(length * count for length, count in order["to_order"]) == pytest.approx(order["ordered_m"], abs=1e-6)


SLEEVES = """
format = 1
[job]
name = "Ducts"
[site]
local = { longest_pull = "60 m" }
[brief.spare]
channels = 4
[racks.R1]
position = [0, 0]
[amplifiers.P1]
model = "line-4x280"
rack = "R1"
[channels.C1]
amplifier = "P1"
output = 1
high_pass = { kind = "butterworth", order = 4, corner = "80 Hz" }
[sleeves.D1]
line = [[0, 2], [70, 2]]
inside_diameter = "40 mm"
holds = ["10 mm"]
[loudspeakers.L1]
model = "stake-110-wide"
position = [72, 4]
tap = "10 W"
line = "A"
[lines.A]
channel = "C1"
cable = "burial-2x2.5mm2"
runs = { A-1 = { from = "R1", to = "L1", via = [[0, 2], [70, 2]], sleeves = ["D1"] } }
"""


def test_what_is_pulled_too_far_and_what_is_not_left_spare_is_told(tmp_path):
    (tmp_path / "job.toml").write_text(SLEEVES)
    told = [f["sentence"] for f in printed("check", tmp_path)["findings"]]
    assert any("Cable A-1 is pulled 70.0 m" in s and "at most 60.0 m" in s for s in told), told
    assert "Rack R1 has 3 of 4 outputs to spare, at least 4 must stay free." in told
    duct = printed("lines", tmp_path, "--ducts")["ducts"]["D1"]
    assert duct["fill_fraction"] == pytest.approx((cable_mm()**2 + 10**2) / 40**2)
    assert (duct["cables"], duct["lines"], duct["longest_pull_m"]) == (["A-1"], ["A"], 70.0)
    # A pit half way, and it is two pulls of 35 m.
    (tmp_path / "job.toml").write_text(SLEEVES.replace('holds = ["10 mm"]', 'holds = ["10 mm"]\npits = ["35 m"]'))
    assert not any("is pulled" in f["sentence"] for f in printed("check", tmp_path)["findings"])
    assert printed("lines", tmp_path, "--ducts")["ducts"]["D1"]["longest_pull_m"] == 35.0


def cable_mm():
    """Outside diameter of the cable, as the shipped catalogue's file has it."""
    shipped = tomllib.loads((tool.ROOT / "catalogue" / "cables.toml").read_text())
    return float(shipped["cables"]["burial-2x2.5mm2"]["outside_diameter"].removesuffix(" mm"))


LINKED = """
format = 1
[job]
name = "Links"
[racks.R1]
position = [0, 0]
[racks.R2]
position = [60, 0]
[amplifiers.P1]
model = "line-4x280"
rack = "R1"
[amplifiers.P2]
model = "line-4x280"
rack = "R2"
[channels.C2]
amplifier = "P2"
output = 1
inputs = [1, 2]
high_pass = { kind = "butterworth", order = 4, corner = "80 Hz" }
[sources.Q1]
kind = "player"
rack = "R1"
signal = "mono"
output = "balanced"
connector = "XLR"
[sources.Q2]
kind = "paging station"
rack = "R1"
signal = "mono"
output = "balanced"
connector = "XLR"
[leads.K1]
source = "Q1"
amplifier = "P2"
input = 1
link = "N1"
[leads.K2]
source = "Q2"
amplifier = "P2"
input = 2
link = "N1"
[links.N1]
from = "R1"
to = "R2"
delay = "20 ms"
[areas.lawn]
outline = [[62, 2], [68, 2], [68, 8], [62, 8]]
target = 66
[loudspeakers.L1]
model = "stake-110-wide"
position = [64, 0]
tap = "10 W"
line = "A"
[lines.A]
channel = "C2"
cable = "burial-2x2.5mm2"
runs = { A-1 = { from = "R2", to = "L1" } }
"""


def test_what_comes_over_a_link_is_heard_later_by_its_delay(tmp_path):
    (tmp_path / "job.toml").write_text(LINKED)
    arrives = lambda: printed("predict", tmp_path, "--at", "65,5")["at"]
    late = json.dumps(arrives())
    (tmp_path / "job.toml").write_text(LINKED.replace('delay = "20 ms"', 'delay = "0 ms"'))
    soon = json.dumps(arrives())
    times = [float(re.search(r'"arrival_s": ([0-9.e-]+)', text)[1]) for text in (late, soon)]
    assert times[0] - times[1] == pytest.approx(0.020, abs=1e-9)


def test_a_paging_station_without_priority_and_a_lead_without_its_link_are_told(tmp_path):
    (tmp_path / "job.toml").write_text(LINKED)
    told = [f["sentence"] for f in printed("check", tmp_path)["findings"]]
    assert any("Paging station Q2 has no priority on channel C2" in s for s in told), told
    (tmp_path / "job.toml").write_text(
        LINKED.replace('kind = "paging station"', 'kind = "paging station"\npriority = 3\nturns_down = "20 dB"')
              .replace('input = 1\nlink = "N1"', "input = 1"))
    told = [f["sentence"] for f in printed("check", tmp_path)["findings"]]
    assert not any("has no priority" in s for s in told)
    assert any("Lead K1 leads from rack R1 to rack R2, and nothing says through which link." in s for s in told), told
    # On the rack sheet it stands what to set.
    assert tool.run("pack", tmp_path, "--out", tmp_path / "out", "--only", "crew").returncode in (0, 1)
    text = subprocess.run(["pdftotext", tmp_path / "out" / "crew-pack.pdf", "-"], capture_output=True, text=True).stdout
    flat = re.sub(r"\s+", " ", text)
    assert "Priority 3: set the amplifier to turn what has less down by 20 dB" in flat
    assert "Comes over N1 from rack R1, 20.0 ms later than it went in." in flat


def test_a_link_joins_two_racks(tmp_path):
    """A link within one rack, or to a rack that is not there, is refused where it stands."""
    for wrong, said in ((LINKED.replace('to = "R2"\ndelay', 'to = "R1"\ndelay'), "begins and ends at rack R1"),
                        (LINKED.replace('to = "R2"\ndelay', 'to = "R9"\ndelay'), 'there is no rack called "R9"')):
        (tmp_path / "job.toml").write_text(wrong)
        refused = tool.run("check", tmp_path)
        assert refused.returncode == 2 and "links.N1.to" in refused.stderr and said in refused.stderr, refused.stderr
