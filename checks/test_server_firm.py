"""A firm set in the app: its papers over HTTP say what `loamline pack` prints with the same letterhead, logo, price book and
language file; proposals are reckoned with its prices.

Source of the method: the command line's own pack, made from the same files; poppler-utils for the text of a PDF.
"""

import atexit
import http.client
import json
import urllib.parse

import papers
import tool
from over_http import fetched, imported, server  # noqa: F401
from test_server import ask

atexit.register(papers.remove)
JOB = "walled-courtyard"
PROFILE = {"name": "Example Gardens", "lines": ["1 Lane", "01 23 45"], "opening": "We thank you for the visit.", "closing": "We look forward to it.", "terms": ["Thirty days."]}
BOOK = "code,price,remark\nmargin,31 %,\ntax,0.081,\nlabour/hour,77.50,\ntask/joint,4.20,ours\n"
LOGO = '<svg xmlns="http://www.w3.org/2000/svg" width="30" height="10"><path d="M0 0H30V10Z"/></svg>'


def put(server, path, body, kind):
    url = urllib.parse.urlsplit(server.address)
    connection = http.client.HTTPConnection(url.hostname, url.port, timeout=60)
    connection.request("PUT", path, body.encode(), {"content-type": kind})
    answer = connection.getresponse()
    read = answer.read()
    return answer.status, json.loads(read)


def text(pdf, tmp_path):
    path = tmp_path / "paper.pdf"
    path.write_bytes(pdf)
    return papers.poppler("pdftotext", "-layout", path, "-")


def paper(server, job, name, tmp_path):
    status, _, body = ask(server.address, "GET", f"/api/jobs/{job}/papers/{name}")
    assert status == 200, body
    return text(body, tmp_path)


def test_papers_of_a_firm_are_those_of_the_command_line(server, tmp_path):  # noqa: F811
    job = imported(server, papers.folder(JOB))
    bare = paper(server, job, "quotation.pdf", tmp_path)
    assert put(server, "/api/firm", json.dumps(PROFILE), "application/json")[0] == 200
    assert put(server, "/api/firm/prices", BOOK, "text/csv")[0] == 200
    assert put(server, "/api/firm/logo", LOGO, "image/svg+xml")[0] == 200
    words = tool.run("language").stdout.replace('quotation = "Quotation"', 'quotation = "Offer of prices"')
    assert put(server, "/api/firm/language", words, "application/toml")[0] == 200

    firm = tmp_path / "firm.toml"
    firm.write_text("".join(f"{key} = {json.dumps(value)}\n" for key, value in PROFILE.items()) + 'logo = "logo.svg"\n')
    (tmp_path / "logo.svg").write_text(LOGO)
    (tmp_path / "prices.csv").write_text(BOOK)
    (tmp_path / "words.toml").write_text(words)
    out = tmp_path / "out"
    flags = ["--firm", firm, "--prices", tmp_path / "prices.csv", "--language", tmp_path / "words.toml"]
    done = tool.run("pack", papers.folder(JOB), "--out", out, "--only", "proposal,quotation", *flags)
    assert done.returncode in (0, 1), done.stderr
    for name in ("quotation.pdf", "proposal.pdf"):
        ours = paper(server, job, name, tmp_path)
        assert ours == text((out / name).read_bytes(), tmp_path), name
        assert "Example Gardens" in ours and ours != bare
    assert "Offer of prices" in paper(server, job, "quotation.pdf", tmp_path)

    # Taken back, papers are as they were: nothing of what was made before is kept for another firm.
    for path in ("/api/firm/prices", "/api/firm/logo", "/api/firm/language"):
        assert ask(server.address, "DELETE", path)[0] == 200
    assert put(server, "/api/firm", "{}", "application/json")[0] == 200
    assert paper(server, job, "quotation.pdf", tmp_path) == bare


def test_a_firms_crew_reads_its_papers_in_its_own_language(server):  # noqa: F811
    job = imported(server, papers.folder(JOB))
    assert put(server, "/api/firm", json.dumps({"crew_language": "es"}), "application/json")[0] == 200
    listed = {document["file"]: document["part"] for document in fetched(server, f"/api/jobs/{job}/papers")["documents"]}
    assert listed["carpeta-de-obra.pdf"] == "crew" and listed["quotation.pdf"] == "quotation"
    assert put(server, "/api/firm", "{}", "application/json")[0] == 200


def test_what_cannot_be_printed_is_refused_with_its_reason_and_changes_nothing(server):  # noqa: F811
    before = fetched(server, "/api/firm")
    for path, body, kind, part in [
        ("/api/firm", json.dumps({"labels": "round"}), "application/json", "No labels can be printed so"),
        ("/api/firm", json.dumps({"crew_language": "latin"}), "application/json", "en, en-us, es"),
        ("/api/firm/logo", "<svg", "image/svg+xml", "neither a PNG picture nor an SVG drawing"),
        ("/api/firm/logo", " " * 2_000_001, "image/svg+xml", "at most 2 MB"),
        ("/api/firm/language", 'language = "de"\n', "application/toml", "is missing"),
        ("/api/firm/prices", "code;price\nmargin;\n", "text/csv", "line 2"),
    ]:
        status, told = put(server, path, body, kind)
        assert status in (413, 422), told
        assert part in json.dumps(told), (part, told)
    assert fetched(server, "/api/firm") == before
