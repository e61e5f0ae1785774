"""One fact, one figure: watts, lowest impedances, losses in cable and full drive are each told by one rule, by one name and with
one value, wherever they stand. The three examples and small changes of them; what is expected comes from the definition of the
figure, from the catalogue and from the same fact in another answer.
"""

import itertools
import json
import math
import pathlib
import re
import shutil
import tomllib
from collections import defaultdict

import pytest

from test_whole_job_facts import shows, tables
from tool import ROOT, run

EXAMPLES = sorted(p.parent.name for p in (ROOT / "examples").glob("*/job.toml"))
every_example = pytest.mark.parametrize("name", EXAMPLES)
AMPLIFIERS = tomllib.loads((ROOT / "catalogue/amplifiers.toml").read_text())["amplifiers"]
LOUDSPEAKERS = tomllib.loads((ROOT / "catalogue/loudspeakers.toml").read_text())["loudspeakers"]


@pytest.fixture(scope="module")
def jobs(tmp_path_factory):
    """Copies of the examples, so that nothing is written into them."""
    return pathlib.Path(shutil.copytree(ROOT / "examples", tmp_path_factory.mktemp("examples") / "all"))


def told(command, folder, *more):
    done = run(command, folder, *more, "--json")
    assert done.returncode in (0, 1), done.stderr
    return json.loads(done.stdout)


def table(text, heading):
    [(columns, rows)] = [(columns, rows) for head, columns, rows in tables(text) if head.startswith(heading)]
    return columns, rows


def number(text):
    return float(text.split()[0])


@every_example
def test_watts_are_the_voltage_at_the_terminals_over_the_nominal_impedance(jobs, name):
    """As the power of IEC 60268-5 is defined (from memory), and the tap of a transformer; at 1 kHz, in every answer and table."""
    report = told("lines", jobs / name)["report"]
    document = tomllib.loads((jobs / name / "job.toml").read_text())
    columns, rows = table(run("lines", jobs / name).stdout, "Loudspeakers")
    shown = {row[0]: row[columns.index("watts")] for row in rows}
    loads = {load["load"]: load for line in report["lines"].values() for load in line["loads"]}
    assert loads.keys() == report["loudspeakers"].keys() == shown.keys() and shown
    kilohertz = next(iter(report["lines"].values()))["frequencies_hz"].index(1000.0)
    for tag, load in loads.items():
        placed = document["loudspeakers"][tag]
        model = LOUDSPEAKERS[placed["model"]]
        of_coils = 4 if placed.get("coils") == "parallel" and "dual_coil" in model else 1
        expected = load["loudspeaker_v"][kilohertz] ** 2 / (number(str(model["nominal"])) / of_coils)
        assert load["power_1khz_w"] == pytest.approx(expected, rel=1e-9), tag
        assert report["loudspeakers"][tag]["power_1khz_w"] == load["power_1khz_w"] == load["power_w"][kilohertz]
        assert shows(shown[tag], load["power_1khz_w"]), tag


@every_example
def test_the_lowest_impedance_is_that_within_what_the_filters_pass(jobs, name):
    report = told("lines", jobs / name)["report"]
    document = tomllib.loads((jobs / name / "job.toml").read_text())
    text = run("lines", jobs / name).stdout
    of_line, of_channel = (
        {row[0]: row[columns.index("lowest impedance")] for row in rows}
        for columns, rows in (table(text, "Lines"), table(text, "Channels"))
    )
    for id, line in report["lines"].items():
        channel = document["lines"][id]["channel"]
        fed = document["channels"][channel]
        low = number(fed["high_pass"]["corner"]) if "high_pass" in fed else 10**1.3
        high = number(fed["low_pass"]["corner"]) if "low_pass" in fed else 10**4.3
        assert line["passed_hz"] == report["channels"][channel]["passed_hz"] == pytest.approx([low, high], rel=1e-9)
        lowest = line["minimum"]
        assert low * (1 - 1e-9) <= lowest["frequency_hz"] <= high * (1 + 1e-9)
        within = [z for f, z in zip(line["frequencies_hz"], line["impedance_ohm"]) if low <= f <= high]
        assert within and min(within) >= lowest["impedance_ohm"] * (1 - 1e-9)
        if [other for other in document["lines"] if document["lines"][other].get("channel") == channel] == [id]:
            assert report["channels"][channel]["minimum"] == lowest
            assert of_line[id] == of_channel[channel]


@every_example
def test_what_the_cable_takes_is_the_cable_alone(jobs, name):
    """An amplifier of any output impedance leaves it as it is: the loudspeakers divide what comes to its terminals."""
    report = told("lines", jobs / name)["report"]
    before, services = report["loudspeakers"], {id: line["service"] for id, line in report["lines"].items()}
    soft = pathlib.Path(shutil.copytree(jobs / name, jobs / f"{name}-soft"))
    used = {a["model"] for a in tomllib.loads((soft / "job.toml").read_text())["amplifiers"].values()}
    own = "".join(
        "\n[amplifiers.{}]\n{}\n".format(id, "\n".join(f"{k} = {json.dumps(v)}" for k, v in flat(AMPLIFIERS[id])))
        for id in used if id in AMPLIFIERS
    )
    (soft / "catalogue").mkdir(exist_ok=True)
    (soft / "catalogue" / "soft.toml").write_text(own)
    after = told("lines", soft)["report"]["loudspeakers"]
    assert after.keys() == before.keys()
    for tag, at in before.items():
        # At low impedance full drive is what comes to the terminals; on a line the amplifier itself takes its part.
        taken = after[tag]["joint_1khz_v"] / at["joint_1khz_v"]
        assert taken < 0.995 or services[at["line"]] == "low_impedance", tag
        assert after[tag]["loss_1khz_db"] == pytest.approx(at["loss_1khz_db"], abs=1e-9), tag


def flat(amplifier):
    """An amplifier's entry with an output impedance of 1 ohm, tables within it as dotted keys."""
    for key, value in {**amplifier, "output_impedance": "1 ohm"}.items():
        if isinstance(value, dict):
            yield from ((f"{key}.{inner}", v) for inner, v in value.items())
        else:
            yield key, value


@every_example
def test_a_cable_that_the_comparison_names_loses_what_it_said(jobs, name):
    """Laid where it was compared, fed as the line is fed."""
    compared = told("lines", jobs / name, "--compare")["compared"]
    report = told("lines", jobs / name)["report"]
    laid = 0
    for id, line in report["lines"].items():
        [way] = [way for way in compared[id]["ways"] if way["service"] == line["service"]]
        if way["cable"] is None:
            continue
        cable = compared[id]["cables"][way["cable"]]
        folder = pathlib.Path(shutil.copytree(jobs / name, jobs / f"{name}-{id}"))
        text = (folder / "job.toml").read_text()
        head, tail = text.split(f"[lines.{id}]", 1)
        tail = re.sub(r'(?m)^cable = "[^"]*"', f'cable = "{cable}"', tail, count=1)
        (folder / "job.toml").write_text(f"{head}[lines.{id}]{tail}")
        after = told("lines", folder)["report"]
        worst = max(load["loss_1khz_db"] for load in after["lines"][id]["loads"])
        assert worst == pytest.approx(way["worst_loss_db"], abs=1e-9), (id, cable)
        rejected = [f["sentence"] for f in after["findings"] if f"on line {id} loses" in f["sentence"]]
        of_run = [f["sentence"] for f in after["findings"] if f["about"]["id"].startswith(f"{id}/")]
        rejected += [sentence for sentence in of_run if "not rated for" in sentence]
        assert not rejected, (id, cable)
        laid += 1
        if laid == 2:
            break
    assert laid


def rated_w(amplifier, ohm):
    """What an amplifier may give into a load: below the least it is rated into, the power of that."""
    rated = [(z, number(amplifier[f"power_{z}ohm"])) for z in (2, 4, 8) if f"power_{z}ohm" in amplifier]
    (least, watts), *_ = rated
    if ohm <= least:
        return watts
    for (a, p), (b, q) in itertools.pairwise(rated):
        if ohm <= b:
            volts = math.sqrt(p * a) + (math.sqrt(q * b) - math.sqrt(p * a)) * (ohm - a) / (b - a)
            return volts**2 / ohm
    return rated[-1][1] * rated[-1][0] / ohm


def test_full_drive_asks_no_more_than_the_amplifier_is_rated_for(jobs):
    """The walled courtyard is at low impedance, two loudspeakers of 8 ohm on each output: a nominal 4 ohm, and less at its lowest."""
    folder = jobs / "walled-courtyard"
    document = tomllib.loads((folder / "job.toml").read_text())
    report = told("lines", folder)["report"]
    assert len(report["channels"]) == 2
    for id, channel in report["channels"].items():
        amplifier = AMPLIFIERS[document["amplifiers"][document["channels"][id]["amplifier"]]["model"]]
        lowest = channel["minimum"]["impedance_ohm"]
        assert lowest < 4.0
        rated = rated_w(amplifier, lowest)
        assert channel["rated_power_w"] == pytest.approx(rated, rel=1e-9)
        assert channel["greatest_current_a"] ** 2 * lowest == pytest.approx(rated, rel=1e-6), "all of it, in volt-amperes"
        assert 0.9 * rated < channel["greatest_power_w"] <= rated * (1 + 1e-9)
        assert channel["headroom"]["db"] == pytest.approx(0.0, abs=1e-9), "full drive is what runs out first"
        assert channel["fits"] is (lowest >= 0.8 * number(amplifier["minimum_load"]))
        # The limiter's cost counts from that drive: the largest sine of the output.
        [line] = [l for i, l in report["lines"].items() if document["lines"][i]["channel"] == id]
        cost = told("tune", folder)["report"]["channels"][id]["limiter_cost"]
        crest = 12.0
        programme_v = line["drive_v"] * math.sqrt(2) * 10 ** (-crest / 20)
        assert cost["programme_v_rms"] == pytest.approx(programme_v * 10 ** (-cost["reduction_db"] / 20), rel=1e-6)


def test_lines_on_one_output_share_what_it_gives(jobs):
    """Both lines of the cafe on one output: half the impedance, and the drive of both follows from it."""
    folder = pathlib.Path(shutil.copytree(jobs / "walled-courtyard", jobs / "cafe-on-one"))
    text = (folder / "job.toml").read_text()
    text = re.sub(r'(?m)^channel = "east"', 'channel = "west"', text)
    (folder / "job.toml").write_text(text)
    report = told("lines", folder)["report"]
    west, east = report["lines"]["west"], report["lines"]["east"]
    channel = report["channels"]["west"]
    assert west["drive_v"] == pytest.approx(east["drive_v"], rel=1e-9)
    assert channel["greatest_power_w"] <= channel["rated_power_w"] * (1 + 1e-9)
    assert channel["minimum"]["impedance_ohm"] < 0.6 * west["minimum"]["impedance_ohm"]


def test_the_rack_goes_by_its_name_its_word_and_none(jobs):
    """`expect` heads its readings "rack": who types that, or the tag of the rack, reads the same as who types nothing."""
    folder = jobs / "guesthouse-garden"
    answers = [
        told("locate", folder, "--line", "D", "--reading", f"{at}dc=2.9ohm")["located"] for at in ("", "rack:", "R1:")
    ]
    assert answers[0] == answers[1] == answers[2]
    for at in ("rack", "R1"):
        copy = pathlib.Path(shutil.copytree(folder, jobs / f"guesthouse-{at}"))
        visit = '\n[visits.zz]\ndate = "2026-05-02"\nkind = "handover"\n[visits.zz.readings.r1]\n'
        visit += f'line = "D"\nat = "{at}"\ndc = "2.9 ohm"\n'
        (copy / "job.toml").write_text((copy / "job.toml").read_text() + visit)
        [judged] = [r for r in told("expect", copy)["readings"] if r["reading"] == "r1"]
        assert judged.get("why_not") is None and judged["grade"] is not None and judged["at"] is None
        assert not [f for f in told("check", copy)["findings"] if f["about"]["id"] == "zz" and "names" in f["sentence"]]


def test_ways_of_sound_name_walls_and_buildings_by_their_names(jobs):
    folder = jobs / "guesthouse-garden"
    document = tomllib.loads((folder / "job.toml").read_text())
    probe = told("predict", folder, "--at", "4,3")["at"]
    ways = [path["way"] for share in probe["loudspeakers"] for path in share["paths"]]
    names = {table: [thing["name"] for thing in document[table].values()] for table in ("walls", "buildings")}
    named = {table: {name for name in names[table] for way in ways if f"by {name}" in way} for table in names}
    assert all(named.values()), named
    ids = [f"{table[:-1]} {id}" for table in names for id in document[table]]
    assert not [way for way in ways if any(re.search(rf"\b{id}\b", way) for id in ids)]
    text = re.sub(r"\s+", " ", run("predict", folder, "--at", "4,3").stdout)
    assert any(f"by {name}" in text for name in named["walls"] | named["buildings"])


def test_the_word_for_cable_follows_the_unit(jobs):
    text = run("route", jobs / "walled-courtyard", "--dry", "--units", "us").stdout
    assert " ft" in text and not re.search(r"\b(metres?|m)\b", text), re.findall(r".*\bmetres?\b.*", text)


# Two names that may have one value, each with the reason why they are two facts.
TWO_FACTS = {
    frozenset(pair): why
    for *pair, why in [
        ("a1", "b1", "coefficients of a filter"),
        ("b0", "b2", "coefficients of a filter"),
        ("at", "lowest_at", "places: where subwoofers cancel most, and where all together are quietest"),
        ("level_db", "lowest_db", "levels at places that may be one"),
        ("joint_v", "joint_1khz_v", "over the bands, and at 1 kHz"),
        ("loudspeaker_v", "joint_v", "a loudspeaker without a transformer"),
        ("loudspeaker_v", "joint_1khz_v", "a loudspeaker without a transformer"),
        ("power_w", "power_1khz_w", "over the bands, and at 1 kHz"),
        ("drive_v", "most_output_v", "of a line, and of the output it hangs on"),
        ("loss_db", "loss_1khz_db", "over the bands, and at 1 kHz"),
        ("loss_w", "loss_1khz_w", "over the bands, and at 1 kHz"),
        ("current_a", "current_1khz_a", "over the bands, and at 1 kHz"),
        ("current_a", "eighth_current_a", "a circuit, and its one amplifier"),
        ("current_a", "source_current_a", "a line, and its first run"),
        ("current_a", "greatest_current_a", "the greatest of them"),
        ("current_1khz_a", "source_current_a", "a line, and its first run"),
        ("greatest_current_a", "source_current_a", "the greatest of them"),
        ("greatest_power_w", "source_power_w", "the greatest of them"),
        ("cable_loss_w", "loss_w", "a line of one run"),
        ("cable_loss_w", "loss_1khz_w", "a line of one run"),
        ("frequencies_hz", "frequency_hz", "one of them"),
        ("frequencies_hz", "passed_hz", "the outermost of them"),
        ("frequency_hz", "passed_hz", "a low point at the end of the band"),
        ("impedance_ohm", "ohm", "a line fed, and what a meter reads of it"),
        ("expected_ohm", "ohm", "what a meter should read, and what it read"),
        ("high_ohm", "limit_ohm", "a bound of a reading, and the bound that a series comes to"),
        ("gain_db", "needed_gain_db", "of a channel, and of the source that needs most"),
        ("echo_share", "share", "shares of an area"),
        ("echo_share", "echo_share_after", "arrivals as they are, and with delays"),
        ("echo_share", "echo_share_before", "arrivals as they are, and without delays"),
        ("echo_share_before", "echo_share_after", "without delays and with them"),
        ("spread_before_s", "spread_after_s", "without delays and with them"),
        ("largest_spread_s", "spread_s", "the largest of them"),
        ("largest_spread_s", "spread_before_s", "without delays"),
        ("median_spread_s", "spread_s", "the one in the middle"),
        ("bands_db", "level_db", "of the 63 Hz octave"),
        ("bands_db", "loudest_source_db", "of the 63 Hz octave"),
        ("level_db", "total_dba", "of all, and what is held against a limit"),
        ("bands_db", "energy_db", "of the 63 Hz octave, and what is held against its limit"),
        ("energy_db", "total_dba", "of all, and what is held against a limit"),
        ("energy_db", "level_db", "what is held against a limit where the brief does not ask for the worst case"),
        ("bands_db", "in_step_bands_db", "octaves in which nothing is counted as in step"),
        ("in_step_bands_db", "in_step_db", "of the 63 Hz octave, and what would be held against its limit at worst"),
        ("in_step_db", "in_step_dba", "of all, and what would be held against a limit at worst"),
        ("bands_db", "straight_bands_db", "octaves of a loudspeaker to which no face adds"),
        ("loudest_source_db", "straight_bands_db", "of one loudspeaker to which no face adds"),
        ("loudest_source_db", "straight_dba", "of one loudspeaker to which no face adds"),
        ("straight_dba", "total_dba", "of one loudspeaker to which no face adds"),
        ("loudest_source_db", "total_dba", "of one loudspeaker"),
        ("without_loudest_db", "total_dba", "of the loudspeakers but one"),
        ("hand_dig_m", "within_m", "of a run, and of its finding"),
        ("length_m", "order_m", "a cut, and the run it is for"),
        ("length_m", "path_m", "a stretch, and a way of that one stretch"),
        ("length_m", "sleeve", "the way in sleeves"),
        ("length_m", "slit", "a stretch, and the sum of a group that has that one stretch in a slit"),
        ("length_m", "staked", "a stretch, and the sum of a group that has that one stretch staked"),
        ("length_m", "trench", "a stretch, and the sum of a group that has that one stretch in a trench"),
        ("cut_m", "order_m", "a cable of one run"),
        ("cut_m", "length_m", "a cable of one cut"),
        ("order_m", "path_m", "a run of stated length"),
        ("electrical_m", "length_m", "a run of stated length"),
        ("electrical_m", "order_m", "a run of stated length"),
        ("crossed_at", "crossings", "of a run as it lies, and of the way found for it"),
        ("share_above", "share_below", "shares of an area that come out alike"),
    ]
}


def floats(value, name, into):
    """Every number that is not round, under the name of its field; of maps by tag nothing is told. The measures of a sentence
    are left out: they are its words once more as numbers, of whatever fact it speaks, and have a place in it for a name."""
    if isinstance(value, dict):
        for key, inner in value.items():
            if key != "measures" or "sentence" not in value:
                floats(inner, key, into)
    elif isinstance(value, list):
        for inner in value:
            floats(inner, name, into)
    elif isinstance(value, float) and re.fullmatch(r"[a-z][a-z0-9_]*", name):
        # What is left of a difference between two equal figures is no fact.
        if abs(value) > 1e-9 and len(repr(abs(value)).replace(".", "").lstrip("0")) >= 9:
            into[name].add(value)


@every_example
def test_no_fact_has_two_names(jobs, name):
    """What stands under two names with one value to the last bit is one fact, unless the list above says why it is two."""
    named = defaultdict(set)
    commands = ["lines", "expect", "predict", "sources", "check", "years"] + (["bass", "tune"] if name != "quayside-hotel" else [])
    for command in commands:
        floats(told(command, jobs / name), "", named)
    floats(told("route", jobs / name, "--dry"), "", named)
    assert len(named) > 40
    double = {
        (a, b): min(named[a] & named[b])
        for a, b in itertools.combinations(sorted(named), 2)
        if named[a] & named[b] and frozenset((a, b)) not in TWO_FACTS
    }
    assert not double
