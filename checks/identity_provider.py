"""A small identity provider for the checks (OpenID Connect: discovery, code flow, keys), and an authenticator for passkeys. Keys and
signatures are those of a general library (PyPI `cryptography`); what is written around them follows RFC 7515, 7517, 7518 and 7636,
OpenID Connect Core and Discovery 1.0, and Web Authentication, section 6.
"""

import base64
import hashlib
import http.server
import json
import secrets
import threading
import time
import urllib.parse

from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec, padding, rsa
from cryptography.hazmat.primitives.asymmetric.utils import decode_dss_signature


def b64(data):
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


def unb64(text):
    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))


def number(value, length=None):
    return b64(value.to_bytes(length or (value.bit_length() + 7) // 8, "big"))


class Key:
    """A key that signs tokens, RS256 or ES256."""

    def __init__(self, algorithm, kid):
        self.algorithm, self.kid = algorithm, kid
        is_rsa = algorithm == "RS256"
        self.private = rsa.generate_private_key(65537, 2048) if is_rsa else ec.generate_private_key(ec.SECP256R1())

    def published(self):
        numbers = self.private.public_key().public_numbers()
        of = {"kid": self.kid, "use": "sig", "alg": self.algorithm}
        if self.algorithm == "RS256":
            return {"kty": "RSA", "n": number(numbers.n), "e": number(numbers.e), **of}
        return {"kty": "EC", "crv": "P-256", "x": number(numbers.x, 32), "y": number(numbers.y, 32), **of}

    def sign(self, message):
        if self.algorithm == "RS256":
            return self.private.sign(message, padding.PKCS1v15(), hashes.SHA256())
        r, s = decode_dss_signature(self.private.sign(message, ec.ECDSA(hashes.SHA256())))
        return r.to_bytes(32, "big") + s.to_bytes(32, "big")

    def token(self, claims, **head):
        parts = [{"alg": self.algorithm, "kid": self.kid, "typ": "JWT", **head}, claims]
        message = ".".join(b64(json.dumps(part).encode()) for part in parts)
        return f"{message}.{b64(self.sign(message.encode()))}"


class Provider:
    """An identity provider on this computer. What it says of whoever signs in is `said`; `make` makes a token of that."""

    CLIENT, SECRET = "loamline", "hush: 100 %"

    def __init__(self):
        self.keys = [Key("RS256", "first"), Key("ES256", "second")]
        self.said = {"sub": "17", "name": "Ann"}
        self.make = lambda key, claims: key.token(claims)
        self.codes, self.asked = {}, []
        provider = self

        class Handler(http.server.BaseHTTPRequestHandler):
            def answer(self, status, value):
                body = json.dumps(value).encode()
                self.send_response(status)
                self.send_header("content-type", "application/json")
                self.send_header("content-length", str(len(body)))
                self.end_headers()
                self.wfile.write(body)

            def do_GET(self):
                provider.asked.append(self.path)
                pages = {"/.well-known/openid-configuration": provider.discovery,
                         "/keys": lambda: {"keys": [key.published() for key in provider.keys]}}
                page = pages.get(self.path)
                self.answer(200, page()) if page else self.answer(404, {})

            def do_POST(self):
                provider.asked.append(self.path)
                form = self.rfile.read(int(self.headers["content-length"])).decode()
                self.answer(*provider.token(dict(urllib.parse.parse_qsl(form)), self.headers.get("authorization", "")))

            def log_message(self, *_):
                pass

        self.server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.issuer = f"http://127.0.0.1:{self.server.server_port}"
        self.calls_itself = self.issuer
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    def stop(self):
        self.server.shutdown()
        self.server.server_close()

    def discovery(self):
        return {"issuer": self.calls_itself, "authorization_endpoint": f"{self.issuer}/authorize?firm=1",
                "token_endpoint": f"{self.issuer}/token", "jwks_uri": f"{self.issuer}/keys",
                "authorization_response_iss_parameter_supported": True}

    def file(self, path, more=""):
        """The file that names this provider to a server."""
        path.write_text(f'issuer = "{self.issuer}"\nclient_id = "{self.CLIENT}"\nclient_secret = "{self.SECRET}"\n'
                        f"name = \"Example's accounts\"\n{more}")
        return str(path)

    def agree(self, address):
        """Whoever is sent here signs in; what the browser is sent back with."""
        url = urllib.parse.urlsplit(address)
        asked = dict(urllib.parse.parse_qsl(url.query))
        assert f"{url.scheme}://{url.netloc}" == self.issuer and url.path == "/authorize" and asked.pop("firm") == "1"
        assert asked["response_type"] == "code" and asked["client_id"] == self.CLIENT
        assert asked["code_challenge_method"] == "S256" and "openid" in asked["scope"].split()
        # RFC 7636, section 4.2: 43 letters of a SHA-256.
        assert len(asked["code_challenge"]) == 43 and len(asked["state"]) >= 22 and len(asked["nonce"]) >= 22
        code = secrets.token_urlsafe(16)
        self.codes[code] = asked
        return asked["redirect_uri"], {"state": asked["state"], "code": code, "iss": self.issuer}

    def token(self, form, authorization):
        asked = self.codes.pop(form.get("code"), None)
        pair = ":".join(urllib.parse.quote_plus(part) for part in (self.CLIENT, self.SECRET))
        if authorization != "Basic " + base64.b64encode(pair.encode()).decode():
            return 401, {"error": "invalid_client"}
        proof = b64(hashlib.sha256(form.get("code_verifier", "").encode()).digest())
        fits = asked and form["redirect_uri"] == asked["redirect_uri"] and proof == asked["code_challenge"]
        if form.get("grant_type") != "authorization_code" or not fits:
            return 400, {"error": "invalid_grant", "error_description": "That code is not good."}
        now = int(time.time())
        claims = {"iss": self.issuer, "aud": self.CLIENT, "nonce": asked["nonce"], "iat": now, "exp": now + 300, **self.said}
        claims = {key: value for key, value in claims.items() if value is not None}
        return 200, {"access_token": "x", "token_type": "Bearer", "id_token": self.make(self.keys[0], claims)}


class Authenticator:
    """Keeps one passkey, on P-256, and checks who uses it."""

    PRESENT, VERIFIED, NEW = 1, 4, 64

    def __init__(self):
        self.private = ec.generate_private_key(ec.SECP256R1())
        self.id, self.counter, self.flags = secrets.token_bytes(20), 0, self.PRESENT | self.VERIFIED

    def said(self, name, is_new=False):
        flags = self.flags | (self.NEW if is_new else 0)
        said = hashlib.sha256(name.encode()).digest() + bytes([flags]) + self.counter.to_bytes(4, "big")
        if is_new:
            at = self.private.public_key().public_numbers()
            x, y = at.x.to_bytes(32, "big"), at.y.to_bytes(32, "big")
            # RFC 9053, section 7.1.1: {1: 2, 3: -7, -1: 1, -2: x, -3: y}.
            cose = bytes.fromhex("a5010203262001215820") + x + bytes.fromhex("225820") + y
            said += bytes(16) + len(self.id).to_bytes(2, "big") + self.id + cose
        return said

    @staticmethod
    def client(kind, challenge, origin):
        return json.dumps({"type": f"webauthn.{kind}", "challenge": challenge, "origin": origin, "crossOrigin": False}).encode()

    def make(self, question, origin, name="Laptop"):
        """What the server is told of a new passkey."""
        said = self.said(question["site"], True)
        # CBOR: {"fmt": "none", "attStmt": {}, "authData": said}.
        attestation = (bytes.fromhex("a363666d74646e6f6e656761747453746d74a068617574684461746159")
                       + len(said).to_bytes(2, "big") + said)
        return {"name": name, "client_data": b64(self.client("create", question["challenge"], origin)),
                "attestation": b64(attestation)}

    def show(self, question, origin, user=None):
        """What the server is told by whoever signs in."""
        said, client = self.said(question["site"]), self.client("get", question["challenge"], origin)
        signature = self.private.sign(said + hashlib.sha256(client).digest(), ec.ECDSA(hashes.SHA256()))
        return {"id": b64(self.id), "client_data": b64(client), "authenticator_data": b64(said), "signature": b64(signature),
                "user": user and b64(user.encode())}
