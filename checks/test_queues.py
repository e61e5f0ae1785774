"""The built server asked for more than it does at once: papers by eighty browsers, folders that are small and unpack to much,
three proposals. Who cannot wait is told when to come again, who waits is told their place and can give it up, and others are
served meanwhile.

The bounds are those of docs/limits.md; a full queue answers 503 with `Retry-After` (RFC 9110 section 10.2.3).
"""

import asyncio
import concurrent.futures
import http.client
import io
import json
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
    """Those that met a full queue; each is told when to come again."""
    away = [a for a in answers if a[0] == 503]
    for _, after, told in away:
        error = json.loads(told)["error"]
        assert error["code"] == "busy" and int(after) == error["retry_after_s"] >= 1, (after, error)
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

