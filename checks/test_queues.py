"""The built server asked for more than it does at once: papers by eighty browsers, folders that are small and unpack to much,
three proposals, findings beside all a stranger can ask for. Who cannot wait is told when to come again, who waits is told their
place and can give it up, and others are served meanwhile.

The bounds are those of docs/limits.md; a full queue answers 503 with `Retry-After` (RFC 9110 section 10.2.3), an answer that
waited says how long in `Server-Timing` (W3C). The second that findings may take is the project's own.
"""

import asyncio
import concurrent.futures
import contextlib
import http.client
import io
import json
import re
import threading
import time
import urllib.parse
import zipfile

import websockets

from hostile import HEAD, server  # noqa: F401 (fixture)

# Of docs/limits.md.
PAPERS_WAITING = 64


def answers(server, asked):
    """All of them asked at once: each status with what `Retry-After` says."""
    host = urllib.parse.urlsplit(server.address).netloc

    def one(of):
        method, path, body, media = of
        connection = http.client.HTTPConnection(host, timeout=120)
        connection.request(method, path, body, {"content-type": media} if body else {})
        answer = connection.getresponse()
        told = answer.read()
        connection.close()
        return answer.status, answer.getheader("retry-after"), told

    with concurrent.futures.ThreadPoolExecutor(len(asked)) as crowd:
        return list(crowd.map(one, asked))


def turned_away(answers):
    """Those that met a full queue; each is told how many wait and when to come again."""
    away = [a for a in answers if a[0] == 503]
    for _, after, told in away:
        error = json.loads(told)["error"]
        assert error["code"] == "busy" and int(after) == error["retry_after_s"] >= 1, (after, error)
        assert re.match(rf"\d+ .* at most \d+ .* in {after} s", error["message"]), error
    return away


def test_papers_that_too_many_want_are_refused_with_a_time(server):
    got = answers(server, [("GET", f"/api/jobs/{server.job}/papers.zip", None, None)] * 80)
    away = turned_away(got)
    assert {a[0] for a in got} == {200, 503}, [a[0] for a in got]
    assert 1 <= len(away) <= 80 - PAPERS_WAITING, len(away)
    assert len({a[2] for a in got if a[0] == 200}) == 1
    assert server.ask("GET", "/api/jobs")[0] == 200


def unpacks_to_much():
    """A folder with eight photos of 31 MB of nothing, never held here as a whole."""
    packed, nothing = io.BytesIO(), bytes(1_000_000)
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("job.toml", HEAD)
        for i in range(8):
            with archive.open(f"attachments/{i}.png", "w") as photo:
                photo.write(b"\x89PNG\r\n\x1a\n")
                for _ in range(31):
                    photo.write(nothing)
                photo.write(bytes([i]))
    return packed.getvalue()


def test_small_folders_that_unpack_to_much_are_taken_in_one_by_one(server):
    folder = unpacks_to_much()
    assert len(folder) < 300_000
    got = answers(server, [("POST", "/api/jobs/import", folder, "application/zip")] * 6)
    turned_away(got)
    assert {a[0] for a in got} <= {201, 503} and 201 in {a[0] for a in got}, [a[0] for a in got]
    # Two of them at once would pass it.
    server.alive()


async def hears(channel, phase, seconds=20):
    """Waits until a proposal is said to be at a phase."""
    end = time.monotonic() + seconds
    while True:
        heard = await asyncio.wait_for(channel.recv(), max(0.1, end - time.monotonic()))
        told = json.loads(heard) if isinstance(heard, str) else {}
        if told.get("kind") == "propose" and told["phase"] == phase:
            return


def test_a_proposal_that_waits_is_told_its_place_and_gives_it_up(server):
    jobs = [server.ask("POST", "/api/jobs", {"from": "example"})[1]["id"] for _ in range(3)]

    def live(job):
        uri = server.address.replace("http", "ws") + f"/api/jobs/{job}/live?client=check"
        return websockets.connect(uri, max_size=1 << 24)

    async def begin(job):
        status, started = await asyncio.to_thread(server.ask, "POST", f"/api/jobs/{job}/propose", {"time_s": 600})
        assert status == 202, started
        return f"/api/jobs/{job}/propose/{started['run']}"

    async def watch():
        async with live(jobs[0]), live(jobs[1]) as second, live(jobs[2]) as third:
            runs = [await begin(jobs[0]), await begin(jobs[1])]
            await hears(second, "Waiting, place 1")
            runs.append(await begin(jobs[2]))
            await hears(third, "Waiting, place 2")
            # Neither stands behind them: levels of a job nobody has looked at.
            started = time.monotonic()
            assert (await asyncio.to_thread(server.ask, "GET", f"/api/jobs/{server.job}/levels"))[0] == 200
            assert (took := time.monotonic() - started) < 10, f"{took:.1f} s for levels beside a proposal"
            assert (await asyncio.to_thread(server.ask, "DELETE", runs[1]))[0] == 204
            await hears(third, "Waiting, place 1")
            status, told = await asyncio.to_thread(server.ask, "GET", runs[1])
            assert status == 200 and told["done"] and told["stopped"], told
            for run in runs:
                assert (await asyncio.to_thread(server.ask, "DELETE", run))[0] == 204

    asyncio.run(watch())


def test_whoever_waits_for_papers_finds_the_place(server):
    host = urllib.parse.urlsplit(server.address).netloc
    path = f"/api/jobs/{server.job}/papers"

    def asks(ticket):
        connection = http.client.HTTPConnection(host, timeout=120)
        connection.request("GET", f"{path}?ticket={ticket}")
        answer = connection.getresponse()
        answer.read()
        connection.close()
        return answer.status, answer.getheader("server-timing")

    def queues():
        return server.ask("GET", "/api/queues?ticket=the-one-that-asks")[1]

    with concurrent.futures.ThreadPoolExecutor(12) as crowd:
        others = [crowd.submit(asks, f"other-{n:04}") for n in range(11)]
        # The first two are at it, the second waits for what the first makes.
        while (told := queues())["queues"][2]["waiting"] < 9:
            assert not any(other.done() for other in others), "too quick to be waited for"
            time.sleep(0.02)
        papers = told["queues"][2]
        assert papers["kind"] == "papers" and papers["running"] == papers["turns"] == 2, told
        mine, seen = crowd.submit(asks, "the-one-that-asks"), []
        while not mine.done():
            if yours := queues()["yours"]:
                assert yours["kind"] == "papers" and yours["about_s"] >= 1, yours
                seen.append(yours["before"])
            time.sleep(0.05)
        status, waited = mine.result()
        assert status == 200 and seen and seen[0] == 9 and seen == sorted(seen, reverse=True), seen
        # It was about as long as it saw itself wait.
        assert int(re.fullmatch(r"queue;dur=(\d+)", waited)[1]) >= 25 * len(seen), (waited, seen)
        assert {other.result()[0] for other in others} == {200}
    assert queues()["yours"] is None


def test_whoever_waits_for_a_job_folder_finds_the_place(server):
    """One at a time: a folder with a large photo is brought in by six at once, and taken out by six."""
    host = urllib.parse.urlsplit(server.address).netloc
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("job.toml", HEAD)
        archive.writestr("attachments/large.png", b"\x89PNG\r\n\x1a\n" + bytes(30_000_000))
    job = server.ask("POST", "/api/jobs/import", packed.getvalue(), "application/zip")[1]["id"]

    def asks(method, path, body, ticket):
        connection = http.client.HTTPConnection(host, timeout=120)
        media = {"content-type": "application/zip"} if body else {}
        connection.request(method, f"{path}?ticket={ticket}", body, media)
        answer = connection.getresponse()
        answer.read()
        connection.close()
        return answer.status

    def place(ticket):
        return server.ask("GET", f"/api/queues?ticket={ticket}")[1]["yours"]

    for method, path, body, fine in [
        ("POST", "/api/jobs/import", packed.getvalue(), 201),
        ("GET", f"/api/jobs/{job}/export", None, 200),
    ]:
        tickets = [f"{method}-folder-{n}" for n in range(6)]
        with concurrent.futures.ThreadPoolExecutor(6) as crowd:
            asked = [crowd.submit(asks, method, path, body, ticket) for ticket in tickets]
            seen = {}
            while not all(one.done() for one in asked):
                for ticket in tickets:
                    if yours := place(ticket):
                        assert yours["kind"] == "folders" and yours["about_s"] >= 1, yours
                        seen.setdefault(ticket, []).append(yours["before"])
            assert [one.result() for one in asked] == [fine] * 6
        # Nobody moves back, and somebody had others before.
        assert all(places == sorted(places, reverse=True) for places in seen.values()), seen
        assert max(max(places) for places in seen.values()) >= 1, seen
        assert place(tickets[0]) is None


def test_a_map_that_waits_is_told_how_many_are_before(server):
    """Sixteen browsers drag something over a fine map at once: more than there are cores."""
    tags = list(server.ask("GET", f"/api/jobs/{server.job}")[1]["document"]["loudspeakers"])[:16]

    async def drags(tag):
        uri = server.address.replace("http", "ws") + f"/api/jobs/{server.job}/live?client={tag}"
        async with websockets.connect(uri, max_size=1 << 24) as channel:
            move = [{"op": "replace", "path": f"/loudspeakers/{tag}/position", "value": [9, 3]}]
            wish = {"kind": "map", "request": 7, "quantity": "LAeq", "spacing_m": 0.36, "figures": False, "preview": move}
            await channel.send(json.dumps(wish))
            before = []
            while isinstance(heard := await asyncio.wait_for(channel.recv(), 120), str):
                told = json.loads(heard)
                assert told["kind"] != "refused", told
                if told["kind"] == "waiting":
                    assert told["request"] == 7, told
                    before.append(told["before"])
            return before

    async def all_of_them():
        return await asyncio.gather(*map(drags, tags))

    told = asyncio.run(all_of_them())
    # Nobody moves back, and somebody stood behind others.
    assert all(before == sorted(before, reverse=True) and max(before, default=0) < 16 for before in told), told
    assert max(max(before, default=0) for before in told) >= 2, told


@contextlib.contextmanager
def strangers(server, job):
    """Somebody who asks all there is of a job, all the while: a proposal, papers of ever new revisions, bass, fine maps."""
    over, wrong = threading.Event(), []
    place = f"/api/jobs/{job}"
    edit = lambda n: {"edit_id": f"stranger-{n:08}", "base_revision": n, "patch": [
        {"op": "add", "path": "/marks/stranger", "value": {"name": f"{n}", "position": [1, 1]}}]}

    def keeps(what):
        n = 0
        while not over.is_set():
            try:
                n = what(n)
            except Exception as e:
                wrong.append(e)
                return

    def proposal(run):
        if not run or server.ask("GET", f"{place}/propose/{run}")[1]["done"]:
            run = server.ask("POST", f"{place}/propose", {"time_s": 600})[1]["run"]
        over.wait(2)
        return run

    def papers(n):
        assert server.ask("POST", f"{place}/edits", edit(n))[0] == 200
        assert server.ask("GET", f"{place}/papers")[0] == 200
        return n + 1

    def bass(n):
        assert server.ask("GET", f"{place}/bass")[0] == 200
        return n

    async def maps():
        uri = server.address.replace("http", "ws") + f"{place}/live?client=stranger"
        async with websockets.connect(uri, max_size=1 << 24) as channel:
            n = 0
            while not over.is_set():
                n += 1
                move = [{"op": "replace", "path": "/loudspeakers/L1/position", "value": [3 + 0.01 * (n % 50), 2]}]
                wish = {"kind": "map", "request": n, "quantity": "LAeq", "spacing_m": 0.4, "figures": True, "preview": move}
                await channel.send(json.dumps(wish))
                while isinstance(heard := await asyncio.wait_for(channel.recv(), 60), str):
                    assert json.loads(heard)["kind"] != "refused", heard

    work = [lambda: keeps(proposal), lambda: keeps(papers), lambda: keeps(bass), lambda: keeps(bass),
            lambda: keeps(lambda n: asyncio.run(maps()) or n)]
    threads = [threading.Thread(target=of, daemon=True) for of in work]
    for thread in threads:
        thread.start()
    try:
        yield
    finally:
        over.set()
        for thread in threads:
            thread.join(90)
    assert not wrong, wrong


def test_findings_wait_for_nothing_a_stranger_asks(server):
    """Findings after each of 40 edits, four people at it at once: alone 95 of 100 within a second, and beside strangers who
    want both cores not behind what those asked for."""
    strange, own = (server.ask("POST", "/api/jobs", {"from": "example"})[1]["id"] for _ in range(2))
    path, revision, lock = f"/api/jobs/{own}", [0], threading.Lock()

    def turn(n):
        patch = [{"op": "replace", "path": f"/loudspeakers/L{1 + n % 2}/bearing", "value": n}]
        with lock:
            edit = {"edit_id": f"person-{n:08}", "base_revision": revision[0], "patch": patch}
            status, made = server.ask("POST", f"{path}/edits", edit)
            assert status == 200, made
            revision[0] = seen = made["revision"]
        started = time.monotonic()
        status, told = server.ask("GET", f"{path}/findings")
        assert status == 200 and told["revision"] >= seen, told
        return time.monotonic() - started

    def waits():
        with concurrent.futures.ThreadPoolExecutor(4) as people:
            taken = sorted(people.map(turn, range(revision[0], revision[0] + 40)))
        return taken[len(taken) // 2], taken[int(0.95 * len(taken))]

    waits()
    alone = waits()
    with strangers(server, strange):
        time.sleep(5)
        beside = waits()
    told = f"alone {alone[0]:.2f} s ({alone[1]:.2f} s), beside {beside[0]:.2f} s ({beside[1]:.2f} s): median (95 %)"
    print(told)
    # On two cores that all of them want 1.2 s were measured. Sharing threads with what takes long was not timed by this check:
    # 4.2 s (95 %) are of sixty-four people in the soak.
    assert alone[1] < 1.0 and beside[1] < 2.5, told
