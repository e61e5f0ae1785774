"""What 100, 1000 and 10 000 firms need of servers, databases, workers and storage, by a small queueing simulation.

    LOAMLINE_BIN=target/release/loamline python3 checks/firm_load.py --costs > bench/firm_costs.json
    python3 bench/firm.py [--seed 1] [--write]

The first measures on this machine what one edit, one picture of a drag, one set of findings, one opened job and one proposal take;
the second reads that and prints the table of docs/scale.md, or writes it there. Equal costs and seeds give equal tables.

A station is a machine with cores that serve one customer each, first come first served, with Poisson arrivals and exponential
service times (M/M/c in Kendall's notation); `checks/test_scale.py` holds it to Erlang's formula. That is harsher than what happens:
browsers put one question at a time and wait for its answer. Servers are alike and a job stays on one, so that one server
is simulated with its share of the customers; workers take from one queue. What is left out: the network, and that two proposals of one site are alike.
"""

import argparse
import heapq
import json
import math
import pathlib
import random

HERE = pathlib.Path(__file__).parent
COSTS, PAGE = HERE / "firm_costs.json", HERE.parent / "docs" / "scale.md"
BEGIN, END = "<!-- by bench/firm.py -->\n", "<!-- end -->\n"

# A firm at its busiest hour: assumed, not measured. People who work at a job at the moment, of ten; how often each edits, opens a
# job and moves something about on the map; how often the firm has a design proposed.
ACTIVE, EDIT_EVERY_S, OPEN_EVERY_S = 3, 20.0, 600.0
DRAG_SHARE, PICTURES_A_SECOND = 0.03, 30.0
FINDINGS_PER_EDIT = 0.5
PROPOSALS_AN_HOUR = 1.0
# What a firm keeps in a year: jobs, edits of a job, photos of a job and what one takes.
JOBS_A_YEAR, EDITS_A_JOB, PHOTOS_A_JOB, PHOTO_BYTES = 150, 1500, 25, 400_000
# Machines as they are rented: cores of each kind.
SERVER_CORES, DATABASE_CORES, WORKER_CORES = 8, 16, 8
# What is promised: 95 of 100 pictures and edits wait and are served within this; a proposal begins within.
PICTURE_S, EDIT_S, PROPOSAL_BEGINS_S = 0.1, 0.15, 10.0
# Simulated time, and how much of it is left out at the start.
LASTS, WARM = 4000, 400
SIZES = (100, 1000, 10_000)


def station(rate, service_s, cores, drawn, customers=LASTS, warm=WARM):
    """Waits (s) before service and times in all, sorted, of customers who come at a rate to a machine of so many cores."""
    free, now, waits, times = [0.0] * cores, 0.0, [], []
    for n in range(customers):
        now += drawn.expovariate(rate)
        begins = max(now, free[0])
        takes = drawn.expovariate(1 / service_s)
        heapq.heapreplace(free, begins + takes)
        if n >= warm:
            waits.append(begins - now)
            times.append(begins + takes - now)
    return sorted(waits), sorted(times)


def at(share, each):
    return each[int(share * (len(each) - 1))]


def load(firms, costs):
    """What so many firms ask for in a second, by kind: how often, and processor seconds of each on a server and on the database."""
    people = firms * ACTIVE
    edits = people / EDIT_EVERY_S
    return {
        "picture": (people * DRAG_SHARE * PICTURES_A_SECOND, costs["map_server_s"], 0.0),
        "edit": (edits, costs["edit_server_s"], costs["edit_database_s"]),
        "findings": (edits * FINDINGS_PER_EDIT, costs["findings_server_s"], 0.0),
        "opening": (people / OPEN_EVERY_S, costs["open_server_s"], costs["open_database_s"]),
    }


def mixed(kinds, which):
    """All kinds as one stream: rate, mean service time."""
    rate = sum(kind[0] for kind in kinds.values())
    return rate, sum(kind[0] * kind[which] for kind in kinds.values()) / rate


def draws(seed, *of):
    return random.Random(" ".join(map(str, (seed, *of))))


def fewest(rate, service_s, cores, promised):
    """The fewest machines for which `promised` holds, of those that are not busy all the time."""
    least = max(1, math.ceil(rate * service_s / cores))
    for machines in range(least, 4 * least + 50):
        if rate * service_s < machines * cores and promised(machines):
            return machines
    raise AssertionError(f"no number of machines serves {rate} a second")


def apart(rate, service_s, cores, promised_s, seed):
    """Machines that share the customers out: 95 of 100 are served as promised. Where one customer takes so long by itself that none
    of it helps (the 95th percentile of an exponential time is three means), little more than that is promised."""
    promised_s = max(promised_s, 3.2 * service_s)

    def kept(machines):
        return at(0.95, station(rate / machines, service_s, cores, draws(seed, rate, cores, machines))[1]) <= promised_s
    return fewest(rate, service_s, cores, kept)


def together(rate, service_s, begins_s, seed):
    """Machines that take from one queue, one customer each at a time: 95 of 100 begin as promised."""
    def kept(machines):
        return at(0.95, station(rate, service_s, machines, draws(seed, rate, machines))[0]) <= begins_s
    return fewest(rate, service_s, 1, kept)


def needs(firms, costs, seed):
    kinds = load(firms, costs)
    rate, server_s = mixed(kinds, 1)
    edits = kinds["edit"][0]
    database_rate, database_s = mixed({k: v for k, v in kinds.items() if v[2] > 0}, 2)
    proposals = firms * PROPOSALS_AN_HOUR / 3600
    # What a database takes is bounded by its processor and by what it puts on the disk, whichever is less.
    by_disk = math.ceil(edits / (0.5 * costs["edits_a_second"]))
    by_processor = apart(database_rate, database_s, DATABASE_CORES, EDIT_S, seed)
    per_year = firms * JOBS_A_YEAR * (EDITS_A_JOB * costs["edit_bytes"] + PHOTOS_A_JOB * PHOTO_BYTES)
    return {
        "firms": firms, "edits_s": edits, "pictures_s": kinds["picture"][0], "proposals_h": proposals * 3600,
        "servers": apart(rate, server_s, SERVER_CORES, PICTURE_S, seed), "databases": max(by_disk, by_processor),
        # A proposal is worked at by all cores of a worker.
        "workers": together(proposals, costs["proposal_worker_s"] / WORKER_CORES, PROPOSAL_BEGINS_S, seed),
        "terabytes_a_year": per_year / 1e12, "photos": PHOTOS_A_JOB * PHOTO_BYTES * firms * JOBS_A_YEAR / per_year,
    }


def most_firms(costs, seed):
    """How many firms one machine of each kind carries: the least of them is the first bottleneck."""
    def carried(kind):
        low, high = 1, 1
        while needs(high, costs, seed)[kind] <= 1:
            low, high = high, 2 * high
        while high - low > max(1, low // 50):
            middle = (low + high) // 2
            low, high = (middle, high) if needs(middle, costs, seed)[kind] <= 1 else (low, middle)
        return low
    return {kind: carried(kind) for kind in ("servers", "databases", "workers")}


NAMES = {"servers": "servers", "databases": "the database", "workers": "workers"}
MOVED_BY = {
    "servers": "more servers: a job stays on one, so that they share nothing but the database; then pictures that cost less, since most "
               "of what servers do is pictures of drags",
    "databases": "firms shared out among databases, since no job of one knows of another; copies that are read from take the openings and "
                 "not the edits; photos go to object storage",
    "workers": "more workers: proposals know nothing of each other and wait in one queue",
}


def table(costs, seed):
    each = [needs(firms, costs, seed) for firms in SIZES]
    rows = [
        ("edits a second", lambda n: f"{n['edits_s']:.0f}"),
        ("pictures of drags a second", lambda n: f"{n['pictures_s']:.0f}"),
        ("proposals an hour", lambda n: f"{n['proposals_h']:.0f}"),
        (f"servers of {SERVER_CORES} cores", lambda n: f"{n['servers']}"),
        (f"databases of {DATABASE_CORES} cores", lambda n: f"{n['databases']}"),
        (f"workers of {WORKER_CORES} cores", lambda n: f"{n['workers']}"),
        ("kept in a year, TB (of which photos)", lambda n: f"{n['terabytes_a_year']:.1f} ({100 * n['photos']:.0f} %)"),
    ]
    lines = ["| firms | " + " | ".join(f"{firms}" for firms in SIZES) + " |", "|---|" + "---|" * len(SIZES)]
    lines += [f"| {name} | " + " | ".join(tell(n) for n in each) + " |" for name, tell in rows]
    carried = most_firms(costs, seed)
    order = sorted(carried, key=carried.get)
    lines += ["", "One machine of each kind carries: " + ", ".join(f"{NAMES[k]} {carried[k]} firms" for k in order) + ".", ""]
    lines += [f"The first bottleneck is {NAMES[order[0]]}. What moves it: {MOVED_BY[order[0]]}.", ""]
    lines += [f"Next {NAMES[k]}: {MOVED_BY[k]}." for k in order[1:]]
    lines += ["", "| what one takes, measured | processor ms on a server | on the database |", "|---|---|---|"]
    for name, server, database in (("edit", "edit_server_s", "edit_database_s"), ("opened job", "open_server_s", "open_database_s"),
                                   ("picture of a drag", "map_server_s", None), ("findings after an edit", "findings_server_s", None),
                                   ("proposal of a courtyard", "proposal_worker_s", None)):
        lines.append(f"| {name} | {1e3 * costs[server]:.2f} | " + (f"{1e3 * costs[database]:.2f} |" if database else "0 |"))
    lines += ["", f"From eight people at once one database took {costs['edits_a_second']:.0f} edits a second, all of it on {costs['cores']} "
                  f"cores; an edit takes {costs['edit_bytes']:.0f} bytes there."]
    return "\n".join(lines) + "\n"


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--write", action="store_true", help="into docs/scale.md")
    arguments = parser.parse_args()
    made = table(json.loads(COSTS.read_text()), arguments.seed)
    if not arguments.write:
        print(made, end="")
        return
    page = PAGE.read_text()
    before, _, rest = page.partition(BEGIN)
    PAGE.write_text(before + BEGIN + made + END + rest.partition(END)[2])


if __name__ == "__main__":
    main()
