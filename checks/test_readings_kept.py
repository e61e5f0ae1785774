"""Readings, ticks and photos stay byte for byte when a proposal, a person in the app or a deleted line takes the lines from under
them, and are judged by the line as it was; so are those of a line whose equipment is changed, while a length put right judges anew what
was not handed over yet. The terrace of terrace.py, on the command line
and over HTTP.
"""

import json
import re
import shutil
import time
import tomllib

from over_http import fetched, imported, imported_text, server  # noqa: F401 (fixture)
from papers import flowing
from terrace import agree, answer, by_id, folder, readings  # noqa: F401 (fixture)
from test_server import ask
from tool import run


def visits_as_typed(text):
    """Readings, ticks and photos of a document, as the file has them."""
    every = tomllib.loads(text)["visits"]
    return {v: {k: x for k, x in visit.items() if k != "lines"} for v, visit in every.items()}


def as_lines(text):
    """The lines of the file that hold readings, ticks and photos."""
    return [line for line in text.splitlines() if re.match(r'(r\d|p1|"a\d-laid"|"L1-placed") = \{', line)]


def test_a_proposal_keeps_what_was_measured_byte_for_byte_and_says_what_it_replaces(folder, tmp_path):
    job = tmp_path / "job"
    shutil.copytree(folder, job)
    before = (job / "job.toml").read_text()
    told = answer("propose", job, "--option", "least-cost", "--time", "0.5s")
    option = told["proposal"]["options"][0]
    replaced = {r["line"]: r for r in option["replaces"]}
    count = lambda line: sum(1 for r in readings() if r[2] == line)  # noqa: E731
    assert {l: r["readings"] for l, r in replaced.items()} == {l: count(l) for l in "ABC"}
    assert replaced["A"]["visits"] == ["V0", "V1", "V2"] and replaced["A"]["photos"] == 1
    assert replaced["A"]["done"] == 3
    done = run("propose", job, "--write", "--option", "least-cost", "--time", "0.5s")
    assert done.returncode == 0, done.stderr
    assert "this design replaces it" in " ".join(done.stdout.split())
    after = (job / "job.toml").read_text()
    assert visits_as_typed(after) == visits_as_typed(before)
    assert len(as_lines(before)) == len(readings()) + 4
    assert as_lines(after) == as_lines(before)
    # The new lines may have the old ids: nothing of the old is held against them.
    new = tomllib.loads(after)
    assert set(new["lines"]) & set("ABC")
    agree(by_id(answer("check", job)["readings"]))
    assert not [f for f in answer("check", job)["findings"] if re.search(r"\(visit of ", f["sentence"])]
    assert answer("years", job)["lines"] == {}
    assert "(before)" in run("years", job).stdout
    blamed = lambda where: answer("locate", where, "--line", "B", "--visit", "V2")["located"]["diagnosis"]["answers"]  # noqa: E731
    # The other lines it might have been swapped with are gone; what is likeliest is not.
    assert blamed(job)[0]["sentence"] == blamed(folder)[0]["sentence"]
    out = tmp_path / "papers"
    assert run("pack", job, "--out", out).returncode in (0, 1)
    text = flowing(out / "as-built.pdf")
    table = text[text.index("Readings of the finished lines") : text.index("Readings taken")]
    assert "2026-05-02" not in table and "B (before)" in text


def test_taking_a_proposal_over_in_the_app_and_deleting_a_line_keep_it_too(server, folder):
    for how in ("accept", "delete"):
        job = imported(server, folder)
        before = fetched(server, f"/api/jobs/{job}")
        if how == "accept":
            started = json.loads(ask(server.address, "POST", f"/api/jobs/{job}/propose", {"time_s": 0.5, "options": ["least-cost"]})[2])
            for _ in range(600):
                run_view = fetched(server, f"/api/jobs/{job}/propose/{started['run']}")
                if run_view["done"]:
                    break
                time.sleep(0.2)
            option = run_view["proposal"]["options"][0]
            assert {r["line"] for r in option["replaces"]} == set("ABC")
            assert any("this design replaces it" in f["sentence"] for f in option["findings"])
            patch = option["edit"]
        else:
            patch = [{"op": "remove", "path": f"/loudspeakers/{t}"} for t in ("L1", "L2")]
            patch += [{"op": "remove", "path": "/joints/J1"}, {"op": "remove", "path": "/lines/A"}]
        edit = {"edit_id": f"one-{how}", "base_revision": before["revision"], "patch": patch, "who": "x", "note": how}
        status, _, body = ask(server.address, "POST", f"/api/jobs/{job}/edits", edit)
        assert status == 200, body
        # Sent twice, it takes effect once.
        status, _, again = ask(server.address, "POST", f"/api/jobs/{job}/edits", edit)
        assert status == 200 and json.loads(again)["revision"] == json.loads(body)["revision"]
        after = fetched(server, f"/api/jobs/{job}")
        for v, visit in before["document"]["visits"].items():
            for table, entries in visit.items():
                assert after["document"]["visits"][v][table] == entries, (how, v, table)
        kept = after["document"]["visits"]["V2"]["lines"]["A"]
        assert kept["as_it_was"]["runs"] == before["document"]["lines"]["A"]["runs"]
        assert {t: l["tap"] for t, l in kept["loudspeakers"].items()} == {"L1": "10 W", "L2": "10 W"}
        rows = by_id(fetched(server, f"/api/jobs/{job}/expect")["readings"])
        agree(rows)
        pack = fetched(server, f"/api/jobs/{job}/visit-pack")
        agree(by_id(pack["readings"]))
        # What others carry out to follow is in the log: the same document comes of it.
        log = fetched(server, f"/api/jobs/{job}/history")
        assert any(o["path"].startswith("/visits/V2/lines") for o in log[0]["patch"])
        status, _, body = ask(server.address, "POST", f"/api/jobs/{job}/undo", {"who": "x"})
        assert status == 200, body
        assert fetched(server, f"/api/jobs/{job}")["document"] == before["document"]


def edited(server, job, patch, id):
    edit = {"edit_id": f"edit-{id}", "base_revision": fetched(server, f"/api/jobs/{job}")["revision"], "patch": patch, "who": "x", "note": id}
    status, _, body = ask(server.address, "POST", f"/api/jobs/{job}/edits", edit)
    assert status == 200, body


def test_equipment_changed_on_a_measured_line_leaves_its_readings_as_they_were_judged(server, folder):
    job = imported(server, folder)
    before = fetched(server, f"/api/jobs/{job}")["document"]
    told = json.loads(ask(server.address, "POST", f"/api/jobs/{job}/take-out", {"table": "loudspeakers", "id": "L2"})[2])
    count = sum(1 for r in readings() if r[2] == "A")
    assert f"The {count} readings of line A so far stay as they were judged." in json.dumps(told["changed"])
    changes = {
        "L2 was taken out since": told["patch"],
        "the tap of L1 was changed since": [{"op": "replace", "path": "/loudspeakers/L1/tap", "value": "5 W"}],
        "L1 is another model since": [{"op": "replace", "path": "/loudspeakers/L1/model", "value": "stake-110-narrow"}],
    }
    for n, (since, patch) in enumerate(changes.items()):
        edited(server, job, patch, f"changed-{n}")
        rows = fetched(server, f"/api/jobs/{job}/expect")["readings"]
        agree(by_id(rows))
        assert {r.get("since") for r in rows if r["line"] == "A"} == {since}
        assert {r.get("since") for r in rows if r["line"] != "A"} == {None}
        status, _, body = ask(server.address, "POST", f"/api/jobs/{job}/undo", {"who": "x"})
        assert status == 200, body
        assert fetched(server, f"/api/jobs/{job}")["document"] == before


def test_a_length_put_right_judges_anew_what_was_not_handed_over(server, folder):
    longer = [{"op": "replace", "path": "/lines/B/runs/b1/length", "value": "90 m"}]
    signed = imported(server, folder)
    edited(server, signed, longer, "signed")
    agree(by_id(fetched(server, f"/api/jobs/{signed}/expect")["readings"]))
    text = (folder / "job.toml").read_text().replace('kind = "handover"', 'kind = "maintenance"')
    open_still = imported_text(server, text)
    agree(by_id(fetched(server, f"/api/jobs/{open_still}/expect")["readings"]))
    edited(server, open_still, longer, "open")
    rows = by_id(fetched(server, f"/api/jobs/{open_still}/expect")["readings"])
    # 76 m more, there and back, of 2.08 mm2 copper (14 AWG, 0.0172 ohm mm2/m) are about 1.3 ohm that the reading of 14 m has not.
    assert rows["V1", "r4"][1] == "low", rows["V1", "r4"]
    assert not any(v.get("lines") for v in fetched(server, f"/api/jobs/{open_still}")["document"]["visits"].values())


def test_upkeep_by_hand_keeps_the_line_and_what_cannot_be_found_is_told_not_refused(folder, tmp_path):
    job = tmp_path / "job"
    job.mkdir()
    text = (folder / "job.toml").read_text()
    # A hand at the text is seen by nobody: the readings are those of the line as it is written then.
    (job / "job.toml").write_text(text.replace('tap = "20 W"', 'tap = "10 W"'))
    assert len(answer("years", job)["lines"]["C"][0]["readings"]) == 2
    (job / "job.toml").write_text(text.replace('r5 = { line = "C"', 'r5 = { line = "CC"'))
    done = run("check", job, "--json")
    assert done.returncode in (0, 1), done.stderr
    lost = [f for f in json.loads(done.stdout)["findings"] if "reading r5 names line" in f["sentence"]]
    assert len(lost) == 2 and all('did you mean "C"?' in f["sentence"] and f["severity"] == "warning" for f in lost)
