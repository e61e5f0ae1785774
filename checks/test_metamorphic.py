"""A job carried about, turned round and written anew is the same job: exported, taken in elsewhere and exported again it is the
same bytes, and so is its pack; commands in feet change nothing; lengths written in feet and back are the lengths they were; keys
in another order say the same. No outside reference is needed for any of these.
"""

import copy
import hashlib
import http.client
import io
import json
import re
import shutil
import tomllib
import urllib.parse
import zipfile

import pytest

import papers
from ledger_data import si
from ledger_jobs import text_of
from over_http import taken_in
from test_server import Server, ask
from test_whole_job_changes import toml
from tool import ROOT, run
from whole_job_made import JOBS, told, written

JOBS_HERE = [*papers.EXAMPLES, "restaurant", "garden"]
every_job = pytest.mark.parametrize("name", JOBS_HERE)
# A picture of one point, as a phone might take it.
PNG = bytes.fromhex("89504e470d0a1a0a0000000d49484452000000010000000108060000001f15c4890000000d49444154789c636060606000000005"
                    "0001a5f645400000000049454e44ae426082")


@pytest.fixture(scope="module")
def two(tmp_path_factory):
    servers = [Server(tmp_path_factory.mktemp(f"jobs-{k}")) for k in "ab"]
    yield servers
    for server in servers:
        server.stop()


@pytest.fixture(scope="module")
def folders(tmp_path_factory):
    made = tmp_path_factory.mktemp("jobs")
    for name in JOBS_HERE:
        if name in JOBS:
            written(made / name, JOBS[name])
        else:
            shutil.copytree(ROOT / "examples" / name, made / name)
    return made


def zipped(folder):
    box = io.BytesIO()
    with zipfile.ZipFile(box, "w") as archive:
        for file in sorted(folder.rglob("*")):
            if file.is_file():
                archive.write(file, str(file.relative_to(folder)))
    return box.getvalue()


def exported(server, job):
    """The files of a job's export."""
    status, _, archive = ask(server.address, "GET", f"/api/jobs/{job}/export")
    assert status == 200
    with zipfile.ZipFile(io.BytesIO(archive)) as files:
        return archive, {name: files.read(name) for name in files.namelist()}


def put(server, job, name, content, kind):
    url = urllib.parse.urlsplit(server.address)
    connection = http.client.HTTPConnection(url.hostname, url.port, timeout=60)
    connection.request("PUT", f"/api/jobs/{job}/attachments/{name}", content, {"content-type": kind})
    answer = connection.getresponse()
    assert answer.status in (200, 201, 204), answer.read()


def contents(folder):
    return {str(f.relative_to(folder)): hashlib.sha256(f.read_bytes()).hexdigest() for f in sorted(folder.rglob("*")) if f.is_file()}


def differing(one, other):
    return sorted(name for name in one.keys() | other.keys() if one.get(name) != other.get(name))


@pytest.fixture(scope="module")
def moved(two, folders, tmp_path_factory):
    """Each job taken in by one server with a photo kept, exported, taken in by another and exported again; and unpacked."""
    made = {}
    for name in JOBS_HERE:
        here = taken_in(two[0], zipped(folders / name))
        put(two[0], here, "joint.png", PNG, "image/png")
        archive, first = exported(two[0], here)
        _, second = exported(two[1], taken_in(two[1], archive))
        out = tmp_path_factory.mktemp("elsewhere") / "a folder of another name"
        out.mkdir()
        for file, content in second.items():
            (out / file).parent.mkdir(parents=True, exist_ok=True)
            (out / file).write_bytes(content)
        [job] = [f.parent for f in out.rglob("job.toml")]
        made[name] = first, second, job
    return made


@every_job
def test_exported_taken_in_and_exported_again_is_the_same_to_the_byte(moved, folders, name):
    first, second, _ = moved[name]
    assert differing(first, second) == []
    [job] = [content for file, content in first.items() if file.endswith("job.toml")]
    assert job == (folders / name / "job.toml").read_bytes(), "comments and order of the file survive"
    assert [content for file, content in first.items() if file.endswith("joint.png")] == [PNG]


@every_job
def test_a_pack_made_elsewhere_is_the_same_to_the_byte(moved, folders, name, tmp_path):
    # The largest takes half a minute for a level map; its papers without it say the same.
    only = ["--only", "quotation,tables,data"] if name == "quayside-hotel" else []
    outs = [tmp_path / "one", tmp_path / "the other"]
    for folder, out in zip((folders / name, moved[name][2]), outs):
        assert run("pack", folder, "--out", out, *only, cwd=tmp_path).returncode in (0, 1)
    packs = [contents(out) for out in outs]
    assert len(packs[0]) >= 6 and differing(*packs) == []


@every_job
def test_commands_in_feet_change_no_file_and_no_data(folders, name, tmp_path):
    job = tmp_path / "job"
    shutil.copytree(folders / name, job)
    before = contents(job)
    for command in ("lines", "expect", "sources"):
        one, other = (run(command, job, "--json", *units).stdout for units in ([], ["--units", "us"]))
        assert json.loads(one) == json.loads(other), command
        assert run(command, job, "--units", "us").returncode in (0, 1)
    assert contents(job) == before


# --- Lengths in feet and back.

# Values of the document that are lengths, by the last key of their way.
LENGTHS = {"position", "outline", "line", "via", "length", "height", "foot", "top", "elevation", "inside_diameter", "holds", "depth", "clearance"}


def turned(value):
    """A bare length, metres, as text in feet, and one written as text as bare metres; 1 ft is 0.3048 m (international foot)."""
    if isinstance(value, list):
        return [turned(v) for v in value]
    return f"{value / 0.3048!r} ft" if isinstance(value, (int, float)) else si(value)


def lengths(tree, way=""):
    """Ways to all lengths of the document."""
    for key, value in tree.items() if isinstance(tree, dict) else ():
        here = f"{way}/{key.replace('~', '~0').replace('/', '~1')}"
        if key in LENGTHS and numbers(si(value)):
            yield here, value
        else:
            yield from lengths(value, here)


def numbers(value):
    return any(map(numbers, value)) if isinstance(value, list) else isinstance(value, (int, float)) and not isinstance(value, bool)


def edit(server, job, key, patch):
    revision = json.loads(ask(server.address, "GET", f"/api/jobs/{job}")[2])["revision"]
    sent = {"edit_id": key, "base_revision": revision, "patch": patch, "who": "check", "note": ""}
    status, _, body = ask(server.address, "POST", f"/api/jobs/{job}/edits", sent)
    assert status == 200, body


def fetched(server, job):
    return json.loads(ask(server.address, "GET", f"/api/jobs/{job}")[2])


def same(one, other, where=""):
    """Whether two trees say the same, numbers but for their last bits."""
    if isinstance(one, dict):
        assert one.keys() == other.keys(), where
        for key in one:
            same(one[key], other[key], f"{where}/{key}")
    elif isinstance(one, list):
        assert len(one) == len(other), where
        for k, (a, b) in enumerate(zip(one, other)):
            same(a, b, f"{where}/{k}")
    elif isinstance(one, float) or isinstance(other, float):
        assert one == pytest.approx(other, rel=1e-12, abs=1e-12), where
    else:
        assert one == other, where


@every_job
def test_turned_to_feet_and_back_a_document_is_what_it_was(two, folders, name):
    server = two[0]
    job = taken_in(server, zipped(folders / name))
    before, (_, files) = fetched(server, job), exported(server, job)
    found = dict(lengths(before["document"]))
    assert len(found) > 10
    edit(server, job, f"feet-{name}", [{"op": "replace", "path": way, "value": turned(v)} for way, v in found.items()])
    feet = fetched(server, job)
    assert feet["document"] != before["document"]
    same(before["resolved"], feet["resolved"])
    edit(server, job, f"back-{name}", [{"op": "replace", "path": way, "value": v} for way, v in found.items()])
    again = fetched(server, job)
    assert again["document"] == before["document"] and again["resolved"] == before["resolved"]
    [text], [back] = ([t for f, t in e.items() if f.endswith("job.toml")] for e in (files, exported(server, job)[1]))
    assert tomllib.loads(back.decode()) == tomllib.loads(text.decode())
    remarks = lambda t: re.findall(r"(?m)^\s*#.*$", t.decode())  # noqa: E731
    assert remarks(back) == remarks(text)


# --- Keys in another order.

ANSWERS = ["lines", "expect", "sources", "predict"]


def turned_round(job):
    """The document with its tables, and the keys of every entry, in the reverse order; entries of a table, whose order is the
    order of the sheets, stay in theirs."""
    inner = lambda entry: dict(reversed(entry.items())) if isinstance(entry, dict) else entry  # noqa: E731
    plain = {"format", "job", "brief", "site"}
    tables = {k: v if k == "format" else inner(v) if k in plain else {id: inner(e) for id, e in v.items()} for k, v in job.items()}
    return {"format": tables.pop("format"), **dict(reversed(tables.items()))}


@pytest.mark.parametrize("name", ["walled-courtyard", "guesthouse-garden", "restaurant", "garden", "hotel"])
def test_keys_in_another_order_say_the_same(name, tmp_path):
    job = tomllib.loads(text_of(name))
    here = written(tmp_path / "here", toml(job))
    there = written(tmp_path / "there", toml(turned_round(copy.deepcopy(job))))
    assert (here / "job.toml").read_text() != (there / "job.toml").read_text()
    for command in ANSWERS:
        assert told(command, here) == told(command, there), command
    outs = [tmp_path / "pack-here", tmp_path / "pack-there"]
    for folder, out in zip((here, there), outs):
        assert run("pack", folder, "--out", out, "--only", "quotation,tables,data").returncode in (0, 1)
    assert differing(*map(contents, outs)) == []


# --- From a brief alone.

def test_a_design_for_a_bare_brief_is_proposed_once(tmp_path):
    """What `new` starts with, its design taken out: written once, proposing again writes nothing and finds nothing to change."""
    job = tmp_path / "job"
    assert run("new", job).returncode == 0
    read = tomllib.loads((job / "job.toml").read_text())
    design = {"loudspeakers", "lines", "channels", "amplifiers", "joints", "leads", "sources"}
    bare = {table: entries for table, entries in read.items() if table not in design}
    # The few places that half a second looks at keep it within 3.5 dB.
    bare["areas"]["terrace"]["within"] = "4 dB"
    (job / "job.toml").write_text(toml(bare))
    first = run("propose", job, "--option", "least-cost", "--time", "0.5 s", "--write")
    assert first.returncode in (0, 1), first.stderr
    after = contents(job)
    assert "loudspeakers" in tomllib.loads((job / "job.toml").read_text())
    again = run("propose", job, "--option", "least-cost", "--time", "0.5 s", "--write", "--json")
    assert again.returncode in (0, 1), again.stderr
    assert json.loads(again.stdout)["proposal"]["options"][0]["edit"] == []
    assert contents(job) == after


# --- Along an edge.

def test_a_way_along_the_edge_of_a_raised_surface_is_as_long_as_one_beside_it(tmp_path):
    """The evening lawn of the hotel lies 0.6 m up. A centimetre to the side, a way climbs it once or twice and no more: each end
    of it is at most one step up or down (geometry, no source)."""
    cut = {}
    for side, x in (("on", 66.0), ("inside", 65.99), ("outside", 66.01)):
        job = tomllib.loads(JOBS["hotel"])
        job["lines"]["D"]["runs"]["D1"]["via"] = [[62.26, 28.0], [x, 28.0], [x, 18.43]]
        folder = written(tmp_path / side, toml(job))
        assert run("pack", folder, "--out", tmp_path / f"pack-{side}", "--only", "data").returncode in (0, 1)
        runs = json.loads((tmp_path / f"pack-{side}" / "pack.json").read_text())["runs"]
        [cut[side]] = [r["length"]["vertical_m"] for r in runs if (r["line"], r["id"]) == ("D", "D1")]
    steps = 2 * 0.6
    assert abs(cut["on"] - cut["inside"]) <= steps + 1e-9 and abs(cut["on"] - cut["outside"]) <= steps + 1e-9, cut
