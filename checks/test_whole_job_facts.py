"""One fact, one figure: what the command line shows, HTTP answers, the papers print (pdftotext) and the phone takes along, of
every line of the invented whole jobs. Data are equal to the last digit; what is shown is that figure rounded to the digits shown.
"""

import json
import os
import re

import pytest

import spice_lines as spice
from papers import table
from test_server import ask
from tool import run
from whole_job_made import JOBS, answer, folder, packed, pages_of, text_of, whole
from whole_job_shown import sent, server, shows, tables  # noqa: F401 (fixtures)

pytestmark = pytest.mark.skipif(spice.NGSPICE is None and not os.environ.get("CI"), reason="ngspice is not installed")
every_job = pytest.mark.parametrize("name", JOBS)
PAPER_HZ = [0.0, 1000.0]  # what the papers have columns for
SCREEN_HZ = {"DC": 0.0, "100 Hz": 100.0, "315 Hz": 315.0, "1 kHz": 1000.0, "10 kHz": 10_000.0}


@every_job
def test_http_and_phone_have_the_readings_of_the_command_line(name, sent):
    expected, phone = answer(name, "expect")["lines"], sent(name, "visit-pack")
    for source in (phone["expect"], sent(name, "expect")["lines"]):
        assert source.keys() == expected.keys()
        for line, said in expected.items():
            assert source[line]["readings"] == said["readings"]
            assert source[line]["stages"] == said["stages"]
    assert phone["tables"].keys() == whole(name).lines.keys() and phone["no_tables"] is None


@every_job
def test_http_has_the_voltages_losses_and_impedances_of_the_command_line(name, sent):
    report, view = answer(name, "lines")["report"], sent(name, "lines")
    assert view["loudspeakers"] == report["loudspeakers"]
    for line, solved in report["lines"].items():
        assert view["lines"][line]["impedance_ohm"] == solved["impedance_ohm"]
        for load in view["lines"][line]["loads"]:
            assert load["joint_1khz_v"] == report["loudspeakers"][load["load"]]["joint_1khz_v"]


@every_job
def test_phone_and_papers_name_the_conductors_of_every_run(name, sent):
    rebuilt, crew = whole(name), text_of(packed(name) / "crew-pack.pdf")
    runs = sent(name, "visit-pack")["runs"]
    assert sorted((r["line"], r["id"]) for r in runs) == sorted(
        (line, run_[0]) for line, solved in rebuilt.lines.items() for run_ in solved.runs)
    for r in runs:
        line = rebuilt.lines[r["line"]]
        positive, negative = rebuilt.colours(line.cable[r["id"]], line.pairs[r["id"]])
        assert (r["positive"], r["negative"]) == (positive, negative)
        written = rebuilt.job["lines"][r["line"]]["runs"].get(r["id"])
        existing = written is None or written.get("existing", False)
        assert ("existing" in r) == existing
        if existing:
            assert f"{' and '.join(positive)} positive, {' and '.join(negative)} negative" in crew


@every_job
def test_the_phones_joints_are_those_of_the_papers(name, sent):
    """What the phone shows of a joint it takes from the runs that end there: every end the papers join, and no other."""
    ends = {}
    for r in sent(name, "visit-pack")["runs"]:
        for tag in (r["from"], r["to"]):
            for colour in [*r["positive"], *r["negative"]]:
                ends.setdefault((tag, r["line"]), []).append(colour)
    for joint in json.loads((packed(name) / "pack.json").read_text())["joints"]:
        for line in joint["lines"]:
            joined = [w["colour"] for c in joint["conductors"] if c["line"] == line for w in c["wires"]]
            assert sorted(joined) == sorted(ends[joint["at"], line]), (joint["at"], line)


@every_job
def test_the_command_line_shows_its_own_figures(name):
    report, expected = answer(name, "lines")["report"], answer(name, "expect")["lines"]
    shown = tables(run("lines", folder(name)).stdout)
    [rows] = [rows for heading, _, rows in shown if heading.startswith("Loudspeakers")]
    assert [row[0] for row in rows] == list(report["loudspeakers"])
    for tag, line, volts, _, loss in rows:
        at = report["loudspeakers"][tag]
        assert line == at["line"] and shows(volts, at["joint_1khz_v"]) and shows(loss, at["loss_1khz_db"]), tag
    compared = 0
    for heading, columns, rows in tables(run("expect", folder(name)).stdout):
        line = re.match(r"Line (\S+?),? ", heading).group(1)
        for at, *cells in rows:
            if columns[0] == "at":
                where = "rack" if at == "rack" else {"downstream": at}
                readings = [r for r in expected[line]["readings"] if r["place"] == where]
            else:
                [readings] = [s["readings"] for s in expected[line]["stages"] if s["joint"] == at]
            for column, cell in zip(columns[1:], cells):
                hz = SCREEN_HZ[column.removesuffix(" ohm")]
                [r] = [r for r in readings if r["frequency_hz"] == hz]
                figures = re.fullmatch(r"(\S+)(?: \((\S+)\.\.(\S+)\))?", cell)
                assert figures, cell
                assert shows(figures[1], r["ohm"]), (line, at, cell, r)
                if figures[2]:
                    assert shows(figures[2], r["low_ohm"]) and shows(figures[3], r["high_ohm"]), (line, at, cell, r)
                compared += 1
    assert compared == sum(len(e["readings"]) + sum(len(s["readings"]) for s in e["stages"]) for e in expected.values())


@every_job
def test_papers_print_the_voltages_and_losses_of_the_command_line(name):
    crew = text_of(packed(name) / "crew-pack.pdf")
    told = re.findall(r"([\d.]+) V at its joint, (?:(less than 0\.1)|([\d.]+)) dB lost on the way", crew)
    at = answer(name, "lines")["report"]["loudspeakers"]
    assert len(told) == len(at)
    for (volts, little, loss), said in zip(told, at.values()):
        assert shows(volts, said["joint_1khz_v"]), (volts, said)
        assert said["loss_1khz_db"] < 0.05 if little else shows(loss, said["loss_1khz_db"]), (little, loss, said)


FIGURE = r"(?:open|\d[\d.]* \d[\d.]*–\d[\d.]*)"


def printed(text):
    """Rows of readings as printed, in order: what stands before the figures, and the figures."""
    rows = re.findall(rf"^ *(\S.*?) +({FIGURE}) +({FIGURE})\s*$", text, re.MULTILINE)
    return [(row[0], list(row[1:])) for row in rows]


def prints(cells, readings):
    for cell, hz in zip(cells, PAPER_HZ, strict=True):
        [r] = [r for r in readings if r["frequency_hz"] == hz]
        figures = re.split("[ –]", cell)
        values = [r["ohm"]] if cell == "open" else [r["ohm"], r["low_ohm"], r["high_ohm"]]
        assert all(shows(f, v) for f, v in zip(figures, values, strict=True)), (cell, r)


@every_job
def test_papers_print_the_readings_of_the_command_line(name):
    """Stage by stage in the crew pack, finished lines in the as-built sheet."""
    lines = answer(name, "expect")["lines"]
    stages = [(line, stage) for line, expected in lines.items() for stage in expected["stages"]]
    crew = printed(pages_of(packed(name) / "crew-pack.pdf"))
    assert len(crew) == len(stages)
    for (label, cells), (line, stage) in zip(crew, stages):
        assert label.split(",")[0] == stage["joint"], (line, label)
        assert (", finished" in label) == (stage is lines[line]["stages"][-1]), (line, label)
        prints(cells, stage["readings"])
    built = printed(pages_of(packed(name) / "as-built.pdf"))
    assert [label for label, _ in built] == list(lines)
    for label, cells in built:
        prints(cells, [r for r in lines[label]["readings"] if r["place"] == "rack"])


@every_job
def test_levels_are_the_same_on_screen_over_http_and_in_the_proposal(name, sent):
    """Areas and neighbours: the same data; the proposal prints the mean and what eight places of ten have, to the decibel."""
    report = answer(name, "predict")["report"]
    areas = report["levels"]["areas"]
    over_http = sent(name, "levels")["levels"]["areas"] if areas else {}
    assert {a: one["statistics"] for a, one in over_http.items()} == {a: one["statistics"] for a, one in areas.items()}
    there = sent(name, "neighbours")["neighbours"]
    assert there.keys() == report["neighbours"].keys()
    for neighbour, said in report["neighbours"].items():
        assert [(x["quantity"], x["level_db"], x["limit_db"]) for when in ("day", "night") for x in there[neighbour][when]] == [
            (x["quantity"], x["level_db"], x["limit_db"]) for when in ("day", "night") for x in said[when]]
    proposal = pages_of(packed(name) / "proposal.pdf")
    for area, one in areas.items():
        wanted = whole(name).job["areas"][area]
        [row] = re.findall(rf"^ *{wanted['name']} +(\d+) dBA +(\d+) dBA +(\d+) – (\d+) dBA", proposal, re.MULTILINE)
        figures = [one["statistics"][key] for key in ("mean_dba", "p10_dba", "p90_dba")]
        assert f"{row[0]} dBA" == wanted["target"]
        assert all(shows(t, v) for t, v in zip(row[1:], figures)), (row, figures)


@every_job
def test_a_stubs_length_is_worked_out_over_http_too(name, server, sent):
    stubs = whole(name).job.get("stubs", {})
    for stub in stubs:
        at = f"/api/jobs/{sent.id(name)}/stubs/{stub}/length"
        status, _, body = ask(server.address, "POST", at, {"dc_ohm": 2.0})
        assert status == 200, body
        assert json.loads(body)["edit"][0]["path"] == f"/stubs/{stub}/length"
        for wrong in ({"dc_ohm": -1.0}, {"dc_ohm": 0.0}, {"dc_ohm": 1e6}):
            assert ask(server.address, "POST", at, wrong)[0] == 422
    assert ask(server.address, "POST", f"/api/jobs/{sent.id(name)}/stubs/nope/length", {"dc_ohm": 2.0})[0] == 422


def squeezed(text):
    """Without spaces and hyphens, which a line's end may add."""
    return re.sub(r"[\s-]", "", text)


def answer_text(name, command):
    """What a command prints for people, its lines joined."""
    return " ".join(run(command, folder(name)).stdout.split())


def steps(phone):
    return [step for stage in phone["order"] for step in stage["steps"]]


@every_job
def test_one_order_of_work_and_one_rule_of_insulation(name, sent):
    """The stages at the rack on command line, screen, phone and papers, in one order; the words of caution before an insulation
    tester is switched on, word for word."""
    told = answer(name, "tune")["report"]["order"]
    stages = [stage["stage"] for stage in told]
    assert [s["stage"] for s in sent(name, "visit-pack")["order"]] == [s["stage"] for s in sent(name, "processing")["order"]] == stages
    crew = " ".join(pages_of(packed(name) / "crew-pack.pdf").split())
    begun = crew.rindex(stages[0])
    for before, after in zip(stages, stages[1:]):
        assert crew.find(after, begun) > crew.find(before, begun) >= begun, (before, after)
    [caution] = [s["confirm"] for stage in told for s in stage["steps"] if s["action"].startswith("Before the insulation")]
    assert "never 500 V" in caution and caution in sent(name, "visit-pack")["rules"]["judge"]["insulation_caution"]
    assert caution in answer_text(name, "expect") and squeezed(caution) in squeezed(text_of(packed(name) / "crew-pack.pdf"))


@every_job
def test_the_phones_order_of_work_accepts_what_its_readings_accept(name, sent):
    """One pack, one range of a good line at 1 kHz: what the order of work calls right is what the readings call good."""
    phone, seen = sent(name, "visit-pack"), 0
    for step in steps(phone):
        told = re.match(r"([\d.]+) ohm expected, right from ([\d.]+) to ([\d.]+) ohm", step["confirm"] or "")
        if told:
            [r] = [r for r in phone["expect"][step["about"]]["readings"] if r["place"] == "rack" and r["frequency_hz"] == 1000.0]
            assert all(shows(t, v) for t, v in zip(told.groups(), (r["ohm"], r["low_ohm"], r["high_ohm"]))), (step, r)
            seen += 1
    assert seen == len(whole(name).lines)


@every_job
def test_the_phone_reads_back_the_settings_that_the_rack_sheet_has_loaded(name, sent):
    """The corner of every high-pass: of the job as written, on the rack sheet and in the order of work alike."""
    crew, channels = pages_of(packed(name) / "crew-pack.pdf"), whole(name).job["channels"]
    sheet = re.findall(r"High-pass +([\d.]+) Hz", crew)
    wanted = [c["high_pass"]["corner"].removesuffix(" Hz") for c in channels.values()]
    assert sorted(sheet) == sorted(wanted)
    read_back = {s["about"]: s["confirm"] for s in steps(sent(name, "visit-pack")) if s["action"] == "Read back the high-pass."}
    assert read_back == {id_: f"{hz} Hz" for id_, hz in zip(channels, wanted)}


def test_an_area_is_set_by_channels_of_its_own_programme(sent):
    """The pond walk hears "day" from C1 and C2, the lawn "evening" from C3 and C4: another programme's channel sets no level."""
    job, seen = whole("hotel").job, 0
    for step in steps(sent("hotel", "visit-pack")):
        if step["about"] in job["areas"] and step["action"].startswith("Measure at ear height"):
            named = set(re.findall(r"C\d", step["action"]))
            own = {c for c, entry in job["channels"].items() if entry["programme"] == job["areas"][step["about"]]["programme"]}
            assert named <= own, step
            seen += 1
    assert seen == 2


@every_job
def test_a_cable_has_one_tag_everywhere(name, sent):
    """On the plans, the route sheets, the cable schedule, the phone: what is written on the cable, whoever's line is in it."""
    tags = {tag for *_, tag, _ in whole(name).ledger()}
    out = packed(name)
    assert {row["Tag"] for row in table(out / "cable-schedule.csv")} == tags
    assert {run["tag"] for run in sent(name, "visit-pack")["runs"]} == tags
    crew = pages_of(out / "crew-pack.pdf")
    drawn = " ".join(t for file in out.glob("drawings/plan*.svg") for t in re.findall(r">([^<>]+)</text>", file.read_text())).split()
    for line, entry in whole(name).job["lines"].items():
        for run_ in entry["runs"]:
            [tag] = [t for t in tags if run_ in t.split("+")]
            assert tag in drawn and tag in crew.split(), (line, run_, tag)
            assert tag == run_ or run_ not in drawn, f"{run_} is written {tag} on its cable"
    bought = [tag for *_, tag, new in whole(name).ledger() if new]
    assert sorted(row["Tag"] for row in table(out / "cut-list.csv")) == sorted(bought)
