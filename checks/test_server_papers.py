"""The papers over HTTP, tried hard against the running server: names that lead elsewhere in every part of every address,
wrong methods, unknown options, bodies past every limit, many at once, markup in a job's own words, devices turned away.
Whatever is sent, no answer is the server's fault, none holds a byte of a file beside the jobs, and every refusal is a
sentence.

Source of the method: RFC 9110 (status codes, `Allow` with 405), RFC 3986 2.1 (percent-encoding), RFC 9112 9.6 (closing);
the zip form by Python's own reader, what a page says by poppler-utils.
"""

import concurrent.futures
import http.client
import io
import json
import re
import socket
import subprocess
import urllib.parse
import zipfile

import pytest
import tool
from test_server import Server, ask

# What lies beside and above the server's folder and must never come out.
CANARY = "the-canary-of-the-shed-42"
MANY = 8


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    yard = tmp_path_factory.mktemp("yard")
    for place in (yard / "secret.txt", yard / "secret.pdf", yard / "data.txt"):
        place.write_text(CANARY)
    running = Server(yard / "data")
    running.yard = yard
    running.job = json.loads(ask(running.address, "GET", "/api/jobs")[2])[0]["id"]
    yield running
    running.stop()


def raw(address, method, path, headers=(), body=b""):
    """A request with the path's bytes as they are: clients tidy `..` and refuse what must be tried here."""
    url = urllib.parse.urlsplit(address)
    with socket.create_connection((url.hostname, url.port), timeout=60) as connection:
        lines = [f"{method} ".encode() + path + b" HTTP/1.1", f"host: {url.netloc}".encode(), b"connection: close"]
        lines += [f"{k}: {v}".encode() for k, v in headers]
        connection.sendall(b"\r\n".join(lines) + b"\r\n\r\n" + body)
        answer = http.client.HTTPResponse(connection, method=method)
        answer.begin()
        return answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read()


def sentence(answer):
    """A refusal: a status of the asker's fault, a word for programs, a sentence for people."""
    status, headers, body = answer
    assert 400 <= status < 500, (status, body[:300])
    assert headers.get("content-type") == "application/json", (status, headers, body[:300])
    told = json.loads(body)["error"]
    assert told["code"] and re.match(r"^[A-Z\"]", told["message"]) and told["message"].endswith("."), told
    assert len(told["message"]) < 400 and not re.search(r"[\x00-\x1f\x7f]", told["message"]), told
    return status, told


def get(server, path):
    return raw(server.address, "GET", path.encode())


def post(server, path, value):
    body = json.dumps(value).encode()
    head = [("content-type", "application/json"), ("content-length", str(len(body)))]
    status, _, told = raw(server.address, "POST", path.encode(), head, body)
    assert status < 300, told
    return json.loads(told)


# ---- names ----

# Each is one segment of an address. Up and out: plain, encoded once and twice, with both slashes; absolute; a drive; a
# NUL and what follows it dropped; no UTF-8; a device of another system; a name that is no name; very long.
SEGMENTS = [
    "..", "%2e%2e", "%2E%2e%2F%2e%2e%2Fsecret.txt", "..%2fsecret.txt", "..%2f..%2f..%2f..%2fetc%2fpasswd", "%252e%252e%252fsecret.txt",
    "..%5c..%5csecret.txt", "%2fetc%2fpasswd", "C:%5cWindows%5cwin.ini", "file:%2f%2f%2fetc%2fpasswd", "secret.txt%00.pdf", "%00",
    "%ff%fe", "%c0%ae%c0%ae%2fsecret.txt", "proposal.pdf%00", "proposal.pdf%2f..%2f..%2fsecret.txt", "Proposal.PDF", "proposal.pdf.",
    "proposal.pdf%20", "drawings%2f..%2fproposal.pdf", ".", "~", "*", "'%20or%201=1--", "%0d%0aset-cookie:%20a=b", "CON", "-rf",
    "%e2%80%ae%66%64%70", "x" * 3000, "%2e" * 3000,
]


def addresses():
    """Every address of the description with a part in braces, filled one part at a time; the rest is what is there."""
    api = json.loads((tool.ROOT / "docs/schema/openapi.json").read_text())
    for path, operations in api["paths"].items():
        parts = re.findall(r"{(\w+)}", path)
        for method in operations:
            for part in parts:
                yield method.upper(), path, part


def sound(path, job):
    whole = {"/api/jobs/{id}/papers/{file}": "proposal.pdf", "/api/jobs/{id}/attachments/{name}": "plan.png"}
    rest = whole.get(path, "none")
    return path.replace("{id}", job if path.startswith("/api/jobs") else "none"), rest


@pytest.mark.parametrize(("method", "path", "part"), list(addresses()))
def test_no_name_in_an_address_leads_anywhere_else(server, method, path, part):
    for segment in SEGMENTS:
        filled = path.replace("{" + part + "}", segment)
        filled, rest = sound(filled, server.job)
        filled = re.sub(r"{\w+}", rest, filled)
        types = [("content-type", "application/json"), ("content-length", "2")] if method in ("POST", "PUT") else []
        answer = raw(server.address, method, filled.encode(), types, b"{}" if types else b"")
        assert CANARY.encode() not in answer[2] and b"root:" not in answer[2], filled
        assert "set-cookie" not in answer[1], filled
        # Nothing tidies an address: a name with ".." in it is a name that is not there.
        sentence(answer)
    assert get(server, f"/api/jobs/{server.job}")[0] == 200


@pytest.mark.parametrize("folder", ["drawings", "..", "%2e%2e", "..%2f..", "%00", "x" * 3000])
def test_papers_in_folders_are_found_by_their_listed_name_only(server, folder):
    answer = get(server, f"/api/jobs/{server.job}/papers/{folder}/secret.svg")
    status, _ = sentence(answer)
    assert status == 404


def test_every_listed_paper_is_there_and_is_what_it_says(server):
    listed = json.loads(get(server, f"/api/jobs/{server.job}/papers")[2])["documents"]
    starts = {"application/pdf": b"%PDF-", "image/svg+xml": b"<svg", "application/json": b"{"}
    assert {d["media_type"] for d in listed} >= set(starts)
    for d in listed:
        for name in (d["file"], urllib.parse.quote(d["file"], safe="")):
            status, headers, body = get(server, f"/api/jobs/{server.job}/papers/{name}")
            assert (status, headers["content-type"], len(body)) == (200, d["media_type"], d["size"]), name
            assert body.startswith(starts.get(d["media_type"], b"")), name
            # A drawing opened on its own runs nothing and loads nothing.
            assert "default-src 'none'" in headers["content-security-policy"] and headers["x-content-type-options"] == "nosniff"
    status, headers, body = get(server, f"/api/jobs/{server.job}/papers.zip")
    names = zipfile.ZipFile(io.BytesIO(body)).namelist()
    assert names == [d["file"] for d in listed] and not [n for n in names if n.startswith("/") or ".." in n]
    assert re.fullmatch(r'attachment; filename="[\w.-]+-papers\.zip"', headers["content-disposition"])


# ---- methods, options ----


@pytest.mark.parametrize("path", ["papers", "papers.zip", "papers/proposal.pdf", "papers/drawings/plan.svg"])
@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "BREW"])
def test_papers_are_only_read(server, method, path):
    answer = raw(server.address, method, f"/api/jobs/{server.job}/{path}".encode())
    status, told = sentence(answer)
    assert (status, told["code"]) == (405, "wrong_method") and method in told["message"]
    assert "GET" in answer[1]["allow"]


@pytest.mark.parametrize(("query", "field", "word"), [
    ("paper=A5", "?paper", "Letter"), ("paper=", "?paper", "A4"), ("paper=" + "A" * 3000, "?paper", "A4"), ("paper=..%2f..%2fA4", "?paper", "A4"),
    ("labels=70%20mm%20x%2036%20mm,%203%20x%209", "?labels", "A4 is 210 x 297 mm"), ("labels=" + "7" * 3000, "?labels", "120 letters"),
    ("labels=round%0a", "?labels", "one line"), ("labels=10%20x%2010%20mm,%203%20x%208", "?labels", "45 x 20 mm"),
    ("paper=A4%00", "?paper", "A4"), ("units=furlongs", "?units", "metric"), ("units=US", "?units", "us"), ("sheet=A4", "?sheet", "paper"),
    ("paper=A4&paper=A3", "?paper", "twice"), ("language=de", "?language", "units"), ("paper[]=A4", "?paper[]", "paper"),
])
@pytest.mark.parametrize("path", ["papers", "papers.zip", "papers/proposal.pdf"])
def test_options_that_are_not_there_are_refused_at_their_name(server, path, query, field, word):
    status, told = sentence(get(server, f"/api/jobs/{server.job}/{path}?{query}"))
    assert status == 422 and told["problems"][0]["path"] == field and word in told["message"], told


# ---- sizes ----


def upload(server, method, path, kind, size, chunked=False):
    """Sends until the server has answered; what it does not read it need not take."""
    url = urllib.parse.urlsplit(server.address)
    with socket.create_connection((url.hostname, url.port), timeout=120) as connection:
        length = b"transfer-encoding: chunked" if chunked else f"content-length: {size}".encode()
        head = f"{method} {path} HTTP/1.1\r\nhost: {url.netloc}\r\ncontent-type: {kind}\r\nconnection: close\r\n".encode()
        connection.sendall(head + length + b"\r\n\r\n")
        block = b"\x50\x4b\x03\x04" + bytes((1 << 20) - 4)
        sent = 0
        try:
            while sent < size:
                connection.sendall(b"%x\r\n%s\r\n" % (len(block), block) if chunked else block[: size - sent])
                sent += len(block)
            if chunked:
                connection.sendall(b"0\r\n\r\n")
        except (BrokenPipeError, ConnectionResetError):
            pass
        answer = http.client.HTTPResponse(connection, method=method)
        try:
            answer.begin()
        except (ConnectionResetError, http.client.RemoteDisconnected):
            return None, sent
        return (answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read()), sent


@pytest.mark.parametrize(("method", "path", "kind", "limit_mb"), [
    ("POST", "/api/jobs/import", "application/zip", 128),
    ("PUT", "/api/jobs/{job}/attachments/plan.png", "image/png", 32),
    ("POST", "/api/jobs/{job}/edits", "application/json", 2),
])
@pytest.mark.parametrize("chunked", [False, True])
def test_what_is_too_large_is_refused_before_it_is_read(server, method, path, kind, limit_mb, chunked):
    size = (limit_mb + 8) << 20
    answer, sent = upload(server, method, path.format(job=server.job), kind, size, chunked)
    # Where the connection was closed on what was still being sent, the answer may be lost with it (RFC 9112 9.6).
    if answer is not None:
        status, told = sentence(answer)
        assert (status, told["code"]) == (413, "too_large"), told
    assert get(server, "/api/jobs")[0] == 200


def imported(server, files):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files:
            archive.writestr(name, content)
    body = packed.getvalue()
    head = [("content-type", "application/zip"), ("content-length", str(len(body)))]
    return raw(server.address, "POST", b"/api/jobs/import", head, body)


def test_a_job_folder_that_would_burst_or_break_out_is_refused(server):
    text = (tool.ROOT / "examples" / "guesthouse-garden" / "job.toml").read_text()
    assert imported(server, [("job.toml", text)])[0] == 201
    kept = len(json.loads(get(server, "/api/jobs")[2]))
    # A quarter of a gigabyte of nothing in a quarter of a megabyte.
    sentence(imported(server, [("job.toml", text), ("plan.png", b"\0" * (257 << 20))]))
    sentence(imported(server, [(f"visits/{i}.txt", "x") for i in range(2100)]))
    sentence(imported(server, [("readme.txt", "no job")]))
    sentence(imported(server, [("job.toml", b"\xff\xfe\0")]))
    sentence(raw(server.address, "POST", b"/api/jobs/import", [("content-type", "application/zip"), ("content-length", "4")], b"PK\3\4"))
    assert len(json.loads(get(server, "/api/jobs")[2])) == kept
    # Files that would lie elsewhere are refused or left out; nothing is written where they point.
    outside = server.yard / "broke-out.txt"
    for name in ["../broke-out.txt", str(outside), "..\\broke-out.txt", "a/../../broke-out.txt"]:
        answer = imported(server, [("job.toml", text), (name, "broke out")])
        if answer[0] != 201:
            sentence(answer)
    assert not outside.exists() and not list(server.yard.glob("**/broke-out.txt"))


# ---- many at once ----


def processor_s(pid):
    """User and system time of a process (Linux, proc(5)), s."""
    fields = open(f"/proc/{pid}/stat").read().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / 100.0


def test_many_who_want_the_papers_at_once_get_the_same_made_once(server):
    job = post(server, "/api/jobs", {"name": "At once", "from": "example"})["id"]
    other = post(server, "/api/jobs", {"name": "Alone", "from": "example"})["id"]
    pid = server.process.pid
    before = processor_s(pid)
    assert get(server, f"/api/jobs/{other}/papers.zip")[0] == 200
    alone_s = processor_s(pid) - before
    before = processor_s(pid)
    paths = ["papers", "papers.zip", "papers/proposal.pdf", "papers/crew-pack.pdf"] * (MANY // 4)
    with concurrent.futures.ThreadPoolExecutor(MANY) as crowd:
        answers = list(crowd.map(lambda path: get(server, f"/api/jobs/{job}/{path}"), paths))
    assert [a[0] for a in answers] == [200] * MANY
    assert all(a[2] == b[2] for a, b in zip(answers[:4], answers[4:]))
    # Made eight times they would take eight times as long.
    assert processor_s(pid) - before < 3 * alone_s + 1.0
    # Sheets that differ do not stand in each other's way.
    with concurrent.futures.ThreadPoolExecutor(MANY) as crowd:
        sizes = ["A4", "A3", "Letter", "Tabloid"]
        told = list(crowd.map(lambda paper: get(server, f"/api/jobs/{job}/papers/drawings%2fplan.svg?paper={paper}"), sizes * 2))
    assert [a[0] for a in told] == [200] * 8
    assert len({a[2] for a in told}) == 4 and all(a[2] == b[2] for a, b in zip(told[:4], told[4:]))


# ---- jobs that are hard to print ----


def test_an_empty_job_has_papers_and_a_job_taken_away_has_none(server):
    job = post(server, "/api/jobs", {"name": "Bare", "from": "empty"})["id"]
    listed = json.loads(get(server, f"/api/jobs/{job}/papers")[2])["documents"]
    assert "proposal.pdf" in [d["file"] for d in listed]
    assert raw(server.address, "DELETE", f"/api/jobs/{job}".encode())[0] == 204
    for path in ("papers", "papers.zip", "papers/proposal.pdf", "papers/drawings/plan.svg"):
        status, told = sentence(get(server, f"/api/jobs/{job}/{path}"))
        assert status == 404 and job in told["message"]


MARKUP = ['#panic("x")', "$ 1/0 $", "*_`", "#include(\"/etc/passwd\")", "]#[", "<script>alert(1)</script>", "\\u{41}", "‮gnp", "= a\n- b", "%PDF"]


def test_a_jobs_own_words_are_printed_as_they_are_typed(server):
    """Words of a job are data to the typesetter: none is carried out, all that can be seen is on the page."""
    job = post(server, "/api/jobs", {"name": "Markup", "from": "example"})["id"]
    name = " ".join(MARKUP[:7])
    patch = [{"op": "replace", "path": "/job/name", "value": name}, {"op": "replace", "path": "/areas/lawn/name", "value": MARKUP[5]}]
    edit = {"edit_id": "markup-0001", "base_revision": 0, "patch": patch, "who": "Check", "note": "x"}
    post(server, f"/api/jobs/{job}/edits", edit)
    status, _, pdf = get(server, f"/api/jobs/{job}/papers/proposal.pdf")
    assert status == 200, pdf[:300]
    text = subprocess.run(["pdftotext", "-layout", "-", "-"], input=pdf, capture_output=True, check=True).stdout.decode()
    for words in ['#panic("x")', "$ 1/0 $", "*_`", "]#[", "<script>alert(1)</script>"]:
        assert words in re.sub(r"[“”]", '"', text), words
    assert "root:" not in text and CANARY not in text
    status, _, svg = get(server, f"/api/jobs/{job}/papers/drawings/plan.svg")
    assert status == 200 and b"<script" not in svg
    status, headers, _ = get(server, f"/api/jobs/{job}/papers.zip")
    assert status == 200 and re.fullmatch(r'attachment; filename="[\w.-]+-papers\.zip"', headers["content-disposition"])


# ---- devices ----


def test_a_device_turned_away_gets_no_paper_not_even_one_it_had(tmp_path):
    import ssl

    running = Server(tmp_path, "--share")
    try:
        shared = running.told["shared"]
        network = f"https://127.0.0.1:{urllib.parse.urlsplit(shared['addresses'][0]).port}"
        _, _, authority = ask(f"http://127.0.0.1:{urllib.parse.urlsplit(shared['start_at']).port}", "GET", "/loamline.crt")
        trusting = ssl.create_default_context(cadata=authority)

        def call(method, path, body=None, headers=None):
            status, told_headers, told = ask(network, method, path, body, headers, trusting)
            return status, {k.lower(): v for k, v in told_headers.items()}, told

        job = json.loads(ask(running.address, "GET", "/api/jobs")[2])[0]["id"]
        places = [f"/api/jobs/{job}/{p}" for p in ("papers", "papers.zip", "papers/proposal.pdf", "papers/drawings/plan.svg", "papers/none.pdf")]
        for place in places:
            assert sentence(call("GET", place))[0] == 401
        status, headers, _ = call("POST", "/api/pair", {"code": shared["code"], "name": "Phone"})
        assert status == 201
        paired = {"cookie": headers["set-cookie"].split(";")[0]}
        assert [call("GET", place, headers=paired)[0] for place in places] == [200, 200, 200, 200, 404]
        tag = call("GET", places[2], headers=paired)[1].get("etag", '"any"')
        device = json.loads(ask(running.address, "GET", "/api/devices")[2])[0]["id"]
        assert ask(running.address, "DELETE", f"/api/devices/{device}")[0] == 204
        for place in places:
            for more in ({}, {"if-none-match": tag}, {"range": "bytes=0-9"}):
                status, told = sentence(call("GET", place, headers={**paired, **more}))
                assert (status, told["code"]) == (401, "not_paired")
        assert ask(running.address, "GET", places[2])[0] == 200
    finally:
        running.stop()
