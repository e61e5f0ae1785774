"""Permitted time in a sound against NIOSH Publication 98-126 (1998) Table 1-1, to the digit printed there."""

import pytest
from tool import results, run

# dBA: (hours, minutes, seconds), last printed unit in seconds.
TABLE = {
    80: ((25, 24, 0), 60),
    83: ((12, 42, 0), 60),
    85: ((8, 0, 0), 60),
    87: ((5, 2, 0), 60),
    88: ((4, 0, 0), 60),
    91: ((2, 0, 0), 60),
    94: ((1, 0, 0), 60),
    97: ((0, 30, 0), 60),
    100: ((0, 15, 0), 60),
    103: ((0, 7, 30), 1),
    106: ((0, 3, 45), 1),
    109: ((0, 1, 53), 1),
    112: ((0, 0, 56), 1),
    115: ((0, 0, 28), 1),
    118: ((0, 0, 14), 1),
    121: ((0, 0, 7), 1),
}


@pytest.mark.parametrize("level", TABLE)
def test_the_printed_table_is_met(level):
    (hours, minutes, seconds), digit = TABLE[level]
    printed = 3600 * hours + 60 * minutes + seconds
    assert abs(results("exposure", level=level)["permitted_s"] - printed) < digit


def test_nothing_is_permitted_above_the_ceiling():
    assert results("exposure", level=141)["permitted_s"] == 0


def test_a_level_that_is_none_is_refused():
    refused = run("calc", "exposure", "level=loud", "--json")
    assert refused.returncode == 2 and "level" in refused.stderr
