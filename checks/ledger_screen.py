"""Facts off the tables of the command line: which table is about what, and what each of its columns is in the data.

A table is told by its heading, a row by its first cells, a column by its own heading; a table, column or line of text with a
figure that has no name here is a problem of the check and not passed over.
"""

import re

from ledger import interval, length, parts
from ledger_findings import Listed
from whole_job_shown import tables

METER_HZ = {"DC": "0", "100 Hz": "100", "315 Hz": "315", "1 kHz": "1000", "10 kHz": "10000"}
HEARD = {"dBA": "total_dba", "63 Hz dB": "octave63_hz"}
VERDICTS = {"kept": "fine", "kept, but not surely": "within_uncertainty", "ABOVE": "exceeds"}
SKIP = None  # words that the data have elsewhere as codes, and prose


class Column:
    """A column: the quantity it shows, `factor` to the unit of the data, how it is rounded."""

    def __init__(self, quantity, factor=1.0, rule="nearest", read=None, subject=None):
        self.quantity, self.factor, self.rule, self.read, self.subject = quantity, factor, rule, read, subject


def words(text, _):
    return text, None


def unit(text, column):
    """A figure that carries its unit: "274.7 ohm", "538.6 Hz", "82 %"."""
    figure, name = parts(text)
    if name == "Hz" and figure in BANDS:
        # A third octave by its nominal name stands for its exact centre (IEC 61260-1) too.
        low, high = interval(figure, 1.0, column.rule)
        centre = 1000 * 10 ** ((int(BANDS[figure]) - 17) / 10)
        return text, (min(low, centre * (1 - 1e-9)), max(high, centre * (1 + 1e-9)))
    factor = {"%": 0.01, "ohm": 1.0, "Hz": 1.0, "dB": 1.0, "ms": 0.001, "V": 1.0}[name]
    return text, interval(figure, factor, column.rule)


def plus_minus(text, _):
    return text, interval(text.split(" ")[0])


def metres(text, column):
    return text, length(text, column.rule)


C, W, U = Column, lambda q: Column(q, read=words), lambda q, rule="nearest": Column(q, rule=rule, read=unit)

# Command, pattern of the heading, subject, columns. {name} is a cell of the row, or a group of the heading's pattern.
TABLES = [
    ("predict", r"Areas, dBA", "area {area}", {
        "wanted": C("target"), "mean": C("statistics/mean_dba"), "10 %": C("statistics/p10_dba"), "90 %": C("statistics/p90_dba"),
        "on target": U("statistics/share_within"), "bass-mid": C("statistics/bass_over_mid_db"),
        "spread ms": C("arrivals/largest_spread_s", 0.001)}),
    ("predict", r"Neighbours \(.*", "neighbour {neighbour}", {
        "level": Column("{when}/{what}/level_db", read=plus_minus), "limit": C("{when}/{what}/limit_db"),
        "margin": C("{when}/{what}/margin_db"), "most from": W("{when}/{what}/loudest_loudspeaker"),
        "answer": Column("{when}/{what}/verdict", read=lambda text, _: (VERDICTS[text], None))}),
    ("lines", r"Loudspeakers, .*", "loudspeaker {loudspeaker}", {
        "line": W("line"), "volts": C("joint_1khz_v"), "watts": C("power_1khz_w"), "cable loss dB": C("loss_1khz_db")}),
    ("lines", r"Lines, .*", "line {line}", {
        "channel": W("channel"), "drive V": C("drive_v"), "taps W": C("counted_w"),
        "lowest impedance": U("minimum/impedance_ohm", "four digits"),
        "at": U("minimum/frequency_hz", "nominal"), "worst loss dB": C("worst_loss_db")}),
    ("lines", r"Channels", "channel {channel}", {
        "used": U("used_fraction"), "allowed": U("allowed_fraction"), "spare W": C("spare_w"),
        "lowest impedance": U("minimum/impedance_ohm", "four digits"), "current A": C("greatest_current_a"),
        "headroom dB": C("headroom/db"), "of": W("headroom/of"),
        "fits": Column("fits", read=lambda text, _: ({"yes": True, "no": False}[text], None))}),
    ("lines", r"Rack (?P<rack>\S+): mains.*", "amplifier {amplifier}", {
        "idle W": C("draws/idle_w"), "1/8 power W": C("draws/eighth_draw_w"), "heat W": C("draws/eighth_heat_w"),
        "mains A": C("draws/eighth_current_a"), "circuit": W("circuit")}),
    ("bass", r"Bass in (?P<area>\S+) from (?P<from>.*): (?P<level>[\d.]+) dB, uneven by (?P<uneven>[\d.]+) dB", "area {area}", {
        "level dB": C("bass/bands/{band}/level_db"), "spread dB": C("bass/bands/{band}/spread_db"),
        "lowest dB": C("bass/bands/{band}/lowest_db"), "cancelled": SKIP}),
    ("bass", r"Evenest settings", "", {"uneven dB": SKIP, "level dB": SKIP, "setting": SKIP}),
    ("expect", r"Line (?P<line>\S+), finished: .*", "line {line}", {
        **{f"{hz} ohm": Column(f"readings/{{at}} {f}", read="reading") for hz, f in METER_HZ.items()}}),
    ("expect", r"Line (?P<line>\S+) at the rack, while .*", "line {line}", {
        **{f"{hz} ohm": Column(f"stages/{{built as far as}}/readings/rack {f}", read="reading") for hz, f in METER_HZ.items()}}),
    ("sources", r"Inputs", "lead {lead}", {
        "level V": C("level_v"), "dBu": C("level_dbu"), "most V": C("highest_v"), "headroom dB": C("headroom_db"),
        "side": SKIP, "channel": SKIP, "source": SKIP, "input": SKIP}),
    ("sources", r"Gain from each source.*", "channel {channel}", {
        "needs gain dB": C("gain structure/sources/{source}/needed_gain_db"),
        "turn down dB": C("gain structure/sources/{source}/turn_down_db")}),
    ("sources", r"Outputs: gain.*|the nearest listener .*", "channel {channel}", {
        "gain dB": C("gain structure/gain_db"), "level V": C("gain structure/wanted_v"), "dBu": C("gain structure/wanted_dbu"),
        "peaks V": C("gain structure/peak_v"), "margin dB": C("gain structure/clipping_margin_db"),
        "noise dBA": C("gain structure/noise_dba")}),
    ("tune", r"Channel (?P<channel>\S+)", "channel {channel}", {"to": W("tuned/settings/{set}/value")}),
    ("tune", r"Sections of (?P<channel>\S+) at .*|b2 x2 .*", "", {c: SKIP for c in ("b0", "b1", "b2", "a1", "a2")}),
    ("tune", r"Areas: level in dBA.*|in dB", "area {area}", {
        "wanted": C("target"), "before": C("statistics/mean_dba"), "after": C("tuned/after/mean_dba"),
        "uneven before": U("tuned/uneven_before_db"), "after#2": U("tuned/uneven_after_db"),
        "bass before": C("statistics/bass_over_mid_db"), "after#3": C("tuned/after/bass_over_mid_db")}),
    ("tune", r"Neighbours with these settings.*", "neighbour {neighbour}", {
        "level": C("tuned/{when}/{what}/level_db"), "limit": C("{when}/{what}/limit_db"), "margin": C("tuned/{when}/{what}/margin_db")}),
    ("tune", r"Delays", "area {area}", {
        "echo before": U("tuned/echo_share_before"), "after": U("tuned/echo_share_after"), "delays": SKIP}),
    ("tune", r"\d+\. .*|.*", "", {"[ ]": SKIP, "about": SKIP, "do": SKIP, "confirm": SKIP}),
    ("years", r"Line (?P<line>\S+)", "line {line}", {"reading": SKIP, "times": SKIP, "first": SKIP, "latest": SKIP, "how it moves": SKIP}),
    ("expect", r"What was read", "", {c: SKIP for c in ("line", "date", "at", "what", "read", "expected, verdict")}),
    ("years", r"What was read", "", {c: SKIP for c in ("line", "date", "at", "what", "read", "expected, verdict")}),
    ("route", r"Cable schedule", "proposed run {run}", {
        "from": W("from"), "to": W("to"), "tag": SKIP, "line": SKIP, "way": Column("length/path_m", rule="nearest whole", read=metres),
        "to cut": Column("length/order_m", rule="up", read=metres), "laid": SKIP}),
    ("route", r"By way of laying", "proposed laying {laid}", {"cable": Column("length_m", rule="nearest whole", read=metres)}),
    ("route", r"Spools", "proposed spools of {cable}", {
        "cuts": SKIP, "to cut": Column("cut_m", rule="up", read=metres), "spools": SKIP,
        "left over": Column("left_m", rule="down", read=metres)}),
]
FINDINGS = ["severity", "about", "finding"]
BANDS = {name: str(k) for k, name in enumerate(
    "20 25 31.5 40 50 63 80 100 125 160 200 250 315 400".split())}


def rows_of(rows):
    """Rows with what was wrapped put back: a row whose first cell is empty goes on with the one above."""
    whole = []
    for row in rows:
        if whole and (not row[0] or (len(row) == 2 and not row[1])):
            whole[-1] = [f"{a} {b}".strip() for a, b in zip(whole[-1], row)]
        else:
            whole.append(list(row))
    return whole


def numbered(columns):
    """Column headings, the second and third of a name with their number."""
    seen, out = {}, []
    for c in columns:
        seen[c] = seen.get(c, 0) + 1
        out.append(c if seen[c] == 1 else f"{c}#{seen[c]}")
    return out


def screen(ledger, command, units, text, job):
    """Enters all tables of a command."""
    place = f"{command}, {units}"
    for heading, columns, rows in tables(text):
        if columns == FINDINGS:
            found(ledger, place, rows, job)
            continue
        if heading == "Who makes it":
            who(ledger, place, rows_of(rows))
            continue
        if columns == ["neighbour", "floor", "when", "what"]:
            continue
        known = [(re.fullmatch(pattern, heading), subject, words_) for of, pattern, subject, words_ in TABLES
                 if of == command and re.fullmatch(pattern, heading)]
        if not known:
            ledger.not_read("screen", place, f"table {heading!r} with {columns}")
            continue
        match, subject, names = known[0]
        columns = numbered(columns)
        keys = [c for c in columns if c not in names]
        for row in rows_of(rows):
            cells = dict(zip(columns, row))
            enter_row(ledger, place, cells, {**match.groupdict(), **cells}, keys, subject, names, job)
    loudest(ledger, place, text)
    for area, level, uneven in re.findall(r"^Bass in (\S+) from .*?: ([\d.]+) dB, uneven by ([\d.]+) dB", text, re.MULTILINE):
        ledger.enter((f"area {area}", "bass/level_db"), "screen", place, level, interval(level))
        ledger.enter((f"area {area}", "bass/deviation_db"), "screen", place, uneven, interval(uneven))


def enter_row(ledger, place, cells, told, keys, subject, names, job):
    told = {**told, "what": HEARD.get(told.get("what", ""), told.get("what")),
            "band": BANDS.get(told.get("band", "").removesuffix(" Hz"), "")}
    if subject == "lead {lead}":
        amplifier = job["channels"][cells["channel"]]["amplifier"]
        told["lead"] = next(id for id, lead in job["leads"].items()
                            if (lead["amplifier"], str(lead["input"])) == (amplifier, cells["input"]))
    if subject == "proposed run {run}":
        # A cable of several lines is named by its first run.
        told["run"] = f"{cells['tag'].split('+')[0]} of {cells['line'].split(', ')[0]}"
    used = set(re.findall(r"{([^}]*)}", subject + "".join(c.quantity for c in names.values() if c)))
    for key in keys:
        if key not in used:
            ledger.not_read("screen", place, f"column {key!r} of {subject!r}")
    for name, column in names.items():
        cell = cells.get(name)
        if column is None or cell is None or cell in ("", "-"):
            continue
        fact = subject.format(**told), column.quantity.format(**told)
        if column.read == "reading":
            reading(ledger, "screen", place, fact, cell)
        elif column.read:
            shown, ends = column.read(cell, column)
            ledger.enter(fact, "screen", place, shown, ends)
        else:
            ledger.enter(fact, "screen", place, cell, interval(cell, column.factor, column.rule))


def reading(ledger, surface, place, fact, cell):
    """A reading with its interval: "22.7 (14.1..36.5)", "22.7 14.1–36.5", or "open", beyond what a meter reads."""
    figures = re.findall(r"\d+(?:\.\d+)?", cell)
    if cell.startswith("open"):
        ledger.enter((fact[0], f"{fact[1]}/ohm"), surface, place, None)
        return
    for name, figure in zip(("ohm", "low_ohm", "high_ohm"), figures, strict=True):
        ledger.enter((fact[0], f"{fact[1]}/{name}"), surface, place, figure, interval(figure, 1.0, "four digits"))


def found(ledger, place, rows, job):
    """Findings: severity, what about, the sentence and behind an arrow what mends it; "+ about" is the same in one more place."""
    whole = []
    for row in rows:
        if row[0]:
            whole.append([*row[:2], row[2]])
        else:
            whole[-1][2] += (" " if not whole[-1][2].endswith("-") else " ") + row[2]
    listed = Listed(ledger, "screen", place)
    for severity, about, text in whole:
        sentence, _, mend = text.partition(" -> ")
        listed.enter(about, severity, sentence, mend)
        if not place.startswith("tune"):
            said(ledger, place, by_ids(sentence, job))


# What findings say of facts that have a name, as the job is set now.
F = r"([\d.]+)"
SENTENCES = [(re.compile(pattern), subject, quantities) for pattern, subject, quantities in [
    (rf"Area (\S+) is too (?:quiet|loud): {F} dBA on average, [\d.]+ dB (?:below|above) the {F} dBA wanted.*", "area {}",
     [("statistics/mean_dba", 1.0), ("target", 1.0)]),
    (rf"Area (\S+) is uneven: a tenth of it is below {F} dBA, a tenth above {F} dBA; {F} % lies within {F} dB of the {F} dBA wanted.*",
     "area {}", [("statistics/p10_dba", 1.0), ("statistics/p90_dba", 1.0), ("statistics/share_within", 0.01), ("within_db", 1.0),
                 ("target", 1.0)]),
    (rf"Echoes may be heard over (?=[\d.]+ % of area (\S+):){F} % of .*: sound arrives up to {F} ms apart.*", "area {}",
     [("arrivals/echo_share", 0.01), ("arrivals/largest_spread_s", 0.001)]),
    (rf"Area (\S+) hears other programmes at {F} dBA.*", "area {}", [("other_programmes_dba", 1.0)]),
    (rf"Lead (\S+) overloads input \d+: {F} V arrives.*", "lead {}", [("highest_v", 1.0)]),
    (rf"Loudspeaker (\S+) on line \S+ loses {F} dB in the cable at 1 kHz; .*", "loudspeaker {}", [("loss_1khz_db", 1.0)]),
    (rf"Channel (\S+) hisses: {F} dBA at .*", "channel {}", [("gain structure/noise_dba", 1.0)]),
    *((rf"Neighbour (\S+) by {when}(?: \([\d: to]+\))? is (?:below|above) the limit by [\d.]+ dB.*: {F} dBA against a limit of {F} dBA;.*",
       "neighbour {}", [(f"{when}/total_dba/level_db", 1.0), (f"{when}/total_dba/limit_db", 1.0)]) for when in ("day", "night")),
    (rf"Channel (\S+) cuts peaks off: {F} V is wanted of {F} V.*", "channel {}",
     [("gain structure/peak_v", 1.0), ("gain structure/full_output_peak_v", 1.0)]),
]]


def by_ids(sentence, job):
    """A sentence with areas and neighbours by their ids, where it tells them by the names somebody gave them."""
    for table, word in (("areas", "area"), ("neighbours", "neighbour")):
        for id, thing in job.get(table, {}).items():
            name = thing.get("name", "").strip()
            if name and sentence.startswith(f"{name} "):
                sentence = f"{word.capitalize()} {id}{sentence.removeprefix(name)}"
            elif name:
                sentence = sentence.replace(f" % of {name}:", f" % of {word} {id}:")
    return sentence


def said(ledger, place, sentence):
    for pattern, subject, quantities in SENTENCES:
        if told := pattern.fullmatch(sentence):
            of, *figures = told.groups()
            for (quantity, factor), figure in zip(quantities, figures, strict=True):
                ledger.enter((subject.format(of), quantity), "screen", f"{place}, finding", figure, interval(figure, factor))


def who(ledger, place, rows):
    """Levels of loudspeakers alone: "L6 63.2, L5 62.8, ...; 7 more are over 20 dB below"."""
    for area, text in rows:
        for tag, level in re.findall(r"(\S+) ([\d.]+)(?=,|;|$)", text):
            ledger.enter((f"area {area}", f"loudspeakers/{tag}"), "screen", place, level, interval(level))


def loudest(ledger, place, text):
    said = re.search(r"Loudest place anyone can stand: ([\d.]+) dBA in front of loudspeaker (\S+), at (.*), (.*)", text)
    if said:
        level, tag, east, north = said.groups()
        ledger.enter(("levels", "loudest/level_dba"), "screen", place, level, interval(level))
        ledger.enter(("levels", "loudest/loudspeaker"), "screen", place, tag)
        ledger.enter(("levels", "loudest/east"), "screen", place, east, length(east))
        ledger.enter(("levels", "loudest/north"), "screen", place, north, length(north))
