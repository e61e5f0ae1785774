"""The server as browsers and phones meet it: no request its own OpenAPI allows ends in an error of the server's, as
schemathesis (property-based requests from the description) finds; phones get in by HTTPS with a certificate that
Python's ssl (OpenSSL) verifies, after pairing only.
"""

import asyncio
import http.client
import json
import os
import re
import ssl
import subprocess
import urllib.parse

import pytest
import schemathesis
import websockets
from hypothesis import HealthCheck, Phase, given, settings

from tool import served

BIN = os.environ.get("LOAMLINE_BIN", "")


@schemathesis.serializer("application/toml", "application/zip", "image/png", "image/jpeg", "application/pdf")
def as_bytes(_, value):
    """Made-up bodies of files: whatever text came up, as bytes."""
    return value if isinstance(value, bytes) else str(value).encode()


class Server:
    def __init__(self, data, *more):
        self.process, self.told = served(data, *more)
        self.address = self.told["address"].rstrip("/")

    def stop(self):
        self.process.terminate()
        self.process.wait(10)


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    running = Server(tmp_path_factory.mktemp("jobs"))
    yield running
    running.stop()


def ask(address, method, path, body=None, headers=None, context=None):
    url = urllib.parse.urlsplit(address)
    if context:
        connection = http.client.HTTPSConnection(url.hostname, url.port, context=context, timeout=120)
    else:
        connection = http.client.HTTPConnection(url.hostname, url.port, timeout=120)
    sent = {"content-type": "application/json", **(headers or {})} if body is not None else (headers or {})
    connection.request(method, path, json.dumps(body) if body is not None else None, sent)
    answer = connection.getresponse()
    return answer.status, dict(answer.getheaders()), answer.read()


def test_no_request_the_description_allows_is_the_servers_fault(server):
    """schemathesis makes up requests from the OpenAPI, good ones and broken ones; every answer must be one of the
    description's, and none a 5xx."""
    schema = schemathesis.openapi.from_url(f"{server.address}/api/openapi.json")
    job = json.loads(ask(server.address, "GET", "/api/jobs")[2])[0]["id"]
    operations = 0
    for result in schema.get_all_operations():
        operation = result.ok()
        operations += 1
        # Deleting the only job would leave nothing to ask about: its own operation is asked about another id.
        keep = "{id}" in operation.path and (operation.method.upper(), operation.path) != ("DELETE", "/api/jobs/{id}")

        strategy = operation.as_strategy()

        def check(case):
            if keep and case.path_parameters is not None:
                case.path_parameters["id"] = job
            answer = case.call(timeout=60)
            assert answer.status_code < 500, (operation.method, operation.path, answer.status_code, answer.text)
            if answer.status_code >= 400:
                told = answer.json()["error"]
                assert told["code"] and told["message"], (operation.path, told)

        settings(max_examples=25, deadline=None, phases=[Phase.generate], derandomize=True, database=None,
                 suppress_health_check=list(HealthCheck))(given(strategy)(check))()
    assert operations >= 20
    status, _, _ = ask(server.address, "GET", f"/api/jobs/{job}")
    assert status == 200


def test_neighbours_hear_what_the_processing_said_once_it_is_taken_over(server):
    """Processing tells the neighbours' levels before anything is changed; with its edit in the job, the levels worked out
    for the job as it then stands must be those, at every limit it named."""
    made = ask(server.address, "POST", "/api/jobs", {"name": "Tuned", "from": "example"})
    job = json.loads(made[2])["id"]
    told = json.loads(ask(server.address, "GET", f"/api/jobs/{job}/processing")[2])
    assert told["neighbours"] and told["edit"]
    edit = {"edit_id": "processing-1", "base_revision": told["revision"], "patch": told["edit"], "who": "Check", "note": "x"}
    status, _, answer = ask(server.address, "POST", f"/api/jobs/{job}/edits", edit)
    assert status == 200, answer
    heard = json.loads(ask(server.address, "GET", f"/api/jobs/{job}/neighbours")[2])["neighbours"]
    for n in told["neighbours"]:
        limits = heard[n["neighbour"]]["night" if n["by_night"] else "day"]
        now = next(limit for limit in limits if limit["quantity"] == n["quantity"])
        assert now["limit_db"] == n["limit_db"], (n, now)
        # Gains are entered in steps; what is left is rounding of the settings as typed.
        assert abs(now["level_db"] - n["level_db"]) < 0.05, (n, now)


def test_every_answer_says_which_app_is_inside(server):
    """A page is of the version it carries; whatever it asks, refusals too, tells it whether the program has that one."""
    page = ask(server.address, "GET", "/")[2].decode()
    own = re.search(r'<meta name="loamline-app" content="([0-9a-f]{16})"', page).group(1)
    # The service worker is of the same: what is kept for work without a network is named by it.
    assert f'loamline-${{"{own}"}}' in ask(server.address, "GET", "/sw.js")[2].decode()
    made = json.loads(ask(server.address, "POST", "/api/jobs", {"name": "Told", "from": "example"})[2])["id"]
    for method, path in [("GET", "/"), ("HEAD", "/"), ("GET", "/api/jobs"), ("GET", "/api/nothing"), ("DELETE", "/"),
                         ("GET", f"/api/jobs/{made}"), ("GET", "/api/jobs/none")]:
        told = {k.lower(): v for k, v in ask(server.address, method, path)[1].items()}
        assert told.get("x-loamline-app") == own, (method, path, told)
    rebound = ask(server.address, "GET", "/api/jobs", headers={"host": "rebound.example"})
    assert (rebound[0], rebound[1].get("x-loamline-app")) == (403, own)

    async def hello():
        address = f"{server.address.replace('http', 'ws')}/api/jobs/{made}/live?client=Ann"
        async with websockets.connect(address) as channel:
            return json.loads(await channel.recv())

    assert asyncio.run(hello()) == {"kind": "hello", "revision": 0, "app": own}


def test_a_device_turned_away_hears_nothing_more(tmp_path):
    """Its live channel ends with the first edit after, not with the next sign of life."""
    running = Server(tmp_path, "--share")

    async def listen(network, cookie, trusting, job):
        address = f"{network.replace('https', 'wss')}/api/jobs/{job}/live?client=Phone"
        async with websockets.connect(address, additional_headers={"cookie": cookie}, ssl=trusting) as channel:
            assert json.loads(await channel.recv())["kind"] == "hello"

            def edit(number):
                asked = {"edit_id": f"turned-away-{number}", "base_revision": number, "who": "Office", "note": "",
                         "patch": [{"op": "replace", "path": "/job/name", "value": f"Name {number}"}]}
                status, _, answer = ask(running.address, "POST", f"/api/jobs/{job}/edits", asked)
                assert status == 200, answer

            async def heard():
                while True:
                    told = json.loads(await asyncio.wait_for(channel.recv(), 5))
                    if told["kind"] == "edit":
                        return told

            await asyncio.to_thread(edit, 0)
            assert (await heard())["edit_id"] == "turned-away-0"
            device = json.loads(ask(running.address, "GET", "/api/devices")[2])[0]["id"]
            assert ask(running.address, "DELETE", f"/api/devices/{device}")[0] == 204
            await asyncio.to_thread(edit, 1)
            with pytest.raises(websockets.ConnectionClosed):
                await heard()

    try:
        shared = running.told["shared"]
        network = f"https://127.0.0.1:{urllib.parse.urlsplit(shared['addresses'][0]).port}"
        explained = f"http://127.0.0.1:{urllib.parse.urlsplit(shared['start_at']).port}"
        trusting = ssl.create_default_context(cadata=ask(explained, "GET", "/loamline.crt")[2])
        status, headers, _ = ask(
            network, "POST", "/api/pair", {"code": shared["code"], "name": "Phone"}, None, trusting)
        assert status == 201
        job = json.loads(ask(running.address, "GET", "/api/jobs")[2])[0]["id"]
        asyncio.run(listen(network, headers["set-cookie"].split(";")[0], trusting, job))
    finally:
        running.stop()


def test_a_phone_gets_in_by_https_and_pairing_only(tmp_path):
    running = Server(tmp_path, "--share")
    try:
        shared = running.told["shared"]
        port = urllib.parse.urlsplit(shared["addresses"][0]).port
        network = f"https://127.0.0.1:{port}"
        start = urllib.parse.urlsplit(shared["start_at"])
        # The page that explains the warning is open, and holds the certificate and its fingerprint.
        explained = f"http://127.0.0.1:{start.port}"
        status, _, page = ask(explained, "GET", "/")
        assert status == 200 and shared["fingerprint"] in page.decode()
        _, _, authority = ask(explained, "GET", "/loamline.crt")
        assert ask(explained, "GET", "/api/jobs")[0] == 404
        # OpenSSL, as Python has it, verifies the chain and the address with the authority, and refuses without.
        with pytest.raises(ssl.SSLCertVerificationError):
            ask(network, "GET", "/", context=ssl.create_default_context())
        trusting = ssl.create_default_context(cadata=authority)
        assert ask(network, "GET", "/", context=trusting)[0] == 200

        def call(method, path, body=None, headers=None):
            return ask(network, method, path, body, headers, trusting)

        status, _, told = call("GET", "/api/jobs")
        assert (status, json.loads(told)["error"]["code"]) == (401, "not_paired")
        assert call("GET", "/api/jobs", headers={"cookie": "__Host-loamline=guess"})[0] == 401
        assert call("POST", "/api/pair", {"code": "nnnn-nnnn", "name": "Phone"})[0] == 403
        status, headers, told = call("POST", "/api/pair", {"code": shared["code"].upper(), "name": "Phone"})
        assert status == 201
        cookie = headers["set-cookie"]
        for word in ("Secure", "HttpOnly", "SameSite=Strict", "Path=/"):
            assert word in cookie, cookie
        paired = {"cookie": cookie.split(";")[0]}
        assert call("GET", "/api/jobs", headers=paired)[0] == 200
        # Another page on the network cannot use the cookie, and devices are managed on the computer itself only.
        assert call("GET", "/api/jobs", headers={**paired, "origin": "https://elsewhere.example"})[0] == 403
        assert call("GET", "/api/devices", headers=paired)[0] == 403
        assert ask(running.address, "GET", "/api/devices")[0] == 200
        # Turned away from the command line, it is out at once.
        listed = subprocess.run([BIN, "serve", "--devices", "--json", "--data", str(tmp_path)],
                                capture_output=True, text=True, check=True)
        device = json.loads(listed.stdout)[0]
        assert device["name"] == "Phone"
        subprocess.run([BIN, "serve", "--forget", device["id"], "--data", str(tmp_path)], check=True)
        assert call("GET", "/api/jobs", headers=paired)[0] == 401
        # A code lets one device in; the computer shows the next.
        assert call("POST", "/api/pair", {"code": shared["code"], "name": "Another"})[0] == 403
        code = json.loads(ask(running.address, "GET", "/api/share")[2])["code"]
        assert code != shared["code"]
        # Guessing is slowed down.
        statuses = [call("POST", "/api/pair", {"code": "nnnn-nnnn", "name": ""})[0] for _ in range(7)]
        assert statuses[-1] == 429
        assert call("POST", "/api/pair", {"code": code, "name": ""})[0] == 429
    finally:
        running.stop()
