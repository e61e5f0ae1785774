"""Signing in, tried over HTTP: by a passkey whose keys and signatures are a general library's (PyPI `cryptography`), and with an
identity provider of the checks' own (`identity_provider.py`), which gives out good tokens and every kind of wrong one. What is not as
it should be is refused with a sentence, whoever is turned away or given another role is so at once, and nothing is needed at the
computer itself.
"""

import asyncio
import datetime
import hashlib
import hmac
import html
import json
import re
import socket
import ssl
import time
import urllib.parse

import pytest
import websockets
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec

from identity_provider import Authenticator, Key, Provider, b64
from test_roles import Firm
from test_server import Server, ask
from tool import run


class Named(Firm):
    """A firm's server by a name: `localhost`, which browsers take for one."""

    def __init__(self, folder, *more):
        # As its parent does, with more options.
        self.running = Server(folder, "--share", *more)
        shared = self.running.told["shared"]
        port = urllib.parse.urlsplit(shared["addresses"][0]).port
        explained = f"http://127.0.0.1:{urllib.parse.urlsplit(shared['start_at']).port}"
        self.trusting = trusting(explained)
        self.network, self.by_number = f"https://localhost:{port}", f"https://127.0.0.1:{port}"
        self.cookies, self.devices = {}, {}

    def keep(self, who, headers):
        self.cookies[who] = headers["set-cookie"].split(";")[0]

    def tell(self, who, method, path, body=None, wanted=200):
        status, headers, answer = self.ask(who, method, path, body)
        assert status == wanted, (path, status, answer)
        return (json.loads(answer) if answer else None), headers

    def passkey(self, who, name=""):
        """A passkey made for whoever is let in already."""
        key = Authenticator()
        question, _ = self.tell(who, "POST", "/api/me/passkeys/question", {"name": name})
        kept, _ = self.tell(who, "POST", "/api/me/passkeys", key.make(question, self.network), 201)
        assert kept["id"] == b64(key.id)
        return key, question["person"]

    def question(self):
        return self.tell("stranger", "POST", "/api/sign-in/passkey/question")[0]

    def sign_in(self, who, key, user=None):
        told, headers = self.tell("stranger", "POST", "/api/sign-in/passkey",
                                  key.show(self.question(), self.network, user), 201)
        self.keep(who, headers)
        return told


def trusting(explained):
    return ssl.create_default_context(cadata=ask(explained, "GET", "/loamline.crt")[2])


@pytest.fixture(scope="module")
def firm(tmp_path_factory):
    firm = Named(tmp_path_factory.mktemp("named"))
    yield firm
    firm.stop()


def refusal(answer):
    """Code and sentence of a refusal, which is one."""
    error = json.loads(answer)["error"]
    assert re.fullmatch(r"[A-Z\"'].*\.", error["message"], re.S), error
    return error["code"], error["message"]


# ---- passkeys ----


def test_a_passkey_signs_its_person_in_on_any_device(firm):
    firm.pair("phone", "designer")
    me, _ = firm.tell("phone", "GET", "/api/me")
    assert (me["name"], me["device"], me["passkeys"], me["no_passkey"]) == (None, "phone", [], None)
    key, person = firm.passkey("phone", "Ada")
    me, _ = firm.tell("phone", "GET", "/api/me")
    assert (me["name"], me["role"], [p["name"] for p in me["passkeys"]]) == ("Ada", "designer", ["Laptop"])
    told = firm.sign_in("laptop", key, person)
    assert (told["name"], told["role"], told["person"]) == ("Ada", "designer", person)
    assert firm.ask("laptop", "GET", "/api/jobs")[0] == 200
    # Another of hers, made where she is signed in; a passkey is taken away by its owner alone.
    firm.passkey("laptop")
    listed = [p for p in firm.tell("here", "GET", "/api/people")[0] if p["id"] == person]
    assert [(p["name"], p["passkeys"], p["account"]) for p in listed] == [("Ada", 2, False)]
    firm.pair("other", "owner")
    assert firm.ask("other", "DELETE", f"/api/me/passkeys/{b64(key.id)}")[0] == 404
    firm.tell("laptop", "DELETE", f"/api/me/passkeys/{b64(key.id)}", wanted=204)
    status, _, answer = firm.ask("stranger", "POST", "/api/sign-in/passkey", key.show(firm.question(), firm.network))
    assert status == 403 and "not known here" in refusal(answer)[1]
    # Signed out, this device is nobody's; the other stays.
    _, headers = firm.tell("laptop", "POST", "/api/sign-out", {}, 204)
    assert "Max-Age=0" in headers["set-cookie"]
    assert firm.ask("laptop", "GET", "/api/jobs")[0] == 401
    assert firm.ask("phone", "GET", "/api/jobs")[0] == 200


def test_what_a_passkey_answers_is_held_against_what_was_asked(firm):
    firm.pair("tablet", "crew")
    key, person = firm.passkey("tablet", "Ben")

    def refused(answer, said):
        status, headers, told = firm.ask("stranger", "POST", "/api/sign-in/passkey", answer)
        code, sentence = refusal(told)
        assert (status, code) == (403, "not_signed_in") and said in sentence, (status, sentence)
        assert "set-cookie" not in {name.lower() for name in headers}

    once = key.show(firm.question(), firm.network)
    assert firm.ask("stranger", "POST", "/api/sign-in/passkey", once)[0] == 201
    refused(once, "used already")
    refused(key.show({"site": "localhost", "challenge": b64(b"made up")}, firm.network), "used already")
    refused(key.show(firm.question(), "https://localhost.example"), "asked by https://localhost.example")
    refused(key.show({**firm.question(), "site": "example"}, firm.network), "for another name")
    refused(key.show(firm.question(), firm.network, "somebody else"), "not known here")
    refused({**key.show(firm.question(), firm.network), "id": b64(b"another")}, "not known here")
    refused({**key.show(firm.question(), firm.network), "client_data": "*"}, "cannot be read")
    forged = Authenticator()
    forged.id = key.id
    refused(forged.show(firm.question(), firm.network), "signature is not its own")
    key.flags = key.PRESENT
    refused(key.show(firm.question(), firm.network), "did not check who uses it")
    key.flags = key.PRESENT | key.VERIFIED
    # A question to make a passkey is no question who somebody is, and the other way round.
    wanted, _ = firm.tell("tablet", "POST", "/api/me/passkeys/question", {})
    refused(key.show(wanted, firm.network), "used already")
    status, _, told = firm.ask("tablet", "POST", "/api/me/passkeys", Authenticator().make(firm.question(), firm.network))
    assert status == 403, told
    # Asked on one device, it is not kept for another.
    wanted, _ = firm.tell("tablet", "POST", "/api/me/passkeys/question", {})
    firm.pair("another", "owner")
    status, _, told = firm.ask("another", "POST", "/api/me/passkeys", Authenticator().make(wanted, firm.network))
    assert status == 403 and "on another device" in refusal(told)[1]
    # One that counts must count up (Web Authentication, section 6.1.1).
    for counter, fits in [(5, True), (6, True), (6, False), (0, False), (7, True)]:
        key.counter = counter
        answer = key.show(firm.question(), firm.network, person)
        if fits:
            assert firm.ask("stranger", "POST", "/api/sign-in/passkey", answer)[0] == 201, counter
        else:
            refused(answer, "counts behind")


def test_by_a_number_and_at_the_computer_itself_nobody_signs_in_and_it_is_said_why(firm):
    for address, context, said in [(firm.by_number, firm.trusting, "by a number"), (firm.running.address, None, "itself")]:
        ways = json.loads(ask(address, "GET", "/api/sign-in", context=context)[2])
        assert ways["passkey"] is False and said in ways["no_passkey"] and ways["account"] is None
        for path, body in [("/api/sign-in/passkey/question", None), ("/api/sign-in/account", {})]:
            status, _, told = ask(address, "POST", path, body, None, context)
            assert status == 409 and refusal(told)[0] == "no_sign_in" and said in refusal(told)[1], told
    me, _ = firm.tell("here", "GET", "/api/me")
    assert me["here"] and me["role"] == "owner" and "itself" in me["no_passkey"]
    assert firm.ask("here", "POST", "/api/sign-out", {})[0] == 409
    # By the name there is a way, and without accounts of the firm's that is said.
    ways, _ = firm.tell("stranger", "GET", "/api/sign-in")
    assert ways == {"passkey": True, "no_passkey": None, "account": None}
    status, _, told = firm.ask("stranger", "POST", "/api/sign-in/account", {})
    assert status == 409 and "--provider" in refusal(told)[1]


def test_another_role_and_turning_away_hold_at_once_on_every_device_of_a_person(firm):
    firm.pair("first", "designer")
    key, person = firm.passkey("first", "Cleo")
    firm.sign_in("second", key)
    made = ask(firm.running.address, "POST", "/api/jobs", {"from": "example"})
    job = json.loads(made[2])["id"]

    async def ends(who, change):
        address = f"{firm.network.replace('https', 'wss')}/api/jobs/{job}/live?client=Cleo"
        headers = {"cookie": firm.cookies[who]}
        async with websockets.connect(address, additional_headers=headers, ssl=firm.trusting) as channel:
            assert json.loads(await channel.recv())["kind"] == "hello"
            status, _, body = await asyncio.to_thread(change)
            assert status in (200, 204), body
            with pytest.raises(websockets.ConnectionClosed):
                while True:
                    await asyncio.wait_for(channel.recv(), 3)

    path = f"/api/people/{person}"
    # Only at the computer itself, as for devices.
    assert firm.ask("first", "GET", "/api/people")[0] == 403
    asyncio.run(ends("second", lambda: firm.ask("here", "PUT", path, {"role": "crew"})))
    for who in ("first", "second"):
        assert firm.ask(who, "POST", f"/api/jobs/{job}/undo", {})[0] == 403, who
    # A device of hers alone has no other role than she has.
    device = next(d["id"] for d in firm.tell("here", "GET", "/api/devices")[0] if d["person"] == person)
    status, _, told = firm.ask("here", "PUT", f"/api/devices/{device}", {"role": "owner"})
    assert status == 422 and "somebody's" in refusal(told)[1]
    asyncio.run(ends("first", lambda: firm.ask("here", "DELETE", path)))
    for who in ("first", "second"):
        assert firm.ask(who, "GET", "/api/jobs")[0] == 401, who
    status, _, told = firm.ask("stranger", "POST", "/api/sign-in/passkey", key.show(firm.question(), firm.network))
    assert status == 403 and "not known here" in refusal(told)[1]
    log = [(d["what"], d["who"], d["about"]) for d in firm.tell("here", "GET", "/api/doings")[0][:5]]
    assert log == [("turned_away", "", "Cleo"), ("role", "", "Cleo (crew)"), ("signed_in", "Cleo", "Laptop"),
                   ("passkey_made", "Cleo", "Laptop"), ("paired", "", "first (designer)")]


def test_who_begins_any_number_of_times_is_forgotten_and_nothing_else_is(firm):
    firm.pair("steady", "crew")
    key, _ = firm.passkey("steady", "Dora")
    first = firm.question()
    for _ in range(40):
        firm.question()
    status, _, told = firm.ask("stranger", "POST", "/api/sign-in/passkey", key.show(first, firm.network))
    assert status == 403 and "too long ago" in refusal(told)[1]
    firm.sign_in("steady", key)


# ---- the firm's accounts ----


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


# ---- starting it ----


def certificate(folder, name):
    """A certificate for a name, signed by itself, and its key, in files; the certificate's text."""
    key = ec.generate_private_key(ec.SECP256R1())
    whose = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, name)])
    now = datetime.datetime.now(datetime.UTC)
    made = (x509.CertificateBuilder().subject_name(whose).issuer_name(whose).public_key(key.public_key())
            .serial_number(x509.random_serial_number())
            .not_valid_before(now - datetime.timedelta(days=1)).not_valid_after(now + datetime.timedelta(days=1))
            .add_extension(x509.SubjectAlternativeName([x509.DNSName(name)]), critical=False)
            .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True).sign(key, hashes.SHA256()))
    text = made.public_bytes(serialization.Encoding.PEM).decode()
    (folder / "chain.pem").write_text(text)
    (folder / "key.pem").write_bytes(key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()))
    return ["--certificate", str(folder / "chain.pem"), "--certificate-key", str(folder / "key.pem")], text


def test_by_its_name_a_server_shows_the_firms_certificate_and_by_its_numbers_its_own(tmp_path):
    files, text = certificate(tmp_path, "jobs.example")
    running = Server(tmp_path / "data", "--share", "--address", "https://jobs.example", *files)
    try:
        shared = running.told["shared"]
        assert shared["named"] == "https://jobs.example/"
        port = urllib.parse.urlsplit(shared["addresses"][0]).port
        firms = ssl.create_default_context(cadata=text)

        def by_name(host):
            with socket.create_connection(("127.0.0.1", port), 10) as plain:
                # OpenSSL holds the certificate against the name.
                with firms.wrap_socket(plain, server_hostname="jobs.example") as tls:
                    tls.sendall(f"GET /api/sign-in HTTP/1.1\r\nhost: {host}\r\nconnection: close\r\n\r\n".encode())
                    head, _, body = b"".join(iter(lambda: tls.recv(65536), b"")).partition(b"\r\n\r\n")
            return int(head.split()[1]), body

        status, body = by_name("jobs.example")
        assert status == 200 and b'"passkey":true' in body, body
        assert by_name("jobs.example:8438")[0] == 403 and by_name("rebound.example")[0] == 403
        explained = f"http://127.0.0.1:{urllib.parse.urlsplit(shared['start_at']).port}"
        assert ask(f"https://127.0.0.1:{port}", "GET", "/", context=trusting(explained))[0] == 200
        with pytest.raises(ssl.SSLCertVerificationError):
            ask(f"https://127.0.0.1:{port}", "GET", "/", context=firms)
    finally:
        running.stop()
    # One that is for another name is not shown to anybody.
    done = run("serve", "--share", "--port", "0", "--data", str(tmp_path / "data"), "--address", "https://other.example", *files)
    assert done.returncode == 2 and "it is not for other.example" in done.stderr, done.stderr


@pytest.mark.parametrize(("more", "said"), [
    (["--address", "http://jobs.example"], "HTTPS alone"),
    (["--address", "https://192.168.1.5"], "a number"),
    (["--address", "https://jobs.example/app"], "https://NAME"),
    (["--address", "https://jobs.example", "--certificate", "none.pem", "--certificate-key", "none.key"], "none.pem"),
    (["--provider", "none.toml"], "none.toml cannot be read"),
])
def test_what_cannot_be_opened_is_said_before_anything_is(tmp_path, more, said):
    done = run("serve", "--share", "--port", "0", "--data", str(tmp_path), *more)
    assert done.returncode == 2 and said in done.stderr, (done.returncode, done.stderr)


def test_a_file_that_names_no_provider_is_told_with_its_line(tmp_path):
    file = tmp_path / "provider.toml"
    file.write_text('issuer = "https://login.example"\nclient_id = "loamline"\nclient_secret = "hush"\nscopes = ["profile"]\n')
    done = run("serve", "--share", "--port", "0", "--data", str(tmp_path / "data"), "--provider", str(file))
    assert done.returncode == 2 and "provider.toml:4 scopes" in done.stderr and "hush" not in done.stderr, done.stderr


def test_options_that_belong_together_are_asked_for_together(tmp_path):
    for more in (["--address", "https://jobs.example"], ["--share", "--certificate", "a"], ["--provider", "p.toml"]):
        done = run("serve", "--port", "0", "--data", str(tmp_path), *more)
        assert done.returncode == 2 and "required" in done.stderr, (more, done.stderr)
