"""What the checks under attack stand on: the built program under a cap, what it took, files that are refused, large sites.

Memory is the process's own high-water mark as the system counts it (VmHWM), with a hard cap above it (RLIMIT_DATA) so that a
failure cannot take the machine along.
"""

import json
import os
import resource
import subprocess
import time
import urllib.error
import urllib.request

import pytest

from tool import served

BIN = os.environ.get("LOAMLINE_BIN", "")
MB = 1 << 20
# What a calculation may take by docs/limits.md, and the program itself.
MOST_MB = 512
# Above it, so that the mark and not the cap is what is held against the bound; below what the machine has.
CAP_MB = 2000
# Of wall time on a loaded machine of two cores.
SECONDS = 30


def high_water_mb(pid):
    """Of the program alone: what wait4 tells begins with what Python had when it started the program."""
    try:
        with open(f"/proc/{pid}/status") as file:
            return next((int(line.split()[1]) / 1024 for line in file if line.startswith("VmHWM")), 0)
    except OSError:
        return 0


def capped():
    resource.setrlimit(resource.RLIMIT_DATA, (CAP_MB * MB, CAP_MB * MB))


class Done:
    def __init__(self, code, out, err, mb, seconds):
        self.code, self.out, self.err, self.mb, self.seconds = code, out, err, mb, seconds

    @property
    def told(self):
        return f"{self.err}\n{self.out}"


def run(tmp_path, *arguments, seconds=SECONDS, given=None):
    """Runs the tool under a cap; ends it when it takes too long, which fails the check."""
    out, err = tmp_path / "stdout", tmp_path / "stderr"
    started = time.monotonic()
    with open(out, "wb") as o, open(err, "wb") as e, open(given or os.devnull, "rb") as i:
        process = subprocess.Popen([BIN, *map(str, arguments)], stdin=i, stdout=o, stderr=e, preexec_fn=capped)
        mb = 0
        while True:
            mb = max(mb, high_water_mb(process.pid))
            pid, status = os.waitpid(process.pid, os.WNOHANG)
            if pid:
                break
            if time.monotonic() - started > seconds:
                process.kill()
                os.waitpid(process.pid, 0)
                process.returncode = -9
                pytest.fail(f"loamline {' '.join(map(str, arguments[:2]))} took more than {seconds} s")
            time.sleep(0.005)
    process.returncode = os.waitstatus_to_exitcode(status)
    took = time.monotonic() - started
    text = lambda path: path.read_bytes()[: 256 * MB].decode(errors="replace")
    done = Done(process.returncode, text(out), text(err), mb, took)
    assert done.code in (0, 1, 2), f"ended with {done.code}: {done.told[-500:]}"
    assert done.mb < MOST_MB, f"{done.mb:.0f} MB"
    return done


def job(tmp_path, text, catalogue=None):
    folder = tmp_path / "job"
    folder.mkdir()
    (folder / "job.toml").write_text(text)
    for name, content in (catalogue or {}).items():
        (folder / "catalogue").mkdir(exist_ok=True)
        (folder / "catalogue" / name).write_text(content)
    return folder


HEAD = 'format = 1\n[job]\nname = "x"\n'


# Files. Each: the text, and words its refusal must hold.


def one_line(problems):
    """Unknown keys, all in one line: every problem once held the whole line."""
    return 'format = 1\njob = { name = "x"' + "".join(f", k{i:05}=1" for i in range(problems)) + " }\n"


FILES = {
    "20 000 problems in one line": (one_line(20_000), ["20 000 problems", "first 100"]),
    "50 000 problems on lines of their own": (
        HEAD + "".join(f"k{i} = 1\n" for i in range(50_000)), ["50 000 problems", "first 100"]),
    "20 000 things that lack everything": (
        HEAD + "[areas]\n" + "".join(f"a{i} = {{}}\n" for i in range(20_000)), ["20 000 listening areas", "200"]),
    "2000 loudspeakers on lines that are not": (
        HEAD + "[loudspeakers]\n" + "".join(
            f'L{i} = {{model = "satellite-100", position = [0, 0], line = "Q{i}"}}\n' for i in range(2000)),
        ["2000 problems"]),
    "loudspeakers beyond what is worked with": (
        HEAD + "[loudspeakers]\n" + "".join(
            f'L{i} = {{model = "satellite-100", position = [0, 0]}}\n' for i in range(2001)),
        ["2001 loudspeakers", "2000"]),
    "an outline of 2500 corners": (
        HEAD + "[areas.a]\ntarget = 70\noutline = [" + ", ".join(f"[{i}, {i * i % 7}]" for i in range(2500)) + "]\n",
        ["2500 points", "2000"]),
    "9 MB of remarks": (HEAD + "# remark\n" * 1_000_000, ["9.1 MB", "at most 4 MB"]),
    "4 MB of ones": (HEAD + "[brief]\nlaying = [" + "1," * 1_900_000 + "]\n", ["200 001 values", "200 000"]),
    "4 MB of brackets": ("]" * 3_900_000, ["1 000 001 words", "1 000 000"]),
    "2 MB of quotes": ('"\n' * 900_000, ["900 000 places", "20 000"]),
    "lines without values": ("a\n" * 19_000, ["19 000 problems", "first 100"]),
    "lists in lists": ("a = " + "[" * 100_000 + "]" * 100_000, ["33 values", "32"]),
    "tables in tables": ("a" + ".a" * 100_000 + " = 1\n", ["33 values", "32"]),
    "tables in tables in tables": (
        "a = " + ("{" + "a." * 30 + "a = ") * 31 + "1" + "}" * 31, ["problem"]),
    "one table 200 000 times": ("[job]\n" * 150_000, ["problems"]),
    "a key of 3 MB with things under it": (
        HEAD + '[areas."' + "k" * 3_000_000 + '"]\n' + "".join(f"k{i} = 1\n" for i in range(50_000)), ["problem"]),
    "a word of 3 MB": (HEAD + '[site]\nground = "' + "k" * 3_000_000 + '"\n', ["kkk..."]),
    "100 lines of 1500 runs in rings": (
        HEAD + '[racks.R]\nposition = [0, 0]\n[joints]\n' + "".join(
            f"J{i} = {{position = [1, {i}]}}\n" for i in range(1000)) + "".join(
            f'[lines.A{n}]\ncable = "burial-2x14awg"\nstart = "R"\n[lines.A{n}.runs]\n' + "".join(
                f'r{i} = {{from = "J{i % 999}", to = "J{(i + 1) % 999}"}}\n' for i in range(1500))
            for n in range(12)), ["problems"]),
}


def site(loudspeakers, model, size_m, more=""):
    """A listening area of `size_m` squared with loudspeakers on one line each ten, and a rack."""
    text = HEAD + '[brief]\nsupply = "70.7 V"\nload_share = 1\n[programmes.music]\nname = "Music"\n'
    text += f"[areas.field]\noutline = [[0, 0], [{size_m}, 0], [{size_m}, {size_m}], [0, {size_m}]]\ntarget = 70\n"
    text += "[racks.R]\nposition = [0, 0]\n" + more
    loud, lines, amplifiers, channels = "", "", "", ""
    for k in range(0, loudspeakers, 10):
        line = f"N{k // 10}"
        amplifiers += f'[amplifiers.P{k // 10}]\nmodel = "line-2x520"\nrack = "R"\n'
        channels += f'[channels.{line}]\namplifier = "P{k // 10}"\noutput = 1\nprogramme = "music"\n'
        lines += f'[lines.{line}]\nchannel = "{line}"\ncable = "burial-2x14awg"\nstart = "R"\n[lines.{line}.runs]\n'
        before = "R"
        for i in range(k, min(k + 10, loudspeakers)):
            tag = f"L{i}"
            loud += f'[loudspeakers.{tag}]\nmodel = "{model}"\nposition = [{10 + 7 * (i % 10)}, {10 + 7 * (i // 10)}]\n'
            loud += f'tap = 15\nline = "{line}"\n'
            lines += f'r{i} = {{from = "{before}", to = "{tag}"}}\n'
            before = tag
    return text + loud + lines + amplifiers + channels


class Server:
    def __init__(self, data):
        self.process, told = served(data, before=capped)
        self.address = told["address"].rstrip("/")
        self.job = self.ask("GET", "/api/jobs")[1][0]["id"]

    def ask(self, method, path, body=None, media="application/json"):
        data = body if isinstance(body, (bytes, type(None))) else json.dumps(body).encode()
        request = urllib.request.Request(self.address + path, data, {"content-type": media}, method=method)
        try:
            with urllib.request.urlopen(request, timeout=3 * SECONDS) as answer:
                return answer.status, json.loads(answer.read() or b"null")
        except urllib.error.HTTPError as refused:
            return refused.code, json.loads(refused.read())

    def alive(self):
        """The next one is served, and memory never went beyond the bound."""
        assert self.process.poll() is None, "the server ended"
        assert self.ask("GET", f"/api/jobs/{self.job}")[0] == 200
        assert 0 < (mb := high_water_mb(self.process.pid)) < MOST_MB, f"{mb:.0f} MB"

    def stop(self):
        self.process.terminate()
        self.process.wait(10)
        self.process.stdout.close()


@pytest.fixture
def server(tmp_path):
    running = Server(tmp_path / "jobs")
    yield running
    running.stop()
