"""Proposals on sites nobody drew: a design on every one, alike and evenly spaced, with nothing left in it that a change
within the brief would mend; and on tiny jobs never dearer than the best of every design there is.

Eight sites in ./test, always the same; LOAMLINE_SITES=200 makes two hundred, LOAMLINE_SEED=day draws by the date, any number
is another draw. The seed is printed.
"""

import datetime
import json
import math
import os
import re
import statistics
import subprocess
import tomllib

import pytest

import random_sites

SITES = int(os.environ.get("LOAMLINE_SITES", "8"))
DRAW = os.environ.get("LOAMLINE_SEED", "20261130")
SEED = int(datetime.date.today().strftime("%Y%m%d") if DRAW == "day" else DRAW)
# What a change within the brief would mend: thicker cable, another way, another tap.
AVOIDABLE = re.compile(r"loses [\d.]+ dB|lost in the cable|brief does not allow|not allowed by the brief|limiter|at the highest gain", re.IGNORECASE)


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


@pytest.fixture(scope="module")
def designs(tmp_path_factory):
    print(f"seed {SEED}, {SITES} sites")
    found = {}
    for k in range(SITES):
        folder = tmp_path_factory.mktemp("site")
        text = random_sites.site(SEED * 1000 + k)
        (folder / "job.toml").write_text(text)
        found[SEED * 1000 + k] = (text, proposal(folder, "--option", "least-cost"))
    return found


def test_there_is_a_design_on_every_site(designs):
    for seed, (_, p) in designs.items():
        assert p["options"], f"site {seed}: no design; {p['failure']}"
        first = p["options"][0]
        assert loudspeakers(first), f"site {seed}: a design without loudspeakers"
        met = first["figures"]["worst_share_within"] >= 0.95
        assert met or first["unmet"], f"site {seed}: misses the brief and does not say so"
        assert bool(first["unmet"]) == (p["failure"] is not None), f"site {seed}"


def test_nothing_avoidable_is_left(designs):
    for seed, (_, p) in designs.items():
        for f in p["options"][0]["findings"]:
            assert f["severity"] == "note" or not AVOIDABLE.search(f["sentence"]), f"site {seed}: {f['sentence']}"


def test_an_area_has_one_model_on_one_tap_in_nearly_all(designs):
    alike = []
    for seed, (_, p) in designs.items():
        first = p["options"][0]
        placed = loudspeakers(first)
        for area, tags in first["served"].items():
            kinds = {(placed[t]["model"], placed[t].get("tap")) for t in tags if t in placed}
            alike.append((len(kinds) <= 1, seed, area, kinds))
    # 95 in 100; of the few areas of ./test one may be unlike.
    unlike = [a for a in alike if not a[0]]
    assert len(unlike) <= max(1, 0.05 * len(alike)), unlike


def test_loudspeakers_stand_evenly(designs):
    uneven, count = [], 0
    for seed, (_, p) in designs.items():
        first = p["options"][0]
        if first["matching"] != "alike":
            continue
        placed = loudspeakers(first)
        for area, tags in first["served"].items():
            places = [placed[t]["position"] for t in tags if t in placed]
            if len(places) < 2:
                continue
            gaps = spacings(places)
            median = statistics.median(gaps)
            count += 1
            assert min(gaps) >= 1.49, f"site {seed}, {area}: two stand {min(gaps):.2f} m apart"
            if max(abs(g - median) for g in gaps) > 0.26 * median:
                uneven.append((seed, area, gaps))
    assert len(uneven) <= 0.05 * max(count, 1), uneven


def test_every_loudspeaker_keeps_its_distance_from_where_people_are(designs):
    """Half a metre from where people listen (the brief's own default), by plain geometry."""
    for seed, (text, p) in designs.items():
        areas = tomllib.loads(text)["areas"]
        for tag, l in loudspeakers(p["options"][0]).items():
            if l.get("height") is not None:
                continue
            for area in areas.values():
                corners = area["outline"]
                away = min(
                    from_side(l["position"], corners[i - 1], corners[i]) for i in range(len(corners))
                )
                assert away >= 0.49, f"site {seed}: {tag} stands {away:.2f} m from {area}"


def from_side(p, a, b):
    """Distance of a place from a straight side."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    t = max(0.0, min(1.0, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / (dx * dx + dy * dy)))
    return math.dist(p, (a[0] + t * dx, a[1] + t * dy))
