"""Who may do what: every route of the interface tried with every role, from the table the server itself goes by
(`crates/server/src/access.rs`), held against the description of the interface; nothing that is not in the table answers.
What each role is for, in words, stands in `docs/architecture.md`; keys of money come from the schemas of job and catalogue.
"""

import asyncio
import io
import json
import pathlib
import re
import ssl
import urllib.parse
import zipfile

import pytest
import websockets

from test_server import Server, ask

ROOT = pathlib.Path(__file__).resolve().parent.parent
ROW = re.compile(r'\("([A-Z]+)", "(/[^"]+)", Who::(\w+)\)')
ROLES = ("owner", "designer", "crew")
# Whom each word of the table admits, written a second time.
ADMITS = {
    "Here": {"here"},
    "Owner": {"here", "owner"},
    "Office": {"here", "owner", "designer"},
    "Site": {"here", "owner", "designer", "crew"},
    "Anybody": {"here", "owner", "designer", "crew", "stranger"},
}
# Read, and in no description.
UNDESCRIBED = {
    ("GET", "/api/openapi.json"),
    ("GET", "/api/jobs/{id}/papers/{folder}/{file}"),
    ("GET", "/api/jobs/{id}/live"),
    ("GET", "/client/{secret}"),
    ("GET", "/client/{secret}/plan.svg"),
    ("GET", "/client/{secret}/guide.pdf"),
    ("POST", "/client/{secret}/accept"),
    ("GET", "/client.css"),
    ("GET", "/client.js"),
    ("GET", "/sign-in/back"),
}


def table():
    rows = ROW.findall((ROOT / "crates/server/src/access.rs").read_text())
    assert len(rows) > 40
    return rows


class Firm:
    """A server with a device in each role, and one at the computer itself."""

    def __init__(self, folder):
        self.running = Server(folder, "--share")
        shared = self.running.told["shared"]
        self.network = f"https://127.0.0.1:{urllib.parse.urlsplit(shared['addresses'][0]).port}"
        explained = f"http://127.0.0.1:{urllib.parse.urlsplit(shared['start_at']).port}"
        self.trusting = ssl.create_default_context(cadata=ask(explained, "GET", "/loamline.crt")[2])
        self.cookies, self.devices = {}, {}
        for role in ROLES:
            self.pair(role, role)
        made = ask(self.running.address, "POST", "/api/jobs", {"from": "example"})
        self.job = json.loads(made[2])["id"]

    def pair(self, who, role):
        code = json.loads(ask(self.running.address, "GET", f"/api/share?role={role}")[2])["code"]
        status, headers, body = ask(self.network, "POST", "/api/pair", {"code": code, "name": who}, None, self.trusting)
        assert status == 201, body
        told = json.loads(body)
        assert told["role"] == role
        self.cookies[who], self.devices[who] = headers["set-cookie"].split(";")[0], told["id"]

    def ask(self, who, method, path, body=None):
        if who == "here":
            return ask(self.running.address, method, path, body)
        headers = {"cookie": self.cookies[who]} if who in self.cookies else {}
        return ask(self.network, method, path, body, headers, self.trusting)

    def stop(self):
        self.running.stop()


@pytest.fixture(scope="module")
def firm(tmp_path_factory):
    firm = Firm(tmp_path_factory.mktemp("firm"))
    yield firm
    firm.stop()


def filled(path, job):
    """A path with names of nothing, but for the job where it is only read."""
    return re.sub(r"\{(\w+)\}", lambda m: job if m.group(1) == "id" else "nothing", path)


def test_the_table_has_every_route_of_the_description(firm):
    described = json.loads(firm.ask("here", "GET", "/api/openapi.json")[2])
    there = {(method.upper(), path) for path, methods in described["paths"].items() for method in methods
             if method in ("get", "put", "post", "delete", "patch")}
    assert {(method, path) for method, path, _ in table()} == there | UNDESCRIBED


@pytest.mark.parametrize(("method", "path", "admitted"), table())
def test_every_route_answers_whom_the_table_says_and_nobody_else(firm, method, path, admitted):
    # What changes something is asked of a job that is not there: who may is told that, who may not is told so before.
    job = firm.job if method == "GET" else "no-such-job"
    for who in ("here", *ROLES, "stranger"):
        body = None if method in ("GET", "DELETE") else {}
        status, _, answer = firm.ask(who, method, filled(path, job), body)
        if path == "/api/sign-out" and who in ROLES:
            firm.pair(who, who)
        # A link that is not known is told as a page.
        is_page = answer.startswith(b"<!doctype")
        code = json.loads(answer)["error"]["code"] if status >= 400 and not is_page else ""
        told = (who, method, path, status, answer[:200])
        if who in ADMITS[admitted]:
            if who == "crew" and "/papers/" in path:
                # Of the papers those without prices; "nothing" is none at all.
                assert (status, code) == (404, "not_found"), told
                continue
            assert status != 401 and code not in ("not_allowed", "not_paired"), told
            assert status < 500 or code in ("not_built", "store"), told
        elif who == "stranger":
            assert (status, code) == (401, "not_paired"), told
        else:
            assert (status, code) == (403, "not_allowed"), told


@pytest.mark.parametrize("method", ["GET", "PUT", "POST", "DELETE", "PATCH", "OPTIONS", "BREW"])
def test_what_is_not_in_the_table_answers_nobody(firm, method):
    rows = {(m, p) for m, p, _ in table()}
    for path in {p for _, p in rows}:
        if (method, path) in rows:
            continue
        for who in ("here", *ROLES):
            status, _, answer = firm.ask(who, method, filled(path, firm.job), {} if method != "GET" else None)
            assert (status, json.loads(answer)["error"]["code"]) == (405, "wrong_method"), (who, method, path, answer[:200])


def money():
    """Keys of the schemas whose values are amounts of money."""
    keys = set()

    def walk(value):
        if isinstance(value, dict):
            for key, of in value.get("properties", {}).items():
                if '"^[0-9]+(\\\\.[0-9]+)?$"' in json.dumps(of):
                    keys.add(key)
            for v in value.values():
                walk(v)
        elif isinstance(value, list):
            for v in value:
                walk(v)

    for name in ("job", "catalogue"):
        walk(json.loads((ROOT / f"docs/schema/{name}.schema.json").read_text()))
    assert len(keys) > 8, keys
    return keys


def amounts(value, keys):
    """Places of a value that stand under a key of money and say something."""
    if isinstance(value, dict):
        found = {key for key, v in value.items() if key in keys and v not in (None, "")}
        path = value.get("path")
        if isinstance(path, str) and path.rsplit("/", 1)[-1] in keys and "value" in value:
            found.add(path)
        return found.union(*(amounts(v, keys) for v in value.values())) if value else found
    return set().union(*(amounts(v, keys) for v in value)) if isinstance(value, list) and value else set()


def test_the_crew_is_told_no_prices(firm):
    path = f"/api/jobs/{firm.job}"
    revision = json.loads(firm.ask("here", "GET", path)[2])["revision"]
    budget = {"edit_id": "budget-for-the-crew", "base_revision": revision, "who": "Office", "note": "x",
              "patch": [{"op": "add", "path": "/brief/budget", "value": "12345.67"}]}
    assert firm.ask("owner", "POST", f"{path}/edits", budget)[0] == 200
    keys, told = money(), 0
    for method, route, admitted in table():
        # What the crew has of the papers is looked at below.
        of_papers = "{file}" in route or route.endswith("/papers.zip")
        if method != "GET" or admitted != "Site" or of_papers or route.endswith("/live") or "{name}" in route:
            continue
        asked = filled(route, firm.job)
        answers = {who: firm.ask(who, "GET", asked) for who in ("designer", "crew")}
        if any(status != 200 for status, _, _ in answers.values()):
            continue
        if not all(body[:1] in b"{[" for _, _, body in answers.values()):
            assert all(body.startswith(b"<svg") for _, _, body in answers.values()), route
            continue
        seen = {who: json.loads(body) for who, (_, _, body) in answers.items()}
        told += len(amounts(seen["designer"], keys))
        assert amounts(seen["crew"], keys) == set(), route
        assert "12345.67" not in json.dumps(seen["crew"]), route
    assert told > 10, "prices were looked for where there are none"
    listed = json.loads(firm.ask("crew", "GET", f"{path}/papers")[2])
    if "documents" in listed:
        names = [d["file"] for d in listed["documents"]]
        assert "crew-pack.pdf" in names and not {"proposal.pdf", "quotation.pdf", "pack.json"} & set(names)
        assert firm.ask("crew", "GET", f"{path}/papers/quotation.pdf")[0] == 403
        status, _, zipped = firm.ask("crew", "GET", f"{path}/papers.zip")
        assert status == 200 and zipfile.ZipFile(io.BytesIO(zipped)).namelist() == names
        _, _, whole = firm.ask("designer", "GET", f"{path}/papers.zip")
        assert {"quotation.pdf", *names} < set(zipfile.ZipFile(io.BytesIO(whole)).namelist())


def test_the_crew_enters_readings_and_changes_nothing_else(firm):
    path = f"/api/jobs/{firm.job}"
    job = json.loads(firm.ask("here", "GET", path)[2])
    visit = next(iter(job["document"]["visits"]))
    tag = next(iter(job["document"]["loudspeakers"]))

    def edit(number, patch):
        return firm.ask("crew", "POST", f"{path}/edits", {
            "edit_id": f"crew-edit-{number:04}", "base_revision": job["revision"], "who": "Crew", "note": "", "patch": patch})

    line = next(iter(job["document"]["lines"]))
    entered = [{"op": "add", "path": f"/visits/{visit}/readings/by-crew", "value": {"line": line, "dc": "4.1 ohm"}}]
    status, _, body = edit(1, entered)
    assert status == 200, body
    for number, patch in enumerate([
        [{"op": "replace", "path": f"/loudspeakers/{tag}/bearing", "value": 5}],
        [{"op": "remove", "path": f"/loudspeakers/{tag}"}],
        [*entered, {"op": "replace", "path": "/job/name", "value": "Ours"}],
        [{"op": "copy", "from": "/brief/budget", "path": f"/visits/{visit}/notes"}],
        [{"op": "test", "path": "/brief/budget", "value": 1}],
        [{"op": "replace", "path": "", "value": {}}],
    ], 2):
        status, _, body = edit(number, patch)
        assert (status, json.loads(body)["error"]["code"]) == (403, "not_allowed"), (patch, body)
    after = json.loads(firm.ask("here", "GET", path)[2])["document"]
    del after["visits"][visit]["readings"]["by-crew"]
    assert after == job["document"]


def test_a_device_is_cut_at_once_while_nothing_happens(firm):
    """Turned away, or given another role, its live channel ends though nobody edits; the median of a second is far below the
    20 s between signs of life."""
    firm.pair("leaver", "designer")

    async def ends(change):
        address = f"{firm.network.replace('https', 'wss')}/api/jobs/{firm.job}/live?client=Leaver"
        headers = {"cookie": firm.cookies["leaver"]}
        async with websockets.connect(address, additional_headers=headers, ssl=firm.trusting) as channel:
            assert json.loads(await channel.recv())["kind"] == "hello"
            status, _, body = await asyncio.to_thread(change)
            assert status in (200, 204), body
            with pytest.raises(websockets.ConnectionClosed):
                while True:
                    await asyncio.wait_for(channel.recv(), 3)

    device = f"/api/devices/{firm.devices['leaver']}"
    asyncio.run(ends(lambda: firm.ask("here", "PUT", device, {"role": "crew"})))
    assert firm.ask("leaver", "POST", f"/api/jobs/{firm.job}/undo", {})[0] == 403
    asyncio.run(ends(lambda: firm.ask("here", "DELETE", device)))
    assert firm.ask("leaver", "GET", "/api/jobs")[0] == 401
    log = [(d["what"], d["about"]) for d in json.loads(firm.ask("owner", "GET", "/api/doings")[2])]
    assert log[:3] == [("turned_away", "leaver"), ("role", "leaver (crew)"), ("paired", "leaver (designer)")]


def test_a_deleted_job_is_nowhere_until_it_is_brought_back(firm):
    job = json.loads(firm.ask("designer", "POST", "/api/jobs", {"name": "Short-lived", "from": "empty"})[2])["id"]
    assert firm.ask("designer", "DELETE", f"/api/jobs/{job}")[0] == 403
    assert firm.ask("owner", "DELETE", f"/api/jobs/{job}?who=Ada")[0] == 204
    assert job not in [j["id"] for j in json.loads(firm.ask("here", "GET", "/api/jobs")[2])]
    for path in ("", "/history", "/export", "/attachments", "/attachments/x.png", "/findings"):
        assert firm.ask("here", "GET", f"/api/jobs/{job}{path}")[0] == 404, path
    deleted = json.loads(firm.ask("owner", "GET", "/api/deleted-jobs")[2])
    assert [(d["id"], d["name"], d["who"]) for d in deleted if d["id"] == job] == [(job, "Short-lived", "Ada")]
    status, _, body = firm.ask("owner", "POST", f"/api/jobs/{job}/restore", {"who": "Ada"})
    assert (status, json.loads(body)["name"]) == (200, "Short-lived")
    assert firm.ask("here", "GET", f"/api/jobs/{job}")[0] == 200
    assert firm.ask("owner", "POST", f"/api/jobs/{job}/restore", {})[0] == 404
