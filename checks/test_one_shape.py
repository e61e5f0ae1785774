"""One shape for one fact: what a command prints with `--json` and what the server answers over HTTP agree as JSON values, for
the three examples, and each answer is of the shape that the description of the interface (OpenAPI 3.1, which is JSON Schema
2020-12, held by the `jsonschema` library) says. Second way of computing: two processes, each from the job's own files.

Left out of the comparison is what the answer says it has besides: the revision of the job, and figures for curves and
workings, which are named here.
"""

import json
import os
import pathlib
import shutil
import subprocess
import time

import jsonschema
import pytest

from over_http import server, taken_in  # noqa: F401 (fixture)
from test_server import ask
from tool import zipped

BIN = os.environ.get("LOAMLINE_BIN", "")
EXAMPLES = sorted(p.parent for p in pathlib.Path(__file__).parent.parent.glob("examples/*/job.toml"))


def printed(*arguments):
    """What a command prints as JSON; findings of the severity error end it with 1."""
    done = subprocess.run([BIN, *map(str, arguments), "--json"], capture_output=True, text=True, timeout=300)
    assert done.returncode in (0, 1), done.stderr
    return json.loads(done.stdout)


def asking(server, folder):
    """How to ask the server about the job of a folder."""
    job = taken_in(server, zipped({str(f.relative_to(folder)): f.read_text() for f in sorted(folder.rglob("*.toml"))}))
    description = json.loads(ask(server.address, "GET", "/api/openapi.json")[2])

    def answer(path, method="GET", sent=None):
        status, _, text = ask(server.address, method, f"/api/jobs/{job}/{path}", sent)
        assert status < 300, text
        told = json.loads(text)
        place = "/api/jobs/{id}/" + (path if "/" not in path else path.split("/")[0] + "/{run}")
        shape = description["paths"][place][method.lower()]["responses"][str(status)]["content"]["application/json"]["schema"]
        jsonschema.Draft202012Validator({**shape, "components": description["components"]}).validate(told)
        return told

    return answer


@pytest.fixture(scope="module", params=EXAMPLES, ids=lambda p: p.name)
def both(request, server):
    """An example's folder, and how to ask the server about the same job."""
    return request.param, asking(server, request.param)


def without(told, *extras):
    """The answer without its revision and what it says it has besides, all of which it must have."""
    assert {"revision", *extras} <= told.keys()
    return {key: value for key, value in told.items() if key not in ("revision", *extras)}


def test_findings(both):
    folder, answer = both
    assert without(answer("findings")) == {key: printed("check", folder)[key] for key in ("findings", "alike")}


def test_lines(both):
    folder, answer = both
    assert without(answer("lines"), "runs") == printed("lines", folder)["report"]


def test_expect(both):
    folder, answer = both
    said = printed("expect", folder)
    assert without(answer("expect")) == {key: said[key] for key in ("lines", "readings", "levels")}


def test_locate(both):
    folder, answer = both
    line = next(iter(printed("lines", folder)["report"]["lines"]))
    said = printed("locate", folder, "--line", line, "--reading", "dc=2.1ohm", "--reading", "z@1kHz=24ohm")
    shown = [{"frequency_hz": 0, "ohm": 2.1}, {"frequency_hz": 1000, "ohm": 24}]
    told = answer("locate", "POST", {"line": line, "readings": shown})
    assert without(told, "grade", "next", "why") == {key: said[key] for key in ("located", "so_far")}
    assert len(told["why"]) == len(said["located"]["diagnosis"]["answers"])


def test_levels_and_neighbours(both):
    folder, answer = both
    report = printed("predict", folder, "--each")["report"]
    neighbours = report.pop("neighbours")
    assert without(answer("levels"), "frequencies_hz") == report
    told = without(answer("neighbours"))["neighbours"]
    assert told.keys() == neighbours.keys() and (told or folder.name != "quayside-hotel")
    for id, neighbour in neighbours.items():
        for key in ("name", "day", "night"):
            assert told[id][key] == neighbour[key], (id, key)
        # What each loudspeaker gives at each place fills megabytes: over HTTP it is its level alone.
        for here, there in zip(told[id]["receivers"], neighbour["receivers"], strict=True):
            each = here.pop("loudspeakers")
            assert here == {key: there[key] for key in here}
            assert each == {c["id"]: c["total_dba"] for c in there["contributions"]}


def test_bass(both):
    folder, answer = both
    assert without(answer("bass"), "workings") == printed("bass", folder)["report"]


def test_processing(both):
    folder, answer = both
    assert without(answer("processing"), "frequencies_hz", "curves", "reasons", "order_spoken") == printed("tune", folder)["report"]


def test_sources(both):
    folder, answer = both
    assert without(answer("sources")) == printed("sources", folder)["report"]


def test_routes(both):
    folder, answer = both
    report = printed("route", folder, "--dry")
    del report["job"], report["written"]
    assert without(answer("route", "POST"), "summary") == report


def test_runs(both, server, tmp_path):
    """Runs as the command that writes them tells them, against runs as the server reads them from what was written. Of the
    electric figures a run has besides, loss and current are those of its line in `lines`."""
    folder = tmp_path / "job"
    shutil.copytree(both[0], folder)
    written = printed("route", folder)
    told = asking(server, folder)("lines")
    solved = {run["run"]: run for line in told["lines"].values() for run in line["runs"]}
    extras = ("electrical_m", "current_1khz_a", "loss_1khz_w", "loop_resistance_ohm", "positive", "negative", "tag", "shared")
    assert len(told["runs"]) == len(written["runs"]) > 0
    for here, there in zip(told["runs"], written["runs"], strict=True):
        assert {k: v for k, v in here.items() if k not in extras} == there
        assert (here["current_1khz_a"], here["loss_1khz_w"]) == (solved[here["id"]]["current_1khz_a"], solved[here["id"]]["loss_1khz_w"])


def test_proposal(both):
    folder, answer = both
    if folder.name != "walled-courtyard":
        pytest.skip("the others take minutes; the answer is of one type for all")
    run = answer("propose", "POST", {"time_s": 0.5, "options": ["least-cost"], "seed": 7})["run"]
    for _ in range(600):
        told = answer(f"propose/{run}")
        if told["done"]:
            break
        time.sleep(0.2)
    made = printed("propose", folder, "--time", "0.5 s", "--option", "least-cost", "--seed", "7")["proposal"]
    assert told["proposal"] == made
    assert [w.keys() for w in told["words"]] == [{"summary", "spoken", "figures"}] * len(made["options"])
