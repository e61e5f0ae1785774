"""A working day on the built server: 20 people who edit one job and 20 who look at it, each with the plan open and a result now
and then, for as long as is asked. What is held: everybody is answered, every acknowledged edit is there afterwards, resident
memory stays flat, and of the files on the disk only the log of edits grows.

    LOAMLINE_BIN=target/release/loamline python checks/calm.py --minutes 60 --seed 1

Memory is flat where its median over the last fifth of the time is at most `--most` times that over the second fifth (1.05 unless
said otherwise); the first fifth is for whatever is made once. What the log may take for an edit is the project's own bound.
"""

import os
import random
import statistics
import tempfile
import time

from soak import Soak, asked_for, counted, ended, waited
from soak_kinds import live, map_of

EDITORS, VIEWERS = 20, 20
# Between one edit of a person and the next, and one result of a viewer and the next, at most; the mean is half of it.
EDIT_S, VIEW_S = 12.0, 20.0
CALM = "at work"
VIEWED = ["", "/history?limit=50", "/findings", "/levels", "/lines", "/neighbours", "/processing"]
# The log and what SQLite keeps beside it: an edit with its inverse, the pages it touches, and the write-ahead log, which is
# written into the file whenever it has a thousand pages of 4 KB.
PER_EDIT_BYTES, WRITE_AHEAD_BYTES = 4_000, 8_000_000
LOG = ("jobs.sqlite", "jobs.sqlite-wal", "jobs.sqlite-shm")
# Handles that may be open afterwards beside those of before: connections that are just closing.
HANDLES = 8


class Calm(Soak):
    def everybody(self):
        return [(self.editor, k) for k in range(EDITORS)] + [(self.viewer, k) for k in range(VIEWERS)]

    def editor(self, k):
        r, n = random.Random(f"{self.seed} editor {k}"), 0
        while not self.over.wait(r.uniform(0, EDIT_S)):
            n += 1
            self.turn(k, n, CALM)

    def viewer(self, k):
        """Looks at the plan, hears of everybody's edits and opens a page now and then."""
        r = random.Random(f"{self.seed} viewer {k}")
        with live(self, self.crowded) as channel:
            channel.send(map_of(1, 2))
            asks_at = time.monotonic() + r.uniform(0, VIEW_S)
            while not self.over.is_set():
                try:
                    message = channel.recv(timeout=1)
                    self.count("viewer: heard", "pictures" if isinstance(message, bytes) else "messages")
                except TimeoutError:
                    pass
                if time.monotonic() > asks_at:
                    self.ask("viewer: page", "GET", f"/api/jobs/{self.crowded}{r.choice(VIEWED)}")
                    asks_at = time.monotonic() + r.uniform(0, VIEW_S)

    def files(self):
        """Sizes of the files in the folder of the jobs, by name."""
        return {entry.name: entry.stat().st_size for entry in os.scandir(self.data) if entry.is_file()}

    def handles(self):
        return len(os.listdir(f"/proc/{self.process.pid}/fd"))

    def before(self):
        for path in VIEWED:
            self.ask("warm-up", "GET", f"/api/jobs/{self.crowded}{path}")
        for k in range(EDITORS):
            self.turn(k, 0, CALM)
        self.first_files, self.first_handles = self.files(), self.handles()
        self.first_edits = sum(map(len, self.kept.values()))

    def after(self):
        # Closed connections are let go within seconds.
        time.sleep(5)
        if self.process.poll() is None:
            self.last_files, self.last_handles = self.files(), self.handles()
            self.look_at_files()

    def look_at_files(self):
        first, last = self.first_files, self.last_files
        if others := sorted(name for name in last.keys() - first.keys() if name not in LOG):
            self.wrong(f"files that were not there before: {others}")
        for name in sorted((first.keys() & last.keys()) - set(LOG)):
            if last[name] > first[name]:
                self.wrong(f"{name} has grown from {first[name]} to {last[name]} bytes")
        log = lambda files: sum(files.get(name, 0) for name in LOG)
        edits = sum(map(len, self.kept.values())) - self.first_edits
        self.grown = log(last) - log(first)
        most = PER_EDIT_BYTES * edits + WRITE_AHEAD_BYTES
        print(f"the log of edits: {log(first)} bytes before, {self.grown} more for {edits} edits ({most} are allowed)")
        if self.grown > most:
            self.wrong(f"the log has grown by {self.grown} bytes for {edits} edits")
        if self.last_handles > self.first_handles + HANDLES:
            self.wrong(f"{self.first_handles} files and connections were open before, {self.last_handles} are now")

    def look_at_answers(self):
        """In a calm crowd nobody waits in vain, and everybody sees what the others do."""
        for kind in ("crowd: edit", "crowd: findings", "viewer: page"):
            if strange := {status: n for status, n in self.counts.get(kind, {}).items() if status != 200}:
                self.wrong(f"{kind}: {strange} beside 200")
            if not self.counts.get(kind):
                self.wrong(f"{kind}: nobody asked")
        heard = self.counts.get("viewer: heard", {})
        for what in ("pictures", "messages"):
            if heard.get(what, 0) < VIEWERS:
                self.wrong(f"{heard.get(what, 0)} {what} for {VIEWERS} viewers")

    def look_at_memory(self, seconds, most):
        def median(fifth):
            within = [mb for at, mb in self.samples if fifth <= 5 * at / seconds < fifth + 1]
            return statistics.median(within) if within else float("nan")

        early, late = median(1), median(4)
        peak = max((mb for _, mb in self.samples), default=0.0)
        print(f"resident memory: {early:.0f} MB in the second fifth, {late:.0f} MB in the last, {peak:.0f} MB at the peak; "
              f"{late / early:.3f} of it, {most:.2f} is allowed")
        # Written so that no figure at all is wrong too.
        if not late <= most * early:
            self.wrong(f"memory has grown from {early:.0f} MB to {late:.0f} MB")


def main():
    options = asked_for(__doc__)
    options.add_argument("--most", type=float, default=1.05, help="how much of memory may be there at the end, of that before")
    asked = options.parse_args()
    with tempfile.TemporaryDirectory(prefix="calm-") as data:
        calm = Calm(os.path.join(data, "jobs"), asked.seed)
        calm.whole(60 * asked.minutes)
    counted(calm)
    waited(calm, EDITORS, CALM)
    calm.look_at_answers()
    calm.look_at_memory(60 * asked.minutes, asked.most)
    ended(calm)


if __name__ == "__main__":
    main()
