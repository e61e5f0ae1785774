"""How a firm's server is: health and metrics on a port of their own, while its database is out of reach and while it stops; and the
lines it tells, which hold no secret.

Source of the expected values: what was asked here, counted; status codes are those of RFC 9110.
"""

import json
import os
import subprocess
import time
import urllib.error
import urllib.request

import pytest

from firm_servers import mark, only_job, server_on, told
from postgres import cluster  # noqa: F401 (a fixture)
from test_server import ask


def get(url):
    try:
        with urllib.request.urlopen(url, timeout=30) as answer:
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as e:
        return e.code, e.read().decode()


def test_health_and_metrics_tell_how_a_server_is_on_a_port_of_their_own(cluster, tmp_path):
    address = cluster.database("health")
    server = server_on(address, tmp_path, "--metrics-listen", "127.0.0.1:0")
    try:
        at = server.told["operations"]
        assert get(at + "health") == (200, '{"status":"ok"}')
        job = only_job(server)
        for n in range(3):
            told(server, "POST", f"/api/jobs/{job}/edits", mark(f"health-edit-{n}", n, "m", f"n {n}", n))
        status, page = get(at + "metrics")
        values = dict(line.rsplit(" ", 1) for line in page.splitlines() if not line.startswith("#"))
        assert status == 200 and values["loamline_edits_total"] == "3" and values["loamline_store_ready"] == "1"
        # Four requests before this page, counted by kind and by time alike.
        answered = sum(int(v) for k, v in values.items() if k.startswith("loamline_http_requests_total"))
        assert answered == int(values["loamline_http_request_seconds_count"]) >= 4
        assert get(f"{server.address}/metrics")[0] == 404 and get(f"{server.address}/health")[0] == 404
        cluster.crash()
        status, said = get(at + "health")
        assert status == 503 and "out of reach" in json.loads(said)["why"], said
        # What is held in memory is shown meanwhile; what would change it is refused with when to come again.
        assert told(server, "GET", "/api/jobs")[0] == 503
        status, answer = told(server, "POST", f"/api/jobs/{job}/edits", mark("health-edit-9", 3, "m", "x", 9))
        assert status == 503 and answer["error"]["code"] == "busy" and answer["error"]["retry_after_s"] >= 1
        cluster.start()
        deadline = time.monotonic() + 30
        while get(at + "health")[0] != 200:
            assert time.monotonic() < deadline
            time.sleep(0.2)
        status, answer = told(server, "POST", f"/api/jobs/{job}/edits", mark("health-edit-9", 3, "m", "x", 9))
        assert (status, answer["revision"]) == (200, 4)
    finally:
        server.process.terminate()
        # It says that it stops before it takes no more.
        stopping = [get(at + "health") for _ in range(1) if not time.sleep(0.5)]
        server.process.wait(20)
    assert stopping == [(503, '{"status":"stopping"}')]


def test_lines_told_hold_no_secret(tmp_path):
    """One line for each answer, by its route: no id, no name, no code of an address is in it."""
    command = [os.environ["LOAMLINE_BIN"], "serve", "--json", "--port", "0", "--data", str(tmp_path), "--log", "info"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    text = ""
    while True:
        text += process.stdout.readline()
        try:
            address = json.loads(text)["address"].rstrip("/")
            break
        except json.JSONDecodeError:
            assert process.poll() is None
    status, _, listed = ask(address, "GET", "/api/jobs")
    job = json.loads(listed)[0]["id"]
    ask(address, "GET", f"/api/jobs/{job}?secret=hush")
    ask(address, "GET", "/hush-hush")
    process.terminate()
    _, lines = process.communicate(timeout=20)
    answered = [line for line in lines.splitlines() if "answered" in line]
    assert len(answered) == 3 and "route=\"/api/jobs/{id}\"" in lines and "status=404" in lines, lines
    assert job not in lines and "hush" not in lines, lines


if __name__ == "__main__":
    pytest.main([__file__])
