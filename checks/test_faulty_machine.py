"""A machine that fails beneath the server: its disk full, its clock put back and forward by years, the file the jobs are kept in
cut or taken away while it serves. Each is said in a sentence with what to do, everything else goes on, and every edit that was
acknowledged is there afterwards, none that was not.

Source of the expected values: what was acknowledged, kept here. Disk and clock are those of `faulty.c`, laid under the program:
SQLite and the program meet the system's own error (ENOSPC), and the time is what the system would say.
"""

import io
import json
import os
import signal
import ssl
import subprocess
import urllib.parse
import zipfile

import pytest

from over_http import taken_in
from test_server import ask
from tool import ROOT, served

BIN = os.environ.get("LOAMLINE_BIN", "")
YEAR_S = 365 * 86_400


@pytest.fixture(scope="module")
def faulty(tmp_path_factory):
    library = tmp_path_factory.mktemp("faulty") / "faulty.so"
    subprocess.run(["cc", "-shared", "-fPIC", "-O1", "-o", library, ROOT / "checks" / "faulty.c"], check=True)
    return library


class Machine:
    """The server on a machine whose disk and clock are in our hands, and what it acknowledged."""

    def __init__(self, folder, library):
        self.library, self.data, self.faults = library, folder / "jobs", folder / "faults"
        self.faults.mkdir()
        self.sent, self.acknowledged, self.job, self.process = 0, {}, None, None
        self.start()
        self.job = self.asked("GET", "/api/jobs")[0]["id"]

    def laid_under(self):
        os.environ.update(LD_PRELOAD=str(self.library), FAULTY=str(self.faults))

    def start(self, *more):
        self.process, told = served(self.data, *more, before=self.laid_under)
        self.address, self.shared = told["address"].rstrip("/"), told.get("shared")

    def refuses_to_start(self, *more):
        """What it says instead."""
        command = [BIN, "serve", "--port", "0", "--data", str(self.data), *more]
        done = subprocess.run(command, capture_output=True, text=True, timeout=60, preexec_fn=self.laid_under)
        assert done.returncode > 0 and "panicked" not in done.stderr, (done.returncode, done.stderr)
        return done.stderr

    def stop(self, how=signal.SIGTERM):
        self.process.send_signal(how)
        self.process.wait(30)
        self.process.stdout.close()

    def full(self, is_full):
        mark = self.faults / "full"
        mark.touch() if is_full else mark.unlink(missing_ok=True)

    def clock(self, years):
        (self.faults / "clock").write_text(str(years * YEAR_S))

    def asked(self, method, path, body=None):
        status, _, answer = ask(self.address, method, path, body)
        assert status == 200, (method, path, status, answer)
        return json.loads(answer)

    def edit(self, again=False):
        """The next edit, or the last one once more: its status, and the sentence of a refusal."""
        self.sent += not again
        note = f"note {self.sent:03}"
        patch = [{"op": "add", "path": "/marks/m", "value": {"name": note, "position": [0, self.sent]}}]
        base = max(self.acknowledged, default=0)
        edit = {"edit_id": f"faulty-{self.sent:06}", "base_revision": base, "note": note, "patch": patch}
        status, _, answer = ask(self.address, "POST", f"/api/jobs/{self.job}/edits", edit)
        answer = json.loads(answer)
        if status == 200:
            self.acknowledged[answer["revision"]] = note
            return status, None
        return status, answer["error"]["message"]

    def acknowledges(self, count):
        for _ in range(count):
            status, why = self.edit()
            assert status == 200, why

    def history(self):
        return sorted(self.asked("GET", f"/api/jobs/{self.job}/history?limit=100"), key=lambda entry: entry["revision"])

    def holds_what_it_acknowledged(self):
        """Those edits and no other, in their order, and the document they make."""
        kept = {entry["revision"]: entry["note"] for entry in self.history()}
        assert kept == self.acknowledged
        document = self.asked("GET", f"/api/jobs/{self.job}")["document"]
        assert document["marks"]["m"]["name"] == self.acknowledged[max(self.acknowledged)]


@pytest.fixture
def machine(tmp_path, faulty):
    machine = Machine(tmp_path, faulty)
    yield machine
    if machine.process.poll() is None:
        machine.stop(signal.SIGKILL)


def test_a_full_disk_refuses_what_cannot_be_kept_and_loses_nothing(machine):
    machine.acknowledges(4)
    machine.full(True)
    status, why = machine.edit()
    assert status == 500 and "disk" in why and "full" in why and "make room" in why, why
    # Nothing else needs the disk.
    machine.holds_what_it_acknowledged()
    machine.asked("GET", f"/api/jobs/{machine.job}/findings")
    status, _, answer = ask(machine.address, "POST", "/api/jobs", {"name": "New", "from": "example"})
    assert status == 500 and "make room" in json.loads(answer)["error"]["message"], answer
    assert len(machine.asked("GET", "/api/jobs")) == 1
    # With room again the same edit is taken, once.
    machine.full(False)
    assert machine.edit(again=True) == (200, None)
    assert machine.edit(again=True) == (200, None)
    machine.acknowledges(3)
    machine.holds_what_it_acknowledged()
    # Ended in the middle of it, and started without room.
    machine.full(True)
    assert machine.edit()[0] == 500
    machine.stop(signal.SIGKILL)
    assert "disk the jobs are kept on is full" in machine.refuses_to_start()
    machine.full(False)
    machine.start()
    machine.holds_what_it_acknowledged()


def test_a_clock_that_jumps_neither_loses_nor_mixes_edits(machine):
    for years in (0, -10, 30, 0):
        machine.clock(years)
        machine.acknowledges(3)
    history = machine.history()
    # The fault is there: what was noted is the time of that clock.
    noted = [int(entry["at"][:4]) for entry in history]
    now = noted[0]
    for seen, years in zip(noted, [0] * 3 + [-10] * 3 + [30] * 3 + [0] * 3, strict=True):
        assert abs(seen - now - years) <= 1, noted
    machine.holds_what_it_acknowledged()
    # Undoing goes by the order of the edits and not by the time they bear.
    last = machine.acknowledged[max(machine.acknowledged)]
    undone = machine.asked("POST", f"/api/jobs/{machine.job}/undo", {})
    marks = machine.asked("GET", f"/api/jobs/{machine.job}")["document"]["marks"]
    assert marks["m"]["name"] == machine.acknowledged[max(machine.acknowledged) - 1] != last
    machine.clock(-10)
    machine.stop()
    machine.start()
    kept = {entry["revision"]: entry["note"] for entry in machine.history()}
    assert kept.pop(undone["revision"], None) is not None and kept == machine.acknowledged
    assert machine.asked("GET", f"/api/jobs/{machine.job}")["document"]["marks"] == marks


def test_a_certificate_made_under_a_wrong_clock_is_good_once_the_clock_is_right(machine):
    machine.stop()
    machine.clock(20)
    machine.start("--share")
    machine.stop()
    machine.clock(0)
    machine.start("--share")
    # OpenSSL looks at the dates of the authority too, as phones do; a program that is not paired gets no further.
    trusting = ssl.create_default_context(cadata=(machine.data / "authority.crt").read_bytes())
    port = urllib.parse.urlsplit(machine.shared["addresses"][0]).port
    status, _, _ = ask(f"https://localhost:{port}", "GET", "/api/jobs", context=trusting)
    assert status in (401, 403), status


@pytest.mark.parametrize("accident", ["was cut short", "was taken away"])
def test_what_happens_to_the_file_under_the_server_is_noticed_before_anything_is_acknowledged(machine, accident):
    machine.acknowledges(5)
    file = machine.data / "jobs.sqlite"
    if accident == "was cut short":
        os.truncate(file, 100)
    else:
        file.unlink()
    for _ in range(2):
        status, why = machine.edit()
        assert status == 500 and accident in why and "backup" in why and "Export" in why, why
    document = machine.asked("GET", f"/api/jobs/{machine.job}")["document"]
    last = machine.acknowledged[max(machine.acknowledged)]
    assert document["marks"]["m"]["name"] == last
    # What was acknowledged goes out as a folder, and comes in whole elsewhere.
    status, _, packed = ask(machine.address, "GET", f"/api/jobs/{machine.job}/export")
    assert status == 200, packed
    assert last in zipfile.ZipFile(io.BytesIO(packed)).read("job.toml").decode()
    machine.stop(signal.SIGKILL)
    told = machine.refuses_to_start()
    assert str(file) in told and "backup" in told, told
    for name in machine.data.glob("jobs.sqlite*"):
        name.unlink()
    machine.start()
    taken = taken_in(machine, packed)
    assert machine.asked("GET", f"/api/jobs/{taken}")["document"] == document
