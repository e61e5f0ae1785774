"""A client's link: one job, read only, and nothing else; what is accepted is kept with the hash of exactly what the page showed
(SHA-256 worked out again by Python's hashlib), once, and not when the job has changed since; what changed after that stands beside it,
for the office as well, and can be accepted anew; its amounts add up (in decimal); a link that was taken back, has ended or is not
known shows nothing.
"""

import hashlib
import html
import json
import re

import pytest

from test_roles import Firm
from test_server import ask


@pytest.fixture(scope="module")
def firm(tmp_path_factory):
    firm = Firm(tmp_path_factory.mktemp("client"))
    if firm.ask("here", "GET", f"/api/jobs/{firm.job}/papers")[0] == 404:
        firm.stop()
        pytest.skip("this program was built without the papers, which the page is made from")
    yield firm
    firm.stop()


def link(firm, **asked):
    body = {"client": "The owner of the garden", "prices": True, "days": 30, "who": "Ada", **asked}
    status, _, made = firm.ask("designer", "POST", f"/api/jobs/{firm.job}/links", body)
    assert status == 201, made
    return json.loads(made)


def page(firm, path):
    status, headers, body = firm.ask("stranger", "GET", path)
    return status, {k.lower(): v for k, v in headers.items()}, body.decode()


def hash_of(text):
    return re.search(r'data-sha256="([0-9a-f]{64})"', text).group(1)


def test_the_page_shows_the_job_to_whoever_has_the_link(firm):
    made = link(firm)
    assert made["address"].startswith("https://") and made["address"].endswith(made["path"])
    status, headers, text = page(firm, made["path"])
    assert status == 200 and headers["content-type"].startswith("text/html") and headers["cache-control"] == "no-store"
    job = json.loads(firm.ask("here", "GET", f"/api/jobs/{firm.job}")[2])
    assert html.escape(job["name"]) in text and "The owner of the garden" in text
    for area in job["resolved"]["areas"].values():
        assert html.escape(area["name"]) in text
    currency = re.search(r"Total</th><td>([A-Z]{3}) [\d ,.'’\u202f\u00a0]+</td>", text).group(1)
    status, headers, plan = page(firm, f"{made['path']}/plan.svg")
    assert status == 200 and headers["content-type"] == "image/svg+xml" and plan.startswith("<svg")
    status, _, guide = firm.ask("stranger", "GET", f"{made['path']}/guide.pdf")
    assert status == 200 and guide.startswith(b"%PDF-")
    # Without prices there is no amount anywhere.
    bare = page(firm, link(firm, prices=False)["path"])[2]
    assert currency not in bare and "What it costs" not in bare
    # The stylesheet and the script it asks for are there, and it asks for nothing else of this server.
    asked = set(re.findall(r'(?:href|src)="([^"]+)"', text))
    assert asked == {"/client.css", "/client.js", f"{made['path']}/plan.svg", f"{made['path']}/guide.pdf"}
    for path in ("/client.css", "/client.js"):
        assert page(firm, path)[0] == 200


def test_it_shows_nothing_else(firm):
    secret = link(firm)["path"].rsplit("/", 1)[1]
    for path in ("/api/jobs", f"/api/jobs/{firm.job}", f"/api/jobs/{firm.job}/links", "/api/doings"):
        for headers in ({}, {"cookie": f"__Host-loamline={secret}"}):
            status, _, body = ask(firm.network, "GET", path, None, headers, firm.trusting)
            assert (status, json.loads(body)["error"]["code"]) == (401, "not_paired"), path
    assert firm.ask("crew", "GET", f"/api/jobs/{firm.job}/links")[0] == 403
    for path in (f"/client/{secret[:-1]}", f"/client/{secret}x", "/client/x", "/client/%ff"):
        assert page(firm, path)[0] == 404, path


def test_what_is_accepted_is_exactly_what_was_shown(firm):
    made = link(firm)
    accept = f"{made['path']}/accept"
    shown = hash_of(page(firm, made["path"])[2])

    def say(body):
        status, _, told = firm.ask("stranger", "POST", accept, body)
        return status, json.loads(told)

    assert say({"name": " ", "sha256": shown})[0] == 422
    assert say({"name": "Cleo"})[0] == 422
    # The job changes under the client's hands: what they saw is not what they would accept.
    before = json.loads(firm.ask("here", "GET", f"/api/jobs/{firm.job}")[2])
    edit = {"edit_id": "under-the-hands", "base_revision": before["revision"], "who": "Ada", "note": "",
            "patch": [{"op": "replace", "path": "/job/name", "value": "Another name"}]}
    assert firm.ask("owner", "POST", f"/api/jobs/{firm.job}/edits", edit)[0] == 200
    status, told = say({"name": "Cleo", "sha256": shown})
    assert (status, told["error"]["code"]) == (409, "behind"), told
    shown = hash_of(page(firm, made["path"])[2])
    status, told = say({"name": "Cleo <i>", "sha256": shown})
    assert (status, told["sha256"]) == (200, shown), told
    assert say({"name": "Somebody else", "sha256": shown})[0] == 409, "once"
    links = json.loads(firm.ask("designer", "GET", f"/api/jobs/{firm.job}/links")[2])
    [accepted] = [one["accepted"] for one in links if one["id"] == made["link"]["id"]]
    assert (accepted["name"], accepted["sha256"], accepted["revision"]) == ("Cleo <i>", shown, before["revision"] + 1)
    assert hashlib.sha256(accepted["content"].encode()).hexdigest() == shown
    content = json.loads(accepted["content"])
    assert content["name"] == "Another name" and content["offer"]["total"]
    plan = firm.ask("stranger", "GET", f"{made['path']}/plan.svg")[2]
    assert content["plan_sha256"] == hashlib.sha256(plan).hexdigest()
    text = page(firm, made["path"])[2]
    assert "Accepted" in text and "Cleo &lt;i&gt;" in text and "<form" not in text
    log = json.loads(firm.ask("owner", "GET", "/api/doings")[2])
    assert (log[0]["what"], log[0]["who"]) == ("accepted", "Cleo <i>")


def test_a_link_is_taken_back_at_once_and_what_was_accepted_stays(firm):
    made = link(firm)
    shown = hash_of(page(firm, made["path"])[2])
    assert firm.ask("stranger", "POST", f"{made['path']}/accept", {"name": "Dee", "sha256": shown})[0] == 200
    one = f"/api/jobs/{firm.job}/links/{made['link']['id']}"
    assert firm.ask("crew", "DELETE", one)[0] == 403
    assert firm.ask("designer", "DELETE", one)[0] == 204
    assert firm.ask("designer", "DELETE", one)[0] == 404
    status, _, text = page(firm, made["path"])
    assert status == 404 and "This link has ended" in text
    for rest in ("/plan.svg", "/guide.pdf"):
        assert page(firm, made["path"] + rest)[0] == 404
    links = json.loads(firm.ask("designer", "GET", f"/api/jobs/{firm.job}/links")[2])
    assert [one["accepted"]["name"] for one in links if one["id"] == made["link"]["id"]] == ["Dee"]


@pytest.mark.parametrize("asked", [{"days": 0}, {"days": 181}, {"days": -1}, {"client": "x" * 81}, {"prices": "yes"}])
def test_a_link_that_cannot_be_is_refused(firm, asked):
    body = {"client": "x", "prices": True, "days": 1, **asked}
    assert 400 <= firm.ask("designer", "POST", f"/api/jobs/{firm.job}/links", body)[0] < 500


def test_what_changed_after_acceptance_is_shown_to_client_and_office(firm):
    """What was accepted stays on the page beside what stands now; the office is told both prices; it can be accepted anew, and what
    was accepted before is kept."""
    made = link(firm)
    accept = f"{made['path']}/accept"
    first = hash_of(page(firm, made["path"])[2])
    assert firm.ask("stranger", "POST", accept, {"name": "Cleo", "sha256": first})[0] == 200
    base = json.loads(firm.ask("here", "GET", f"/api/jobs/{firm.job}")[2])
    before = page(firm, made["path"])[2]
    total = re.search(r"Total</th><td>([^<]+)</td>", before).group(1)

    def change(edit_id, patch):
        now = json.loads(firm.ask("here", "GET", f"/api/jobs/{firm.job}")[2])["revision"]
        edit = {"edit_id": edit_id, "base_revision": now, "who": "Ada", "note": "", "patch": patch}
        assert firm.ask("owner", "POST", f"/api/jobs/{firm.job}/edits", edit)[0] == 200

    # A note for the crew is none of the client's: what stands is what was accepted.
    tag = next(iter(base["resolved"]["loudspeakers"]))
    change("note-for-the-crew", [{"op": "add", "path": f"/loudspeakers/{tag}/note", "value": "Mind the hose."}])
    assert "As it is now" not in page(firm, made["path"])[2]
    # An allowance is, and costs.
    change("more-money", [{"op": "add", "path": "/job/allowance", "value": "500"}])
    text = page(firm, made["path"])[2]
    assert "As accepted" in text and "As it is now" in text and "Accept as it is now" in text
    row = re.search(r"<tr><th>Total</th><td>([^<]+)</td><td>([^<]+)</td></tr>", text)
    assert row.group(1) == total and row.group(2) != total, "both prices stand side by side"
    findings = json.loads(firm.ask("designer", "GET", f"/api/jobs/{firm.job}/findings")[2])["findings"]
    [told] = [f for f in findings if " accepted this job on " in f["sentence"]]
    assert told["severity"] == "warning" and "It comes to" in told["sentence"]
    crew = json.loads(firm.ask("crew", "GET", f"/api/jobs/{firm.job}/findings")[2])["findings"]
    currency = total[:3]
    assert not any(currency in f["sentence"] for f in crew if "accepted" in f["sentence"]), "no prices for a crew"
    links = json.loads(firm.ask("designer", "GET", f"/api/jobs/{firm.job}/links")[2])
    [since] = [one["accepted"]["since"] for one in links if one["id"] == made["link"]["id"]]
    assert since["price_then"] != since["price_now"]
    status, _, told = firm.ask("stranger", "POST", accept, {"name": "Cleo", "sha256": hash_of(text)})
    assert status == 200, told
    assert "As accepted" not in page(firm, made["path"])[2]
    links = json.loads(firm.ask("designer", "GET", f"/api/jobs/{firm.job}/links")[2])
    hashes = [one["accepted"]["sha256"] for one in links if one["accepted"]]
    assert first in hashes and hash_of(text) in hashes, "what was accepted before is kept"


def test_the_money_on_the_page_adds_up(firm):
    """What is set aside, tax and rounding among the rows: the parts make up what stands before tax, and that with tax and
    rounding the total (added here, in decimal)."""
    from decimal import Decimal

    now = json.loads(firm.ask("here", "GET", f"/api/jobs/{firm.job}")[2])["revision"]
    edit = {"edit_id": "round-to-tens", "base_revision": now, "who": "Ada", "note": "",
            "patch": [{"op": "add", "path": "/job/rounding", "value": "10"},
                      {"op": "add", "path": "/job/allowance", "value": "123.45"}]}
    assert firm.ask("owner", "POST", f"/api/jobs/{firm.job}/edits", edit)[0] == 200
    text = page(firm, link(firm)["path"])[2]
    table = re.search(r'<table class="money">(.*?)</table>', text, re.DOTALL).group(1)
    rows = re.findall(r"<th>([^<]*)</th><td>[A-Z]{3} ([^<]+)</td>", table)
    amounts = [(name, Decimal(re.sub(r"[^\d.-]", "", amount))) for name, amount in rows]
    at = next(i for i, (name, _) in enumerate(amounts) if name == "Before tax")
    parts = sum(amount for _, amount in amounts[:at])
    assert parts == amounts[at][1], amounts
    assert amounts[-1][0] == "Total" and sum(a for _, a in amounts[at:-1]) == amounts[-1][1], amounts
    assert any(name == "Rounding" for name, _ in amounts), amounts
