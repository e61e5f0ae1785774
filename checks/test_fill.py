"""Conduit fill against NFPA 70 (NEC) Chapter 9: Table 1 limits and the areas of Table 4.

The areas (square inches, full and at 53, 31 and 40 %) are from memory of the printed table; the worked cases are
arithmetic on Table 1 with those areas.
"""

import json
import math
import os
import subprocess

import pytest

BINARY = os.environ["LOAMLINE_BIN"]

# type, trade size, area in square inches: 100 %, one cable 53 %, two 31 %, more than two 40 %
AREAS = [
    ("emt", "1/2", 0.304, 0.161, 0.094, 0.122),
    ("emt", "3/4", 0.533, 0.283, 0.165, 0.213),
    ("emt", "1", 0.864, 0.458, 0.268, 0.346),
    ("pvc40", "1", 0.832, 0.441, 0.258, 0.333),
    ("pvc80", "2", 2.874, 1.523, 0.891, 1.150),
]


def fill(*arguments):
    done = subprocess.run(
        [BINARY, "calc", "conduit-fill", *arguments, "--json"], capture_output=True, text=True, check=True
    )
    return json.loads(done.stdout)["results"]


@pytest.mark.parametrize("kind, size, full, one, two, more", AREAS)
def test_cables_that_just_fit_the_printed_areas(kind, size, full, one, two, more):
    for count, area in ((1, one), (2, two), (3, more)):
        # A cable a little smaller than its share of the printed area fits, a little larger does not; the areas
        # are printed to three digits.
        for factor, fits in ((0.99, True), (1.01, False)):
            diameter_in = math.sqrt(area / count * 4 / math.pi) * factor
            got = fill(f"conduit={size}", f"type={kind}", "cables=" + ",".join([f"{diameter_in} in"] * count))
            assert got["fits"] is fits, (kind, size, count, factor, got)
            assert got["fill_fraction"] == pytest.approx(area * factor**2 / full, rel=0.006)


def test_limits_by_number_of_cables():
    for count, limit in ((1, 0.53), (2, 0.31), (3, 0.40), (9, 0.40)):
        got = fill("conduit=50 mm", "cables=" + ",".join(["5 mm"] * count))
        assert got["limit_fraction"] == limit
        assert got["fill_fraction"] == pytest.approx(count * (5 / 50) ** 2, rel=1e-12)


def test_a_short_piece_may_be_filled_to_sixty_per_cent():
    # Note 4 to Table 1.
    assert fill("conduit=50 mm", "cables=20 mm,20 mm", "length=600 mm")["limit_fraction"] == 0.60
    assert fill("conduit=50 mm", "cables=20 mm,20 mm", "length=601 mm")["limit_fraction"] == 0.31
