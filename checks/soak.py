"""Hostile traffic on the built server for as long as is asked, with 64 people at work on one job now and then: what it does
with it, whether every acknowledged edit is there afterwards, and how much memory it has kept.

    LOAMLINE_BIN=target/release/loamline python checks/soak.py --minutes 60 --seed 1

Time goes in rounds: first the 64 alone, then both, then the hostile alone, then a pause. Ends with 1 where an answer was a 5xx
other than 503, an acknowledged edit is lost, the server ended, or memory afterwards is more than a tenth above that of before.
Before is after each kind of request ran once and the server was left alone, as afterwards. The kinds are in `soak_kinds.py`;
the times that are wanted are the project's own.
"""

import argparse
import http.client
import itertools
import json
import os
import random
import sys
import tempfile
import threading
import time
import urllib.parse

import websockets

from hostile import capped, high_water_mb
from soak_kinds import HELD, KINDS, RESULTS, folders
from tool import served

CLIENTS, HOSTILE = 64, 6
# Between one turn of a person and the next, on average.
PAUSE_S = 2.0
ROUND_S = 120
# Until which share of a round, and who is at it.
ALONE, BOTH, HOSTILE_ALONE, PAUSE = "alone", "beside the hostile", "hostile", "pause"
PHASES = [(0.25, ALONE), (0.5, BOTH), (0.9, HOSTILE_ALONE), (1.0, PAUSE)]
# With nobody there: proposals are given up after 15 s, connections after 30 s, browsers after 80 s.
ALONE_S = 60
PATIENCE_S = 150
MOST_KEPT = 1.10
WANTED_S = {"edits": 0.150, "findings": 1.0}
NO_ANSWER = (OSError, http.client.HTTPException, websockets.WebSocketException)


class Soak:
    def __init__(self, data, seed):
        self.data, self.seed, self.numbers = data, seed, itertools.count()
        self.lock, self.over = threading.Lock(), threading.Event()
        self.counts, self.wrongs, self.waits, self.held = {}, [], {}, []
        # What was acknowledged, by job: revision and note; the newest revision known.
        self.kept, self.newest = {}, {}
        self.round_s, self.begun = ROUND_S, None
        # Resident memory by the second since it began.
        self.samples = []
        self.start()
        self.crowded, self.job = (self.made(name) for name in ("Crowded", "Attacked"))
        drawn = self.ask("warm-up", "GET", f"/api/jobs/{self.job}")[1]["document"]["loudspeakers"]
        numbers = lambda place: isinstance(place, list) and all(isinstance(x, (int, float)) for x in place)
        self.places = [(tag, l["position"][:2]) for tag, l in drawn.items() if numbers(l["position"])]

    # The server.

    def start(self):
        self.process, told = served(self.data, "--share", before=capped)
        self.here = urllib.parse.urlsplit(told["address"]).port
        self.network = urllib.parse.urlsplit(told["shared"]["addresses"][0]).port

    def stop(self):
        self.process.terminate()
        try:
            self.process.wait(30)
        except Exception:
            self.process.kill()
            self.process.wait(10)
        self.process.stdout.close()

    def rss_mb(self):
        try:
            with open(f"/proc/{self.process.pid}/status") as file:
                return next((int(line.split()[1]) / 1024 for line in file if line.startswith("VmRSS")), 0.0)
        except OSError:
            return 0.0

    # Asking, and what came of it.

    def count(self, kind, status):
        with self.lock:
            of = self.counts.setdefault(kind, {})
            of[status] = of.get(status, 0) + 1

    def wrong(self, what):
        with self.lock:
            self.wrongs.append(what)

    def ask(self, kind, method, path, body=None, media="application/json", connection=None):
        """One request: its status and its answer as JSON or bytes; both none where none came."""
        data = body if isinstance(body, (bytes, type(None))) else json.dumps(body).encode()
        connection = connection or http.client.HTTPConnection("127.0.0.1", self.here, timeout=PATIENCE_S)
        try:
            connection.request(method, path, data, {} if data is None else {"content-type": media})
            answer = connection.getresponse()
            status, told = answer.status, answer.read()
        except NO_ANSWER as e:
            self.count(kind, type(e).__name__)
            return None, None
        finally:
            connection.close()
        self.count(kind, status)
        if status >= 500 and status != 503:
            self.wrong(f"{status} for {method} {path}: {told[:300]!r}")
        try:
            return status, json.loads(told or b"null")
        except ValueError:
            return status, told

    def made(self, name):
        status, made = self.ask("warm-up", "POST", "/api/jobs", {"name": name, "from": "example"})
        if status != 201:
            sys.exit(f"no job could be made: {status} {made}")
        self.kept[made["id"]], self.newest[made["id"]] = {}, 0
        return made["id"]

    def edit(self, kind, job, patch, note=None):
        """An edit on the newest revision known; one that is acknowledged is remembered."""
        n = next(self.numbers)
        note = note or f"{kind} {n}"
        edit = {"edit_id": f"soak-{self.seed}-{n:08}", "base_revision": self.newest[job], "note": note, "patch": patch}
        status, told = self.ask(kind, "POST", f"/api/jobs/{job}/edits", edit)
        if status == 200:
            with self.lock:
                self.kept[job][told["revision"]] = note
                self.newest[job] = max(self.newest[job], told["revision"])
        return status

    def hold(self, kind, s, seconds):
        """Keeps a socket open for a while and does nothing with it."""
        with self.lock:
            full = len(self.held) >= HELD
            if not full:
                self.held.append((time.monotonic() + seconds, s))
        if full:
            s.close()
        self.count(kind, "enough are held" if full else "held")

    def let_go(self, all_of_them=False):
        with self.lock:
            over = [s for until, s in self.held if all_of_them or until < time.monotonic()]
            self.held = [(until, s) for until, s in self.held if s not in over]
        for s in over:
            s.close()

    # Those at work, and those who are not.

    def phase(self):
        share = (time.monotonic() - self.begun) % self.round_s / self.round_s
        return next(phase for until, phase in PHASES if share < until)

    def turn(self, k, n, phase):
        """One of the 64 edits what is theirs and asks for the findings: a mark, and now and then a loudspeaker."""
        note = f"c{k:02}-{n:06}"
        patch = [{"op": "add", "path": f"/marks/c{k:02}", "value": {"name": note, "position": [k, n % 100]}}]
        if n % 4 == 0 and k < len(self.places):
            tag, (x, y) = self.places[k]
            place = [x + 0.01 * (n % 7), y]
            patch.append({"op": "replace", "path": f"/loudspeakers/{tag}/position", "value": place})
        asked = [("edits", lambda: self.edit("crowd: edit", self.crowded, patch, note)),
                 ("findings", lambda: self.ask("crowd: findings", "GET", f"/api/jobs/{self.crowded}/findings")[0])]
        for what, ask in asked:
            started = time.monotonic()
            if ask() == 200 and self.begun:
                with self.lock:
                    self.waits.setdefault((what, phase), []).append(time.monotonic() - started)

    def at_work(self, k):
        r, n = random.Random(f"{self.seed} crowd {k}"), 0
        while not self.over.wait(r.uniform(0, 2 * PAUSE_S)):
            if (phase := self.phase()) in (ALONE, BOTH):
                n += 1
                self.turn(k, n, phase)

    def hostile(self, k):
        r, names = random.Random(f"{self.seed} hostile {k}"), list(KINDS)
        weights = [KINDS[name][1] for name in names]
        while not self.over.wait(r.uniform(0, 0.2)):
            if self.phase() in (BOTH, HOSTILE_ALONE):
                self.once(r.choices(names, weights)[0], r)

    def once(self, kind, r):
        try:
            KINDS[kind][0](self, kind, r)
        except NO_ANSWER as e:
            self.count(kind, type(e).__name__)

    def guarded(self, work, k):
        try:
            work(k)
        except Exception as e:
            self.wrong(f"the soak itself gave up: {type(e).__name__} {e}")
            self.over.set()

    def warm_up(self):
        """Each kind of request once, each result whole."""
        self.folders = folders()
        r = random.Random(self.seed)
        for path in RESULTS:
            self.ask("warm-up", "GET", f"/api/jobs/{self.job}{path}")
        for kind in KINDS:
            self.once(kind, r)
        for body in self.folders:
            status, made = self.ask("warm-up", "POST", "/api/jobs/import", body, "application/zip")
            if status == 201:
                self.ask("warm-up", "DELETE", f"/api/jobs/{made['id']}")
        for k in range(CLIENTS):
            self.turn(k, 0, PAUSE)

    def nobody_there(self):
        """Memory once everybody has gone."""
        self.let_go(all_of_them=True)
        time.sleep(ALONE_S)
        return self.rss_mb()

    def everybody(self):
        """Who is there: what each does, and which of them it is."""
        return [(self.at_work, k) for k in range(CLIENTS)] + [(self.hostile, k) for k in range(HOSTILE)]

    def run(self, seconds):
        self.round_s = min(ROUND_S, seconds)
        self.begun = time.monotonic()
        threads = [threading.Thread(target=self.guarded, args=of, daemon=True) for of in self.everybody()]
        for thread in threads:
            thread.start()
        while time.monotonic() - self.begun < seconds and not self.over.is_set():
            self.let_go()
            self.samples.append((time.monotonic() - self.begun, self.rss_mb()))
            if self.process.poll() is not None:
                break
            time.sleep(0.5)
        self.over.set()
        end = time.monotonic() + PATIENCE_S + 30
        for thread in threads:
            thread.join(max(0.0, end - time.monotonic()))
        if left := sum(thread.is_alive() for thread in threads):
            self.wrong(f"{left} of {len(threads)} still wait for an answer")

    # All of it.

    def before(self):
        """What is measured ahead of everything."""
        self.warm_up()
        self.before_mb = self.nobody_there()

    def after(self):
        """What is measured once everybody has gone."""
        self.after_mb = self.nobody_there()
        self.high_mb = high_water_mb(self.process.pid)

    def whole(self, seconds):
        """From the first request to the look at what is left after a new start."""
        def out_of_time():
            print("the soak itself does not end", file=sys.stderr, flush=True)
            self.process.kill()
            os._exit(1)

        watch = threading.Timer(seconds + 2 * ALONE_S + 4 * PATIENCE_S + 600, out_of_time)
        watch.daemon = True
        watch.start()
        try:
            self.before()
            self.run(seconds)
            self.after()
            if self.process.poll() is not None:
                self.wrong(f"the server ended with {self.process.returncode}")
        finally:
            self.stop()
        self.start()
        try:
            self.look_for_edits()
        finally:
            self.stop()

    # What is left of it.

    def history(self, job):
        """Notes by revision, as the server tells them."""
        told, before = {}, None
        while before is None or before > 1:
            path = f"/api/jobs/{job}/history?limit=500" + (f"&before={before}" if before else "")
            status, page = self.ask("history", "GET", path)
            if status != 200 or not page:
                break
            told |= {entry["revision"]: entry["note"] for entry in page}
            before = min(entry["revision"] for entry in page)
        return told

    def look_for_edits(self):
        """Every acknowledged edit after a new start, and in the document what the last of each of the 64 put there."""
        for job, kept in self.kept.items():
            told = self.history(job)
            lost = [(revision, note) for revision, note in sorted(kept.items()) if told.get(revision) != note]
            if lost:
                self.wrong(f"{len(lost)} of {len(kept)} acknowledged edits are lost: {lost[:3]}")
        told = self.history(self.crowded)
        last = {note.split("-")[0]: note for _, note in sorted(told.items()) if note.startswith("c")}
        status, job = self.ask("history", "GET", f"/api/jobs/{self.crowded}")
        marks = job["document"]["marks"] if status == 200 else {}
        differ = [k for k, note in last.items() if marks.get(k, {}).get("name") != note]
        if differ:
            self.wrong(f"the document does not hold what was last put there at {differ[:5]}")


def counted(soak):
    width = max(map(len, soak.counts))
    for kind, of in sorted(soak.counts.items()):
        print(f"{kind:<{width}}  " + ", ".join(f"{n} x {status}" for status, n in sorted(of.items(), key=str)))
    print(f"\n{sum(map(len, soak.kept.values()))} acknowledged edits")


def waited(soak, people, wanted):
    """How long the answers took, by what was asked and in which part; `wanted` is of one part alone."""
    for (what, phase), waits in sorted(soak.waits.items()):
        waits.sort()
        at = lambda share: 1000 * waits[min(len(waits) - 1, int(share * len(waits)))]
        bound = f" (wanted {1000 * WANTED_S[what]:.0f} ms)" if phase == wanted else ""
        print(f"{what}, the {people} {phase}: {len(waits)}, median {at(0.5):.0f} ms, p95 {at(0.95):.0f} ms{bound}, "
              f"most {at(1):.0f} ms")


def asked_for(description):
    """How long and from which seed, as the command says, and whatever else it has."""
    if not os.environ.get("LOAMLINE_BIN"):
        sys.exit("LOAMLINE_BIN is not set; set it to the built program")
    options = argparse.ArgumentParser(description=description.split("\n")[0])
    options.add_argument("--minutes", type=float, default=60)
    options.add_argument("--seed", type=int, default=1)
    return options


def ended(soak):
    """Says what is wrong; ends with 1 where something is."""
    print("\n".join(["", *soak.wrongs[:50], f"{len(soak.wrongs)} things are wrong"]))
    sys.exit(bool(soak.wrongs))


def main():
    asked = asked_for(__doc__).parse_args()
    with tempfile.TemporaryDirectory(prefix="soak-") as data:
        soak = Soak(os.path.join(data, "jobs"), asked.seed)
        soak.whole(60 * asked.minutes)
    counted(soak)
    waited(soak, CLIENTS, ALONE)
    relation = soak.after_mb / soak.before_mb if soak.before_mb else float("inf")
    peak_mb = max([soak.before_mb, *(mb for _, mb in soak.samples)])
    print(f"resident memory: before {soak.before_mb:.0f} MB, at the peak {peak_mb:.0f} MB (high-water mark "
          f"{soak.high_mb:.0f} MB), {ALONE_S} s after the end {soak.after_mb:.0f} MB; after is {relation:.2f} of before")
    if relation > MOST_KEPT:
        soak.wrong(f"memory afterwards is {relation:.2f} of before; {MOST_KEPT:.2f} is allowed")
    ended(soak)


if __name__ == "__main__":
    main()
