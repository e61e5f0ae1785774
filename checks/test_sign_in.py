"""Signing in by a passkey, tried over HTTP with one whose keys and signatures are a general library's (PyPI `cryptography`). What is not
as it should be is refused with a sentence, whoever is turned away or given another role is so at once, nothing is needed at the
computer itself; and a server by its name, with a certificate that Python's ssl (OpenSSL) holds against the name.
"""

import asyncio
import datetime
import json
import re
import socket
import ssl
import urllib.parse

import pytest
import websockets
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec

from identity_provider import Authenticator, b64
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
        assert ways["passkey"] is False and said in ways["no_passkey"]["sentence"] and ways["account"] is None
        for path, body in [("/api/sign-in/passkey/question", None), ("/api/sign-in/account", {})]:
            status, _, told = ask(address, "POST", path, body, None, context)
            assert status == 409 and refusal(told)[0] == "no_sign_in" and said in refusal(told)[1], told
    me, _ = firm.tell("here", "GET", "/api/me")
    assert me["here"] and me["role"] == "owner" and "itself" in me["no_passkey"]["sentence"]
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
