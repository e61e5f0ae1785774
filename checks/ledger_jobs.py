"""Every surface of a job, each fetched once: commands as tables in metres and in feet and with `--json`, the server's answers, the
papers and spreadsheets in both units, the phone's pack, the exported folder, and the figures of the live channel.
"""

import asyncio
import concurrent.futures
import functools
import io
import json
import pathlib
import shutil
import zipfile

import websockets

from over_http import imported_text
from papers import EXAMPLES, poppler, table
from test_server import ask
from tool import ROOT, run
from whole_job_made import JOBS

NAMES = [*EXAMPLES, *JOBS]
COMMANDS = {"check": ["check", "--each"], "predict": ["predict", "--each"], "lines": ["lines"], "bass": ["bass"], "expect": ["expect"],
            "sources": ["sources"], "tune": ["tune"], "years": ["years"], "route": ["route", "--dry"]}
# Commands whose tables have no length in them.
NO_LENGTHS = {"bass", "tune"}
# What asks a minute of a big job without a figure more to compare: the same answers are compared of eight other jobs.
LEFT_OUT = {"quayside-hotel": {"text": {"check", "bass", "route"}, "us": {"check", "route", "predict"},
                              "json": {"check", "bass", "route"}, "http": {"findings", "bass", "route"}}}
ANSWERS = ["", "findings", "levels", "neighbours", "bass", "lines", "processing", "expect", "sources", "visit-pack", "catalogue"]
PDFS = ["proposal.pdf", "quotation.pdf", "crew-pack.pdf", "as-built.pdf"]
SHEETS = ["bill-of-quantities.csv", "cable-schedule.csv", "cut-list.csv", "loudspeaker-schedule.csv"]


def text_of(name):
    return JOBS[name] if name in JOBS else (ROOT / "examples" / name / "job.toml").read_text()


class Surfaces:
    def __init__(self, name, folder, server):
        self.name, self.server = name, server
        self.folder = pathlib.Path(folder) / name
        if name in JOBS:
            self.folder.mkdir(parents=True)
            (self.folder / "job.toml").write_text(JOBS[name])
        else:
            shutil.copytree(ROOT / "examples" / name, self.folder)
        left = LEFT_OUT.get(name, {})
        wanted = [(c, ("--units", "metric")) for c in COMMANDS if c not in left.get("text", ())]
        wanted += [(c, ("--units", "us")) for c in COMMANDS if c not in {*NO_LENGTHS, *left.get("us", ())}]
        wanted += [(c, ("--json",)) for c in COMMANDS if c not in left.get("json", ())]
        # One at a time on each of two cores; the server works meanwhile.
        with concurrent.futures.ThreadPoolExecutor(2) as hands:
            packs = {units: hands.submit(self.pack, units) for units in ("metric", "us")}
            asked = hands.submit(self.ask_all, left.get("http", ()))
            said = {key: hands.submit(self.command, *key) for key in wanted}
            self.said = {key: one.result() for key, one in said.items()}
            self.packs = {units: one.result() for units, one in packs.items()}
            self.sent, self.exported, self.figures = asked.result()

    def command(self, command, how):
        done = run(*COMMANDS[command], self.folder, *how)
        assert done.returncode in (0, 1), (self.name, command, done.stderr)
        return json.loads(done.stdout) if how == ("--json",) else done.stdout

    def pack(self, units):
        out = self.folder.parent / f"{self.name}-{units}"
        done = run("pack", self.folder, "--out", out, "--units", units)
        assert done.returncode in (0, 1), (self.name, done.stderr)
        return out

    def ask_all(self, left_out):
        job = imported_text(self.server, text_of(self.name))
        sent = {}
        for what in [*ANSWERS, "route"]:
            if what not in left_out:
                method, body = ("POST", {}) if what == "route" else ("GET", None)
                path = f"/api/jobs/{job}/{what}".rstrip("/")
                status, _, text = ask(self.server.address, method, path, body)
                assert status == 200, (self.name, what, text)
                sent[what or "job"] = json.loads(text)
        status, _, archive = ask(self.server.address, "GET", f"/api/jobs/{job}/export")
        assert status == 200
        with zipfile.ZipFile(io.BytesIO(archive)) as files:
            [exported] = [files.read(f).decode() for f in files.namelist() if f.endswith("job.toml")]
        return sent, exported, asyncio.run(figures(self.server, job))

    def shown(self, command, units="metric"):
        return self.said.get((command, ("--units", units)))

    def data(self, command):
        return self.said.get((command, ("--json",)))

    @functools.cache
    def paper(self, pdf, units="metric"):
        return poppler("pdftotext", "-layout", self.packs[units] / pdf, "-")

    @functools.cache
    def raw(self, pdf, units="metric"):
        """In the order the words were set, two columns one after the other."""
        return poppler("pdftotext", self.packs[units] / pdf, "-")

    def sheet(self, csv, units="metric"):
        return table(self.packs[units] / csv)

    @functools.cached_property
    def pack_data(self):
        return json.loads((self.packs["metric"] / "pack.json").read_text())


async def figures(server, job):
    """The figures of a level map, as the app shows them beside the plan."""
    uri = server.address.replace("http", "ws") + f"/api/jobs/{job}/live?client=ledger"
    async with websockets.connect(uri, max_size=1 << 24) as socket:
        await socket.send(json.dumps({"kind": "map", "request": 1, "quantity": "LAeq", "spacing_m": 4.0}))
        while True:
            message = await asyncio.wait_for(socket.recv(), 120)
            if isinstance(message, str):
                read = json.loads(message)
                assert read["kind"] != "refused", read
                if read["kind"] == "figures":
                    return read
