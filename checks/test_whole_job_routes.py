"""Whole jobs routed anew, in copies: what `route` writes costs no more than what was drawn, brings no error, leaves existing
cable what it is, counts a crossing of a buried service once for each place, and pays for ground as the quotation does.
"""

import json
import math

import pytest

import whole_quantities as count
from tool import run
from whole_job_made import JOBS, folder, packed, told, whole, written
from whole_jobs import Whole, metres

every_job = pytest.mark.parametrize("name", [name for name in JOBS if name != "retrofit"])


@pytest.fixture(scope="module")
def routed(tmp_path_factory):
    """A job's folder with the runs that `route` wrote, and its answer."""
    made = {}

    def of(name):
        if name not in made:
            at = written(tmp_path_factory.mktemp(name), JOBS[name])
            made[name] = (at, told("route", at))
        return made[name]

    return of


@every_job
def test_every_loudspeaker_is_joined_and_nothing_existing_is_laid(name, routed):
    at, answered = routed(name)
    job = Whole((at / "job.toml").read_text()).job
    for line, entry in job["lines"].items():
        reached = {entry.get("start", job["amplifiers"][job["channels"][entry["channel"]]["amplifier"]]["rack"])}
        for _ in entry["runs"]:
            reached |= {r["to"] for r in entry["runs"].values() if r["from"] in reached}
        assert {t for t, one in job["loudspeakers"].items() if one["line"] == line} <= reached
    for r in answered["runs"]:
        assert not (r.get("existing") and r["crosses"])


def per_metre(whole_, at, sleeves, aside):
    """Price of laying a metre there: along an edge a crew lays on the side that is easier, within a strip of 5 cm."""
    prices = whole_.catalogue["prices"]
    hour = float(prices["labour_per_hour"])
    ways = {count.laying_at(whole_, [at[0] + k * aside[0], at[1] + k * aside[1]], sleeves) for k in (-1, 0, 1)}
    return min(prices["laying"][way]["material_per_m"] + hour * float(prices["laying"][way]["labour_per_m"].split()[0]) / 60
               for way in ways)


def dear(whole_, way, sleeves):
    """Price of laying along a way, without the cable: the price book's material and labour by the metre, crossings by hand."""
    prices = whole_.catalogue["prices"]
    laid, crossings = 0.0, 0
    for a, b in zip(way, way[1:]):
        length = math.dist(a, b)
        aside = [0.05 * (a[1] - b[1]) / length, 0.05 * (b[0] - a[0]) / length]
        steps = max(1, round(length / (2 * count.STEP)))
        for k in range(steps):
            at = [a[i] + (k + 0.5) / steps * (b[i] - a[i]) for i in (0, 1)]
            laid += per_metre(whole_, at, sleeves, aside) * length / steps
        for service in whole_.job["services"].values():
            [[_, y], _] = service["line"]
            if (a[1] - y) * (b[1] - y) < 0:
                t = (y - a[1]) / (b[1] - a[1])
                crossings += count.laying_at(whole_, [a[0] + t * (b[0] - a[0]), y], sleeves) != "conduit"
    hour = float(prices["labour_per_hour"])
    return laid + crossings * hour * float(prices["tasks"]["service-crossing"]["labour"].split()[0]) / 60


# --- Known to be wrong: each fails until the program is mended, or fails for some of the jobs.

def test_existing_cable_stays_what_it_is(routed):
    """A3 is there already, of 14 AWG, on a line of 2.5 mm2: routed around, it is the same run, and reads the same."""
    at, _ = routed("hotel")
    before, after = whole("hotel").job["lines"]["A"], Whole((at / "job.toml").read_text()).job["lines"]["A"]
    [(tag, old)] = [(tag, r) for tag, r in before["runs"].items() if r.get("existing")]
    [new] = [r for r in after["runs"].values() if r.get("existing")]
    assert (new["from"], new["to"], metres(new["length"])) == (old["from"], old["to"], pytest.approx(metres(old["length"])))
    assert new.get("cable", after["cable"]) == old["cable"], (tag, new)


@every_job
def test_routing_brings_no_error(name, routed):
    """What lay in the ground in cable of its own, made for it, must not end there in cable for conduit."""
    at, _ = routed(name)
    errors = lambda f: {x["sentence"] for x in told("lines", f)["report"]["findings"]  # noqa: E731
                        if x["severity"] == "error" and x["about"]["table"] == "lines"}
    assert errors(at) <= errors(folder(name))


@every_job
def test_routing_makes_no_job_dearer(name, routed, tmp_path):
    """Net of the quotation, after against before."""
    at, _ = routed(name)
    assert run("pack", at, "--out", tmp_path, "--only", "data").returncode in (0, 1)
    net = [float(json.loads((out / "pack.json").read_text())["quotation"]["net"]) for out in (packed(name), tmp_path)]
    assert net[1] <= net[0] + 0.01


@every_job
def test_a_crossing_is_counted_once_for_each_place(name, routed):
    """One opening is dug for what crosses a service in one place; a run from one side of it to the other crosses an odd number of
    times."""
    _, answered = routed(name)
    for r in answered["runs"]:
        places = list(zip(r["crosses"], ([p["x"], p["y"]] if isinstance(p, dict) else p for p in r["crossed_at"])))
        for k, (service, at) in enumerate(places):
            assert not [other for other, there in places[:k] if other == service and math.dist(at, there) < 0.15], r["id"]


def test_ground_is_paid_for_unless_a_run_before_has_opened_it(routed):
    """From R1 to L4 there is a way through the duct under the bank, which has room for two cables of 10.7 mm in 40 mm (14 %
    of 31 %; NFPA 70 chapter 9, table 1). What lies staked, and what lies in a duct, has opened no ground for the next."""
    at, answered = routed("terraces")
    rebuilt = Whole((at / "job.toml").read_text())
    [r] = [r for r in answered["runs"] if r["to"] == "L4"]
    way = [[p["x"], p["y"]] if isinstance(p, dict) else p for p in r["way"]]
    assert r["from"] == "R1"
    through = [rebuilt.at("R1"), [12.5, 12.0], [12.5, 8.5], rebuilt.at("L4")]
    assert dear(rebuilt, way, r["sleeves"]) <= dear(rebuilt, through, ["D1"]) + 0.5, r
