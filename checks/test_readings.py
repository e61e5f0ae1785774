"""Readings are kept and judged, the same everywhere: a whole job, a terrace under apartments with three lines and three visits
(a short of 0.4 ohm, 20 kohm to earth, a cut line), on the command line, as JSON, over HTTP, in the phone's pack and on paper.

What its lines should read is worked out in terrace.py.
"""

import json
import re

import pytest

from over_http import fetched, imported, server  # noqa: F401 (fixture)
from papers import flowing
from terrace import (  # noqa: F401 (fixture)
    PLACES, RUNS, Z999, agree, answer, by_id, dc, document, folder, interval, readings, z_1khz)
from test_server import ask
from tool import run


def test_what_is_expected_is_what_the_copper_and_the_windings_say(folder):
    lines = answer("expect", folder, "--at", "dc")["lines"]
    seen = 0
    for name, line in lines.items():
        for r in line["readings"]:
            at = None if r["place"] == "rack" else r["place"]["downstream"]
            if at and all(run[0] != at for run in RUNS[name].values()) and at not in PLACES:
                continue
            assert r["ohm"] == pytest.approx(dc(name, at), rel=2e-3), (name, at)
            low, high = interval(name, at)
            assert r["low_ohm"] == pytest.approx(low, rel=6e-3), (name, at)
            assert r["high_ohm"] == pytest.approx(high, rel=6e-3), (name, at)
            far = interval(name, at, z=Z999)
            assert [r["far_low_ohm"], r["far_high_ohm"]] == pytest.approx(far, rel=1e-2), (name, at)
            seen += 1
    assert seen == 3 + 7


def test_every_reading_is_judged_alike_on_the_command_line(folder):
    for command in ("check", "years", "expect"):
        agree(by_id(answer(command, folder)["readings"]))
    rows = answer("expect", folder)["readings"]
    row = next(r for r in rows if (r["visit"], r["reading"]) == ("V2", "r4"))
    assert [row["low_ohm"], row["high_ohm"]] == pytest.approx(interval("B"), rel=6e-3)
    stage = next(r for r in rows if (r["visit"], r["reading"]) == ("V0", "r1"))
    assert stage["stage"] == "L1"
    assert [stage["low_ohm"], stage["high_ohm"]] == pytest.approx(interval("A", until="a2"), rel=6e-3)


def test_check_tells_what_is_bad_worst_first_and_blames_what_locate_blames(folder):
    findings = answer("check", folder)["findings"]
    told = [f for f in findings if re.search(r"\(visit of ", f["sentence"])]
    order = {"error": 0, "warning": 1, "note": 2}
    assert [order[f["severity"]] for f in told] == sorted(order[f["severity"]] for f in told)
    short = next(f for f in told if "Line B reads 0.40 ohm at the rack, DC" in f["sentence"])
    low, high = interval("B")
    assert f"where {low:.2f} to {high:.2f} ohm is expected. Bad: too low, as a short reads." in short["sentence"]
    assert short["severity"] == "error"
    opened = next(f for f in told if "Line C reads open at the rack, DC" in f["sentence"])
    leak = next(f for f in told if "Line A leaks to earth through 20.0 kohm" in f["sentence"])
    assert "at least 1.00 Mohm is expected. Bad: it leaks." in leak["sentence"] and leak["severity"] == "warning"
    # One explanation: what locate ranks first for the visit stands in the finding, in years, in both of them.
    years = " ".join(run("years", folder).stdout.split())
    for line, finding in (("B", short), ("C", opened)):
        located = answer("locate", folder, "--line", line, "--visit", "V2")["located"]["diagnosis"]
        first = located["answers"][0]
        only = first["members"][0] if len(first["members"]) == 1 else None
        blamed = first["sentence"] if only is None else located["explanations"][only]["sentence"]
        assert blamed in finding["sentence"], (blamed, finding)
        last = next(s for s in answer("years", folder)["lines"][line] if s["measured"] == {"loop": 0.0})
        assert blamed in last["readings"][-1]["sentence"]
        assert re.sub(r"\s+", "", blamed) in re.sub(r"\s+", "", years) or blamed[:20] in years
    assert "splice" not in opened["sentence"]


def test_years_fears_what_is_bad_now_and_check_prints_what_was_read(folder, tmp_path):
    text = run("years", folder).stdout
    part = text[text.index("Line B") : text.index("Line C")]
    assert "nothing to fear" not in part and "0.40 ohm" in part and "Bad: too low" in part
    # What was read while the line was being built has no part in how it moves.
    dc_of_a = next(s for s in answer("years", folder)["lines"]["A"] if s["measured"] == {"loop": 0.0})
    assert [r["visit"] for r in dc_of_a["readings"]] == ["V1", "V2"]
    # A rise that is sure: the reading as read, the trend by its own name (scipy has the fit in test_years.py).
    low, high = interval("A")
    ohms = [low + share * (high - low) for share in (0.3, 0.45, 0.62, 0.8)]
    visits = [
        f'\n[visits.Y{k}]\ndate = "{2022 + k}-05-01"\n[visits.Y{k}.readings.r]\nline = "A"\ndc = "{o!r} ohm"\n'
        for k, o in enumerate(ohms)
    ]
    job = tmp_path / "rising"
    job.mkdir()
    (job / "job.toml").write_text(document(visits))
    said = [f for f in answer("check", job)["findings"] if "loop resistance moves by" in f["sentence"]]
    assert len(said) == 1
    places = 2 if ohms[-1] < 10 else 1 if ohms[-1] < 100 else 0
    assert f"it read {ohms[-1]:.{places}f} ohm on 2025-05-01, the trend gives " in said[0]["sentence"]
    assert " now" not in said[0]["sentence"]


def test_years_blames_what_locate_blames_though_the_reading_itself_is_good(tmp_path):
    """A loop that rises within what is expected, while at 1 kHz the line reads as if one loudspeaker were off: no splice."""
    low, high = interval("A")
    visits = [
        f'\n[visits.Y{k}]\ndate = "{2022 + k}-05-01"\n[visits.Y{k}.readings]\nr1 = {{ line = "A", dc = "{low + share * (high - low)!r} ohm" }}\n'
        f'r2 = {{ line = "A", impedance = "{ohm!r} ohm", frequency = "1 kHz" }}\n'
        for k, (share, ohm) in enumerate(zip((0.02, 0.1, 0.2, 0.4), (z_1khz(),) * 3 + (2 * z_1khz(),)))
    ]
    job = tmp_path / "job"
    job.mkdir()
    (job / "job.toml").write_text(document(visits))
    blamed = answer("locate", job, "--line", "A", "--visit", "Y3")["located"]["diagnosis"]["answers"][0]["sentence"]
    assert "open" in blamed or "missing" in blamed, blamed
    flat = " ".join(run("years", job).stdout.split())
    [dc_row] = re.findall(r"DC 4 .*?(?= 1 kHz 4 )", flat)
    assert "past its limit" in dc_row and "splice" not in dc_row, dc_row
    told = [f for f in answer("check", job)["findings"] if "loop resistance moves by" in f["sentence"]]
    assert len(told) == 1 and told[0]["mend"].endswith(blamed), told


def test_what_nothing_explains_names_the_joint_of_every_reading(folder):
    """Two readings at direct current, at the rack and at J1, are told apart."""
    said = " ".join(run("locate", folder, "--line", "A", "--visit", "V2").stdout.split())
    assert re.search(r"With it, DC reads [\d.]+ ohm .*; DC at J1 reads [\d.]+ ohm and would read", said), said


def on_the_phone(pack):
    """The rule of web/src/visits/verdict.ts on what the pack holds."""
    visits, told = pack["resolved"]["visits"], {}
    for v, visit in visits.items():
        for id, r in visit["readings"].items():
            line = pack["expect"][r["line"]]
            if r["leakage"] is not None:
                mohm = r["leakage"] / 1e6
                good, doubtful = mohm >= line["leakage_mohm"], mohm >= line["leakage_doubtful_mohm"]
                told[v, id] = ("good", "within") if good else ("doubtful" if doubtful else "bad", "low")
                continue
            ohm, hz = (r["dc"], 0.0) if r["dc"] is not None else (r["impedance"], r["frequency"])
            of = line["readings"]
            if visit["kind"] == "building":
                laid = {d["run"] for w in visits.values() if w["date"] <= visit["date"] for d in w["done"].values()}
                joints = [s["joint"] for s in line["stages"]]
                is_laid = lambda j: any(x["to"] == j and x["id"] in laid for x in line["runs"])  # noqa: E731
                missing = next(k for k, j in enumerate(joints) if not is_laid(j))
                of = line["stages"][missing - 1]["readings"]
            e = next(e for e in of if e["place"] == ({"downstream": r["at"]} if r["at"] else "rack") and e["frequency_hz"] == hz)
            if r["above"] or ohm == "open":
                told[v, id] = ("bad", "open")
            elif e["low_ohm"] <= ohm <= e["high_ohm"]:
                told[v, id] = ("good", "within")
            else:
                far = not e["far_low_ohm"] <= ohm <= e["far_high_ohm"]
                says = "high" if ohm > e["high_ohm"] else "short" if far and ohm <= e["short_ohm"] else "low"
                told[v, id] = ("bad" if far else "doubtful", says)
    return told


def test_http_and_the_phones_pack_say_the_same(server, folder):
    job = imported(server, folder)
    told = fetched(server, f"/api/jobs/{job}/expect")["readings"]
    agree(by_id(told))
    pack = fetched(server, f"/api/jobs/{job}/visit-pack")
    agree(by_id(pack["readings"]))
    agree(on_the_phone(pack))
    # Sentences to the letter, and the same findings as on the command line.
    mine = {(r["visit"], r["reading"]): r["sentence"] for r in answer("check", folder)["readings"]}
    assert {(r["visit"], r["reading"]): r["sentence"] for r in told} == mine
    listed = {f["sentence"] for f in fetched(server, f"/api/jobs/{job}/findings")["findings"]}
    assert {f["sentence"] for f in answer("check", folder)["findings"]} == listed
    # The app asks about a visit: one explanation.
    asked = {"line": "C", "visit": "V2"}
    located = json.loads(ask(server.address, "POST", f"/api/jobs/{job}/locate", asked)[2])
    theirs = answer("locate", folder, "--line", "C", "--visit", "V2")["located"]["diagnosis"]["answers"]
    assert located["located"]["diagnosis"]["answers"] == theirs


def test_the_as_built_sheet_shows_what_was_read_with_its_verdict(folder, tmp_path):
    out = tmp_path / "papers"
    done = run("pack", folder, "--out", out)
    assert done.returncode in (0, 1), done.stderr
    text = flowing(out / "as-built.pdf")
    for verdict in ("good", "bad: too low, as a short reads", "bad: open", "bad: it leaks", "doubtful: it leaks", "bad: too high"):
        assert verdict in text, verdict
    shown = lambda ohm: f"{ohm:.{2 if ohm < 10 else 1 if ohm < 100 else 0}f}"  # noqa: E731
    for _, _, _, _, hz, ohm, above, _, _ in readings():
        if hz is not None and not above and ohm != "open":
            assert shown(ohm) in text, ohm
    assert "0.02 megohm" in text and "at least 1 megohm" in text
    # The finished lines' own table: the last reading that stands.
    table = text[text.index("Readings of the finished lines") : text.index("Readings taken")]
    assert "0.40" in table and "2026-05-02" in table
    assert len(re.findall(r"20(?:25-03-01|25-04-17|26-05-02)", text[text.index("Readings taken") :])) >= len(readings())


def test_there_is_one_limit_of_insulation(server, folder, tmp_path):
    limits = {line["leakage_mohm"] for line in answer("expect", folder)["lines"].values()}
    assert limits == {1.0}
    assert "at least 1 Mohm to earth at 250 V DC\n(IEC 60364-6, from memory)" in run("expect", folder).stdout
    job = imported(server, folder)
    pack = fetched(server, f"/api/jobs/{job}/visit-pack")
    assert {line["leakage_mohm"] for line in pack["expect"].values()} == {1.0}
    steps = [s for stage in pack["order"] for s in stage["steps"] if "to earth" in s["action"]]
    assert len(steps) == 3 and {s["confirm"] for s in steps} == {"at least 1 Mohm; discharge the line afterwards"}
    # A 25 V job has the same limit on its papers.
    low = tmp_path / "low"
    low.mkdir()
    text = document([]).replace('supply = "100 V"', 'supply = "25 V"')
    (low / "job.toml").write_text(text)
    out = tmp_path / "papers"
    done = run("pack", low, "--out", out)
    assert done.returncode in (0, 1), done.stderr
    crew = flowing(out / "crew-pack.pdf")
    assert set(re.findall(r"at least ([\d.]+) megohm", crew)) == {"1"} and "its limit is from IEC 60364" in crew
