"""One fact, one figure, over command line, JSON, HTTP, papers, spreadsheet and phone: a yard whose lines and channels are listed
in an order of their own, one cable of two pairs, a sleeve drawn through twice, shelves, a limiter without a peak, feet.

Expected figures are worked out here from the text of the job: plane lengths, unit conversions by definition (1 in is 25.4 mm),
and the rules stated beside them, which are common practice without a source.
"""

import json
import math
import re

import papers
import pytest

from over_http import imported_text
from test_server import Server, ask
from whole_job_shown import tables
from tool import ROOT, run
from whole_job_made import pages_of, told, written

YARD = """
format = 1
[job]
name = "Yard with lines in an order of its own"
reference = "YD-1"
currency = "USD"
[brief]
supply = "70.7 V"
loss_limit = "2 dB"
[programmes.music]
name = "Music"
[areas.far]
name = "Far lawn"
outline = [[2, 12], [22, 12], [22, 19], [2, 19]]
listeners = "seated"
target = "66 dBA"
[areas.near]
name = "Near lawn"
outline = [[2, 1], [22, 1], [22, 8], [2, 8]]
listeners = "standing"
target = "66 dBA"
[site]
datum = "foot of the gate post"
ground = "lawn"
[services.mains]
kind = "electric"
line = [[14, 12], [30, 12]]
depth = "60 cm"
[sleeves.D1]
name = "Duct under the drive"
line = [[12.5, 21.5], [12.5, 8.5]]
inside_diameter = "60 mm"
[racks.R1]
name = "Garden house"
position = [23.5, 22]
height = "80 cm"
mains = "120 V"
[amplifiers.P1]
model = "line-4x280"
rack = "R1"
[channels.C3]
amplifier = "P1"
output = 3
high_pass = { corner = "80 Hz" }
limiter = { rms = "70 V", peak = "99 V" }
[channels.C1]
amplifier = "P1"
output = 1
gain = "-3 dB"
high_pass = { corner = "100 Hz" }
limiter = { rms = "70 V", peak = "99 V" }
equaliser.E1 = { kind = "low shelf", frequency = "200 Hz", gain = "-3 dB", q = 0.9 }
equaliser.E2 = { kind = "high shelf", frequency = "6000 Hz", gain = "2 dB", q = 0.5 }
[channels.C2]
amplifier = "P1"
output = 2
high_pass = { corner = "80 Hz" }
limiter = { rms = "62.75 V" }
[lines.T2]
channel = "C2"
cable = "burial-4x14awg"
topology = "tree"
pair = 2
[lines.T2.runs]
t2a = { from = "R1", to = "J1", via = [[12.5, 22], [12.5, 8.5]], sleeves = ["D1"] }
t2b = { from = "J1", to = "L9" }
[lines.T10]
channel = "C1"
cable = "burial-4x14awg"
topology = "tree"
[lines.T10.runs]
t10a = { from = "R1", to = "J1", via = [[12.5, 22], [12.5, 8.5]], sleeves = ["D1"] }
t10b = { from = "J1", to = "L10", cable = "burial-2x14awg" }
t10c = { from = "L10", to = "L2", cable = "burial-2x14awg" }
[lines.T1]
channel = "C3"
cable = "burial-2x14awg"
[lines.T1.runs]
t1a = { from = "R1", to = "L1", via = [[12.5, 22], [12.5, 8.5]], sleeves = ["D1"] }
t1b = { from = "L1", to = "L3" }
t1c = { from = "L3", to = "W1" }
[lines.T3]
channel = "C1"
cable = "burial-2x14awg"
[lines.T3.runs]
t3a = { from = "R1", to = "L4" }
[joints.J1]
position = [12.5, 8]
kind = "box"
[loudspeakers]
L10 = { model = "stake-110-wide", position = [10, 5], tap = "10 W", line = "T10" }
L2 = { model = "stake-165-wide", position = [4, 5], tap = "20 W", line = "T10" }
L9 = { model = "stake-165-wide", position = [18, 5], tap = "20 W", line = "T2" }
L1 = { model = "bollard-130-round", position = [12, 2], tap = "20 W", line = "T1" }
L3 = { model = "stake-165-wide", position = [6, 2], tap = "20 W", line = "T1" }
W1 = { model = "ground-sub-270", position = [3.5, 3], tap = "100 W", line = "T1" }
L4 = { model = "stake-165-wide", position = [20, 11], tap = "20 W", line = "T3" }
"""
LINES, LOUDSPEAKERS, CHANNELS = ["T2", "T10", "T1", "T3"], ["L10", "L2", "L9", "L1", "L3", "W1", "L4"], ["C3", "C1", "C2"]
ON = {"T2": "C2", "T10": "C1", "T1": "C3", "T3": "C1"}


@pytest.fixture(scope="module")
def yard(tmp_path_factory):
    return written(tmp_path_factory.mktemp("yard") / "job", YARD)


@pytest.fixture(scope="module")
def packs(yard, tmp_path_factory):
    """The pack in metres and in feet."""
    made = {}
    for units in ("metric", "us"):
        made[units] = tmp_path_factory.mktemp("pack") / units
        assert run("pack", yard, "--out", made[units], "--units", units).returncode in (0, 1)
    return made


@pytest.fixture(scope="module")
def sent(tmp_path_factory):
    """What HTTP answers of the yard."""
    server = Server(tmp_path_factory.mktemp("jobs"))
    job = imported_text(server, YARD)

    def get(what):
        status, _, body = ask(server.address, "GET", f"/api/jobs/{job}/{what}")
        assert status == 200, body
        return json.loads(body)

    yield get
    server.stop()


def once(items):
    return list(dict.fromkeys(items))


def steps_of(order, action):
    return [step for stage in order for step in stage["steps"] if step["action"].startswith(action)]


def section(text, start, end):
    return text.split(start)[-1].split(end)[0]


def test_lines_and_loudspeakers_stand_in_the_order_of_the_document(yard, packs, sent):
    shown = {heading.split(",")[0]: [row[0] for row in rows] for heading, _, rows in tables(run("lines", yard).stdout)}
    assert shown["Loudspeakers"] == LOUDSPEAKERS and shown["Lines"] == LINES and shown["Channels"] == CHANNELS
    report, phone = sent("lines"), sent("visit-pack")
    for told_of in (told("lines", yard)["report"], report):
        assert list(told_of["lines"]) == LINES and list(told_of["loudspeakers"]) == LOUDSPEAKERS
    assert once(r["line"] for r in report["runs"]) == once(r["line"] for r in phone["runs"]) == LINES
    assert list(phone["expect"]) == list(phone["tables"]) == list(phone["resolved"]["lines"]) == LINES
    assert re.findall(r"^Line (\S+), finished", run("expect", yard).stdout, re.MULTILINE) == LINES
    out = packs["metric"]
    crew, built = pages_of(out / "crew-pack.pdf"), pages_of(out / "as-built.pdf")
    # Sheets of loudspeakers, of routes, of readings; the rack's channels; the as-built sheet's lines and readings.
    assert re.findall(r"^ *([LW]\d+) {2,}\S.*\n(?:.*\n)?Line ", section(crew, "Hold both tapes", "Cut in this order"), re.MULTILINE) == LOUDSPEAKERS
    assert re.findall(r"^ *Line (T\d+) ", section(crew, "Routes\n", "At every joint"), re.MULTILINE) == LINES
    assert re.findall(r"^ *(T\d+) +70\.7 V", crew, re.MULTILINE) == LINES
    assert re.findall(r"^(C\d) +Gain", crew, re.MULTILINE) == CHANNELS
    assert once(re.findall(r"^ *(T\d+) +C\d ", built, re.MULTILINE)) == LINES
    assert once(re.findall(r"^ *(T\d+) +\d[\d.]* \d[\d.]*–", built, re.MULTILINE)) == LINES
    assert [row["Tag"] for row in papers.table(out / "loudspeaker-schedule.csv")] == LOUDSPEAKERS


def test_the_rhythm_of_a_line_is_its_place_in_the_document(yard, packs, sent):
    """On the rack sheet, at the rack, on the phone: lines take turns by it, whichever channels they are on."""
    orders = [told("tune", yard)["report"]["order"], sent("processing")["order"], sent("visit-pack")["order"]]
    for order in orders:
        played = steps_of(order, "Play the rhythm of")
        assert [s["about"] for s in played] == once(s["about"] for s in steps_of(order, "Measure the impedance")) == LINES
        for number, (line, step) in enumerate(zip(LINES, played, strict=True), 1):
            assert f"through channel {ON[line]}," in step["action"]
            assert re.match(rf"rhythm {number}: {number} short tones?,", step["confirm"]), step
    crew = pages_of(packs["metric"] / "crew-pack.pdf")
    # A number may stand on the next line, beside what the column to the right says.
    rack = dict(re.findall(r"(T\d+)(?: |\n[^\n]*\n)\(rhythm (\d)\)", crew))
    assert {line: int(n) for line, n in rack.items()} == {line: n for n, line in enumerate(LINES, 1)}


def test_a_stage_has_one_number(yard, packs, sent):
    order = told("tune", yard)["report"]["order"]
    numbers = {stage["stage"]: stage["number"] for stage in order}
    assert list(numbers.values()) == list(range(4, 11)), "three stages of laying and joining come before"
    for other in (sent("processing")["order"], sent("visit-pack")["order"]):
        assert {stage["stage"]: stage["number"] for stage in other} == numbers
    shown, crew = run("tune", yard).stdout, pages_of(packs["metric"] / "crew-pack.pdf")
    for stage, number in numbers.items():
        assert re.search(rf"^{number}\. {stage[:30]}", shown, re.MULTILINE), stage
        assert re.search(rf"^ *{number} {stage}", crew, re.MULTILINE), stage


def test_what_is_accepted_is_one_interval_with_the_same_digits(yard, packs, sent):
    """At 1 kHz at the rack: readings of the command line, the crew pack, the as-built sheet, the order of work everywhere."""
    orders = [told("tune", yard)["report"]["order"], sent("processing")["order"], sent("visit-pack")["order"]]
    crew, built = pages_of(packs["metric"] / "crew-pack.pdf"), pages_of(packs["metric"] / "as-built.pdf")
    shown = tables(run("expect", yard).stdout)
    for line in LINES:
        said = [s["confirm"] for order in orders for s in steps_of(order, "Measure the impedance") if s["about"] == line]
        [accepted] = {re.match(r"([\d.]+) ohm expected, right from ([\d.]+) to ([\d.]+) ohm", s).groups() for s in said}
        [sheet] = re.findall(rf"^ *{line} .*?([\d.]+) ([\d.]+)–([\d.]+)\s*$", built, re.MULTILINE)
        built_up = re.split(rf"^ *{line} +70\.7 V", crew, flags=re.MULTILINE)[1].split("By, date")[0]
        [finished] = re.findall(r"finished .*?([\d.]+) ([\d.]+)–([\d.]+)\s*$", built_up, re.MULTILINE)
        at_rack = [dict(zip(columns, rows[0])) for heading, columns, rows in shown if heading.startswith(f"Line {line},")]
        [cell] = [row["1 kHz ohm"] for row in at_rack if row.get("at") == "rack" and "1 kHz ohm" in row]
        screen = re.fullmatch(r"(\S+) \((\S+)\.\.(\S+)\)", cell).groups()
        assert accepted == sheet == finished == screen, line


def test_the_rack_sheet_holds_every_setting(yard, packs, sent):
    crew = pages_of(packs["metric"] / "crew-pack.pdf")
    rack = " ".join(crew[crew.index("Output 3") - 400:].split())
    assert "E1: low shelf 200 Hz, −3.0 dB, Q 0.9" in rack and "E2: high shelf 6 kHz, 2.0 dB, Q 0.5" in rack
    # A peak limiter attacks within a quarter of a period of the high-pass and lets go in sixteen times that; the voice coil warms
    # in seconds. A peak that is not stated is twice the RMS (6 dB: common practice, no source), and behind a transformer no more than
    # a sine has at the rated voltage, by the square root of two.
    for hz in (80, 100):
        assert f"attack {0.25 / hz * 1000:.1f} ms, release {4 / hz * 1000:.0f} ms" in rack
    assert rack.count("attack 1 s, release 3 s") == len(CHANNELS)
    for step in steps_of(sent("visit-pack")["order"], "Read back the limiter"):
        assert f"Limiter {step['confirm']}" in rack, step
    assert f"62.75 V RMS, {min(2 * 62.75, 70.7 * math.sqrt(2)):.2f} V peak" in rack


def test_how_a_loudspeaker_is_fixed_has_one_word(packs):
    """Its sheet begins with what the schedule says, be it a stake, a base or a place in the ground."""
    for pack in packs.values():
        sheets = section(pages_of(pack / "crew-pack.pdf"), "Hold both tapes", "Cut in this order")
        told_of = re.findall(r"^ *Fixing +(\S.*)$", sheets, re.MULTILINE)
        words = [row["Fixing"] for row in papers.table(pack / "loudspeaker-schedule.csv")]
        assert len(told_of) == len(words) and {"ground stake", "on a base", "in the ground"} == set(words)
        assert all(sheet.startswith(word) for sheet, word in zip(told_of, words)), told_of


def test_headroom_is_one_figure_and_says_of_what(yard, packs, sent):
    report = told("lines", yard)["report"]
    [(_, columns, rows)] = [t for t in tables(run("lines", yard).stdout) if t[0].startswith("Channels")]
    crew = " ".join(pages_of(packs["metric"] / "crew-pack.pdf").split())
    for row in rows:
        shown = dict(zip(columns, row))
        headroom = report["channels"][row[0]]["headroom"]
        assert sent("lines")["channels"][row[0]]["headroom"] == headroom
        assert (shown["headroom dB"], shown["of"]) == (f"{headroom['db']:.1f}", headroom["of"])
        assert f"headroom {headroom['db']:.1f} dB, of {headroom['of']}" in crew
        # No more than the rated power over what the channel draws.
        used = report["channels"][row[0]]
        assert headroom["db"] <= 10 * math.log10(used["rated_power_w"] / used["greatest_power_w"]) + 1e-9


def test_a_sleeve_drawn_through_twice_is_twice_its_length(packs):
    bill = {row["Code"]: row for row in papers.table(packs["metric"] / "bill-of-quantities.csv")}
    assert float(bill["laying/conduit"]["Quantity"]) == pytest.approx(2 * 13.0, abs=1e-9)
    crew = pages_of(packs["metric"] / "crew-pack.pdf")
    assert re.findall(r"([\d.]+) m drawn through a sleeve", crew) == ["13.0", "13.0"]


def feet_up(metres):
    return math.ceil(metres / 0.3048 - 1e-6)


def test_feet_are_rounded_to_the_safe_side(packs, sent):
    crew = pages_of(packs["us"] / "crew-pack.pdf")
    # On paper and in the spreadsheet alike: whole feet.
    cuts = {row["Tag"]: row["Cut, ft"] for row in papers.table(packs["us"] / "cut-list.csv")}
    scheduled = {row["Tag"]: row["Cut, ft"] for row in papers.table(packs["us"] / "cable-schedule.csv") if row["Cut, ft"]}
    assert cuts == scheduled
    laid = {c["tag"]: c["order_m"] for c in json.loads((packs["us"] / "pack.json").read_text())["laid_cables"]}
    assert cuts.keys() == laid.keys()
    for tag, metres in laid.items():
        assert cuts[tag] == str(feet_up(metres)), tag
        [cut] = re.findall(rf"^ *{re.escape(tag)} +R?\w+ +\w+ .* (\d+) ft$", section(crew, "Cut in this order", "Routes\n"), re.MULTILINE)
        assert int(cut) == feet_up(metres), (tag, metres)
    metric = pages_of(packs["metric"] / "crew-pack.pdf")
    for tag, metres in laid.items():
        [cut] = re.findall(rf"^ *{re.escape(tag)} +R?\w+ +\w+ .* ([\d.]+) m$", section(metric, "Cut in this order", "Routes\n"), re.MULTILINE)
        assert 0 <= float(cut) - metres < 0.1, (tag, metres)
    # 60 cm are 23.6 in: never expected deeper. Pilot holes of 320 and 380 mm are 12.6 and 15.0 in: never shorter.
    assert "23 in deep" in crew and "24 in deep" not in crew and "0.60 m deep" in metric
    assert set(re.findall(r"pilot hole ([\d.]+)\s*in deep", crew)) == {"13", "15"}


def test_a_spreadsheet_in_feet_has_its_prices_by_the_foot(packs):
    """A foot is 0.3048 m and a cubic yard 0.764554857984 m3 by definition: what one costs times how many there are in a metre is
    what a metre costs, quantities likewise, and the money is the same."""
    metric, us = ({row["Code"]: row for row in papers.table(packs[u] / "bill-of-quantities.csv") if row["Code"]} for u in ("metric", "us"))
    assert metric.keys() == us.keys()
    assert {row["Unit"] for row in us.values()} <= {"no.", "ft", "cu yd"} and "ft" in {row["Unit"] for row in us.values()}
    for code, row in us.items():
        factor = {"ft": 0.3048, "cu yd": 0.764554857984}.get(row["Unit"], 1.0)
        assert float(row["Price of one"]) == pytest.approx(float(metric[code]["Price of one"]) * factor, abs=5.1e-5), code
        step = {"ft": 1.0, "cu yd": 0.01}.get(row["Unit"], 1e-9)
        assert abs(float(row["Quantity"]) - float(metric[code]["Quantity"]) / factor) < step, code
        assert row["Amount"] == metric[code]["Amount"], code
        assert not re.search(r"spools? of [\d.]+ m\b", row["For"]), row


def test_all_of_a_cable_is_one_figure_in_bill_and_cut_list(packs):
    for units, unit in (("metric", "m"), ("us", "ft")):
        crew = pages_of(packs[units] / "crew-pack.pdf")
        named = {"metric": ("Two conductors, 14 AWG, direct burial", "Four conductors, 14 AWG, direct burial"),
                 "us": ("14/2 direct burial", "14/4 direct burial")}
        for cable in named[units]:
            bill = section(crew, "Labour in all", "Cut in this order")
            [loaded] = re.findall(rf"{cable} +1 spool of \S+ \S+ +([\d.]+) {unit}\b", bill)
            [cut] = re.findall(rf"{cable} +1 spool of [\d.]+ {unit}, ([\d.]+) {unit} to cut", crew)
            assert loaded == cut, (units, cable)


def test_a_column_of_a_spreadsheet_has_one_unit(packs):
    """Metres, or feet in a job in feet, said once at its head; a foot is 0.3048 m by definition. What is cut is cut to whole feet."""
    compared = 0
    for file in packs["metric"].glob("*.csv"):
        metric, us = ([list(row.items()) for row in papers.table(packs[u] / file.name)] for u in ("metric", "us"))
        assert len(metric) == len(us), file.name
        assert not re.search(r"\d ft\b", file.read_text(encoding="utf-8-sig")), file.name
        for (head, value), (us_head, us_value) in (pair for rows in zip(metric, us) for pair in zip(*rows)):
            if not head.endswith(", m"):
                assert us_head == head, (file.name, us_head)
                continue
            assert us_head == head.removesuffix("m") + "ft", (file.name, us_head)
            if not value:
                assert not us_value, (file.name, head)
                continue
            metres, feet = float(value), float(us_value)
            if head == "Cut, m":
                # Up to a whole foot; the metric length is itself up to a tenth of a metre.
                assert feet == int(feet) and -0.1 - 1e-9 <= feet * 0.3048 - metres < 0.3048 + 1e-9, (file.name, head, value, us_value)
            else:
                assert abs(feet * 0.3048 - metres) <= 0.5 * 0.01 * 1.3048 + 1e-9, (file.name, head, value, us_value)
            compared += 1
    assert compared > 40

def test_the_phone_digs_the_holes_of_the_crew_pack(packs, sent):
    crew, holes = pages_of(packs["metric"] / "crew-pack.pdf"), sent("visit-pack")["holes"]
    printed = re.findall(r"^ *(\w+) +(\d+)\s*mm × (\d+)\s*mm × (\d+)\s*mm", crew, re.MULTILINE)
    assert {tag for tag, *_ in printed} == {h["loudspeaker"] for h in holes} == {"L1", "W1"}
    for tag, *size in printed:
        [h] = [h for h in holes if h["loudspeaker"] == tag]
        assert [math.ceil(h[k] * 100 - 1e-6) * 10 for k in ("length_m", "width_m", "depth_m")] == list(map(int, size))


def test_a_gain_held_down_for_a_neighbour_is_told_by_the_gain_it_would_have(tmp_path):
    """The same cafe without its neighbour: each channel's gain is higher by what the sentence says."""
    text = (ROOT / "examples" / "walled-courtyard" / "job.toml").read_text()
    alone = re.sub(r"\n\[neighbours\..*?(?=\n\[(?!neighbours\.))", "\n", text, flags=re.DOTALL)
    assert alone != text and "[neighbours" not in alone
    with_one, without = (told("tune", written(tmp_path / name, t)) for name, t in (("with", text), ("without", alone)))
    gain = lambda answer, channel: answer["report"]["channels"][channel]["plan"]["chain"]["gain_db"]  # noqa: E731
    told_of = 0
    for finding in with_one["report"]["findings"]:
        said = re.match(r"The gain of channel (\S+) is ([\d.]+) dB lower than its areas alone would set it", finding["sentence"])
        if said:
            lower = gain(without, said[1]) - gain(with_one, said[1])
            assert lower == pytest.approx(float(said[2]), abs=0.05), finding
            told_of += 1
    assert told_of == 2


def test_a_shared_cable_is_told_of_once_by_its_tag(tmp_path):
    """Slits are not allowed: the shared cable wants one as T2 and as T10, and is one cable to lead another way."""
    text = YARD.replace('loss_limit = "2 dB"', 'loss_limit = "2 dB"\nlaying = ["staked", "trench", "conduit"]')
    findings = told("check", written(tmp_path / "job", text))["findings"]
    about = [m[1] for f in findings if (m := re.match(r"Run (\S+) wants .* of slit", f["sentence"]))]
    assert sorted(about) == ["t10a+t2a", "t10b", "t10c", "t1a", "t1b", "t1c", "t2b", "t3a"]
