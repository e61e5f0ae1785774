"""The live channel against the same server's answers over HTTP: a map holds the level that `at` works out place by
place with the plain sum of paths, also for a drag that is stored afterwards; edits reach everybody; the newest wish wins.
"""

import asyncio
import json
import struct
import urllib.request

import pytest
import websockets

from test_server import Server


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    running = Server(tmp_path_factory.mktemp("jobs"))
    yield running
    running.stop()


def ask(server, path, body=None):
    data = json.dumps(body).encode() if body is not None else None
    request = urllib.request.Request(server.address + path, data, {"content-type": "application/json"})
    with urllib.request.urlopen(request, timeout=60) as answer:
        return json.load(answer)


def open_channel(server, job):
    uri = server.address.replace("http", "ws") + f"/api/jobs/{job}/live?client=check"
    return websockets.connect(uri, max_size=1 << 24)


class Frame:
    def __init__(self, message):
        head = struct.unpack_from("<5I5f", message)
        assert head[0] == 0x4C4D4150
        _, self.request, self.revision, self.columns, self.rows, self.x0, self.y0, self.spacing, first, step = head
        values = message[40:]
        assert len(values) == self.columns * self.rows
        self.step = step
        self.levels = [None if v == 0 else first + step * (v - 1) for v in values]

    def at(self, column, row):
        return self.x0 + column * self.spacing, self.y0 + row * self.spacing, self.levels[row * self.columns + column]


async def frame(socket, request):
    """The frame that answers a request; what else arrives meanwhile is passed over."""
    while True:
        message = await asyncio.wait_for(socket.recv(), 60)
        if isinstance(message, bytes):
            read = Frame(message)
            if read.request == request:
                return read
        else:
            assert json.loads(message)["kind"] != "refused", message


def compare(server, job, read):
    """Every 17th place of a map against `at`; the map is quantised to its step, a place on the edge of a building
    may fall either side of it."""
    compared = 0
    for i in range(0, read.columns * read.rows, 17):
        x, y, level = read.at(i % read.columns, i // read.columns)
        there = ask(server, f"/api/jobs/{job}/at?x={x}&y={y}&ear=1.6")
        if level is None or there["indoors"]:
            assert (level is None) == there["indoors"], (x, y)
            continue
        assert abs(level - there["level_dba"]) < 0.5 * read.step + 0.1, (x, y, level, there["level_dba"])
        compared += 1
    assert compared > 60


def test_a_map_holds_the_levels_that_each_place_has(server):
    job = ask(server, "/api/jobs")[0]["id"]

    async def run():
        async with open_channel(server, job) as socket:
            wish = {"kind": "map", "quantity": "LAeq", "spacing_m": 1.0, "figures": False}
            await socket.send(json.dumps({**wish, "request": 1}))
            first = await frame(socket, 1)
            move = [{"op": "replace", "path": "/loudspeakers/L8/position", "value": [17.5, 6.0]}]
            await socket.send(json.dumps({**wish, "request": 2, "preview": move}))
            dragged = await frame(socket, 2)
            return first, dragged, move

    first, dragged, move = asyncio.run(run())
    compare(server, job, first)
    assert dragged.levels != first.levels
    ask(server, f"/api/jobs/{job}/edits", {"edit_id": "drag-0001", "base_revision": 0, "patch": move})
    # What was shown during the drag is what the job has once the drag is stored.
    compare(server, job, dragged)


def test_a_map_that_names_no_spacing_fits_a_job_of_many_programmes(server):
    """What is kept for a map grows with the programmes: asked at the spacing of a job of one, it was refused."""
    job = ask(server, "/api/jobs", {"from": "example"})["id"]
    programmes = [
        {"op": "add", "path": f"/programmes/evening_{n}", "value": {"name": f"Evening {n}", "crest_factor": "12 dB"}}
        for n in range(8)
    ]
    ask(server, f"/api/jobs/{job}/edits", {"edit_id": "many-0001", "base_revision": 0, "patch": programmes})

    async def run():
        async with open_channel(server, job) as socket:
            wish = {"kind": "map", "quantity": "LAeq", "figures": False, "request": 1}
            await socket.send(json.dumps(wish))
            return await frame(socket, 1)

    read = asyncio.run(run())
    assert 500 < read.columns * read.rows < 7000
    compare(server, job, read)


def test_edits_reach_everybody_and_undoing_too(server):
    job = ask(server, "/api/jobs", {"from": "example"})["id"]

    async def told(socket, kind):
        while True:
            message = await asyncio.wait_for(socket.recv(), 30)
            if isinstance(message, str) and json.loads(message)["kind"] == kind:
                return json.loads(message)

    async def run():
        async with open_channel(server, job) as one, open_channel(server, job) as two:
            assert (await told(one, "hello"))["revision"] == 0
            edit = {"edit_id": "edit-0001", "base_revision": 0, "who": "Ann", "note": "Turn L1",
                    "patch": [{"op": "replace", "path": "/loudspeakers/L1/bearing", "value": 12}]}
            await asyncio.to_thread(ask, server, f"/api/jobs/{job}/edits", edit)
            for socket in (one, two):
                heard = await told(socket, "edit")
                assert (heard["revision"], heard["who"], heard["patch"]) == (1, "Ann", edit["patch"])
            await asyncio.to_thread(ask, server, f"/api/jobs/{job}/undo", {"who": "Ann"})
            heard = await told(two, "edit")
            assert (heard["revision"], heard["entry"], heard["who"]) == (2, "undo", "Ann")

    asyncio.run(run())


def test_the_newest_wish_wins_and_a_bad_one_says_why(server):
    job = ask(server, "/api/jobs", {"from": "example"})["id"]

    async def run():
        async with open_channel(server, job) as socket:
            wish = {"kind": "map", "quantity": "LAeq", "spacing_m": 0.4, "figures": False}
            for request in range(1, 61):
                place = [16 + 0.02 * request, 6.0]
                move = [{"op": "replace", "path": "/loudspeakers/L8/position", "value": place}]
                await socket.send(json.dumps({**wish, "request": request, "preview": move}))
            seen = []
            while not seen or seen[-1] != 60:
                message = await asyncio.wait_for(socket.recv(), 60)
                if isinstance(message, bytes):
                    seen.append(Frame(message).request)
            assert seen == sorted(seen) and len(seen) < 60, seen
            for request, more, path in [
                (61, {"spacing_m": 0.0}, "/spacing_m"),
                (62, {"spacing_m": 0.05, "bounds": [0, 0, 500, 500]}, "/spacing_m"),
                (63, {"bounds": [5, 0, 1, 9]}, "/bounds"),
                (64, {"quantity": "band"}, "/band_hz"),
                (65, {"preview": [{"op": "remove", "path": "/loudspeakers/none"}]}, "/loudspeakers/none"),
            ]:
                await socket.send(json.dumps({**wish, **more, "request": request}))
                while True:
                    message = await asyncio.wait_for(socket.recv(), 60)
                    if isinstance(message, str) and json.loads(message)["kind"] == "refused":
                        break
                told = json.loads(message)
                assert told["request"] == request and told["problems"][0]["path"] == path, told

    asyncio.run(run())
