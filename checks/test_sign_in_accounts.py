"""Signing in with the firm's own accounts, tried over HTTP with an identity provider of the checks' own (`identity_provider.py`), which
gives out good tokens and every kind of wrong one: of another issuer, for another audience or sign-in, expired, unsigned, signed with
another key or a shared secret. Each wrong one is refused with a sentence; roles come from an invitation or from a claim.
"""

import hashlib
import hmac
import html
import json
import time
import urllib.parse

import pytest

from identity_provider import Key, Provider, b64
from test_server import ask
from test_sign_in import Named, refusal


class Accounts:
    """A firm's server with an identity provider."""

    def __init__(self, folder, more=""):
        self.provider = Provider()
        file = self.provider.file(folder / "provider.toml", more)
        (folder / "data").mkdir()
        self.firm = Named(folder / "data", "--provider", file)

    def stop(self):
        self.firm.stop()
        self.provider.stop()

    def begin(self, code=None):
        told, headers = self.firm.tell("stranger", "POST", "/api/sign-in/account", {"code": code})
        way = headers["set-cookie"]
        assert all(word in way for word in ("__Host-loamline-way=", "Secure", "HttpOnly", "SameSite=Lax", "Max-Age=600"))
        return told["address"], way.split(";")[0]

    def back(self, way, query):
        """As the provider sends a browser back: from another site, with the cookie that goes along."""
        headers = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate", **({"cookie": way} if way else {})}
        path = f"/sign-in/back?{urllib.parse.urlencode(query)}"
        return ask(self.firm.network, "GET", path, None, headers, self.firm.trusting)

    def come(self, code=None):
        address, way = self.begin(code)
        redirect, query = self.provider.agree(address)
        assert redirect == f"{self.firm.network}/sign-in/back"
        return self.back(way, query)

    def let_in(self, who, code=None):
        status, headers, body = self.come(code)
        assert (status, headers["location"]) == (303, "/"), body
        assert all(word in headers["set-cookie"] for word in ("__Host-loamline=", "SameSite=Strict", "HttpOnly", "Secure"))
        self.firm.keep(who, headers)
        return self.firm.tell(who, "GET", "/api/me")[0]

    def refused(self, answer, said, status=403):
        found, headers, body = answer
        page = html.unescape(body.decode())
        assert found == status and page.startswith("<!doctype html>") and said in page, (found, page)
        assert "__Host-loamline=" not in headers.get("set-cookie", "")
        # What the file keeps secret is on no page.
        assert "hush" not in page

    def code(self, role):
        return json.loads(ask(self.firm.running.address, "GET", f"/api/share?role={role}")[2])["code"]


@pytest.fixture(scope="module")
def accounts(tmp_path_factory):
    accounts = Accounts(tmp_path_factory.mktemp("accounts"))
    yield accounts
    accounts.stop()


@pytest.fixture
def good(accounts):
    """The accounts as they should be, also after a check in which they were not."""
    yield accounts
    accounts.provider.make = lambda key, claims: key.token(claims)
    accounts.provider.said = {"sub": "17", "name": "Ann"}


def test_somebody_new_comes_by_an_invitation_once_and_has_its_role(good):
    ways, _ = good.firm.tell("stranger", "GET", "/api/sign-in")
    assert ways["account"] == "Example's accounts"
    good.refused(good.come(), "Ann is not known here yet")
    good.refused(good.come("nnnn-nnnn"), "not the code shown")
    me = good.let_in("ann", good.code("designer"))
    assert (me["name"], me["role"], me["passkeys"]) == ("Ann", "designer", [])
    again = good.let_in("ann elsewhere")
    assert (again["name"], again["role"]) == ("Ann", "designer")
    people, _ = good.firm.tell("here", "GET", "/api/people")
    assert [(p["name"], p["account"]) for p in people] == [("Ann", True)]
    # Signed in with an ES256 key, and as somebody whose name is no name.
    good.provider.make = lambda key, claims: good.provider.keys[1].token(claims)
    good.provider.said = {"sub": "18", "name": "<b>\u0007" + "x" * 200}
    me = good.let_in("bold", good.code("crew"))
    assert me["name"] == "<b>" + "x" * 77 and me["role"] == "crew"
    # Turned away, an account is a stranger's again.
    good.firm.tell("here", "DELETE", f"/api/people/{people[0]['id']}", wanted=204)
    assert good.firm.ask("ann", "GET", "/api/jobs")[0] == 401
    good.provider.said = {"sub": "17", "name": "Ann"}
    good.refused(good.come(), "not known here yet")


def test_every_wrong_token_is_refused_with_its_reason(good):
    now = int(time.time())
    before, _ = good.firm.tell("here", "GET", "/api/doings")
    for said, why in [
        ({"iss": "https://login.example"}, "made by another provider"),
        ({"aud": "another"}, "for another program"),
        ({"aud": ["loamline", "another"]}, "for another program"),
        ({"nonce": "another"}, "belongs to another sign-in"),
        ({"nonce": None}, "belongs to another sign-in"),
        ({"exp": now - 120}, "has expired"),
        ({"exp": None}, 'does not say "exp"'),
        ({"nbf": now + 120}, "not good yet"),
        ({"iat": None}, 'does not say "iat"'),
    ]:
        good.provider.said = {"sub": "17", "name": "Ann", **said}
        good.refused(good.come(), why)
    good.provider.said = {"sub": "17", "name": "Ann"}
    stranger = Key("RS256", "first")

    def unsigned(key, claims):
        return ".".join(key.token(claims, alg="none").split(".")[:2]) + "."

    def shared(key, claims):
        # A signature by what both sides know (RFC 8725, section 2.1).
        message = key.token(claims, alg="HS256").rsplit(".", 1)[0]
        return f"{message}.{b64(hmac.new(Provider.SECRET.encode(), message.encode(), hashlib.sha256).digest())}"

    def changed(key, claims):
        head, _, signature = key.token(claims).split(".")
        return f"{head}.{b64(json.dumps({**claims, 'sub': '1'}).encode())}.{signature}"

    for make, why in [
        (unsigned, "signed in a way that is not taken"),
        (shared, "signed in a way that is not taken"),
        (changed, "signature of its token is wrong"),
        (lambda _, claims: stranger.token(claims), "signature of its token is wrong"),
        (lambda key, claims: key.token(claims, kid="third"), "a key it does not publish"),
        (lambda key, claims: key.token(claims, alg="ES256"), "a key it does not publish"),
        (lambda *_: "no token", "no token that can be read"),
    ]:
        good.provider.make = make
        good.refused(good.come(), why)
    assert good.firm.tell("here", "GET", "/api/doings")[0] == before, "nobody was let in"


def test_a_sign_in_belongs_to_the_browser_that_began_it_and_is_over_once(good):
    good.let_in("before", good.code("crew"))
    address, way = good.begin()
    _, query = good.provider.agree(address)
    _, another = good.begin()
    good.refused(good.back(another, query), "begun in another browser")
    good.refused(good.back(way, query), "over already")
    address, way = good.begin()
    _, query = good.provider.agree(address)
    good.refused(good.back(None, query), "begun in another browser")
    good.refused(good.back(way, {}), "not begun here")
    for changes, why in [
        ({"iss": "https://login.example"}, "names another provider"),
        ({"iss": None}, "names another provider"),
        ({"code": None}, "has no code"),
        ({"code": None, "error": "access_denied", "error_description": "Ann <said> no"}, "Ann <said> no"),
        ({"code": "made-up"}, "That code is not good."),
    ]:
        address, way = good.begin()
        _, query = good.provider.agree(address)
        query = {key: value for key, value in {**query, **changes}.items() if value is not None}
        answer = good.back(way, query)
        good.refused(answer, why, 502 if changes.get("code") == "made-up" else 403)
        assert b"<said>" not in answer[2]
    # A page elsewhere may send a browser here, and ask nothing.
    headers = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "cors"}
    assert ask(good.firm.network, "GET", "/sign-in/back?state=x", None, headers, good.firm.trusting)[0] == 403


def test_where_the_firms_accounts_give_roles_they_give_and_take_them(tmp_path):
    more = 'role_claim = "groups"\n[roles]\nowner = ["chiefs"]\ndesigner = ["office"]\ncrew = ["field"]\n'
    accounts = Accounts(tmp_path, more)
    try:
        accounts.provider.said = {"sub": "17", "name": "Ann", "groups": ["field", "office"]}
        assert accounts.let_in("ann")["role"] == "designer"
        accounts.provider.said["groups"] = ["field"]
        assert accounts.let_in("ann elsewhere")["role"] == "crew"
        assert accounts.firm.tell("ann", "GET", "/api/me")[0]["role"] == "crew", "and where she was signed in already"
        for groups in ([], ["others"], None, 5):
            accounts.provider.said["groups"] = groups
            accounts.refused(accounts.come(accounts.code("owner")), "has no role here by the firm's accounts")
    finally:
        accounts.stop()


def test_a_provider_that_is_away_or_another_is_told_and_what_is_signed_in_stays(tmp_path):
    accounts = Accounts(tmp_path)
    try:
        provider, firm = accounts.provider, accounts.firm
        provider.calls_itself = "https://login.example"
        status, _, told = firm.ask("stranger", "POST", "/api/sign-in/account", {})
        assert status == 403 and "calls itself https://login.example" in refusal(told)[1]
        provider.calls_itself = provider.issuer
        accounts.let_in("ann", accounts.code("crew"))
        # What it can do is asked once, its keys each time.
        asked = [path for path in provider.asked if path != "/token"]
        assert asked == ["/.well-known/openid-configuration"] * 2 + ["/keys"]
        address, way = accounts.begin()
        _, query = provider.agree(address)
        provider.stop()
        accounts.refused(accounts.back(way, query), "cannot be asked", 502)
        assert firm.ask("ann", "GET", "/api/jobs")[0] == 200
    finally:
        accounts.firm.stop()
