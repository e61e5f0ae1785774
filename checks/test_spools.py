"""Cut lists against an exact solver (ortools CP-SAT): fewest spools; for short lists also the longest piece left; from
several spool lengths the least cable ordered."""

import json
import os
import random
import subprocess

import pytest
from ortools.sat.python import cp_model

BINARY = os.environ["LOAMLINE_BIN"]

UNSETTLED = "unsettled"
"""The reference ran out of time before it found a cut list or proved that there is none."""


def cut(lengths, spool, spare=0.0):
    done = subprocess.run(
        [
            BINARY, "calc", "spools", "lengths=" + ",".join(f"{x} m" for x in lengths),
            f"spool={spool} m", f"spare={spare} m", "--json",
        ],
        capture_output=True, text=True, check=True,
    )
    return json.loads(done.stdout)["results"]


def exact(lengths_mm, spool_mm, spools, seconds=20):
    """Largest left-over on one spool with this many spools, millimetres; None when they do not fit."""
    model = cp_model.CpModel()
    put = [[model.new_bool_var("") for _ in range(spools)] for _ in lengths_mm]
    for row in put:
        model.add_exactly_one(row)
    loads = [sum(x * row[b] for x, row in zip(lengths_mm, put)) for b in range(spools)]
    for load in loads:
        model.add(load <= spool_mm)
    for a, b in zip(loads, loads[1:]):
        model.add(a >= b)
    model.minimize(loads[-1])
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = 1
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.INFEASIBLE):
        return UNSETTLED if status == cp_model.UNKNOWN else spool_mm - round(solver.objective_value)
    return None if status == cp_model.INFEASIBLE else spool_mm - round(solver.objective_value)


def check_is_a_cut_list(got, lengths, spool, spare=0.0):
    assert sorted(x for c in got["cuts"] for x in c) == pytest.approx(sorted(x + spare for x in lengths))
    assert len(got["cuts"]) == got["spools"]
    assert all(sum(c) <= spool + 1e-6 for c in got["cuts"])
    assert got["leftover_m"] == pytest.approx(got["spools"] * spool - sum(lengths) - spare * len(lengths), abs=1e-6)


@pytest.mark.parametrize("case", range(8))
def test_short_lists_are_exact_on_both_counts(case):
    dice = random.Random(case)
    lengths = [dice.randint(5, 70) for _ in range(dice.randint(5, 11))]
    got = cut(lengths, 100)
    check_is_a_cut_list(got, lengths, 100)
    best = exact([1000 * x for x in lengths], 100_000, got["spools"])
    longest = max(100 - sum(c) for c in got["cuts"])
    assert longest == pytest.approx(best / 1000)
    assert got["spools"] == 1 or exact([1000 * x for x in lengths], 100_000, got["spools"] - 1) is None


def test_long_lists_use_the_fewest_spools():
    settled = 0
    for case in range(6):
        dice = random.Random(100 + case)
        lengths = [dice.randint(50, 600) / 10 for _ in range(40)]
        got = cut(lengths, 100, 0.5)
        check_is_a_cut_list(got, lengths, 100, 0.5)
        lengths_mm = [round(1000 * (x + 0.5)) for x in lengths]
        # One spool fewer must be impossible: by the sum, or by the exact solver.
        fewer = got["spools"] - 1
        answer = None if sum(lengths_mm) > fewer * 100_000 else exact(lengths_mm, 100_000, fewer)
        assert answer in (None, UNSETTLED), f"case {case}: {fewer} spools are enough"
        settled += answer is None
    # Forty cuts that fill the spools to a per cent can be beyond the reference; most lists are not.
    assert settled >= 4, f"the reference settled only {settled} of 6 lists"


def least_ordered(lengths_mm, spools_mm, seconds=20):
    """Least millimetres on spools that hold all cuts, each spool of one of the lengths."""
    model = cp_model.CpModel()
    most = len(lengths_mm)
    capacity = [model.new_int_var_from_domain(cp_model.Domain.from_values([0, *spools_mm]), "") for _ in range(most)]
    put = [[model.new_bool_var("") for _ in range(most)] for _ in lengths_mm]
    for row in put:
        model.add_exactly_one(row)
    for b in range(most):
        model.add(sum(x * row[b] for x, row in zip(lengths_mm, put)) <= capacity[b])
    for a, b in zip(capacity, capacity[1:]):
        model.add(a >= b)
    model.minimize(sum(capacity))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = 1
    return round(solver.objective_value) if solver.solve(model) == cp_model.OPTIMAL else UNSETTLED


@pytest.mark.parametrize("case", range(6))
def test_several_spool_lengths_order_the_least(case):
    dice = random.Random(500 + case)
    lengths = [dice.randint(5, 90) for _ in range(dice.randint(5, 10))]
    done = subprocess.run(
        [BINARY, "calc", "spools", f"lengths={','.join(map(str, lengths))}", "spool=100,152,305", "--json"],
        capture_output=True, text=True, check=True,
    )
    got = json.loads(done.stdout)["results"]
    assert sorted(x for c in got["cuts"] for x in c) == pytest.approx(sorted(lengths))
    assert all(sum(c) <= m for c, m in zip(got["cuts"], got["spools_m"], strict=True))
    assert 1000 * sum(got["spools_m"]) == least_ordered([1000 * x for x in lengths], [100_000, 152_000, 305_000])
