"""The simulation behind docs/scale.md: a station of it waits as Erlang's formula for M/M/c says (Erlang 1917; Kleinrock, Queueing
Systems I, 3.5, from memory), more firms never need less, and the page has the table that measured costs and the seed give.
"""

import json
import math
import pathlib
import random
import sys

import pytest

from tool import ROOT

sys.path.insert(0, str(ROOT / "bench"))
import firm  # noqa: E402

# Any machine's; what they are changes no relation that is held here.
COSTS = {"cores": 4, "edits_a_second": 1000.0, "edit_server_s": 0.001, "edit_database_s": 0.001, "edit_bytes": 1000.0,
         "open_server_s": 0.005, "open_database_s": 0.002, "map_server_s": 0.01, "findings_server_s": 0.1, "proposal_worker_s": 30.0}


def waits_by_erlang(rate, service_s, cores):
    """Chance of waiting at all and mean wait, s."""
    offered = rate * service_s
    term = [offered**k / math.factorial(k) for k in range(cores)]
    last = offered**cores / math.factorial(cores) * cores / (cores - offered)
    chance = last / (sum(term) + last)
    return chance, chance * service_s / (cores - offered)


@pytest.mark.parametrize(("rate", "service_s", "cores"), [(0.7, 1.0, 1), (60.0, 0.1, 8), (1.5, 1.0, 2), (100.0, 0.01, 16)])
def test_a_station_waits_as_erlang_says(rate, service_s, cores):
    waits, times = firm.station(rate, service_s, cores, random.Random(7), customers=400_000, warm=4000)
    chance, mean = waits_by_erlang(rate, service_s, cores)
    waited = [w for w in waits if w > 0]
    # With so many customers, correlated as they are, the means are good to some hundredths.
    assert len(waited) / len(waits) == pytest.approx(chance, abs=0.02)
    assert sum(waits) / len(waits) == pytest.approx(mean, rel=0.1, abs=1e-4 * service_s)
    assert sum(times) / len(times) == pytest.approx(mean + service_s, rel=0.05)
    # Who waits, waits an exponential time: the share that waits longer than t.
    t = 2 * service_s / cores
    longer = sum(w > t for w in waits) / len(waits)
    assert longer == pytest.approx(chance * math.exp(-(cores / service_s - rate) * t), abs=0.02)


def test_more_firms_never_need_less():
    needs = [firm.needs(n, COSTS, 1) for n in (1, 10, 100, 1000, 10_000)]
    for kind in ("servers", "databases", "workers", "terabytes_a_year"):
        each = [n[kind] for n in needs]
        assert each == sorted(each) and each[-1] > each[0], (kind, each)
    # Never fewer machines than the work would keep busy all the time.
    for n in needs:
        rate, service = firm.mixed(firm.load(n["firms"], COSTS), 1)
        assert n["servers"] * firm.SERVER_CORES > rate * service


def test_the_first_bottleneck_is_what_carries_least():
    carried = firm.most_firms(COSTS, 1)
    first = min(carried, key=carried.get)
    assert firm.needs(carried[first], COSTS, 1)[first] == 1
    assert firm.needs(2 * carried[first] + 2, COSTS, 1)[first] > 1
    dear = {**COSTS, "proposal_worker_s": 3000.0}
    cheap = firm.most_firms(dear, 1)
    assert min(cheap, key=cheap.get) == "workers"
    assert firm.table(COSTS, 1) == firm.table(COSTS, 1) != firm.table(dear, 1)


def test_the_page_has_what_measured_costs_give():
    costs = json.loads(firm.COSTS.read_text())
    told = firm.PAGE.read_text().partition(firm.BEGIN)[2].partition(firm.END)[0]
    assert told == firm.table(costs, 1), f"run python3 {pathlib.Path(firm.__file__).relative_to(ROOT)} --write"
