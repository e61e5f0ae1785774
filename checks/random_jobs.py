"""Runs every command of the built tool on random jobs, each under a cap of memory and of time.

    python checks/random_jobs.py --jobs 500 --seed 1

One line for each failure (a panic, an exit other than 0, 1 or 2, more time or memory than allowed), then a table: for each
command its runs, how many of them refused the job, the longest and the largest. A failure is repeated with
`--seed N --jobs 1` and the seed it names; `--keep DIR` writes the job folders there.
"""

import argparse
import os
import pathlib
import random
import sys
import tempfile

import measured
from random_site import RandomJob, catalogue

# What one calculation may take by docs/limits.md, and room for the program itself, its fonts and its threads.
BUDGET_MB, RESERVE_MB = 512, 128
# CPU time a command may take, seconds: what a person waits for at most with two cores, and for proposals what three designs of
# `--time 1s` each take on a large site ("a few times as long") with everything measured afterwards.
BUDGET_S = {"propose": 120}
USUAL_S = 60
# Beyond the budget: a command that needs more than a fifth more has failed.
TOLERANCE = 1.2
# Commands that take seconds; the others take less than one on a usual job.
HEAVY = ("pack", "propose", "route", "route --starts", "tune", "bass")


def calls(seed, job, folder, scratch):
    """Every command with its arguments, by the name it is counted under; odd options now and then."""
    r = random.Random(seed * 7919 + 1)
    line = r.choice(sorted(job["lines"]) or ["none"])
    area = r.choice(sorted(job["areas"]) or ["none"])
    x, y = r.choice([a["outline"][0] for a in job["areas"].values() if isinstance(a, dict) and len(a.get("outline") or [])] or [[0, 0]])
    reading = r.choice(["dc=2.9ohm", "z@1kHz=61ohm", "dc=open", "z@315Hz=0ohm", "z@10kHz=1e9ohm", "z@1kHz=40ohm,-70"])
    wav, out = scratch / "sweep.wav", scratch / "pack"
    data = {
        "check": ["check", folder],
        "predict": ["predict", folder],
        "predict --at": ["predict", folder, f"--at={x},{y}"],
        "lines": ["lines", folder],
        "lines --compare": ["lines", folder, "--compare"],
        "expect": ["expect", folder],
        "sources": ["sources", folder],
        "years": ["years", folder],
        "locate": ["locate", folder, "--line", line, "--reading", reading, *(["--pairs"] if r.random() < 0.3 else [])],
        "calc": ["calc", *r.choice(CALCULATIONS)],
        "signal": ["signal", "sweep", "--length", "0.5", "--out", wav],
        "listen": ["listen", wav, "--length", "0.5", "--job", folder, "--at", area],
        "route": ["route", folder, "--dry"],
        "route --starts": ["route", folder, "--starts", "--dry"],
        "tune": ["tune", folder],
        "bass": ["bass", folder],
        "propose": ["propose", folder, "--time", "1s"],
        "pack": ["pack", folder, "--out", out],
    }
    for name, arguments in data.items():
        if name not in ("signal", "pack", "calc") and r.random() < 0.5:
            arguments.append("--json")
        elif r.random() < 0.3:
            arguments += ["--units", "us"]
    return data


CALCULATIONS = [["sound-speed", "temperature=25C"], ["tap", "volts=70.7", "watts=30"], ["level-sum", "levels=70,71,1e9"],
                ["spools", "--input", os.devnull], ["wire", "gauge=14", "length=1e6 m"], ["tap", "volts=1e300", "watts=1e-300"],
                ["delay", "distance=-1"], ["list"], ["help", "hole"]]


class Run:
    """One command, done: its exit, what it said, CPU seconds and megabytes."""

    def __init__(self, arguments, seconds, cap_mb=None, scratch=None):
        # The system's cap also counts addresses that the allocator keeps and nothing stands at; what was really taken is
        # held against the budget afterwards.
        cap = cap_mb or 2 * (BUDGET_MB * TOLERANCE + RESERVE_MB)
        with tempfile.TemporaryFile(dir=scratch) as out, tempfile.TemporaryFile(dir=scratch) as err:
            # Wall time may be longer where others work on the same machine; CPU time is what is held against the budget.
            taken = measured.run([os.environ["LOAMLINE_BIN"], *arguments], out, err, cpu_s=seconds * TOLERANCE, cap_mb=cap)
            self.code, self.seconds, self.mb, self.stopped = taken.code, taken.cpu_s, taken.mb, taken.stopped
            err.seek(0)
            self.said = err.read(1 << 20).decode(errors="replace")

    def failure(self, seconds):
        """What is wrong, in a few words; nothing where all is well."""
        if self.stopped:
            return f"stopped after {self.seconds:.0f} s of CPU; {seconds} s are allowed"
        if "panicked" in self.said or self.code == 101:
            at = next((line for line in self.said.splitlines() if "panicked" in line), "")
            return f"panic: {at} {self.said[-200:]}"
        if self.code not in (0, 1, 2):
            return f"ended with {self.code} at {self.mb:.0f} MB: {self.said[-200:]}"
        if self.seconds > seconds * TOLERANCE:
            return f"took {self.seconds:.0f} s of CPU; {seconds} s are allowed"
        if self.mb > BUDGET_MB * TOLERANCE:
            return f"took {self.mb:.0f} MB; {BUDGET_MB} MB are allowed"
        return None


class Tally:
    """What came out, command by command."""

    def __init__(self):
        self.failures, self.rows, self.jobs, self.broken, self.read, self.cpu = [], {}, 0, 0, 0, 0.0

    def table(self):
        head = f"{'command':<16}{'runs':>6}{'refused':>9}{'longest s':>11}{'of seed':>9}{'largest MB':>12}{'failures':>10}"
        rows = [f"{name:<16}{row[0]:>6}{row[1]:>9}{row[2]:>11.1f}{row[3]:>9}{row[4]:>12.0f}{row[5]:>10}"
                for name, row in self.rows.items()]
        return "\n".join([f"{self.jobs} jobs, {self.broken} of them broken on purpose; {self.read} were taken by `check`; "
                          f"{self.cpu:.0f} s of CPU", head, *rows, f"{len(self.failures)} failures"])


def try_job(seed, tally, wanted=None, keep=None, skipped=()):
    """One random job through the commands; those named, or all but some. Failures, as they come."""
    made = RandomJob(seed)
    with tempfile.TemporaryDirectory(prefix="random-job-") as scratch:
        scratch = pathlib.Path(scratch)
        folder = pathlib.Path(keep or scratch) / f"job-{seed}"
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "job.toml").write_text(made.text(), encoding="utf-8", errors="surrogatepass")
        tally.jobs += 1
        tally.broken += made.broken
        for name, arguments in calls(seed, made.job, folder, scratch).items():
            if (wanted is not None and name not in wanted) or name in skipped:
                continue
            seconds = BUDGET_S.get(name, USUAL_S)
            done = Run(arguments, seconds, scratch=scratch)
            tally.cpu += done.seconds
            row = tally.rows.setdefault(name, [0, 0, 0.0, seed, 0.0, 0])
            row[0] += 1
            row[1] += done.code == 2
            if done.seconds > row[2]:
                row[2:4] = [done.seconds, seed]
            row[4] = max(row[4], done.mb)
            wrong = done.failure(seconds)
            if name == "check":
                tally.read += done.code in (0, 1)
                if done.code == 2 and not made.broken:
                    yield f"seed {seed}: a job that is not broken is refused: {done.said[:400]}"
            if wrong:
                row[5] += 1
                tally.failures.append(f"seed {seed}: {name}: {wrong}")
                yield tally.failures[-1]


def main():
    options = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    options.add_argument("--jobs", type=int, default=25)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--only", help="commands, comma-separated")
    options.add_argument("--keep", help="folder to keep the jobs in")
    asked = options.parse_args()
    tally = Tally()
    wanted = asked.only.split(",") if asked.only else None
    for seed in range(asked.seed, asked.seed + asked.jobs):
        for failure in try_job(seed, tally, wanted, asked.keep):
            print(failure, flush=True)
    print(tally.table())
    sys.exit(bool(tally.failures))


if __name__ == "__main__":
    catalogue()
    main()
