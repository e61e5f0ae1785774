"""What `soak.py` sends, kind by kind: each function does one thing once, ends by itself and counts what came of it. `s` is the
soak, `r` its random numbers.
"""

import contextlib
import http.client
import json
import socket
import ssl
import time

import websockets.sync.client

from hostile import FILES, HEAD
from test_connections import HALF, connected, masked, upgrade
from test_hostile_server import EDITS
from tool import ROOT, zipped

# What a job is asked for: each once whole before memory is measured, later left in the middle.
RESULTS = ["", "/history?limit=500", "/catalogue", "/findings", "/levels", "/neighbours", "/bass", "/lines", "/expect",
           "/processing", "/visit-pack", "/papers", "/papers.zip", "/export"]
# Sockets held open at a time at most.
HELD = 150
LARGEST_MESSAGE = 900_000
TRUSTING = ssl.create_default_context()
TRUSTING.check_hostname, TRUSTING.verify_mode = False, ssl.CERT_NONE


def folders():
    """Zip files nobody can want, but for the last: it is taken in, and large."""
    text = (ROOT / "examples" / "guesthouse-garden" / "job.toml").read_text()
    whole = zipped({"job.toml": text})
    photo = b"\x89PNG\r\n\x1a\n" + bytes(20_000_000)
    return [
        b"no zip", whole[: len(whole) // 2], zipped({"readme.txt": "hello"}), zipped({"job.toml": b"\xff\xfe\0"}),
        zipped({"job.toml": FILES["20 000 problems in one line"][0]}), zipped({"job.toml": HEAD + "# remark\n" * 600_000}),
        zipped({"job.toml": text, "zeros": bytes(260_000_000)}),
        zipped({"job.toml": text, "attachments/a.png": photo, "attachments/b.png": photo + b"b"}),
    ]


@contextlib.contextmanager
def live(s, job):
    uri = f"ws://127.0.0.1:{s.here}/api/jobs/{job}/live?client=Soak"
    with websockets.sync.client.connect(uri, max_size=1 << 24, open_timeout=30, close_timeout=2, proxy=None) as channel:
        yield channel


def map_of(request, spacing_m, preview=()):
    return json.dumps({"kind": "map", "request": request, "quantity": "LAeq", "spacing_m": spacing_m, "preview": list(preview)})


def hears(channel, kind, seconds=60):
    """Whether a message of a kind comes; pictures and others are passed over."""
    end = time.monotonic() + seconds
    while (left := end - time.monotonic()) > 0:
        message = channel.recv(timeout=left)
        if isinstance(message, str) and json.loads(message)["kind"] == kind:
            return True
    return False


def moved(s, r):
    """One loudspeaker somewhere beside its place."""
    tag, (x, y) = r.choice(s.places)
    place = [x + r.uniform(-1, 1), y + r.uniform(-1, 1)]
    return [{"op": "replace", "path": f"/loudspeakers/{tag}/position", "value": place}]


def hostile_edit(s, kind, r):
    s.edit(kind, s.job, EDITS[r.choice(sorted(EDITS))][0])


def hostile_preview(s, kind, r):
    message = map_of(1, 5, EDITS[r.choice(sorted(EDITS))][0])
    if len(message) > LARGEST_MESSAGE:
        message = map_of(1, 0)
    with live(s, s.job) as channel:
        channel.send(message)
        s.count(kind, "refused" if hears(channel, "refused") else "nothing heard")


def ordinary_edit(s, kind, r):
    mark = {"name": f"Mark {r.randrange(10**6)}", "position": [r.uniform(0, 9), r.uniform(0, 9)]}
    s.edit(kind, s.job, [{"op": "add", "path": f"/marks/m{r.randrange(20)}", "value": mark}])


def folder(s, kind, r):
    status, made = s.ask(kind, "POST", "/api/jobs/import", r.choice(s.folders), "application/zip")
    if status == 201:
        s.ask(f"{kind}, taken away", "DELETE", f"/api/jobs/{made['id']}")


def half_sent(s, kind, r):
    head = f"POST /api/jobs HTTP/1.1\r\nhost: 127.0.0.1:{s.here}\r\ncontent-type: application/json\r\ncontent-length: 99\r\n\r\n"
    for _ in range(5):
        sent = r.choice([b"", HALF, head.encode() + b'{"na'])
        s.hold(kind, connected(r.choice([s.here, s.network]), sent), r.uniform(1, 60))


def never_read(s, kind, r):
    deaf = socket.socket()
    deaf.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    deaf.settimeout(10)
    deaf.connect(("127.0.0.1", s.here))
    if r.random() < 0.5:
        deaf.sendall(f"GET /api/jobs/{s.job}/catalogue HTTP/1.1\r\nhost: 127.0.0.1:{s.here}\r\n\r\n".encode() * 20)
    else:
        deaf.sendall(upgrade(s))
        for n in range(4):
            deaf.sendall(masked(map_of(n, 0.5, moved(s, r))))
    s.hold(kind, deaf, r.uniform(10, 90))


def wrong_code(s, kind, r):
    code = "".join(r.choice("abcdefghjkmnpqrstuvwxyz23456789") for _ in range(8))
    connection = http.client.HTTPSConnection("127.0.0.1", s.network, context=TRUSTING, timeout=30)
    s.ask(kind, "POST", "/api/pair", {"code": code, "name": "Stranger"}, connection=connection)


def dropped_drag(s, kind, r):
    with contextlib.suppress(websockets.ConnectionClosed), live(s, s.job) as channel:
        for n in range(r.randint(2, 20)):
            channel.send(map_of(n, r.choice([0.5, 1, 2]), moved(s, r)))
            time.sleep(1 / 60)
        # No word of farewell: the cable is pulled.
        channel.socket.shutdown(socket.SHUT_RDWR)
    s.count(kind, "cut")


def abandoned_map(s, kind, r):
    with live(s, s.job) as channel:
        channel.send(map_of(1, 0.25))
        time.sleep(r.uniform(0, 0.5))
    s.count(kind, "left")


def abandoned_request(s, kind, r):
    path = r.choice(RESULTS)
    asked = f"GET /api/jobs/{s.job}{path} HTTP/1.1\r\nhost: 127.0.0.1:{s.here}\r\n\r\n"
    with connected(s.here, asked.encode()):
        time.sleep(r.uniform(0, 1))
    s.count(kind, "left")


def result(s, kind, r):
    s.ask(kind, "GET", f"/api/jobs/{s.job}{r.choice(RESULTS)}")


def proposal(s, kind, r):
    work_s = r.choice([0.5, 10, 600])
    status, started = s.ask(kind, "POST", f"/api/jobs/{s.job}/propose", {"time_s": work_s})
    if status != 202:
        return
    time.sleep(r.uniform(0, 3))
    # Some of the short ones are left to end, or to be given up by the server itself.
    if work_s > 10 or r.random() < 0.7:
        s.ask(f"{kind}, stopped", "DELETE", f"/api/jobs/{s.job}/propose/{started['run']}")


def made_and_deleted(s, kind, r):
    status, made = s.ask(kind, "POST", "/api/jobs", {"name": "Passing", "from": "example"})
    if status != 201:
        return
    path = f"/api/jobs/{made['id']}"
    patch = [{"op": "replace", "path": "/job/name", "value": "Gone soon"}]
    s.ask(kind, "POST", f"{path}/edits", {"edit_id": "passing-0001", "base_revision": 0, "patch": patch})
    s.ask(kind, "GET", f"{path}{r.choice(['/findings', '/levels', '/lines'])}")
    s.ask(f"{kind}, deleted", "DELETE", path)
    if s.ask(f"{kind}, after", "GET", path)[0] not in (404, None):
        s.wrong(f"{path} is there after it was deleted")


def stray(s, kind, r):
    path = r.choice(["/health", "/api/nothing", "/api/jobs/none", "/..%2f..%2fetc%2fpasswd", "/api/jobs/%ff"])
    if s.ask(kind, "GET", path)[0] not in (404, None):
        s.wrong(f"{path} is there")


# How often each comes, beside the others.
KINDS = {
    "hostile edit": (hostile_edit, 10), "hostile preview": (hostile_preview, 8), "ordinary edit": (ordinary_edit, 10),
    "folder": (folder, 4), "half-sent": (half_sent, 4), "never read": (never_read, 4), "wrong code": (wrong_code, 6),
    "dropped drag": (dropped_drag, 8), "abandoned map": (abandoned_map, 8), "abandoned request": (abandoned_request, 8),
    "result": (result, 8), "proposal": (proposal, 3), "made and deleted": (made_and_deleted, 6), "stray": (stray, 3),
}
