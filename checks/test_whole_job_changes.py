"""Whole jobs changed in ways whose effect is known: a metre of existing cable is a metre of run, a run is a stub's cable, units
of length are names of one length. And jobs that cannot be: each is refused, or reported, in a sentence a foreman understands.
"""

import copy
import json
import os
import tomllib

import pytest

import spice_lines as spice
import whole_jobs
from tool import run
from whole_job_made import JOBS, answer, told, whole, written

pytestmark = pytest.mark.skipif(spice.NGSPICE is None and not os.environ.get("CI"), reason="ngspice is not installed")


def value(v):
    if isinstance(v, dict):
        return "{ " + ", ".join(f"{json.dumps(k)} = {value(x)}" for k, x in v.items()) + " }"
    return "[" + ", ".join(map(value, v)) + "]" if isinstance(v, list) else json.dumps(v)


def toml(job):
    """A job as text: tables of entries, what is in an entry in line."""
    text = f"format = {job['format']}\n"
    for table, entries in job.items():
        if table == "format":
            continue
        plain = {k: v for k, v in entries.items() if table in ("job", "brief", "site")}
        for name, entry in [("", plain)] if plain else [(f".{json.dumps(k)}", v) for k, v in entries.items()]:
            text += f"[{table}{name}]\n" + "".join(f"{json.dumps(k)} = {value(v)}\n" for k, v in entry.items())
    return text


def changed(name, change):
    """A job with a change made to what it says."""
    job = copy.deepcopy(whole(name).job)
    change(job)
    return toml(job)


def facts(folder, lines=None):
    """Voltages, losses, impedances and readings with their intervals, by line."""
    report, expected = told("lines", folder)["report"], told("expect", folder)["lines"]
    numbers = {}
    for tag, at in report["loudspeakers"].items():
        if lines is None or at["line"] in lines:
            numbers |= {(at["line"], tag, "v"): at["joint_1khz_v"], (at["line"], tag, "db"): at["loss_1khz_db"]}
    for line, solved in report["lines"].items():
        if lines is None or line in lines:
            numbers |= {(line, "z", k): z for k, z in enumerate(solved["impedance_ohm"])}
            for r in expected[line]["readings"]:
                at = "rack" if r["place"] == "rack" else r["place"]["downstream"]
                for key in ("ohm", "low_ohm", "high_ohm"):
                    numbers[line, at, r["frequency_hz"], key] = r[key]
    return numbers


@pytest.mark.parametrize("name", JOBS)
def test_a_job_written_anew_says_the_same(name, tmp_path):
    """What the changes below are made with changes nothing by itself."""
    assert told("lines", written(tmp_path, toml(whole(name).job)))["report"] == answer(name, "lines")["report"]


@pytest.mark.parametrize("name", JOBS)
def test_the_same_lengths_in_feet_or_metres_are_the_same_job(name, tmp_path):
    """1 ft is 0.3048 m exactly (international foot)."""
    def in_feet(v):
        if isinstance(v, list) and len(v) == 2 and not any(isinstance(x, list) for x in v):
            return [f"{whole_jobs.metres(x) / 0.3048!r} ft" for x in v]
        return [in_feet(x) for x in v]

    def change(job):
        for table, keys in {"racks": ["position"], "stubs": ["position"], "joints": ["position"], "loudspeakers": ["position"],
                            "passages": ["position"], "surfaces": ["outline"], "buildings": ["outline"],
                            "sleeves": ["line"]}.items():
            for entry in job.get(table, {}).values():
                entry |= {key: in_feet(entry[key]) for key in keys}
        for line in job["lines"].values():
            for one in line["runs"].values():
                one |= {"via": in_feet(one["via"])} if "via" in one else {}
                one |= {"length": f"{whole_jobs.metres(one['length']) / 0.3048!r} ft"} if "length" in one else {}

    feet = facts(written(tmp_path, changed(name, change)))
    for key, number in facts(written(tmp_path / "as-it-is", JOBS[name])).items():
        assert feet[key] == pytest.approx(number, rel=1e-9), key


# --- Existing cable is a first run.

def stated(job, stub, metres, first):
    """A stub's cable of so many metres, the first runs of its lines of the same cable and of so many."""
    job["stubs"][stub]["length"] = metres
    for line in job["lines"].values():
        for one in line["runs"].values():
            if one["from"] == stub:
                one |= {"length": first, "cable": job["stubs"][stub]["cable"]}
                line["pair"] = line.get("pair", 1)
                one.pop("via", None)


@pytest.mark.parametrize("name,stub,lines", [("garden", "T1", "AB"), ("hotel", "T1", "BC"), ("hotel", "T2", "D")])
def test_a_metre_more_of_a_stubs_cable_is_a_metre_more_of_first_run(name, stub, lines, tmp_path):
    made = {key: facts(written(tmp_path / key, changed(name, lambda job: stated(job, stub, *lengths))), lines)
            for key, lengths in {"base": (18.5, 10.0), "stub": (19.5, 10.0), "first": (18.5, 11.0)}.items()}
    moved = 0
    for key, number in made["stub"].items():
        # Seen at the stub, the metre is behind it in one job and before it in the other; how well a length is known differs
        # from one run to the other, and with it the interval.
        if key[1] != stub and key[-1] not in ("low_ohm", "high_ohm"):
            assert number == pytest.approx(made["first"][key], rel=1e-6, abs=1e-6), key
            moved += number != pytest.approx(made["base"][key], rel=1e-6, abs=1e-6)
    assert moved > 10
    per_m = 2 * spice.conductor_ohm_per_m(*(whole(name).catalogue["cables"][whole(name).job["stubs"][stub]["cable"]][k]
                                            for k in ("conductor", "strands")))
    for line in lines:
        ohm = [made[key][line, "rack", 0.0, "ohm"] for key in ("base", "stub")]
        assert ohm[1] - ohm[0] == pytest.approx(per_m, rel=1e-3), "a loop of two conductors, in series with the rest"


@pytest.mark.parametrize("name,stub,lines", [("garden", "T1", "AB"), ("hotel", "T1", "BC"), ("hotel", "T2", "D")])
def test_a_stub_is_a_joint_with_a_run_from_the_rack(name, stub, lines, tmp_path):
    """Of a cable of the same kind and length, in the same pair."""
    pairs = whole(name).stub_pairs(stub)

    def same_pair(job):
        # A run takes the pair of its line; the lines' own cables are taken so that it is the stub's.
        for line in lines:
            job["lines"][line] |= {"pair": pairs[line][0], "cable": job["stubs"][stub]["cable"]}
            job["lines"][line].pop("stub_pairs", None)
            for one in job["lines"][line]["runs"].values():
                one.pop("cable", None)

    def as_run(job):
        same_pair(job)
        gone = job["stubs"].pop(stub)
        job.setdefault("joints", {})[stub] = {"position": gone["position"], "kind": "buried"}
        for line in lines:
            del job["lines"][line]["start"]
            first = {f"{line}0": {"from": whole(name).lines[line].start, "to": stub, "length": gone["length"]}}
            job["lines"][line]["runs"] = first | job["lines"][line]["runs"]
        if not job["stubs"]:
            del job["stubs"]

    folders = {kind: written(tmp_path / kind, changed(name, change)) for kind, change in
               {"stub": same_pair, "run": as_run}.items()}
    stub_facts, run_facts = (facts(folder, lines) for folder in folders.values())
    assert stub_facts.keys() == run_facts.keys()
    for key, number in stub_facts.items():
        assert number == pytest.approx(run_facts[key], rel=1e-9), key
    at = {}
    for kind, folder in folders.items():
        assert run("pack", folder, "--out", tmp_path / f"{kind}-pack", "--only", "data").returncode in (0, 1)
        data = json.loads((tmp_path / f"{kind}-pack" / "pack.json").read_text())
        [joint] = [j for j in data["joints"] if j["at"] == stub]
        at[kind] = {(c["line"], c["positive"]): sorted(w["colour"] for w in c["wires"]) for c in joint["conductors"] if c["line"]}
        at[kind, "cable"] = sum(float(i["quantity"]) for i in data["quotation"]["items"] if i["code"].startswith("cable/"))
    assert at["stub"] == at["run"]
    bought = whole_jobs.metres(whole(name).job["stubs"][stub]["length"]) * 1.05
    assert at["run", "cable"] - at["stub", "cable"] == pytest.approx(bought, abs=0.11)


@pytest.mark.parametrize("name", ["terraces", "patio", "restaurant"])
def test_a_first_run_that_was_there_already_is_a_stub(name, tmp_path):
    """The joint after the first run becomes the end of existing cable: nothing changes for a meter, an ear or an ohm."""
    lines = [line for line, entry in whole(name).job["lines"].items()
             if any(r["to"] == "J1" for r in entry["runs"].values())]

    def as_stub(job):
        first = {line: next(t for t, r in job["lines"][line]["runs"].items() if r["to"] == "J1") for line in lines}
        old = job["lines"][lines[0]]["runs"][first[lines[0]]]
        job["stubs"] = {"J1": {
            "position": job["joints"].pop("J1")["position"], "rack": old["from"],
            "cable": old.get("cable", job["lines"][lines[0]]["cable"]), "length": whole(name).conductor_metres(old)}}
        for line in lines:
            job["lines"][line]["start"] = "J1"
            del job["lines"][line]["runs"][first[line]]
        if not job["joints"]:
            del job["joints"]

    def as_stated(job):
        # A length worked out from the way is known less well than a stated one: both jobs state it.
        for line in lines:
            for r in job["lines"][line]["runs"].values():
                if r["to"] == "J1":
                    r["length"] = whole(name).conductor_metres(r)

    stub = facts(written(tmp_path / "stub", changed(name, as_stub)), lines)
    laid = facts(written(tmp_path / "run", changed(name, as_stated)), lines)
    assert stub.keys() == laid.keys()
    for key, number in laid.items():
        assert stub[key] == pytest.approx(number, rel=1e-9), key


# --- What cannot be.

def refused(text, tmp_path):
    done = run("lines", written(tmp_path, text))
    assert done.returncode == 2, done.stdout
    return " ".join(done.stderr.split())


def reported(text, tmp_path):
    """Findings of a job, its listening areas left out: no level is asked for here."""
    job = tomllib.loads(text)
    del job["areas"]
    done = run("check", written(tmp_path, toml(job)), "--json")
    assert done.returncode in (0, 1), done.stderr
    return json.loads(done.stdout)["findings"]


def without(name, *changes):
    text = JOBS[name]
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def takes(pair, then):
    """The change that lets a line of the hotel's stub-out T1 name its pair; `then` is what tells the line."""
    old = 'start = "T1"\ncable = "burial-4x12awg"\n'
    return old + then, f"{old}stub_pairs = [{pair}]\n{then}"


LINE_B, LINE_C = "topology", "pair = 2"


@pytest.mark.parametrize("name,changes,words", [
    ("hotel", [('rack = "R2"\nlength', "length")],
     ["nothing says from which rack the cable of stub-out T1 comes", "R1, R2, R3"]),
    ("hotel", [('rack = "R2"\nlength', 'rack = "R9"\nlength')], ['there is no rack called "R9"']),
    ("hotel", [('[racks.R3]', '[racks.R4]')], ['there is no rack called "R3"', "stubs.T2.rack"]),
    ("hotel", [('model = "line-4x280"\nrack = "R2"', 'model = "line-4x280"\nrack = "R3"')],
     ["line B starts at stub-out T1, which leads to rack R2, and the amplifier of its channel C2 stands in rack R3",
      "line C starts"]),
    ("hotel", [takes(3, LINE_B)], ["line B takes pair 3 of stub-out T1", "4 conductors, so 2 pairs in all"]),
    ("hotel", [('start = "T2"', 'start = "T2"\nstub_pairs = [1]')],
     ["line D takes pair 1 of stub-out T2, which is in use for something else", "free at stub-out T2: pair 2"]),
    ("hotel", [takes(1, LINE_B), takes(1, LINE_C)],
     ["lines B and C both take pair 1 of stub-out T1; a pair carries one line", "free at stub-out T1: pair 2"]),
    ("hotel", [("pair = 2\ntopology", "pair = 3\ntopology")],
     ["line C uses pair 3", '"burial-4x12awg" has 4 conductors, so 2 pairs in all']),
    ("terraces", [('cable = "burial-4x2.5mm2"\npair = 2', 'cable = "burial-2x2.5mm2"\npair = 2')],
     ["line S uses pair 2", '"burial-2x2.5mm2" has 2 conductors, so 1 pair in all']),
    ("terraces", [('sleeves = ["D1"] }\nB2', 'sleeves = ["D2"] }\nB2')],
     ['there is no sleeve called "D2"', 'did you mean "D1"?']),
    ("terraces", [('tap = "100 W"\n', "")], ["line S is a 100 V line, so W1 needs a transformer tap", "50, 100 W"]),
    ("patio", [('line = "B"\n[loudspeakers.W1]', 'line = "B"\ntap = "20 W"\n[loudspeakers.W1]')],
     ["line B is low impedance, where a loudspeaker has no tap"]),
    ("hotel", [("output = 3", "output = 1")], ["output 1 of amplifier P2 is already used by channel C2"]),
    ("hotel", [("output = 3", "output = 9")], ["amplifier P2 has no output 9", "outputs 1 to 4"]),
])
def test_what_cannot_be_is_refused_in_sentences(name, changes, words, tmp_path):
    sentence = refused(without(name, *changes), tmp_path)
    for word in words:
        assert word in sentence, sentence


@pytest.mark.parametrize("name,changes,about,words", [
    # NFPA 70 (NEC) chapter 9, note 4: 60 % in a piece of at most 0.6 m; 9.0 and 10.4 mm of cable beside 6 mm fill 88 % of 16 mm.
    ("restaurant", [('inside_diameter = "32 mm"', 'inside_diameter = "16 mm"')], ("passages", "W1"),
     ["Sleeve beside the kitchen door (W1) is too small", "S1", "88 %", "60 % is allowed"]),
    ("hotel", [('inside_diameter = "50 mm"', 'inside_diameter = "10 mm"')], ("passages", "W1"),
     ["Old window of the linen room (W1) is too small", "A1", "77 %", "60 % is allowed"]),
    ("hotel", [("position = [-2, 20]\ninside", "position = [5, 5]\ninside")], ("passages", "W1"),
     ["Old window of the linen room (W1) is in no building's outer wall"]),
    ("hotel", [("position = [-2, 20]\ninside", "position = [-2, 14]\ninside")], ("lines", "A/runs/A1"),
     ["Run A1 needs a new hole in the outer wall of West wing, where none may be made"]),
    ("terraces", [('tap = "100 W"', 'tap = "25 W"')], ("loudspeakers", "W1"), ["Loudspeaker W1 has no 25 W tap at 100 V"]),
])
def test_what_does_not_fit_is_an_error_in_sentences(name, changes, about, words, tmp_path):
    told_of = reported(without(name, *changes), tmp_path)
    found = [f for f in told_of if (f["about"]["table"], f["about"]["id"]) == about and f["severity"] != "note"]
    assert [f["severity"] for f in found] == ["error"], found
    for word in words:
        assert word in found[0]["sentence"], found


@pytest.mark.parametrize("inside", ["12 mm", "6 mm"])
def test_a_sleeve_too_small_for_what_is_drawn_through_it_is_an_error(inside, tmp_path):
    """NFPA 70 (NEC) chapter 9, table 1: one cable may fill 53 %. 10.7 mm in 12 mm are 80 %; through 6 mm it does not go."""
    found = reported(without("terraces", ('inside_diameter = "40 mm"', f'inside_diameter = "{inside}"')), tmp_path)
    about = [f for f in found if f["about"] == {"table": "sleeves", "id": "D1"} or "D1" in f["sentence"]]
    assert [f for f in about if f["severity"] == "error" and "53 %" in f["sentence"]], found


def test_lines_of_two_supplies_on_one_channel_are_an_error(tmp_path):
    """A channel has one voltage: a subwoofer straight on a 100 V output would burn."""
    found = reported(without("restaurant", ('channel = "C3"\nsupply', 'channel = "C1"\nsupply')), tmp_path)
    told_of = [f for f in found if f["severity"] == "error" and "100 V" in f["sentence"] and "low impedance" in f["sentence"]]
    assert told_of, [f["sentence"] for f in found]


def test_coils_of_a_loudspeaker_that_has_one_are_refused(tmp_path):
    """Only the catalogue's dual-coil models have coils to wire."""
    text = without("restaurant", ('mount = "eaves"\ntap', 'mount = "eaves"\ncoils = "series"\ntap'))
    done = run("check", written(tmp_path, text))
    assert done.returncode == 2 and "L1" in done.stderr and "coil" in done.stderr, done.stdout


def test_an_amplifier_for_lines_alone_is_said_to_be_none_for_low_impedance(tmp_path):
    """Its catalogue entry has a line power and no power into 8, 4 or 2 ohm."""
    found = reported(without("restaurant", ('amplifier = "P2"\noutput = 1', 'amplifier = "P1"\noutput = 2')), tmp_path)
    told_of = [f["sentence"] for f in found if f["about"]["id"] == "C3"]
    assert [s for s in told_of if "low impedance" in s], told_of


def test_a_neighbour_drawn_inside_a_house_is_told_once_and_by_its_name(tmp_path):
    """Not eight times, and not as "receiver 1" in "building 1": nobody on site has numbered them."""
    found = reported(without("restaurant", ('line = [["100 cm", "698 cm"], ["1500 cm", "698 cm"]]',
                                            'line = [["100 cm", "720 cm"], ["1500 cm", "720 cm"]]')), tmp_path)
    told_of = [f["sentence"] for f in found if f["about"] == {"table": "neighbours", "id": "above"}]
    [sentence] = [s for s in told_of if "inside" in s]
    assert sentence.count("inside") == 1 and "House with the kitchen" in sentence and "receiver" not in sentence, sentence


def test_a_fill_is_told_of_what_is_drawn_through_and_of_nothing_else(tmp_path):
    """Two lines in one cable are named by the cable's tag, as on the papers."""
    found = reported(without("restaurant", ('inside_diameter = "32 mm"', 'inside_diameter = "16 mm"')), tmp_path)
    [sentence] = [f["sentence"] for f in found if f["about"] == {"table": "passages", "id": "W1"}]
    assert "A1+B1" in sentence, sentence
