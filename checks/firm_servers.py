"""A firm's servers, for the checks: started on one PostgreSQL, asked, edited by way of, and reached by phones."""

import json
import ssl
import urllib.parse

import websockets

from test_server import Server, ask


class Network:
    """How phones reach a server that lets them in."""

    def __init__(self, server):
        self.server, shared = server, server.told["shared"]
        self.address = f"https://127.0.0.1:{urllib.parse.urlsplit(shared['addresses'][0]).port}"
        explained = f"http://127.0.0.1:{urllib.parse.urlsplit(shared['start_at']).port}"
        self.trusting = ssl.create_default_context(cadata=ask(explained, "GET", "/loamline.crt")[2])

    def ask(self, method, path, body=None, cookie=None):
        return ask(self.address, method, path, body, {"cookie": cookie} if cookie else None, self.trusting)

    def pair(self, name, role):
        """The cookie and the id of a device let in now."""
        code = told(self.server, "GET", f"/api/share?role={role}")[1]["code"]
        status, headers, body = self.ask("POST", "/api/pair", {"code": code, "name": name})
        assert status == 201, body
        return headers["set-cookie"].split(";")[0], json.loads(body)["id"]

    def channel(self, job, cookie):
        uri = self.address.replace("https", "wss") + f"/api/jobs/{job}/live?client=phone"
        return websockets.connect(uri, additional_headers={"cookie": cookie}, ssl=self.trusting, max_size=1 << 24)


def server_on(address, folder, *more):
    return Server(folder, "--database", address, *more)


def told(server, method, path, body=None):
    status, _, answer = ask(server.address, method, path, body)
    return status, json.loads(answer) if answer else None


def only_job(server):
    return told(server, "GET", "/api/jobs")[1][0]["id"]


def mark(edit_id, base, name, note, n=0):
    """An edit of a thing that nobody else touches."""
    return {"edit_id": edit_id, "base_revision": base, "who": "Check", "note": note,
            "patch": [{"op": "add", "path": f"/marks/{name}", "value": {"name": note, "position": [0, n]}}]}


def history(server, job):
    """Every entry of a job's log, oldest first."""
    entries, before = [], None
    while True:
        query = "?limit=500" + (f"&before={before}" if before is not None else "")
        page = told(server, "GET", f"/api/jobs/{job}/history{query}")[1]
        if not page:
            return entries[::-1]
        entries += page
        before = min(entry["revision"] for entry in page)
        if before <= 1:
            return entries[::-1]
