"""Work handed on by way of the database: a proposal asked of one server is made by a worker elsewhere, and browsers on every server
see how far it is; a worker that is killed in the middle is replaced within 15 s, one that was frozen and comes back changes nothing
that was delivered; what is stopped ends; a person goes before jobs that are looked over for nobody in particular; a proposal made
elsewhere is the one that a server on a file makes itself.

Source of the expected values: the same wish asked of a server on a file, which has no queue; the firm's own wish for 15 s.
"""

import asyncio
import http.client
import json
import os
import signal
import subprocess
import time
import urllib.parse

import pytest
import websockets

from over_http import imported
from postgres import cluster  # noqa: F401 (a fixture)
from test_server import Server, ask
from tool import ROOT

REPLACED_WITHIN_S = 15
EXAMPLE = ROOT / "examples" / "guesthouse-garden"


class Worker:
    def __init__(self, address):
        command = [os.environ["LOAMLINE_BIN"], "work", "--json", "--database", address]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        # Told over as many lines as the object has.
        text = ""
        while not text.rstrip().endswith("}"):
            line = self.process.stdout.readline()
            assert line, f"the worker ended: {text}"
            text += line
        assert json.loads(text)["works_for"].startswith("the database")

    def kill(self):
        self.process.kill()
        self.process.wait(10)

    def send(self, what):
        self.process.send_signal(what)

    def stop(self):
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGCONT)
            self.process.terminate()
            assert self.process.wait(15) == 0


def told(server, method, path, body=None):
    status, _, answer = ask(server.address, method, path, body)
    return status, json.loads(answer) if answer else None


def begin(server, job, **wish):
    status, started = told(server, "POST", f"/api/jobs/{job}/propose", wish)
    assert status == 202, started
    return f"/api/jobs/{job}/propose/{started['run']}"


def state(cluster, database, run):
    """Turn, and whether it is delivered, of a proposal."""
    of = run.rsplit("/", 1)[1]
    row = cluster.sql(database, f"SELECT turn, outcome IS NOT NULL FROM loamline.tasks WHERE id = '{of}'")
    turn, delivered = row.split("|")
    return int(turn), delivered == "t"


def wait_for(what, so, within):
    end = time.monotonic() + within
    while True:
        found = so()
        if found:
            return found
        assert time.monotonic() < end, f"{what} within {within} s"
        time.sleep(0.2)


def done(server, run, within=240):
    """What came of a proposal, asking for it as a browser does."""
    def asked():
        status, answer = told(server, "GET", run)
        assert status == 200, answer
        return answer if answer["done"] else None
    return wait_for("the proposal is made", asked, within)


@pytest.fixture
def firm(cluster, tmp_path, request):
    """Two servers that do no work of their own, on a database of this check's; its name, its address, the job."""
    name = request.node.name.removeprefix("test_")[:40]
    address = cluster.database(name)
    servers = [Server(tmp_path / str(n), "--database", address, "--no-work") for n in range(2)]
    yield name, address, servers
    for server in servers:
        server.stop()


def test_a_proposal_is_made_elsewhere_and_seen_everywhere(firm, tmp_path):
    _, address, servers = firm
    alone = Server(tmp_path / "alone")
    try:
        wish = {"time_s": 2, "options": ["least-cost"], "seed": 7}
        expected = done(alone, begin(alone, imported(alone, EXAMPLE), **wish))
    finally:
        alone.stop()
    job = imported(servers[0], EXAMPLE)

    async def watched():
        uri = servers[1].address.replace("http", "ws") + f"/api/jobs/{job}/live?client=check"
        async with websockets.connect(uri, max_size=1 << 24) as channel:
            run = await asyncio.to_thread(begin, servers[0], job, **wish)
            heard, worker = [], None
            try:
                while True:
                    message = await asyncio.wait_for(channel.recv(), 120)
                    message = json.loads(message) if isinstance(message, str) else {}
                    if message.get("kind") != "propose":
                        continue
                    assert message["run"] == run.rsplit("/", 1)[1]
                    heard.append(message)
                    if worker is None:
                        # Nobody works yet: it waits, and whoever looks is told so.
                        assert (message["phase"], message["done"]) == ("Waiting, place 1", False), message
                        worker = await asyncio.to_thread(Worker, address)
                    if message["done"]:
                        return run, heard
            finally:
                if worker:
                    await asyncio.to_thread(worker.stop)

    run, heard = asyncio.run(watched())
    shares = [m["share"] for m in heard]
    assert shares == sorted(shares) and len({m["phase"] for m in heard}) >= 3, heard
    made = done(servers[1], run)
    assert made["proposal"]["options"] == expected["proposal"]["options"] and made["words"] == expected["words"]
    # Another job's address does not lead to it.
    assert told(servers[0], "GET", run.replace(job, "another"))[0] == 404


def test_a_killed_worker_is_replaced_and_a_frozen_one_delivers_nothing(firm, cluster, capsys):
    name, address, servers = firm
    job = imported(servers[0], EXAMPLE)
    first = Worker(address)
    workers = [first]
    try:
        run = begin(servers[0], job, time_s=60)

        def turn():
            # Asked for all the while, as by a browser: what nobody wants is left.
            assert told(servers[0], "GET", run)[0] == 200
            return state(cluster, name, run)[0]

        wait_for("a worker begins", lambda: turn() == 1, 20)
        workers.append(Worker(address))
        first.kill()
        since = time.monotonic()
        wait_for("another takes it over", lambda: turn() == 2, 60)
        took = time.monotonic() - since
        with capsys.disabled():
            print(f"\na killed worker was replaced after {took:.1f} s")
        assert took < REPLACED_WITHIN_S
        # The second is frozen; a third takes over and delivers; thawed, the second changes nothing of that.
        workers[1].send(signal.SIGSTOP)
        workers.append(Worker(address))
        wait_for("a third takes it over", lambda: turn() == 3, 60)
        assert done(servers[1], run, 400)["proposal"]
        kept = cluster.sql(name, "SELECT md5(outcome), said, revision, ended_at FROM loamline.tasks")
        workers[1].send(signal.SIGCONT)
        time.sleep(10)
        assert cluster.sql(name, "SELECT md5(outcome), said, revision, ended_at FROM loamline.tasks") == kept
        assert state(cluster, name, run) == (3, True)
    finally:
        for worker in workers[1:]:
            worker.stop()


def test_what_is_stopped_ends_and_the_next_is_begun(firm, cluster):
    name, address, servers = firm
    jobs = [imported(servers[0], EXAMPLE) for _ in range(2)]
    worker = Worker(address)
    try:
        runs = [begin(servers[0], job, time_s=300) for job in jobs]
        wait_for("it is begun", lambda: told(servers[0], "GET", runs[1]) and told(servers[0], "GET", runs[0])
                 and state(cluster, name, runs[0])[0] == 1, 20)
        # The other waits, as every server knows.
        for server in servers:
            queues = {q["kind"]: q for q in told(server, "GET", "/api/queues")[1]["queues"]}
            assert queues["proposals"]["waiting"] == 1, queues["proposals"]
        # By way of the other server.
        assert ask(servers[1].address, "DELETE", runs[0])[0] == 204
        wait_for("the next is begun", lambda: told(servers[0], "GET", runs[1]) and state(cluster, name, runs[1])[0] == 1, 20)
        queues = {q["kind"]: q for q in told(servers[0], "GET", "/api/queues")[1]["queues"]}
        assert queues["proposals"]["waiting"] == 0, "the one that waited is begun"
        stopped = told(servers[0], "GET", runs[0])[1]
        assert (stopped["done"], stopped["stopped"], stopped["proposal"]) == (True, True, None)
        # Nobody asks for the second any more: it is left after a while.
        wait_for("it is left", lambda: cluster.sql(
            name, f"SELECT ended_at IS NOT NULL FROM loamline.tasks WHERE job = '{jobs[1]}'") == "t", 40)
        assert ask(servers[0].address, "DELETE", f"/api/jobs/{jobs[0]}/propose/none")[0] == 404
    finally:
        worker.stop()


def test_a_person_goes_before_jobs_that_are_looked_over(firm, cluster):
    name, address, servers = firm
    jobs = [imported(servers[0], EXAMPLE) for _ in range(6)]
    status, answer = told(servers[0], "POST", "/api/checks")
    # With the example that was there.
    assert (status, answer["waiting"]) == (202, len(jobs) + 1)
    assert told(servers[1], "POST", "/api/checks")[1]["waiting"] == len(jobs) + 1, "what waits is not asked for twice"
    run = begin(servers[0], jobs[0], time_s=1, options=["least-cost"])
    worker = Worker(address)
    try:
        assert done(servers[0], run)["proposal"]
        wait_for("all are looked over", lambda: told(servers[1], "GET", "/api/checks")[1]["waiting"] == 0
                 and len(told(servers[1], "GET", "/api/checks")[1]["jobs"]) == len(jobs) + 1, 120)
    finally:
        worker.stop()
    order = cluster.sql(name, "SELECT kind FROM loamline.tasks ORDER BY ended_at").split()
    assert order[0] == "proposal" and set(order[1:]) == {"check"}
    found = {row["job"]: row for row in told(servers[0], "GET", "/api/checks")[1]["jobs"]}
    findings = told(servers[0], "GET", f"/api/jobs/{jobs[0]}/findings")[1]["findings"]
    of = lambda severity: sum(f["severity"] == severity for f in findings)
    row = found[jobs[0]]
    assert (row["errors"], row["warnings"], row["changed_since"]) == (of("error"), of("warning"), False)
    # Other prices: all are looked over again, and the job costs more.
    book = "code,price\nlabour/hour,999\n"
    status, _, body = put_prices(servers[0], book)
    assert status == 200, body
    assert told(servers[0], "GET", "/api/checks")[1]["waiting"] == len(jobs) + 1
    worker = Worker(address)
    try:
        wait_for("it costs more", lambda: any(
            r["job"] == jobs[0] and number(r["price"]) > number(row["price"])
            for r in told(servers[1], "GET", "/api/checks")[1]["jobs"]), 120)
    finally:
        worker.stop()


def put_prices(server, book):
    url = urllib.parse.urlsplit(server.address)
    connection = http.client.HTTPConnection(url.hostname, url.port, timeout=60)
    connection.request("PUT", "/api/firm/prices", book, {"content-type": "text/csv"})
    answer = connection.getresponse()
    return answer.status, dict(answer.getheaders()), answer.read()


def number(price):
    """`EUR 8 979.50` as a number."""
    return float(price.split(" ", 1)[1].replace(" ", ""))


def test_on_a_file_the_same_is_done_in_the_process(tmp_path):
    server = Server(tmp_path)
    try:
        job = imported(server, EXAMPLE)
        assert told(server, "POST", "/api/checks") == (202, {"waiting": 2})
        jobs = wait_for("both are looked over", lambda: [
            r for r in [told(server, "GET", "/api/checks")[1]["jobs"]] if len(r) == 2], 60)[0]
        assert {r["job"] for r in jobs} >= {job} and all(number(r["price"]) > 0 for r in jobs)
    finally:
        server.stop()


def test_a_worker_says_what_it_lacks():
    environment = {k: v for k, v in os.environ.items() if k != "LOAMLINE_DATABASE"}
    done = subprocess.run([os.environ["LOAMLINE_BIN"], "work"], capture_output=True, text=True, env=environment)
    assert done.returncode != 0 and "--database" in done.stderr and not done.stdout
