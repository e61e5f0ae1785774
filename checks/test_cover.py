"""The covering search and its bound against HiGHS (PyPI highspy) branch and cut on the same matrices."""

import json
import random
import subprocess

import highspy
import numpy as np
import pytest
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
                "place": k, "cost": round(180 + ground + 2.5 * w, 2), "watts": w,
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
        "supplies": [{"cost": 420.0, "watts": 60.0}, {"cost": 700.0, "watts": 160.0}],
        "fixed_watts": 0.0, "at_most": len(places),
    }


def exact(p, seconds):
    """Optimal cost and proven bound of the same programme by HiGHS."""
    c, points = p["candidates"], len(p["fixed_at_points"])
    n, k = len(c), len(p["supplies"])
    a = np.array([x["at_points"] for x in c])
    most = np.zeros(points)
    for place in range(p["places"]):
        most += np.max([a[j] for j in range(n) if c[j]["place"] == place], axis=0)
    h = highspy.Highs()
    h.setOptionValue("output_flag", False)
    h.setOptionValue("time_limit", float(seconds))
    h.setOptionValue("mip_rel_gap", 1e-4)
    x = [h.addBinary(obj=v["cost"]) for v in c]
    z = [h.addBinary() for _ in range(points)]
    y = [h.addIntegral(lb=0, ub=1000, obj=s["cost"]) for s in p["supplies"]]
    for area in p["areas"]:
        inside = range(area["points"]["start"], area["points"]["end"])
        for q in inside:
            total = sum(float(a[j][q]) * x[j] for j in range(n))
            h.addConstr(total + area["floor"] * z[q] >= area["floor"])
            over = max(float(most[q]) - area["ceiling"], 0.0)
            h.addConstr(total - over * z[q] <= area["ceiling"])
        h.addConstr(sum(z[q] for q in inside) <= area["may_miss"])
    for i, _ in enumerate(p["caps"]):
        h.addConstr(sum(v["at_caps"][i] * x[j] for j, v in enumerate(c)) <= 1.0)
    h.addConstr(sum(v["watts"] * x[j] for j, v in enumerate(c)) <= sum(s["watts"] * y[i] for i, s in enumerate(p["supplies"])))
    for place in range(p["places"]):
        h.addConstr(sum(x[j] for j in range(n) if c[j]["place"] == place) <= 1)
    h.minimize()
    status = h.getModelStatus()
    if status == highspy.HighsModelStatus.kInfeasible:
        return None, None
    info = h.getInfo()
    return info.objective_function_value, info.mip_dual_bound


def test_costs_are_within_two_per_cent_of_the_optimum_and_the_bound_never_above_it(cover):
    settled = 0
    for seed in range(20):
        problem = garden(seed)
        ours = cover(problem)
        optimum, proven = exact(problem, 15)
        if optimum is None:
            assert not ours["answer"]["meets"], f"site {seed}: HiGHS says that nothing meets it"
            settled += 1
            continue
        assert ours["bound"] <= optimum * (1 + 1e-6), f"site {seed}: bound {ours['bound']:.2f} above {optimum:.2f}"
        if ours["answer"]["meets"]:
            cost = ours["answer"]["cost"]
            assert cost >= proven * (1 - 1e-3), f"site {seed}: {cost:.2f} below what HiGHS proves, {proven:.2f}"
        if proven < optimum * (1 - 1e-3):
            continue  # HiGHS ran out of time: its answer is no optimum
        settled += 1
        assert ours["answer"]["meets"], f"site {seed}: HiGHS meets it at {optimum:.2f}"
        assert cost <= optimum * 1.02, f"site {seed}: {cost:.2f} against an optimum of {optimum:.2f}"
    assert settled >= 12, f"HiGHS settled only {settled} of 20 sites"
