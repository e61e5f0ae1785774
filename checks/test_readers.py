"""Ten people read every result of one job while somebody moves a loudspeaker twenty times a second: every reader is served,
the visit pack too, nobody waits for what somebody else has asked for, and what stands at the end is what a server that never
saw the edits works out.

Source of the expected values: a second way of computing (another process with the final document and nothing kept). The
bound on waiting is ours: ten times what the answer takes alone on this machine, measured in the same run, for answers that
need nothing worked out.
"""

import json
import threading
import time
import urllib.request

import pytest
from test_server import Server, ask

RESULTS = ["", "/history", "/catalogue", "/findings", "/levels", "/neighbours", "/bass", "/lines", "/expect", "/processing",
           "/visit-pack", "/papers"]
KEPT = ["", "/history", "/catalogue"]
READERS, SECONDS, EDITS_PER_S = 10, 10, 20
# What is particular to one server's copy of a job: its name in the store, how often it was edited, when.
PARTICULAR = {"revision", "id", "at", "updated", "created", "opened", "undo", "redo", "can_undo", "can_redo"}


def stripped(value):
    if isinstance(value, dict):
        return {k: stripped(v) for k, v in value.items() if k not in PARTICULAR}
    return [stripped(v) for v in value] if isinstance(value, list) else value


def read(server, job, what):
    # Whoever gives up after half a minute would hide who is waiting for whom.
    with urllib.request.urlopen(f"{server.address}/api/jobs/{job}{what}", timeout=120) as answer:
        return json.loads(answer.read())


@pytest.fixture()
def servers(tmp_path):
    one, other = Server(tmp_path / "one"), Server(tmp_path / "other")
    yield one, other
    one.stop()
    other.stop()


def test_readers_wait_for_nobody_and_the_last_word_is_that_of_a_fresh_server(servers):
    server, fresh = servers
    status, _, made = ask(server.address, "POST", "/api/jobs", {"name": "Read", "from": "example"})
    assert status in (200, 201), made
    job = json.loads(made)["id"]
    alone = {}
    for what in RESULTS:
        read(server, job, what)
        started = time.monotonic()
        read(server, job, what)
        alone[what] = time.monotonic() - started
    until = time.monotonic() + SECONDS
    waits = {what: [] for what in RESULTS}
    failed = []

    def reader(first):
        n = first
        while time.monotonic() < until:
            what = RESULTS[n % len(RESULTS)]
            started = time.monotonic()
            try:
                read(server, job, what)
            except Exception as e:
                failed.append(e)
                return
            waits[what].append(time.monotonic() - started)
            n += 1

    threads = [threading.Thread(target=reader, args=(i,)) for i in range(READERS)]
    for thread in threads:
        thread.start()
    document = read(server, job, "")
    x, y = document["document"]["loudspeakers"]["L8"]["position"]
    revision, edits = document["revision"], 0
    begun = time.monotonic()
    while time.monotonic() < until:
        edits += 1
        edit = {"edit_id": f"moved-{edits:05}", "base_revision": revision,
                "patch": [{"op": "replace", "path": "/loudspeakers/L8/position", "value": [x + 0.05 * (edits % 7), y]}]}
        status, _, answer = ask(server.address, "POST", f"/api/jobs/{job}/edits", edit)
        assert status == 200, answer
        revision = json.loads(answer)["revision"]
        time.sleep(max(0.0, begun + edits / EDITS_PER_S - time.monotonic()))
    for thread in threads:
        thread.join(timeout=120)
        assert not thread.is_alive(), "a reader is still waiting"
    assert not failed, failed[0]
    assert edits > SECONDS * EDITS_PER_S / 4, f"{edits} edits in {SECONDS} s: the editor waits for the readers"
    for what, each in waits.items():
        assert each, f"{what or 'the job'} was answered {len(each)} times: it never comes to an end while somebody edits"
    # What is kept needs nothing worked out: however busy the others are, it is not held up by them.
    for what in KEPT:
        middle = sorted(waits[what])[len(waits[what]) // 2]
        assert middle < max(1.0, 10 * alone[what]), f"{what or 'the job'}: {middle:.3f} s in the middle, {alone[what]:.3f} s alone"

    # A server that knows nothing of the edits, given the document as it stands.
    status, _, zipped = ask(server.address, "GET", f"/api/jobs/{job}/export")
    assert status == 200
    taking = urllib.request.Request(f"{fresh.address}/api/jobs/import", zipped, {"content-type": "application/zip"})
    with urllib.request.urlopen(taking, timeout=60) as taken:
        other = json.loads(taken.read())["id"]
    for what in RESULTS:
        if what in ("/history", "/papers"):
            continue
        ours, theirs = stripped(read(server, job, what)), stripped(read(fresh, other, what))
        assert ours == theirs, what
