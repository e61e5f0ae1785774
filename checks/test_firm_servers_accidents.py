"""Accidents of a firm's servers on one PostgreSQL: of bursts of edits through three of them, of which one is killed or frozen and the
database itself is ended as by the loss of power, no acknowledged edit is lost or doubled.

Source of the expected values: what the clients were told, kept here.
"""

import http.client
import json
import os
import threading
import time

import pytest

from firm_servers import history, mark, only_job, server_on, told
from postgres import cluster  # noqa: F401 (a fixture)
from test_server import ask

# How often each accident is tried: once by day, five times by night.
ROUNDS = int(os.environ.get("LOAMLINE_ACCIDENTS", "1"))


class Client(threading.Thread):
    """Somebody who edits a thing of his own by way of whichever server answers, and sends again, under the same id, what was
    not answered."""

    def __init__(self, name, addresses, job, over):
        super().__init__()
        self.name, self.addresses, self.job, self.over = name, addresses, job, over
        self.told, self.sent, self.problems = [], [], []

    def run(self):
        n = 0
        while not self.over.is_set():
            n += 1
            note = f"{self.name}-{n:06}"
            self.sent.append(note)
            edit = mark(f"firm-{note}", 0, self.name, note, n)
            for attempt in range(200):
                address = self.addresses[(n + attempt) % len(self.addresses)]
                try:
                    status, _, answer = ask(address, "GET", f"/api/jobs/{self.job}")
                    # Whoever was told of a revision by one server does not take back what another has not heard of yet.
                    read = json.loads(answer)["revision"] if status == 200 else 0
                    edit["base_revision"] = max(read, edit["base_revision"], *(told for told, _ in self.told[-1:]))
                    status, _, answer = ask(address, "POST", f"/api/jobs/{self.job}/edits", edit)
                except (OSError, http.client.HTTPException, ValueError):
                    status = None
                if status == 200:
                    self.told.append((json.loads(answer)["revision"], note))
                    break
                if status not in (None, 503):
                    self.problems.append((note, status, answer))
                    return
                time.sleep(0.05)
            else:
                self.problems.append((note, "never answered", ""))
                return


def burst(servers, job, meanwhile, round_):
    """Edits by eight people through all servers, while something happens to one of them; the people."""
    over = threading.Event()
    names = [f"{meanwhile.__name__}{round_}x{k}" for k in range(8)]
    people = [Client(name, [s.address for s in servers], job, over) for name in names]
    for person in people:
        person.start()
    time.sleep(1.5)
    meanwhile()
    time.sleep(2.5)
    over.set()
    for person in people:
        person.join(60)
        assert not person.is_alive()
    return people


def nothing_lost_or_doubled(servers, job, people):
    """How many edits were acknowledged; each stands in the log at the revision that was told, and once."""
    assert not [p for person in people for p in person.problems], [person.problems for person in people][:3]
    entries = history(servers[0], job)
    revisions = [entry["revision"] for entry in entries]
    assert revisions == list(range(1, len(entries) + 1))
    kept = {entry["revision"]: entry["note"] for entry in entries}
    acknowledged = [edit for person in people for edit in person.told]
    lost = [edit for edit in acknowledged if kept.get(edit[0]) != edit[1]]
    assert not lost, f"{len(lost)} of {len(acknowledged)} acknowledged edits are lost: {lost[:5]}"
    notes = [entry["note"] for entry in entries]
    doubled = {note for note in notes if note and notes.count(note) > 1}
    assert not doubled, sorted(doubled)[:5]
    sent = {note for person in people for note in person.sent}
    own = [note for note in notes if any(note.startswith(f"{p.name}-") for p in people)]
    assert set(own) <= sent
    for server in servers:
        marks = told(server, "GET", f"/api/jobs/{job}")[1]["document"]["marks"]
        for person in people:
            last = max((r, n) for r, n in kept.items() if n.startswith(f"{person.name}-"))
            assert marks[person.name]["name"] == last[1], (server.address, person.name)
    return len(acknowledged)


def test_of_bursts_no_acknowledged_edit_is_lost_or_doubled_whatever_is_ended(cluster, tmp_path, capsys):
    address = cluster.database("bursts")
    servers = [server_on(address, tmp_path / str(n)) for n in range(3)]
    try:
        job = only_job(servers[0])

        def killed():
            servers[2].process.kill()
            servers[2].process.wait(10)

        def ended():
            cluster.crash()
            cluster.start()

        def frozen():
            os.kill(servers[1].process.pid, 19)
            time.sleep(1)
            os.kill(servers[1].process.pid, 18)

        counts = {"a server killed": 0, "the database ended": 0, "a server frozen": 0}
        for round_ in range(ROUNDS):
            people = burst(servers, job, killed, round_)
            counts["a server killed"] += nothing_lost_or_doubled(servers[:2], job, people)
            servers[2].process.stdout.close()
            servers[2] = server_on(address, tmp_path / f"again{round_}")
            people = burst(servers, job, ended, round_)
            counts["the database ended"] += nothing_lost_or_doubled(servers, job, people)
            people = burst(servers, job, frozen, round_)
            counts["a server frozen"] += nothing_lost_or_doubled(servers, job, people)
        with capsys.disabled():
            print("\nacknowledged edits, none lost or doubled: " + ", ".join(f"{n} with {k}" for k, n in counts.items()))
        assert min(counts.values()) >= 40 * ROUNDS, counts
    finally:
        for s in servers:
            s.process.poll() is None and s.stop()


if __name__ == "__main__":
    pytest.main([__file__])
