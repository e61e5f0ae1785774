"""Proposals as the checks ask for them, and what a design puts where, by plain geometry."""

import json
import math
import os
import subprocess


def proposal(folder, *arguments):
    """The proposal for a job, as data."""
    done = subprocess.run(
        [os.environ["LOAMLINE_BIN"], "propose", str(folder), "--json", *arguments],
        capture_output=True, text=True, timeout=600,
    )
    assert done.returncode in (0, 1), f"{folder}: {done.stderr}"
    return json.loads(done.stdout)["proposal"]


def loudspeakers(option):
    """What a design puts where, by tag, from its edit."""
    placed = {}
    for o in option["edit"]:
        parts = o["path"].split("/")
        if o["op"] == "add" and len(parts) == 3 and parts[1] == "loudspeakers":
            placed[parts[2]] = o["value"]
    return placed


def spacings(places):
    """Distance of each place to the nearest other."""
    return [min(math.dist(p, q) for j, q in enumerate(places) if j != i) for i, p in enumerate(places)]


def stakes(places):
    """Places with those nearer than 5 cm taken for one: two loudspeakers back to back on one stake."""
    kept = []
    for p in places:
        if all(math.dist(p, q) > 0.05 for q in kept):
            kept.append(p)
    return kept


def from_side(p, a, b):
    """Distance of a place from a straight side."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    t = max(0.0, min(1.0, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / (dx * dx + dy * dy)))
    return math.dist(p, (a[0] + t * dx, a[1] + t * dy))


def image(place, through, along):
    """The mirror image of a place over a line through a point."""
    length = math.hypot(*along)
    ux, uy = along[0] / length, along[1] / length
    dx, dy = place[0] - through[0], place[1] - through[1]
    t = 2 * (dx * ux + dy * uy)
    return (through[0] + t * ux - dx, through[1] + t * uy - dy)
