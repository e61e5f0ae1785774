"""What a firm's day asks of its servers, from outside: browsers that look at jobs through several servers on one database, and edit.

    LOAMLINE_BIN=target/release/loamline python checks/firm_load.py [--browsers 200] [--servers 3] [--seconds 60] [--seed 1]

prints, as JSON, how long an edit takes until it is acknowledged and until it is on the other browsers' channels, and whatever went
wrong. `costs` measures what one edit, one map, one opened job and one proposal take of processor time: what `bench`'s simulation of
a firm's servers is given. `filled` makes a database of many jobs and long logs, by SQL, from one job that the program made.
"""

import argparse
import asyncio
import concurrent.futures
import json
import os
import pathlib
import random
import statistics
import subprocess
import tempfile
import time

import websockets

import postgres
from test_server import Server, ask
from tool import ROOT

# Of each job: an office, a designer, crews' phones.
BROWSERS_OF_A_JOB = 10
# Between one edit of a person and the next; the mean is half of it, so that two hundred make twenty edits a second.
EDIT_S = 20.0
# What is acknowledged last must be on every channel within this.
SETTLED_S = 5.0


def asked(server, method, path, body=None):
    status, _, answer = ask(server.address, method, path, body)
    return status, json.loads(answer) if answer else None


class Load:
    """Browsers at work; what they met is kept here."""

    def __init__(self, servers, browsers, seconds, seed):
        self.servers, self.browsers, self.seconds, self.seed = servers, browsers, seconds, seed
        self.sent, self.acknowledged, self.seen, self.problems = {}, [], [], []
        self.highest, self.heard = {}, {}
        self.jobs = []

    def run(self):
        for n in range(-(-self.browsers // BROWSERS_OF_A_JOB)):
            status, made = asked(self.servers[0], "POST", "/api/jobs", {"name": f"Load {n}", "from": "example"})
            assert status == 201, made
            self.jobs.append(made["id"])
        asyncio.run(self.all())
        return self

    async def all(self):
        self.over = asyncio.Event()
        people = [asyncio.create_task(self.browser(n)) for n in range(self.browsers)]
        await asyncio.sleep(self.seconds)
        self.over.set()
        await asyncio.gather(*people)

    async def browser(self, n):
        job, server = self.jobs[n % len(self.jobs)], self.servers[n % len(self.servers)]
        r = random.Random(f"{self.seed} browser {n}")
        uri = server.address.replace("http", "ws") + f"/api/jobs/{job}/live?client=browser-{n}"
        try:
            async with websockets.connect(uri, max_size=1 << 24, open_timeout=60) as socket:
                listens = asyncio.create_task(self.listen(n, job, socket))
                await self.work(n, job, server, r)
                await self.settle(n, job)
                listens.cancel()
        except (OSError, TimeoutError, websockets.WebSocketException) as e:
            self.problems.append(f"browser {n}: {type(e).__name__}: {e}")

    async def listen(self, n, job, socket):
        async for message in socket:
            if not isinstance(message, str):
                continue
            told = json.loads(message)
            if told["kind"] == "hello":
                self.heard[n] = told["revision"]
            elif told["kind"] == "edit":
                if told["revision"] != self.heard.get(n, 0) + 1:
                    self.problems.append(f"browser {n} heard of {told['revision']} after {self.heard.get(n)}")
                self.heard[n] = told["revision"]
                by, sent = self.sent.get(told["edit_id"], (None, None))
                if sent is not None and by != n:
                    self.seen.append(time.monotonic() - sent)
            elif told["kind"] not in ("people", "figures"):
                self.problems.append(f"browser {n} was told {told['kind']}")

    async def work(self, n, job, server, r):
        turn = 0
        while not self.over.is_set():
            try:
                await asyncio.wait_for(self.over.wait(), r.uniform(0, EDIT_S))
                return
            except TimeoutError:
                pass
            turn += 1
            edit_id = f"load-{n:04}-{turn:06}"
            value = {"name": f"by {n}", "position": [round(r.uniform(0, 20), 2), round(r.uniform(0, 20), 2)]}
            edit = {"edit_id": edit_id, "base_revision": self.heard.get(n, 0), "who": f"Browser {n}", "note": f"mark {turn}",
                    "patch": [{"op": "add", "path": f"/marks/q{n}", "value": value}]}
            sent = time.monotonic()
            self.sent[edit_id] = (n, sent)
            status, answer = await asyncio.to_thread(asked, server, "POST", f"/api/jobs/{job}/edits", edit)
            if status != 200:
                self.problems.append(f"edit {edit_id}: {status} {answer}")
                continue
            self.acknowledged.append(time.monotonic() - sent)
            self.highest[job] = max(self.highest.get(job, 0), answer["revision"])

    async def settle(self, n, job):
        """Whatever was acknowledged is on every channel a moment later."""
        await asyncio.sleep(1.0)
        ends = time.monotonic() + SETTLED_S
        while self.heard.get(n, 0) < self.highest.get(job, 0) and time.monotonic() < ends:
            await asyncio.sleep(0.05)
        if self.heard.get(n, 0) < self.highest.get(job, 0):
            self.problems.append(f"browser {n} stands at {self.heard.get(n)} of {self.highest[job]}")

    def figures(self):
        def told(each):
            each = sorted(each)
            return {"median_ms": round(1e3 * statistics.median(each), 1), "p95_ms": round(1e3 * each[int(0.95 * (len(each) - 1))], 1),
                    "most_ms": round(1e3 * each[-1], 1)}
        return {"browsers": self.browsers, "servers": len(self.servers), "seconds": self.seconds, "edits": len(self.acknowledged),
                "acknowledged": told(self.acknowledged), "seen_by_others": told(self.seen), "seen": len(self.seen),
                "problems": self.problems[:20]}


def filled(cluster, name, job, jobs=0, edits=0):
    """Copies a job's row to so many jobs, and gives the job so long a log: the last edits put one mark to and fro, as its text
    at revision 0 and every entry's inverse say."""
    if jobs:
        cluster.sql(name, f"""
            INSERT INTO loamline.jobs (id, text, revision, name, summary, changed_at, sha256, made, status, client, template)
            SELECT id || '-' || n, text, revision, name || ' ' || n, summary, changed_at, sha256, made, status, client, template
            FROM loamline.jobs, generate_series(1, {jobs}) AS n WHERE id = '{job}'""")
    if edits:
        # The job stands at revision 2: its first entry made the mark, its second moved it. Entries between repeat the second and
        # what undoes it, in turn, and the second itself comes last.
        assert edits % 2 == 0, "to and fro"
        cluster.sql(name, f"""
            BEGIN;
            UPDATE loamline.edits SET revision = {edits} WHERE job = '{job}' AND revision = 2;
            INSERT INTO loamline.edits (job, revision, edit_id, kind, who, "at", made_at, note, patch, inverse)
            SELECT job, n, 'fill-' || n, kind, who, "at", made_at, note,
                   CASE WHEN n % 2 = 0 THEN patch ELSE inverse END, CASE WHEN n % 2 = 0 THEN inverse ELSE patch END
            FROM loamline.edits, generate_series(2, {edits - 1}) AS n WHERE job = '{job}' AND revision = {edits};
            UPDATE loamline.jobs SET revision = {edits} WHERE id = '{job}';
            COMMIT""")


def processor_s(process):
    """Processor seconds that a process has used, its threads included."""
    fields = pathlib.Path(f"/proc/{process.pid}/stat").read_text().rsplit(") ", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def database_s(cluster):
    """Processor seconds of the database: all processes whose folder is the cluster's, those that have ended too as their parent counts
    them."""
    first = int((cluster.folder / "data" / "postmaster.pid").read_text().split()[0])
    total = 0.0
    for stat in pathlib.Path("/proc").glob("[0-9]*/stat"):
        try:
            pid, fields = int(stat.parent.name), stat.read_text().rsplit(") ", 1)[1].split()
        except OSError:
            continue
        if pid == first:
            total += sum(map(int, fields[11:15]))
        elif int(fields[1]) == first:
            total += sum(map(int, fields[11:13]))
    return total / os.sysconf("SC_CLK_TCK")


def costs(cluster, folder):
    """Processor seconds of one edit, map, opening and proposal on this machine, and bytes that an edit takes in the database."""
    name = "costs"
    server = Server(folder, "--database", cluster.database(name))
    job = asked(server, "GET", "/api/jobs")[1][0]["id"]
    path = f"/api/jobs/{job}"

    def of(times, work):
        began, on_database = processor_s(server.process), database_s(cluster)
        for n in range(times):
            work(n)
        return (processor_s(server.process) - began) / times, (database_s(cluster) - on_database) / times

    def edit(n):
        body = {"edit_id": f"cost-edit-{n:06}", "base_revision": n, "who": "Costs", "note": "a mark",
                "patch": [{"op": "add", "path": "/marks/q", "value": {"name": "q", "position": [n % 20, 1]}}]}
        status, answer = asked(server, "POST", f"{path}/edits", body)
        assert status == 200, answer

    def size():
        cluster.sql(name, "VACUUM FULL loamline.edits")
        return int(cluster.sql(name, "SELECT pg_total_relation_size('loamline.edits')"))

    edit(0)
    before = size()
    edit_s, edit_db_s = of(400, lambda n: edit(n + 1))
    bytes_each = (size() - before) / 400
    view_s, view_db_s = of(60, lambda n: asked(server, "GET", path))
    maps = asyncio.run(dragged(server, job, 60))
    moved = asked(server, "GET", path)[1]["revision"]

    def judged(n):
        tag, at = maps["tag"], maps["at"]
        body = {"edit_id": f"cost-move-{n:06}", "base_revision": moved + n, "who": "Costs", "note": "moved",
                "patch": [{"op": "replace", "path": f"/loudspeakers/{tag}/position", "value": [at[0] + 0.05 * (n % 2), at[1]]}]}
        assert asked(server, "POST", f"{path}/edits", body)[0] == 200
        assert asked(server, "GET", f"{path}/findings")[0] == 200

    findings_s, _ = of(20, judged)
    at_once = commits(server, 8, 5.0)
    server.process.terminate()
    server.process.wait(20)
    began = os.times()
    with tempfile.TemporaryDirectory() as there:
        done = subprocess.run([os.environ["LOAMLINE_BIN"], "propose", str(ROOT / "examples" / "walled-courtyard"), "--json"],
                              cwd=there, capture_output=True, check=False)
    assert done.returncode in (0, 1), done.stderr[-500:]
    ended = os.times()
    return {"cores": os.cpu_count(), "edits_a_second": at_once, "edit_server_s": edit_s, "edit_database_s": edit_db_s, "edit_bytes": bytes_each, "open_server_s": view_s,
            "open_database_s": view_db_s, "map_server_s": maps["each_s"], "findings_server_s": findings_s,
            "proposal_worker_s": ended.children_user + ended.children_system - began.children_user - began.children_system}


def commits(server, people, seconds):
    """Edits a second that one database takes from so many people at once, each on a job of their own."""
    jobs = [asked(server, "POST", "/api/jobs", {"name": f"Busy {n}", "from": "empty"})[1]["id"] for n in range(people)]
    ends, made = time.monotonic() + seconds, [0] * people

    def work(k):
        while time.monotonic() < ends:
            body = {"edit_id": f"busy-{k}-{made[k]:06}", "base_revision": made[k], "who": "Costs", "note": "busy",
                    "patch": [{"op": "add", "path": "/marks", "value": {"q": {"name": "q", "position": [made[k] % 20, 1]}}}]}
            status, answer = asked(server, "POST", f"/api/jobs/{jobs[k]}/edits", body)
            assert status == 200, answer
            made[k] += 1

    with concurrent.futures.ThreadPoolExecutor(people) as pool:
        list(pool.map(work, range(people)))
    return sum(made) / seconds


async def dragged(server, job, pictures):
    """Processor seconds of one picture of a drag."""
    shown = asked(server, "GET", f"/api/jobs/{job}")[1]["resolved"]["loudspeakers"]
    tag, at = next((tag, l["position"]) for tag, l in shown.items())
    uri = server.address.replace("http", "ws") + f"/api/jobs/{job}/live?client=costs"
    async with websockets.connect(uri, max_size=1 << 24) as socket:
        began = 0.0
        for n in range(pictures + 5):
            if n == 5:
                # The first lay the map out.
                began = processor_s(server.process)
            patch = [{"op": "replace", "path": f"/loudspeakers/{tag}/position", "value": [at[0] + 0.01 * n, at[1]]}]
            await socket.send(json.dumps({"kind": "map", "request": n + 1, "quantity": "LAeq", "preview": patch, "figures": False}))
            while isinstance(await asyncio.wait_for(socket.recv(), 60), str):
                pass
        return {"tag": tag, "at": at, "each_s": (processor_s(server.process) - began) / pictures}


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--browsers", type=int, default=200)
    parser.add_argument("--servers", type=int, default=3)
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--costs", action="store_true", help="measure what one of each thing costs instead")
    arguments = parser.parse_args()
    cluster = postgres.Cluster()
    with tempfile.TemporaryDirectory() as folder:
        try:
            if arguments.costs:
                print(json.dumps(costs(cluster, pathlib.Path(folder)), indent=2))
                return
            address = cluster.database("load")
            servers = [Server(pathlib.Path(folder) / str(n), "--database", address) for n in range(arguments.servers)]
            try:
                load = Load(servers, arguments.browsers, arguments.seconds, arguments.seed).run()
            finally:
                for server in servers:
                    server.stop()
            print(json.dumps(load.figures(), indent=2))
            assert not load.problems, load.problems[:5]
        finally:
            cluster.stop()


if __name__ == "__main__":
    main()
