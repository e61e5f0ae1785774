"""The built server under attack: folders, edits, messages and sites that ask for far more memory or time than there is, over HTTP
and by the live channel. Each must be refused with a sentence that names the number, or be worked out more coarsely with a note,
within seconds and below 512 MB; and the server must answer whoever comes next.

The bounds are those of docs/limits.md.
"""

import asyncio
import json
import time

import pytest
import websockets

from hostile import FILES, HEAD, MB, SECONDS, server, site  # noqa: F401 (fixture)
from tool import zipped


def copies_into_itself(n=16):
    return [{"op": "copy", "from": "/surfaces", "path": f"/surfaces/s{i}"} for i in range(n)]


def doubling(n=60):
    """No copy into its own inside, and yet each round doubles: two tables that swallow each other in turn."""
    edit = [{"op": "add", "path": "/x", "value": {}}, {"op": "copy", "from": "/surfaces", "path": "/x/a"}]
    for i in range(n):
        edit += [
            {"op": "copy", "from": "/x", "path": f"/surfaces/n{i}"},
            {"op": "copy", "from": "/surfaces", "path": f"/x/n{i}"},
        ]
    return edit


def deep(levels, times):
    """A value of some levels, put into its own innermost place over and over."""
    value = 1
    for _ in range(levels):
        value = {"a": value}
    return [{"op": "add", "path": "/surfaces" + "/a" * (levels * i + 1), "value": value} for i in range(times)]


EDITS = {
    "a copy into itself, 16 times": (copies_into_itself(), ["into itself"]),
    "a copy of the whole into itself": ([{"op": "copy", "from": "", "path": "/x"}], ["into itself"]),
    "a move into itself": ([{"op": "move", "from": "/surfaces", "path": "/surfaces/x"}], ["into itself"]),
    "a copy into itself under another spelling": (
        [{"op": "add", "path": "/x~2", "value": {}}]
        + [{"op": "copy", "from": "/x~2", "path": f"/x~02/s{i}"} for i in range(40)], ["into itself"]),
    "two that swallow each other": (doubling(), ["values", "at most"]),
    "4097 operations": (
        [{"op": "test", "path": "/format", "value": 1}] * 4097, ["4097", "4096"]),
    "2049 moves": (
        [{"op": "move", "from": "/surfaces", "path": "/x"}, {"op": "move", "from": "/x", "path": "/surfaces"}] * 1025,
        ["4100", "4096"]),
    "the same large thing put and put again": (
        [{"op": "add", "path": "/job/notes", "value": "n" * 1_500_000}]
        + [{"op": "copy", "from": "/job/notes", "path": "/job/summary"}] * 4000, ["at most 32 MB"]),
    "notes of many megabytes": (
        [{"op": "add", "path": "/job/notes", "value": "n" * 1_500_000}]
        + [{"op": "copy", "from": "/job/notes", "path": f"/job/n{i}"} for i in range(3000)], ["at most 16 MB"]),
    "a job file that could not be read again": (
        [{"op": "add", "path": "/job/notes", "value": "n" * 1_500_000},
         {"op": "copy", "from": "/job/notes", "path": "/job/summary"},
         {"op": "copy", "from": "/job/notes", "path": "/job/date"}], ["4.6 MB", "at most 4 MB"]),
    "levels below levels": (deep(levels=10, times=10), ["32"]),
    "a list of everything": (
        [{"op": "add", "path": "/x", "value": [0] * 190_000}]
        + [{"op": "copy", "from": "/x", "path": f"/y{i}"} for i in range(100)], ["200 000"]),
    "a table of 10 001": (
        [{"op": "add", "path": "/x", "value": [[]] * 10_000}, {"op": "add", "path": "/x/-", "value": 1}], ["10 000"]),
    "a path of a megabyte": ([{"op": "remove", "path": "/surfaces" + "/a" * 500_000}], ["at most 1 kB"]),
    "a test of a site's worth": (
        [{"op": "test", "path": "", "value": {"notes": "n" * 1_000_000}}], ["changed meanwhile"]),
    "unknown keys by the thousand": (
        [{"op": "add", "path": "/x", "value": 1}]
        + [{"op": "add", "path": f"/site/k{i}", "value": 1} for i in range(4000)], ["4001 problems"]),
}


def refusal(answer):
    status, body = answer
    error = body["error"]
    assert 400 <= status < 500, answer
    told = json.dumps(error, ensure_ascii=False)
    assert len(told) < 100_000, f"a refusal of {len(told)} letters"
    return told


@pytest.mark.parametrize("name", EDITS)
def test_a_hostile_edit_is_refused_and_the_next_is_served(server, name):
    patch, words = EDITS[name]
    revision = server.ask("GET", f"/api/jobs/{server.job}")[1]["revision"]
    started = time.monotonic()
    edit = {"edit_id": "hostile-0001", "base_revision": revision, "patch": patch}
    told = refusal(server.ask("POST", f"/api/jobs/{server.job}/edits", edit))
    assert time.monotonic() - started < 10
    for word in words:
        assert word in told, told[:600]
    server.alive()
    # What is refused leaves the job as it was, and an ordinary edit goes through.
    edit = {"edit_id": "ordinary-0001", "base_revision": revision,
            "patch": [{"op": "add", "path": "/job/notes", "value": "fine"}]}
    assert server.ask("POST", f"/api/jobs/{server.job}/edits", edit)[0] == 200


def test_the_same_edits_as_previews_on_the_live_channel(server):
    async def attack():
        uri = server.address.replace("http", "ws") + f"/api/jobs/{server.job}/live?client=check"
        async with websockets.connect(uri, max_size=1 << 24) as socket:
            asked = 0
            for name, (patch, words) in EDITS.items():
                asked += 1
                wish = {"kind": "map", "request": asked, "quantity": "LAeq", "spacing_m": 5, "preview": patch}
                message = json.dumps(wish)
                if len(message) > 900_000 or "could not be read again" in name:
                    continue
                await socket.send(message)
                while True:
                    heard = await asyncio.wait_for(socket.recv(), 30)
                    if isinstance(heard, str) and json.loads(heard)["kind"] == "refused":
                        break
                    assert isinstance(heard, str), f"{name}: a picture was painted"
                assert len(heard) < 100_000
                for word in words:
                    assert word in json.dumps(json.loads(heard), ensure_ascii=False), (name, heard[:600])
            ordinary = {"kind": "map", "request": 999, "quantity": "LAeq", "spacing_m": 5, "figures": False}
            await socket.send(json.dumps(ordinary))
            while not isinstance(await asyncio.wait_for(socket.recv(), 30), bytes):
                pass

    asyncio.run(attack())
    server.alive()


def test_messages_and_bodies_of_nothing_but_values(server):
    body = b'{"edit_id":"hostile-0001","base_revision":0,"patch":[{"op":"add","path":"/x","value":['
    body += b"0," * 900_000 + b"0]}]}"
    assert "200 000" in refusal(server.ask("POST", f"/api/jobs/{server.job}/edits", body))
    told = refusal(server.ask("POST", f"/api/jobs/{server.job}/edits", b'{"a":"' + b"n" * 2_100_000 + b'"}'))
    assert "larger" in told
    nested = b"[" * 100_000 + b"]" * 100_000
    refusal(server.ask("POST", f"/api/jobs/{server.job}/edits", nested))

    async def attack():
        uri = server.address.replace("http", "ws") + f"/api/jobs/{server.job}/live?client=check"
        async with websockets.connect(uri) as socket:
            await socket.send('{"kind":"map","preview":[' + "0," * 400_000 + "0]}")
            while True:
                heard = json.loads(await asyncio.wait_for(socket.recv(), 30))
                if heard["kind"] == "refused":
                    assert "200 000" in json.dumps(heard, ensure_ascii=False)
                    break
        async with websockets.connect(uri) as socket:
            with pytest.raises(websockets.ConnectionClosed):
                await socket.send("n" * 1_100_000)
                while True:
                    await asyncio.wait_for(socket.recv(), 30)

    asyncio.run(attack())
    server.alive()


IMPORTS = {
    "20 000 problems in one line": ({"job.toml": FILES["20 000 problems in one line"][0]}, ["20 000 problems"]),
    "250 MB of remarks": ({"job.toml": HEAD + "# remark\n" * 27_000_000}, ["job.toml", "at most 4 MB"]),
    "a bomb beside the job": ({"job.toml": HEAD, "zeros": bytes(300 * MB)}, ["256 MB"]),
    "a bomb of a photo": ({"job.toml": HEAD, "attachments/a.png": bytes(200 * MB)}, ["a.png", "32 MB"]),
    "2001 files": ({"job.toml": HEAD, **{f"f{i}": "" for i in range(2000)}}, ["2001", "2000"]),
    "catalogues": (
        {"job.toml": HEAD, **{f"catalogue/{i}.toml": "# remark\n" * 200_000 for i in range(60)}}, ["4 MB"]),
    "50 000 problems": ({"job.toml": FILES["50 000 problems on lines of their own"][0]}, ["50 000 problems"]),
    "lists in lists": ({"job.toml": FILES["lists in lists"][0]}, ["33 values"]),
    "tables in tables in tables": ({"job.toml": FILES["tables in tables in tables"][0]}, []),
}


@pytest.mark.parametrize("name", IMPORTS)
def test_a_hostile_folder_is_refused_and_the_next_is_served(server, name):
    files, words = IMPORTS[name]
    started = time.monotonic()
    told = refusal(server.ask("POST", "/api/jobs/import", zipped(files), "application/zip"))
    for word in words:
        assert word in told, told[:600]
    assert time.monotonic() - started < SECONDS
    server.alive()


def test_a_site_of_kilometres_by_import(server):
    files = {"job.toml": site(21, "ground-sub-320", 3000)}
    status, made = server.ask("POST", "/api/jobs/import", zipped(files), "application/zip")
    assert status == 201, made
    for path in ["findings", "levels", "bass"]:
        status, answer = server.ask("GET", f"/api/jobs/{made['id']}/{path}")
        assert status == 200 or 400 <= status < 500, (path, answer)
    status, answer = server.ask("GET", f"/api/jobs/{made['id']}/findings")
    assert "instead of every 2.0 m" in json.dumps(answer, ensure_ascii=False)
    server.alive()


def test_an_edit_on_a_revision_long_ago_is_held_against_every_later_one(server):
    """Four thousand places against four thousand, two hundred times over: once a comparison of each with each."""
    path = f"/api/jobs/{server.job}/edits"
    many = [{"op": "test", "path": "/format", "value": 1}] * 4000
    for i in range(40):
        note = [{"op": "add", "path": "/job/notes", "value": f"n{i}"}]
        edit = {"edit_id": f"ordinary-{i:04}", "base_revision": i, "patch": many + note}
        assert server.ask("POST", path, edit)[0] == 200
    tests = [{"op": "test", "path": f"/surfaces/s{i}", "value": 1} for i in range(4000)]
    started = time.monotonic()
    edit = {"edit_id": "late-000001", "base_revision": 0,
            "patch": tests + [{"op": "add", "path": "/job/reference", "value": "late"}]}
    refusal(server.ask("POST", path, edit))
    assert time.monotonic() - started < 5
    status, page = server.ask("GET", f"/api/jobs/{server.job}/history?limit=500")
    assert status == 200 and 1 <= len(page) <= 40
    server.alive()


def test_what_an_edit_of_the_largest_kind_did_can_be_undone(server):
    path = f"/api/jobs/{server.job}"
    before = server.ask("GET", path)[1]["document"]
    notes = "n" * 1_500_000
    patch = [{"op": "add", "path": "/job/notes", "value": notes},
             {"op": "copy", "from": "/job/notes", "path": "/job/summary"}]
    patch += [{"op": "replace", "path": "/job/date", "value": str(i)} for i in range(4094)]
    edit = {"edit_id": "largest-0001", "base_revision": 0, "patch": patch}
    assert server.ask("POST", f"{path}/edits", edit)[0] == 200
    assert server.ask("POST", f"{path}/undo", {"edit_id": "undo-000001"})[0] == 200
    assert server.ask("GET", path)[1]["document"] == before
    server.alive()
