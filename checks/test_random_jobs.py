"""Random jobs, mostly valid, of odd sizes, shapes and values, and a tenth of them broken, through every command of the built
program: each ends with 0, 1 or 2 and a word, within its time and memory; what nobody broke is taken, what the program
refuses once is refused by every command that reads it.

The bounds are those of docs/limits.md; the jobs and the long run of hundreds are in `random_jobs.py`.
"""

import pytest
from random_jobs import HEAVY, Tally, try_job
from random_site import RandomJob, toml

SEEDS = range(9000, 9025)
# CPU seconds for all of them: the check itself has a budget. What is left out for it is told.
BUDGET_S = 180


def test_the_same_seed_makes_the_same_job_and_others_make_others():
    texts = [RandomJob(seed).text() for seed in range(40)]
    assert texts == [RandomJob(seed).text() for seed in range(40)]
    assert len(set(texts)) == 40


def test_texts_are_written_so_that_they_are_read():
    import tomllib

    for text in ("\u0000", 'a "b" \\c', "é\u2028", "\x7f", "line\nbreak"):
        assert tomllib.loads(f"a = {toml({'k': [text, 1, True, 0.5]})}")["a"]["k"] == [text, 1, True, 0.5]


def test_a_panic_a_hang_and_a_hog_are_told(tmp_path, monkeypatch):
    """The harness itself, against programs that do what it looks for."""
    from random_jobs import Run

    def program(script):
        path = tmp_path / "program"
        path.write_text(f"#!/usr/bin/env python3\n{script}\n")
        path.chmod(0o755)
        monkeypatch.setenv("LOAMLINE_BIN", str(path))

    program("import sys; sys.stderr.write(\"thread 'main' panicked at x.rs:1\"); sys.exit(101)")
    assert Run([], 10).failure(10).startswith("panic: thread 'main' panicked at x.rs:1")
    program("while True: pass")
    assert Run([], 0.5).failure(0.5).startswith("stopped after")
    program("b = bytearray(2_000_000_000)")
    assert "ended with 1" not in (Run([], 10).failure(10) or "") and Run([], 10).code != 0
    program("b = bytearray(650 << 20)")
    assert Run([], 10, cap_mb=2000).failure(10).startswith("took 6")
    # However much the one that asks holds itself: what a child is counted for once began with that.
    held = bytearray(900 << 20)
    program("")
    assert Run([], 10).failure(10) is None and held


def test_random_jobs_through_every_command(capsys):
    tally, told = Tally(), []
    for n, seed in enumerate(SEEDS):
        # What takes long goes round: each job has one of them, and while there is time left.
        left = tally.cpu < BUDGET_S * 0.8
        skipped = {name for k, name in enumerate(HEAVY) if k != n % len(HEAVY) or not left}
        told += try_job(seed, tally, skipped=skipped)
    with capsys.disabled():
        print(f"\n{tally.table()}")
    assert not told, "\n".join(told)
    assert tally.jobs == len(SEEDS) and tally.read >= 0.7 * tally.jobs and tally.broken >= 1
    assert tally.cpu < BUDGET_S * 1.2, f"{tally.cpu:.0f} s of CPU"
    missing = [name for name in HEAVY if name not in tally.rows]
    assert not missing, f"no time was left for {missing}"


@pytest.mark.parametrize("seed", [seed for seed in range(9000, 9200) if RandomJob(seed).broken][:3])
def test_what_is_refused_once_is_refused_by_every_command(seed):
    tally = Tally()
    assert not list(try_job(seed, tally, skipped={"calc", "signal"}))
    if tally.rows["check"][1]:
        assert all(row[1] for name, row in tally.rows.items()), tally.table()
