"""How far the level moves from one step of 2 cm to the next, on walks of 5 m past houses and walls of random sites
(`test_images.py`): sound itself never jumps, and 0.1 dBA per cm is wanted. No outside source is needed.

Where the same ways are heard at both ends of a step it moves by 0.4 dBA at most here. Where an image comes or goes at the end of
its face, it does so at once, with nothing bent at that end: by 0.3 to 3.2 dBA here, by 9.5 dBA on other walks, where the straight
way is in the shadow.
"""

import math

import numpy as np
import pytest

from one_loudspeaker import Site
from test_images import RandomSite, covers, distance

STEP_M, STEPS = 0.02, 250
WANTED_DBA = 0.2


def heard(standing, place):
    """Level and the ways there are, as said but for how much they are screened."""
    at = standing.at(place)
    return at["level_dba"], {p["way"].split(",")[0] for p in at["loudspeakers"][0]["paths"]}


def walk(folder, seed):
    """Changes from step to step, and whether the same ways were heard before and after."""
    site = RandomSite(seed)
    standing = Site(folder, site.source, site.walls, site.houses)
    # Past what was put up first, half a metre clear of it on the source's side.
    (x, y), radius = site.kept[0]
    y += math.copysign(radius + 0.5, site.source[1] - y)
    before = None
    for i in range(STEPS):
        place = (round(x + (i - STEPS / 2) * STEP_M, 3), round(y, 3), 1.6)
        near = any(distance(piece, place) < 0.2 for piece in site.pieces())
        now = None if near or any(covers(h["outline"], place) for h in site.houses) else heard(standing, place)
        if now and before:
            yield abs(now[0] - before[0]), now[1] == before[1]
        before = now


@pytest.fixture(scope="module")
def changes(tmp_path_factory):
    folder = tmp_path_factory.mktemp("walk")
    steps = [step for seed in range(2000, 2010) for step in walk(folder, seed)]
    alike = np.array([same for _, same in steps])
    dba = np.array([change for change, _ in steps])
    assert len(dba) > 2000 and (~alike).sum() >= 8
    return dba[alike], dba[~alike]


def test_nothing_moves_much_while_the_same_ways_are_heard(changes):
    alike, _ = changes
    assert alike.max() < 0.5 and np.percentile(alike, 99) < WANTED_DBA


def test_an_image_comes_and_goes_within_bounds(changes):
    _, comes_or_goes = changes
    assert comes_or_goes.max() < 4


@pytest.mark.xfail(strict=True, reason="images end where their face ends, with nothing bent there")
def test_no_step_is_felt_where_an_image_comes_or_goes(changes):
    _, comes_or_goes = changes
    assert comes_or_goes.max() < WANTED_DBA
