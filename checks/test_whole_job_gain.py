"""Gain structure of the invented whole jobs, against an independent rebuild of each (`whole_gain.py`), and the same figures on
command line, over HTTP and on the rack sheets.

Between them the jobs have a stereo player on unbalanced leads of 30 ft, added to one signal; a weak source whose sides go to two
channels; a balanced mixer too strong for its input, with light beside it; one radio on two amplifiers, one of them unbalanced; a
microphone and a player on one channel; a channel on 25 V that cuts peaks off and one at low impedance; two outputs bridged; an
amplifier of which nothing is stated.
"""

import os
import re

import pytest

import spice_lines as spice
import whole_gain
from tool import run
from whole_job_made import JOBS, answer, folder, packed, text_of, told, whole
from whole_job_shown import sent, server, shows, tables  # noqa: F401 (fixtures)

pytestmark = pytest.mark.skipif(spice.NGSPICE is None and not os.environ.get("CI"), reason="ngspice is not installed")
every_job = pytest.mark.parametrize("name", JOBS)

# Gains worked by hand, dB: the channel's own gain, less crest factor over a sine's 3.01 dB, less level at the input over its
# sensitivity, less 3.01 dB where there are two sides.
BY_HAND = {
    ("garden", "C1", "player"): -14 - 8.99 + 7.78 - 3.01,
    ("garden", "C2", "player"): -11.5 - 8.99 + 7.78 - 3.01,
    ("retrofit", "C1", "pocket"): -4 - 8.99 + 29.78,
    ("terraces", "C1", "desk"): -10 - 8.99 - 4,
    ("terraces", "C1", "screen"): -10 - 3.01,
    ("patio", "C1", "receiver"): -13 - 6.99 - 0.88,
    ("patio", "C4", "receiver"): -6 - 6.99 + 4,
    ("patio", "C3", "notebook"): -9,
    ("restaurant", "C1", "microphone"): -18 - 8.99 + 10,
    ("restaurant", "C3", "bar"): -24 - 8.99 + 4 - 1.30,
    ("hotel", "C3", "desk"): -8 - 11.99 - 4 - 3.01,
    ("hotel", "C4", "desk"): -12 - 11.99 - 3.01 - 6.02,  # two outputs in series
}
# What must be found, by the rules of sources and inputs.
MUST = {
    "garden": {("W1", "unbalanced"), ("W2", "unbalanced")},
    "retrofit": {("C1", "too weak"), ("C2", "too weak"), ("C1", "left side of source pocket alone"),
                 ("C2", "right side of source pocket alone"), ("C1", "hisses"), ("C2", "no lead ends")},
    "terraces": {("W1", "overloads input 1")},
    "patio": {("W1", "unbalanced"), ("C4", "cuts peaks off")},
    "restaurant": {("W3", "overloads input 3"), ("C3", "left side of source bar alone"), ("W5", "no channel adds")},
    "hotel": {("C2", "cuts peaks off")},
}


def of(name):
    return whole_gain.channels(whole(name))


def near(value):
    return None if value is None else pytest.approx(value, rel=1e-9, abs=1e-9)


def each_source(name):
    """Every source of every channel: as told, and the channel rebuilt."""
    report = answer(name, "sources")["report"]["channels"]
    return [(c, found) for key, c in of(name).items() for found in report[key]["sources"]]


@every_job
def test_what_arrives_at_every_input(name):
    """Volts, dBu re 0.7746 V, the largest sine and how much more the input takes."""
    for c, found in each_source(name):
        source, id_ = whole(name).job["sources"][found["source"]], found["source"]
        arrives = c.side_v(source)
        assert [(i["lead"], i["input"]) for i in found["inputs"]] == [(k, l["input"]) for k, l in c.leads.items() if l["source"] == id_]
        for at in found["inputs"]:
            assert at["level_v"] == near(arrives)
            assert at["level_dbu"] == near(None if arrives is None else whole_gain.db(arrives / 0.6**0.5))
            assert at["highest_v"] == near(c.most_v(id_)) and at["headroom_db"] == near(c.headroom_db(id_))


@every_job
def test_the_gain_every_channel_needs(name):
    report, rebuilt = answer(name, "sources")["report"]["channels"], of(name)
    assert list(report) == list(rebuilt) and rebuilt
    for key, c in rebuilt.items():
        assert [s["source"] for s in report[key]["sources"]] == list(c.sources) != []
        assert report[key]["gain_db"] == near(c.highest_gain_db)
    for c, found in each_source(name):
        id_ = found["source"]
        assert found["needed_gain_db"] == near(c.gain_db(id_))
        assert found["turn_down_db"] == near(c.highest_gain_db - c.gain_db(id_))
        if (name, c.name, id_) in BY_HAND:
            assert found["needed_gain_db"] == pytest.approx(BY_HAND[name, c.name, id_], abs=0.015)


def test_every_gain_worked_by_hand_is_there():
    assert BY_HAND.keys() <= {(name, c.name, found["source"]) for name in JOBS for c, found in each_source(name)}


@every_job
def test_what_is_left_before_the_output_clips(name):
    report = answer(name, "sources")["report"]["channels"]
    for key, c in of(name).items():
        said = report[key]
        # Full drive at low impedance goes by the lowest impedance, which is looked for on another grid of frequencies here.
        exact = near if c.lines[0].volts else (lambda value: pytest.approx(value, rel=1e-5, abs=1e-4))
        assert said["full_output_v"] == near(c.full_v) and said["wanted_v"] == near(c.wanted_v)
        assert said["most_output_v"] == exact(c.most_out_v)
        assert said["wanted_dbu"] == pytest.approx(whole_gain.db(c.wanted_v / 0.6**0.5), abs=1e-4)
        assert said["clipping_margin_db"] == exact(c.margin_db)
        assert said["peak_v"] == exact(2**0.5 * c.most_out_v / 10 ** (c.margin_db / 20))


@every_job
def test_noise_at_the_loudspeakers(name):
    """0.2 % of voltage, which lines are held to, are 0.02 dB."""
    report = answer(name, "sources")["report"]["channels"]
    for key, c in of(name).items():
        said = report[key]
        assert said["source_noise_v"] == near(c.source_noise_v) and said["amplifier_noise_v"] == near(c.own_noise_v)
        assert said["noise_dba"] == pytest.approx(c.noise_dba, abs=0.02)


@every_job
def test_what_is_wrong_is_found_and_nothing_else(name):
    said = answer(name, "sources")["report"]["findings"]
    assert {(about, what) for about, what in MUST[name]
            if any(f["about"]["id"] == about and what in f["sentence"] for f in said)} == MUST[name]
    expected = whole_gain.findings(whole(name))
    assert len(said) == len(expected) > 0, said
    for table, id_, what in expected:
        hits = [f for f in said if (f["about"]["table"], f["about"]["id"]) == (table, id_) and what in f["sentence"]]
        assert len(hits) == 1 and hits[0]["mend"], (what, said)
    checked = told("check", folder(name))["findings"]
    assert all(f in checked for f in said)


@every_job
def test_http_has_the_gain_structure_of_the_command_line(name, sent):  # noqa: F811
    report, view = answer(name, "sources")["report"], sent(name, "sources")
    for key in ("channels", "quiet_night_dba", "findings"):
        assert view[key] == report[key]


@every_job
def test_the_command_line_shows_its_own_gains(name):
    shown = [rows for _, columns, rows in tables(run("sources", folder(name)).stdout) if columns[0] == "channel"]
    report = answer(name, "sources")["report"]["channels"]
    sources = [(key, s) for key, c in report.items() for s in c["sources"]]
    inputs = [(key, s["source"], at) for key, s in sources for at in s["inputs"]]
    leads = whole(name).job["leads"]
    assert [len(rows) for rows in shown] == [len(inputs), len(sources), len(report)]
    for row, (key, source, at) in zip(shown[0], inputs):
        assert row[:4] == [key, source, leads[at["lead"]].get("side", "both"), str(at["input"])]
        for cell, figure in zip(row[4:], ("level_v", "level_dbu", "highest_v", "headroom_db")):
            assert cell == "-" if at[figure] is None else shows(cell, at[figure])
    for row, (key, s) in zip(shown[1], sources):
        assert row[:2] == [key, s["source"]] and shows(row[2], s["needed_gain_db"]) and shows(row[3], s["turn_down_db"])
    figures = ("gain_db", "wanted_v", "wanted_dbu", "peak_v", "clipping_margin_db", "noise_dba")
    for row, (key, c) in zip(shown[2], report.items()):
        assert row[0] == key and all(shows(cell, c[figure]) for cell, figure in zip(row[1:], figures)), (row, c)


def figures(text):
    return text.replace("\u2212", "-")


ROOM = r"the input takes ([\d.]+) V, ([\d.]+) dB more than the source's most"
OVER = r"the source's most is ([\d.]+) dB more than the ([\d.]+) V the input takes"


@every_job
def test_rack_sheets_print_the_levels_at_the_inputs(name):
    """Every lead with its channels, its level in volts and dBu, and what the input takes or what the source has too much; light
    has no volts."""
    job, rebuilt, crew = whole(name).job, of(name), figures(text_of(packed(name) / "crew-pack.pdf"))
    printed = 0
    for id_, lead in job["leads"].items():
        source = job["sources"][lead["source"]]
        fed = [c for c in rebuilt.values() if id_ in c.leads]
        side = {"left": "left side", "right": "right side"}.get(lead.get("side"), "all of it")
        assert f"Input {lead['input']}: {source['name']}, {side}" in crew
        [after] = re.findall(rf"Lead: {id_}\b(.*?)(?=Lead: |Input \d|Adds inputs|$)", crew)
        assert ("No channel adds this input." if not fed else f"Added by channel: {', '.join(c.name for c in fed)}.") in after
        over = bool(fed) and source["output"] != "optical" and fed[0].headroom_db(lead["source"]) < 0
        told_of = re.search(rf"(-?[\d.]+) V = (-?[\d.]+) dBu arrives; {OVER if over else ROOM}", after)
        assert (told_of is None) == (source["output"] == "optical" or not fed), after
        if told_of:
            volts, takes = fed[0].side_v(source), whole_gain.volts(fed[0].amplifier["inputs"]["greatest"])
            apart = fed[0].headroom_db(lead["source"])
            expected = (volts, whole_gain.db(volts / 0.6**0.5), *((-apart, takes) if over else (takes, apart)))
            assert all(shows(t, v) for t, v in zip(told_of.groups(), expected)), (told_of.groups(), expected)
            printed += 1
    assert crew.count("dBu arrives") == printed > 0


@every_job
def test_rack_sheets_print_the_gains_to_set(name):
    """From input to output, and that of the design; what is louder than the weakest source is turned down where that channel
    mixes its inputs, by its name: another channel may want the same source as it is."""
    job, rebuilt, crew = whole(name).job, of(name), figures(text_of(packed(name) / "crew-pack.pdf"))
    gain = r"Gain ([-+][\d.]+) dB from input to output \((-?[\d.]+) dB re full scale\)"
    printed = re.findall(rf"\b(C\d) (?:Output \d(?:(?!\bC\d).)*?)?{gain}", crew)
    assert sorted(key for key, *_ in printed) == sorted(rebuilt)
    for key, to_set, design in printed:
        assert shows(to_set, rebuilt[key].highest_gain_db) and shows(design, spice.number(job["channels"][key]["gain"]))
    louder = [(id_, c.highest_gain_db - c.gain_db(id_)) for c in rebuilt.values() for id_ in c.sources]
    louder = [(id_, down) for id_, down in louder if down >= 0.05]
    down = re.findall(r"in this channel alone, turn down by ([\d.]+) dB: (.{30})", crew)
    assert len(down) == len(louder)
    for (text, name_), (id_, value) in zip(down, louder):
        assert shows(text, value) and name_.startswith(job["sources"][id_]["name"]), (text, name_, id_)
    silent = [amplifier for amplifier in job["amplifiers"] if all(l["amplifier"] != amplifier for l in job["leads"].values())]
    assert crew.count("No leads are stated") == len(silent)
