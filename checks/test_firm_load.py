"""A firm's day on three servers and one PostgreSQL: two hundred browsers look and edit, nothing goes wrong and edits are on the
others' screens in time; ten thousand jobs are listed, and a job with twenty thousand edits is opened, while somebody waits.

Times are of the built program on this machine; the bounds on them are this project's own contract, with no outside source.
"""

import json
import os
import statistics
import time

import pytest

from firm_load import Load, asked, filled
from postgres import cluster  # noqa: F401 (a fixture)
from test_server import Server

# A quarter of a minute by day, a whole one by night.
SECONDS = float(os.environ.get("LOAMLINE_LOAD_S", "15"))
JOBS, EDITS = 10_000, 20_000


def test_two_hundred_browsers_on_three_servers(cluster, tmp_path, capsys):
    address = cluster.database("load")
    servers = [Server(tmp_path / str(n), "--database", address) for n in range(3)]
    try:
        load = Load(servers, 200, SECONDS, 1).run()
    finally:
        for server in servers:
            server.stop()
    figures = load.figures()
    with capsys.disabled():
        print("\n" + json.dumps(figures))
    assert not load.problems, load.problems[:5]
    # Two hundred people who edit every ten seconds in the mean, each seen by the nine others of the job.
    assert figures["edits"] > 0.5 * 20 * SECONDS
    assert figures["seen"] > 8 * figures["edits"]
    assert figures["seen_by_others"]["median_ms"] <= 150


@pytest.fixture(scope="module")
def large(cluster, tmp_path_factory):
    """Address of a database with one job that has a long log, and many beside it; the id of the first."""
    address = cluster.database("large")
    server = Server(tmp_path_factory.mktemp("first"), "--database", address)
    try:
        job = asked(server, "GET", "/api/jobs")[1][0]["id"]
        for n, at in enumerate(([1, 1], [2, 1])):
            value = {"name": "to and fro", "position": at}
            edit = {"edit_id": f"made-{n:08}", "base_revision": n, "who": "Check", "note": f"mark {n}",
                    "patch": [{"op": "add", "path": "/marks/fro", "value": value}]}
            status, answer = asked(server, "POST", f"/api/jobs/{job}/edits", edit)
            assert status == 200, answer
    finally:
        server.stop()
    filled(cluster, "large", job, jobs=JOBS - 1, edits=EDITS)
    return address, job


def took(work):
    began = time.monotonic()
    answer = work()
    return time.monotonic() - began, answer


def test_ten_thousand_jobs_are_listed(large, tmp_path, capsys):
    address, _ = large
    server = Server(tmp_path, "--database", address)
    try:
        times = []
        for _ in range(5):
            seconds, (status, jobs) = took(lambda: asked(server, "GET", "/api/jobs"))
            assert status == 200 and len(jobs) == JOBS and len({j["id"] for j in jobs}) == JOBS
            times.append(seconds)
    finally:
        server.stop()
    with capsys.disabled():
        print(f"\n{JOBS} jobs are listed in {1e3 * statistics.median(times):.0f} ms")
    assert statistics.median(times) <= 0.2, times


def test_a_job_with_a_long_log_opens(large, tmp_path, capsys):
    address, job = large
    times = []
    for n in range(3):
        # A server that has not read it yet.
        server = Server(tmp_path / str(n), "--database", address)
        try:
            seconds, (status, view) = took(lambda: asked(server, "GET", f"/api/jobs/{job}?who=Check"))
            assert status == 200 and view["revision"] == EDITS and view["damaged"] == []
            assert view["document"]["marks"]["fro"]["position"] == [2, 1]
            times.append(seconds)
            # Its log is whole, and what was done last can be undone.
            status, entries = asked(server, "GET", f"/api/jobs/{job}/history?limit=50")
            assert status == 200 and len(entries) == 50 and entries[0]["revision"] == EDITS
            assert view["undo"]["revision"] == EDITS
        finally:
            server.stop()
    with capsys.disabled():
        print(f"\na job with {EDITS} edits opens in {1e3 * statistics.median(times):.0f} ms")
    assert statistics.median(times) <= 1.0, times
