"""Jobs over HTTP, for the checks: brought in and asked."""

import http.client
import json
import urllib.parse

import pytest

from test_server import Server, ask
from tool import zipped


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    running = Server(tmp_path_factory.mktemp("jobs"))
    yield running
    running.stop()


def taken_in(server, archive):
    """The id of a job brought in as a ZIP."""
    url = urllib.parse.urlsplit(server.address)
    connection = http.client.HTTPConnection(url.hostname, url.port, timeout=60)
    connection.request("POST", "/api/jobs/import", archive, {"content-type": "application/zip"})
    answer = connection.getresponse()
    body = answer.read()
    assert answer.status == 201, body
    return json.loads(body)["id"]


def imported_text(server, text):
    """The id of a job brought in as its text alone."""
    return taken_in(server, zipped({"job.toml": text}))


def imported(server, folder):
    """The id of a job brought in as the job file of a folder alone."""
    return imported_text(server, (folder / "job.toml").read_text())


def fetched(server, path):
    status, _, body = ask(server.address, "GET", path)
    assert status == 200, body
    return json.loads(body)
