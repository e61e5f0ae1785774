"""The covering search and its bound against HiGHS (PyPI highspy) branch and cut on the same matrices: 16 random sites, and
the problems that proposals for the examples start from: of single loudspeakers, of up to 60 places and 110 candidates, one area at
a time; of whole rows, as they are.
"""

import json
import math
import random
import subprocess

import highspy
import numpy as np
import pytest
import tool
from tool import example


@pytest.fixture(scope="module")
def cover():
    program = example("loamline-design", "cover")

    def run(problem):
        done = subprocess.run([program], input=json.dumps(problem), capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)

    return run


def garden(seed):
    """Places round two lawns, a neighbour beyond one edge; energies by the inverse square law (invented sites)."""
    dice = random.Random(seed)
    places = [(dice.uniform(0, 24), dice.uniform(0, 12)) for _ in range(dice.randint(12, 60))]
    taps = [5.0, 10.0, 20.0]
    points = [(x + 0.5, y + 0.5) for x in range(2, 10, 2) for y in range(2, 10, 2)]
    points += [(x + 0.5, y + 0.5) for x in range(13, 22, 2) for y in range(2, 10, 2)]
    first = sum(1 for p in points if p[0] < 11)
    reach = dice.uniform(8, 14)

    def energy(a, b, w):
        return w / reach / (1.0 + ((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2) / 16.0)

    candidates = []
    for k, at in enumerate(places):
        ground = dice.uniform(60, 160)
        for w in taps:
            candidates.append({
                "place": k, "cost": round(180 + ground + 2.5 * w, 2), "demand": {"watts": w},
                "at_points": [energy(at, p, w) for p in points],
                "at_caps": [energy(at, (12, -14), w) * dice.uniform(0.9, 1.1) / 0.9],
            })
    band = {"floor": 10 ** -0.3, "ceiling": 10 ** 0.3}
    return {
        "places": len(places), "candidates": candidates, "fixed_at_points": [0.0] * len(points),
        "areas": [
            {"points": {"start": 0, "end": first}, **band, "may_miss": first // 20},
            {"points": {"start": first, "end": len(points)}, **band, "may_miss": (len(points) - first) // 20},
        ],
        "caps": [{"name": "neighbour", "used": 0.0}],
        "supplies": [{"cost": 420.0, "feeds": {"watts": 60.0}}, {"cost": 700.0, "feeds": {"watts": 160.0}}],
        "fixed_demand": {"watts": 0.0}, "at_most": len(places),
        # Every second site keeps loudspeakers 1.5 m apart.
        "too_near": [
            (a, b) for b in range(len(places)) for a in range(b) if seed % 2 and math.dist(places[a], places[b]) < 1.5],
    }


def amount(demand):
    """The number of a demand, in watts or in siemens."""
    (number,) = demand.values()
    return number


def exact(p, seconds):
    """Optimal cost and proven bound of the same programme by HiGHS."""
    c, points, k = p["candidates"], len(p["fixed_at_points"]), len(p["supplies"])
    n = len(c)
    a = np.array([x["at_points"] for x in c])
    place = np.array([x["place"] for x in c])
    fixed = np.array(p["fixed_at_points"])
    most = fixed + sum(a[place == q].max(axis=0) for q in sorted(set(place)))
    rows, lows, highs = [], [], []

    def row(columns, values, low, high):
        rows.append((np.asarray(columns), np.asarray(values, float)))
        lows.append(low)
        highs.append(high)

    x, z, y = np.arange(n), n + np.arange(points), n + points + np.arange(k)
    for area in p["areas"]:
        inside = np.arange(area["points"]["start"], area["points"]["end"])
        for q in inside:
            row([*x, z[q]], [*a[:, q], area["floor"]], area["floor"] - fixed[q], np.inf)
            over = max(most[q] - area["ceiling"], 0.0)
            row([*x, z[q]], [*a[:, q], -over], -np.inf, area["ceiling"] - fixed[q])
        row(z[inside], np.ones(len(inside)), -np.inf, area["may_miss"])
    for i, cap in enumerate(p["caps"]):
        row(x, [v["at_caps"][i] for v in c], -np.inf, 1.0 - cap["used"])
    asked = [amount(v["demand"]) for v in c] + [-amount(s["feeds"]) for s in p["supplies"]]
    row([*x, *y], asked, -np.inf, -amount(p["fixed_demand"]))
    for q in sorted(set(place)):
        row(x[place == q], np.ones((place == q).sum()), -np.inf, 1.0)
    for one, other in p.get("too_near", []):
        both = x[(place == one) | (place == other)]
        row(both, np.ones(len(both)), -np.inf, 1.0)
    row(x, np.ones(n), -np.inf, p["at_most"])
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = n + points + k, len(rows)
    lp.col_cost_ = np.array([v["cost"] for v in c] + [0.0] * points + [s["cost"] for s in p["supplies"]])
    lp.col_lower_ = np.zeros(lp.num_col_)
    lp.col_upper_ = np.concatenate([np.ones(n + points), np.full(k, 1000.0)])
    lp.row_lower_, lp.row_upper_ = np.array(lows), np.array(highs)
    lp.integrality_ = [highspy.HighsVarType.kInteger] * lp.num_col_
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = np.concatenate([[0], np.cumsum([len(r[0]) for r in rows])])
    lp.a_matrix_.index_ = np.concatenate([r[0] for r in rows])
    lp.a_matrix_.value_ = np.concatenate([r[1] for r in rows])
    h = highspy.Highs()
    h.setOptionValue("output_flag", False)
    h.setOptionValue("time_limit", float(seconds))
    h.setOptionValue("mip_rel_gap", 2e-3)
    h.passModel(lp)
    h.run()
    if h.getModelStatus() == highspy.HighsModelStatus.kInfeasible:
        return None, None
    info = h.getInfo()
    return info.objective_function_value, info.mip_dual_bound


def of_examples():
    """Covering problems of the examples; the whole of the smallest, one area at a time of the next."""
    program = example("loamline-propose", "covering")
    wanted = [("walled-courtyard", "60", "60")] + [("guesthouse-garden", "60", "60", str(a)) for a in range(4)]
    for job, *sizes in wanted:
        done = subprocess.run([program, tool.ROOT / "examples" / job, *sizes], capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
        yield f"{job} {' '.join(sizes)}", json.loads(done.stdout)


def test_costs_are_within_two_per_cent_of_the_optimum_and_the_bound_never_above_it(cover):
    settled = 0
    problems = [*of_examples(), *((f"site {seed}", garden(seed)) for seed in range(16))]
    for name, problem in problems:
        ours = cover(problem)
        optimum, proven = exact(problem, 60)
        if optimum is None:
            assert not ours["answer"]["meets"], f"{name}: HiGHS says that nothing meets it"
            settled += 1
            continue
        assert ours["bound"] <= optimum * (1 + 1e-6), f"{name}: bound {ours['bound']:.2f} above {optimum:.2f}"
        if ours["answer"]["meets"]:
            cost = ours["answer"]["cost"]
            assert cost >= proven * (1 - 1e-3), f"{name}: {cost:.2f} below what HiGHS proves, {proven:.2f}"
        if proven < optimum * (1 - 3e-3):
            continue  # HiGHS ran out of time: its answer is no optimum
        settled += 1
        assert ours["answer"]["meets"], f"{name}: HiGHS meets it at {optimum:.2f}"
        assert cost <= optimum * 1.02, f"{name}: {cost:.2f} against an optimum of {optimum:.2f}"
        assert ours["bound"] >= 0.75 * optimum, f"{name}: a bound of {ours['bound']:.2f} says little of {optimum:.2f}"
    assert settled >= 15, f"HiGHS settled only {settled} of {len(problems)} problems"


@pytest.mark.parametrize("job", ["walled-courtyard", "guesthouse-garden"])
def test_rows_are_chosen_within_two_per_cent_of_the_best_known_and_proven_within_three_tenths(cover, job):
    """What a proposal chooses among whole rows by money alone, against branch and cut on the same numbers, and the bound that is
    printed with it. A bound within a tenth is wanted; of the guesthouse HiGHS proves 79 % of its best in two minutes, the tool 73 %
    at once."""
    program = example("loamline-propose", "covering")
    done = subprocess.run([program, tool.ROOT / "examples" / job, "rows"], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    rows = json.loads(done.stdout)
    problem, chosen = rows["problem"], rows["chosen"]
    assert problem["places"] == len(problem["areas"]), "one place for each area"
    optimum, proven = exact(problem, 120)
    assert optimum is not None and chosen is not None, "the example can be met"
    print(f"{job}: chosen {chosen:.2f}, HiGHS {optimum:.2f} (proven {proven:.2f})")
    assert chosen >= proven * (1 - 1e-3), f"{chosen:.2f} below what HiGHS proves, {proven:.2f}"
    assert chosen <= optimum * 1.02, f"{chosen:.2f} against {optimum:.2f}"
    bound = cover(problem)["bound"]
    assert 0.7 * chosen <= bound <= optimum * (1 + 1e-6), f"bound {bound:.2f}, chosen {chosen:.2f}, HiGHS {optimum:.2f}"
