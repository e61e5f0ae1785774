"""Quantities, prices and taped distances of the pack, worked out again from the job's TOML: plane geometry, counting and Python's decimal.

Nothing of the tool takes part but what it printed. Rules of counting are common practice, no source: a joint wherever cable
ends meet away from a rack, a connector for each conductor, a strain relief for each cable end, a service loop at both ends of a
cable, 75 mm of room round a cabinet and 100 mm of gravel under it. Areas of wire gauges: ASTM B258 (from memory),
0.127 mm times 92 to the power of (36 - n) / 39 across.
"""

import atexit
import math
import re
from collections import Counter
from decimal import ROUND_HALF_UP, Decimal

import papers
import pytest

atexit.register(papers.remove)
ROOM, GRAVEL = 0.075, 0.1
CENT = Decimal("0.01")


@pytest.fixture(scope="module", params=papers.EXAMPLES)
def made(request):
    """A job as written, its bill by code, and the folder of its pack."""
    out = papers.packed(request.param)
    rows = papers.table(out / "bill-of-quantities.csv")
    return papers.job(request.param), {row["Code"]: row for row in rows if row["Code"]}, out


def quantity(bill, code):
    return float(bill[code]["Quantity"]) if code in bill else 0.0


def inside(outline, x, y):
    """Whether a point lies in a polygon or on its edge: ray casting."""
    odd = False
    for (ax, ay), (bx, by) in zip(outline, outline[1:] + outline[:1]):
        off = abs((bx - ax) * (y - ay) - (by - ay) * (x - ax))
        if off < 1e-9 and min(ax, bx) - 1e-9 <= x <= max(ax, bx) + 1e-9 and min(ay, by) - 1e-9 <= y <= max(ay, by) + 1e-9:
            return True
        if (ay > y) != (by > y) and x < (bx - ax) * (y - ay) / (by - ay) + ax:
            odd = not odd
    return odd


def elevation(read, at):
    """Height of the ground: of the surface listed last that holds the place."""
    heights = [
        papers.number(surface.get("elevation", 0.0))
        for surface in read.get("surfaces", {}).values()
        if inside(surface["outline"], *at)
    ]
    return heights[-1] if heights else 0.0


def model_of(read, tag):
    return read["catalogue"]["loudspeakers"][read["loudspeakers"][tag]["model"]]


def mount_of(read, tag):
    return read["loudspeakers"][tag].get("mount", model_of(read, tag)["mount"])


def rise(read, tag):
    """Cable from the ground up to where it is connected, metres."""
    if tag in read["racks"]:
        return papers.number(read["racks"][tag].get("height", papers.default("job", "Rack", "height")))
    if tag in read["loudspeakers"]:
        stated = read["loudspeakers"][tag].get("height", model_of(read, tag).get("centre_height", 0.0))
        return papers.number(stated)
    return 0.0


def path_length(corners):
    return sum(math.dist(a, b) for a, b in zip(corners, corners[1:]))


def cut_lengths(read):
    """Length to cut of every run by id: way, rises, climbs, two loops, waste."""
    loop = papers.number(read["catalogue"]["prices"]["service_loop"])
    waste = papers.number(read["catalogue"]["prices"]["waste"])
    lengths = {}
    for _, run_id, run, corners in papers.ways(read):
        heights = [elevation(read, corner) for corner in corners]
        climb = sum(abs(b - a) for a, b in zip(heights, heights[1:]))
        bare = path_length(corners) + climb + rise(read, run["from"]) + rise(read, run["to"]) + 2 * loop
        lengths[run_id] = bare * (1 + waste)
    return lengths


def test_every_cable_is_cut_at_the_length_of_its_way(made):
    read, bill, out = made
    expected = cut_lengths(read)
    scheduled = {row["Run"]: float(row["Cut, m"]) for row in papers.table(out / "cable-schedule.csv")}
    assert scheduled.keys() == expected.keys()
    for run_id, length in expected.items():
        # To the tenth of a metre above, as it is cut: a cable is never cut short of what it has to reach.
        assert -1e-6 <= scheduled[run_id] - length < 0.1, (run_id, scheduled[run_id], length)
    metres = Counter()
    for line, run_id, run, _ in papers.ways(read):
        # Every cable is cut to the tenth of a metre above, and bought as it is cut.
        metres[run.get("cable", read["lines"][line]["cable"])] += math.ceil(expected[run_id] * 10 - 1e-6) / 10
    assert {code.removeprefix("cable/") for code in bill if code.startswith("cable/")} == set(metres)
    for cable, length in metres.items():
        assert abs(quantity(bill, f"cable/{cable}") - length) <= 0.051, cable
    # What is cut is what is on the cut list, each cable once.
    cuts = papers.table(out / "cut-list.csv")
    assert Counter(row["Tag"] for row in cuts) == Counter(expected.keys())


def test_equipment_is_counted(made):
    read, bill, _ = made
    for kind, tags in [("loudspeaker", read["loudspeakers"]), ("amplifier", read["amplifiers"])]:
        counted = Counter(entry["model"] for entry in tags.values())
        billed = {code.split("/")[1]: int(row["Quantity"]) for code, row in bill.items() if code.startswith(kind)}
        assert billed == dict(counted)


def gauge_mm2(conductor):
    size, unit = conductor.split(" ")
    if unit == "mm2":
        return float(size)
    across = 0.127 * 92 ** ((36 - int(size)) / 39)
    return math.pi / 4 * across * across


def test_joints_take_a_connector_for_each_conductor_and_a_tie_for_each_end(made):
    read, bill, _ = made
    ends, cable_at = Counter(), {}
    for line, _, run, _ in papers.ways(read):
        cable = read["catalogue"]["cables"][run.get("cable", read["lines"][line]["cable"])]
        assert cable["conductors"] == 2, "the examples' cables have one pair"
        for tag in (run["from"], run["to"]):
            if tag not in read["racks"]:
                ends[tag] += 1
                cable_at[tag] = cable
    assert quantity(bill, "task/joint") == len(ends)
    assert quantity(bill, "task/strain-tie") == sum(ends.values())
    wanted = Counter()
    for tag, count in ends.items():
        wires, size = count + (tag in read["loudspeakers"]), gauge_mm2(cable_at[tag]["conductor"])
        fits = [
            (entry["price"], name)
            for name, entry in read["catalogue"]["connectors"].items()
            if gauge_mm2(entry["smallest"]) <= size <= gauge_mm2(entry["largest"]) + 1e-9
            and entry["conductors"] >= wires
            and entry["gel_filled"]
        ]
        wanted[min(fits)[1]] += 2
    billed = {code.split("/")[1]: int(row["Quantity"]) for code, row in bill.items() if code.startswith("connector/")}
    assert billed == dict(wanted)


def test_stakes_holes_and_gravel(made):
    read, bill, out = made
    mounts = {tag: mount_of(read, tag) for tag in read["loudspeakers"]}
    assert quantity(bill, "task/stake") == sum(mount == "stake" for mount in mounts.values())
    soil = gravel = 0.0
    for tag, mount in mounts.items():
        hole = model_of(read, tag).get("hole")
        if mount not in ("in ground", "base") or not hole:
            continue
        floor = (papers.number(hole["length"]) + 2 * ROOM) * (papers.number(hole["width"]) + 2 * ROOM)
        soil += floor * (papers.number(hole["depth"]) + GRAVEL)
        gravel += floor * GRAVEL
    assert abs(quantity(bill, "task/hole") - soil) <= 0.00051
    assert abs(quantity(bill, "task/gravel") - gravel) <= 0.00051


def beside(line, x, y):
    """Distance of a point to a polyline."""
    best = math.inf
    for (ax, ay), (bx, by) in zip(line, line[1:]):
        length2 = (bx - ax) ** 2 + (by - ay) ** 2
        t = min(1.0, max(0.0, ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / length2))
        best = min(best, math.hypot(x - ax - t * (bx - ax), y - ay - t * (by - ay)))
    return best


def inside_duct(line, x, y):
    """Whether cable at a place is inside a sleeve: beside it, not before its mouth and not past its end."""
    near = beside(line, x, y)
    ends = [(line[0], line[1]), (line[-1], line[-2])]
    past = [e for e, n in ends if (x - e[0]) * (e[0] - n[0]) + (y - e[1]) * (e[1] - n[1]) > 0 and math.dist(e, (x, y)) <= near + 1e-9]
    return near <= 0.35 and not past


def test_metres_laid_and_drawn_through_sleeves(made):
    read, bill, _ = made
    laid = sum(float(row["Quantity"]) for code, row in bill.items() if code.startswith("laying/"))
    shared = any("counted once" in row["For"] for code, row in bill.items() if code.startswith("laying/"))
    ways = [(run, corners) for _, _, run, corners in papers.ways(read)]
    drawn = sum(path_length(corners) for _, corners in ways)
    # Every metre of way is laid once; ground that holds several cables is opened once for all of them.
    assert laid <= drawn + 0.3 and (shared or laid >= drawn - 0.3), (laid, drawn)
    through = 0.0
    for run, corners in ways:
        lines = [read["sleeves"][sleeve]["line"] for sleeve in run.get("sleeves", [])]
        for (ax, ay), (bx, by) in zip(corners, corners[1:]):
            steps = max(1, round(math.dist((ax, ay), (bx, by)) / 0.01))
            for k in range(steps):
                t = (k + 0.5) / steps
                at = (ax + t * (bx - ax), ay + t * (by - ay))
                if any(inside_duct(line, *at) for line in lines):
                    through += math.dist((ax, ay), (bx, by)) / steps
    # Billed to 0.1 m, walked here in steps of a centimetre.
    assert abs(quantity(bill, "laying/conduit") - through) <= 0.05 + 0.01 * len(ways), through


def cents(amount):
    return amount.quantize(CENT, ROUND_HALF_UP)


def test_prices_and_totals_by_decimal_arithmetic(made):
    read, bill, out = made
    prices, catalogue = read["catalogue"]["prices"], read["catalogue"]
    margin = 1 + Decimal(str(papers.number(prices["material_margin"])))
    hour = Decimal(str(prices["labour_per_hour"]))

    def material(code):
        kind, name = code.split("/")
        if kind == "laying":
            return prices["laying"][name]["material_per_m"]
        if kind == "task":
            return prices["tasks"][name]["material"]
        entry = catalogue[kind + "s"][name]
        return entry["price_per_m"] if kind == "cable" else entry["price"]

    net = Decimal(0)
    for code, row in bill.items():
        price = cents(Decimal(str(material(code))) * margin)
        amount = cents(Decimal(row["Quantity"]) * price) + cents(Decimal(row["Labour, h"]) * hour)
        assert Decimal(row["Price of one"]) == price, code
        assert Decimal(row["Amount"]) == amount, code
        net += amount
    sums = {r["Description"]: Decimal(r["Amount"]) for r in papers.table(out / "bill-of-quantities.csv") if not r["Code"]}
    net += sums["Set aside for things not listed"]
    tax = cents(net * Decimal(str(papers.number(prices["tax"]))))
    assert (sums["Net"], sums["Tax"], sums["Total"]) == (net, tax, net + tax)
    printed = [re.sub(r"\D", "", line) for line in papers.text(out / "quotation.pdf").splitlines()]
    for amount in [net, tax, net + tax]:
        assert any(line.endswith(re.sub(r"\D", "", f"{amount:.2f}")) for line in printed), amount


def test_labour_is_the_quantity_times_the_time_of_one(made):
    read, bill, _ = made
    prices = read["catalogue"]["prices"]
    for code, row in bill.items():
        kind, name = code.split("/")
        quantity_of, hours = float(row["Quantity"]), float(row["Labour, h"])
        if kind == "laying":
            seconds = papers.number(prices["laying"][name]["labour_per_m"])
            # Labour is worked out from metres before they are rounded to 0.1.
            assert abs(hours - quantity_of * seconds / 3600) <= 0.0051 + 0.05 * seconds / 3600, code
        elif kind == "task":
            seconds = papers.number(prices["tasks"][name]["labour"])
            assert abs(hours - quantity_of * seconds / 3600) <= 0.0051, code
        elif kind in ("loudspeaker", "amplifier"):
            usual = papers.default("catalogue", f"{kind.title()}Model", "labour")
            seconds = papers.number(read["catalogue"][kind + "s"][name].get("labour", usual))
            assert abs(hours - quantity_of * seconds / 3600) <= 0.0051, code


TAPED = re.compile(r"^\s*from (?P<point>\S+)\s+(?P<metres>\d+\.\d{3}) m")
FEET = re.compile(r"^\s*from (?P<point>\S+)\s+(?P<feet>\d+) ft (?P<inches>\d+)(?: (?P<up>\d)/(?P<down>\d))? in")
# Where the tapes lie too flat on each other, how far off the line between their ends the place is.
OFF = re.compile(r"^\s*off the line\s+(?:(?P<metres>\d+\.\d{3}) m|(?P<feet>\d+) ft (?P<inches>\d+)(?: (?P<up>\d)/(?P<down>\d))? in)")
SIDE = re.compile(r"to the (?P<side>left|right) of somebody who walks from (?P<a>\S+) to (?P<b>\S+)")


def fixed_point(read, name):
    if name in read.get("marks", {}):
        return tuple(read["marks"][name]["position"])
    owner, corner = name.rsplit("/", 1)
    entry = read.get("buildings", {}).get(owner)
    points = entry["outline"] if entry else read["walls"][owner]["line"]
    return tuple(points[int(corner) - 1])


def from_feet(match):
    inches = int(match["inches"]) + (int(match["up"]) / int(match["down"]) if match["up"] else 0.0)
    return int(match["feet"]) * 0.3048 + inches * 0.0254


def circles(a, b, ra, rb, left, off):
    """Where two circles cross, on the left or right of the way from a to b, or so far off it as is told."""
    base = math.dist(a, b)
    along = (ra * ra - rb * rb + base * base) / (2 * base)
    across = (math.sqrt(max(0.0, ra * ra - along * along)) if off is None else off) * (1 if left else -1)
    ux, uy = (b[0] - a[0]) / base, (b[1] - a[1]) / base
    return a[0] + ux * along - uy * across, a[1] + uy * along + ux * across


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("name", papers.EXAMPLES)
def test_taped_distances_printed_give_every_loudspeaker_back_within_a_centimetre(name, units):
    read = papers.job(name)
    flags = () if units == "metric" else ("--only", "crew", "--units", "us")
    tags, taped, found = set(read["loudspeakers"]), {}, {}
    tag = off = None
    # The sketch of every loudspeaker stands right of 350 points.
    for line in papers.text(papers.packed(name, *flags) / "crew-pack.pdf", 350).splitlines():
        first = line.split()[:1]
        if first and first[0] in tags:
            tag, taped, off = first[0], {}, None
        elif match := TAPED.match(line):
            taped[match["point"]] = float(match["metres"])
        elif match := FEET.match(line):
            taped[match["point"]] = from_feet(match)
        elif match := OFF.match(line):
            off = float(match["metres"]) if match["metres"] else from_feet(match)
        elif (match := SIDE.search(line)) and tag and len(taped) == 2:
            a, b = fixed_point(read, match["a"]), fixed_point(read, match["b"])
            at = circles(a, b, taped[match["a"]], taped[match["b"]], match["side"] == "left", off)
            found[tag] = math.dist(at, read["loudspeakers"][tag]["position"])
            tag = None
    assert found.keys() == tags, sorted(tags - found.keys())
    assert max(found.values()) <= 0.01, max(found.items(), key=lambda f: f[1])
