"""What a whole job takes, counted again from its text and the catalogue: joints, connectors, ties, stakes, holes, metres laid.

Rules of counting are common practice, no source: a joint wherever cable ends meet away from a rack; one gel-filled connector
for each conductor, the cheapest that takes every wire put in it; a conductor that goes no further is capped by itself, like
numbers of one joint together; a tie for each cable end; 75 mm of room round what stands in a hole and 100 mm of gravel under it.
Areas of wire gauges: ASTM B258 (from memory), 0.127 mm times 92 to the power of (36 - n) / 39 across.
"""

import math
from collections import Counter

from whole_jobs import inside, metres

ROOM, GRAVEL = 0.075, 0.1
# How cable is laid where a surface does not say (common practice, no source).
USUAL = {"lawn": "slit", "bed": "staked", "gravel": "staked", "paving": "lifted", "soil": "trench"}
BESIDE = 0.35  # a way this near to a sleeve, between its ends, or to a face cable may be clipped to lies in it or along it
STEP = 0.02


def area_mm2(size):
    value, unit = size.split()
    return float(value) if unit == "mm2" else math.pi / 4 * (0.127 * 92 ** ((36 - float(value)) / 39)) ** 2


def cables(whole):
    """Cables as they lie: lines whose runs go one way in different pairs of one cable share it."""
    lying = {}
    for name, line in whole.job["lines"].items():
        if line.get("start") in whole.job.get("stubs", {}):
            stub = whole.job["stubs"][line["start"]]
            one = lying.setdefault(("stub", line["start"]), {
                "cable": stub["cable"], "from": whole.lines[name].start, "to": line["start"], "existing": True,
                "free": stub.get("free_pairs"), "carries": {}})
            one["carries"][name] = whole.stub_pairs(line["start"])[name]
        for tag, run in line["runs"].items():
            cable = run.get("cable", line["cable"])
            key = (cable, run["from"], run["to"], repr(run.get("via")), bool(run.get("existing")))
            key = (*key, tag) if any(name == other for other in lying.get(key, {}).get("carries", {})) else key
            one = lying.setdefault(key, {
                "cable": cable, "from": run["from"], "to": run["to"], "existing": bool(run.get("existing")), "free": None,
                "carries": {}, "way": whole.way(run), "sleeves": run.get("sleeves", [])})
            one["carries"][name] = [line.get("pair", 1)]
    return list(lying.values())


def joints(whole):
    """Cable ends by joint."""
    ends = {}
    for cable in cables(whole):
        for tag in (cable["from"], cable["to"]):
            if tag not in whole.job["racks"]:
                ends.setdefault(tag, []).append(cable)
    return ends


def wires(whole, tag, ends):
    """Wires that meet in each connector of a joint, as areas: line by line and polarity, then spare ones by number."""
    size = lambda cable: area_mm2(whole.catalogue["cables"][cable["cable"]]["conductor"])  # noqa: E731
    count = lambda cable: whole.catalogue["cables"][cable["cable"]]["conductors"]  # noqa: E731
    met = []
    for line in dict.fromkeys(name for end in ends for name in end["carries"]):
        own = [size(end) for end in ends for _ in end["carries"].get(line, [])]
        if whole.job["loudspeakers"].get(tag, {}).get("line") == line:
            own.append(None)  # the loudspeaker's lead, of no stated size
        met += [own, own]
    for pair in range(1, max(count(end) for end in ends) // 2 + 1):
        used = lambda end: any(pair in pairs for pairs in end["carries"].values())  # noqa: E731
        spare = [size(end) for end in ends if pair <= count(end) // 2 and not used(end)
                 and (end["free"] is None or pair in end["free"])]
        met += [spare, spare] if spare else []
    return met


def connector(whole, sizes):
    """The cheapest gel-filled connector that takes these wires; None where the catalogue has none."""
    drawn = [size for size in sizes if size is not None]
    fits = [(entry["price"], name) for name, entry in whole.catalogue["connectors"].items()
            if entry["gel_filled"] and entry["conductors"] >= len(sizes)
            and area_mm2(entry["smallest"]) - 1e-9 <= min(drawn) and max(drawn) <= area_mm2(entry["largest"]) + 1e-9]
    return min(fits)[1] if fits else None


def to_segment(at, a, b):
    """Distance from a place to a segment."""
    (px, py), (ax, ay), (bx, by) = at, a, b
    length2 = (bx - ax) ** 2 + (by - ay) ** 2
    t = max(0.0, min(1.0, ((px - ax) * (bx - ax) + (py - ay) * (by - ay)) / length2)) if length2 else 0.0
    return math.dist(at, (ax + t * (bx - ax), ay + t * (by - ay)))


def inside_duct(line, at):
    """Whether cable at a place is inside a sleeve: beside it, not before its mouth and not past its end."""
    near = min(to_segment(at, a, b) for a, b in zip(line, line[1:]))
    past = [end for end, on in ((line[0], line[1]), (line[-1], line[-2]))
            if sum((at[i] - end[i]) * (end[i] - on[i]) for i in (0, 1)) > 0 and math.dist(end, at) <= near + 1e-9]
    return near <= BESIDE and not past


def laying_at(whole, at, sleeves):
    job = whole.job
    buildings = [(b, whole.outline(b)) for b in job.get("buildings", {}).values()]
    if any(inside(outline, at) for _, outline in buildings):
        return "indoors"
    ducts = [[[metres(c) for c in p] for p in job["sleeves"][s]["line"]] for s in sleeves]
    if any(inside_duct(line, at) for line in ducts):
        return "conduit"
    faces = [o for b, o in buildings if b.get("clip")]
    if any(to_segment(at, a, b) <= BESIDE for o in faces for a, b in zip(o, o[1:] + o[:1])):
        return "clipped"
    under = [s for s in job.get("surfaces", {}).values() if inside(whole.outline(s), at)]
    if under:
        return under[-1].get("laying", USUAL[under[-1]["kind"]])
    return USUAL[job.get("site", {}).get("ground", "lawn")]


def laid(whole):
    """Metres by way of laying, walked in small steps; no two cables of the jobs lie side by side in one opening."""
    sums = Counter()
    for cable in cables(whole):
        if cable["existing"]:
            continue
        for a, b in zip(cable["way"], cable["way"][1:]):
            length = math.dist(a, b)
            steps = max(1, round(length / STEP))
            for k in range(steps):
                t = (k + 0.5) / steps
                at = [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]
                sums[laying_at(whole, at, cable["sleeves"])] += length / steps
    return sums


def holes(whole):
    """Soil dug out and gravel put in, cubic metres."""
    soil = gravel = 0.0
    for placed in whole.job["loudspeakers"].values():
        model = whole.catalogue["loudspeakers"][placed["model"]]
        if placed.get("mount", model["mount"]) in ("in ground", "base") and "hole" in model:
            plan = (metres(model["hole"]["length"]) + 2 * ROOM) * (metres(model["hole"]["width"]) + 2 * ROOM)
            soil += plan * (metres(model["hole"]["depth"]) + GRAVEL)
            gravel += plan * GRAVEL
    return soil, gravel
