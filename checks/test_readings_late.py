"""A phone was on site while the office took over a proposal: what it measured and did on the lines as its pack had them comes in
afterwards, and stays for ever with the line as it was, whatever hangs under that id by then. The terrace of `terrace.py`,
whose interval of readings is worked out there; second way: the same edits in the other order, first the phone's.
"""

import json
import time

import pytest

import terrace
from over_http import fetched, imported, server  # noqa: F401 (fixture)
from test_server import ask


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """The terrace as designed; a first visit, so that the job knows of visits."""
    made = tmp_path_factory.mktemp("terrace") / "job"
    made.mkdir()
    (made / "job.toml").write_text(terrace.document([terrace.typed("V0")]))
    return made


@pytest.fixture(scope="module")
def proposed(server, folder):
    """The edit that puts a proposed design in place of the lines that are there: another start, other loudspeakers."""
    job = imported(server, folder)
    run = json.loads(ask(server.address, "POST", f"/api/jobs/{job}/propose", {"time_s": 0.5, "options": ["least-cost"]})[2])["run"]
    for _ in range(600):
        told = fetched(server, f"/api/jobs/{job}/propose/{run}")
        if told["done"]:
            return told["proposal"]["options"][0]
        time.sleep(0.2)
    raise AssertionError("no proposal within two minutes")


LOW, HIGH = terrace.interval("A")
VISIT = {
    "date": "2026-06-01", "kind": "maintenance",
    "readings": {
        "r1": {"line": "A", "dc": f"{0.5 * (LOW + HIGH)!r} ohm"},
        "r2": {"line": "A", "at": "J1", "dc": f"{sum(terrace.interval('A', 'J1')) / 2!r} ohm"},
        "r3": {"line": "B", "dc": "0.4 ohm"},
    },
    "done": {"a2-laid": {"work": "laid", "line": "A", "run": "a2"}, "L1-placed": {"work": "placed", "at": "L1"}},
}
WANTED = {"r1": ("good", "within"), "r2": ("good", "within"), "r3": ("bad", "short")}


def edited(server, job, key, base, patch, status=200, **more):
    sent = {"edit_id": f"late-{key}", "base_revision": base, "patch": patch, "who": "phone", "note": "", **more}
    got, _, body = ask(server.address, "POST", f"/api/jobs/{job}/edits", sent)
    assert got == status, body
    return json.loads(body)


def judged(rows):
    return {r["reading"]: (r["grade"], r["says"]) for r in rows if r["visit"] == "V9"}


def piece_by_piece():
    """The phone's visit as it is entered: the visit with nothing on it, then each reading and each tick."""
    empty = {table: {} for table in ("readings", "done")}
    yield [{"op": "add", "path": "/visits/V9", "value": {**VISIT, **empty}}]
    for table in empty:
        for id, entry in VISIT[table].items():
            yield [{"op": "add", "path": f"/visits/V9/{table}/{id}", "value": entry}]


def carried_out(server, folder, proposed, order):
    """The job after the phone's visit and the proposal: the phone first; the office first and the phone on revision 0; or the
    office first and the phone on the newest revision as the app has it, naming the one of its pack."""
    job = imported(server, folder)
    whole = [[{"op": "add", "path": "/visits/V9", "value": VISIT}]]
    phone = list(piece_by_piece()) if order == "piece by piece" else whole
    edits = [("phone", patch) for patch in phone]
    edits.insert(len(edits) if order == "before" else 0, ("office", proposed["edit"]))
    for k, (who, patch) in enumerate(edits):
        if who == "office":
            edited(server, job, f"{order.replace(' ', '-')}-{k}", k, patch)
        elif order == "piece by piece":
            edited(server, job, f"{order.replace(' ', '-')}-{k}", k, patch, measured_revision=0)
        else:
            edited(server, job, f"{order}-{k}", 0, patch)
    return job


@pytest.mark.parametrize("order", ["before", "after", "piece by piece"])
def test_what_a_phone_measured_is_held_against_the_line_it_measured(server, folder, proposed, order):
    # Of what the office has, only A was measured; B goes as well.
    assert [r["line"] for r in proposed["replaces"]] == ["A"]
    assert {"/lines", "/lines/B"} & {o["path"] for o in proposed["edit"]}
    job = carried_out(server, folder, proposed, order)
    document = fetched(server, f"/api/jobs/{job}")["document"]
    for table in ("readings", "done"):
        assert document["visits"]["V9"][table] == VISIT[table], "kept as it came"
    rows = fetched(server, f"/api/jobs/{job}/expect")["readings"]
    assert judged(rows) == WANTED
    for row in rows:
        if row["visit"] == "V9":
            assert row["as_it_was"], (row["reading"], "is of a line that is no longer there")
    runs = fetched(server, f"/api/jobs/{imported(server, folder)}")["document"]["lines"]["A"]["runs"]
    kept = [k for k in document["visits"]["V9"]["lines"].values() if k["line"] == "A"]
    assert kept and all(k["as_it_was"]["runs"] == runs for k in kept)
    assert judged(fetched(server, f"/api/jobs/{job}/visit-pack")["readings"]) == WANTED


def test_a_second_proposal_leaves_the_line_as_it_was_measured(server, folder, proposed):
    """What is kept is kept once: taking the design away again, and drawing yet another line under the id, changes none of it."""
    job = carried_out(server, folder, proposed, "before")
    before = fetched(server, f"/api/jobs/{job}")
    kept = {v: visit["lines"] for v, visit in before["document"]["visits"].items() if "lines" in visit}
    assert kept["V9"].keys() >= {"A", "B"}
    lines = [line for line in before["document"]["lines"] if line in "ABC"]
    gone = [{"op": "remove", "path": f"/loudspeakers/{tag}"}
            for tag, one in before["document"]["loudspeakers"].items() if one.get("line") in lines]
    gone += [{"op": "remove", "path": f"/lines/{line}"} for line in lines]
    edited(server, job, "gone", before["revision"], gone)
    after = fetched(server, f"/api/jobs/{job}")["document"]
    for visit, entries in kept.items():
        for line, entry in entries.items():
            assert after["visits"][visit]["lines"][line] == entry
    assert judged(fetched(server, f"/api/jobs/{job}/expect")["readings"]) == WANTED
