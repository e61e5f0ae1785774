"""Screens, delays and level sums against their formulas worked here. Kurze and Anderson, Appl. Acoust. 4 (1971); ISO
9613-1:1993 equation A.5; inverse square law; energy sum."""

import math

import pytest
from tool import results


@pytest.mark.parametrize("difference", [-1, -0.03, -0.01, 0, 0.001, 0.05, 0.4, 3, 40])
@pytest.mark.parametrize("frequency", [63, 500, 4000])
def test_screen(difference, frequency):
    n = 2 * difference * frequency / 343.2
    x = math.sqrt(2 * math.pi * abs(n))
    if n <= -0.2:
        expected = 0
    elif n == 0:
        expected = 5
    elif n > 0:
        expected = min(24, 5 + 20 * math.log10(x / math.tanh(x)))
    else:
        expected = max(0, 5 + 20 * math.log10(x / math.tan(x)))
    assert abs(results("screen", path_difference=difference, frequency=frequency)["loss_db"] - expected) < 1e-6


def test_delay_and_distance():
    c = 343.2 * math.sqrt((25 + 273.15) / 293.15)
    assert abs(results("delay", distance="12 m", temperature="25 C")["delay_s"] - 12 / c) < 1e-12
    assert abs(results("sound-speed", temperature=25)["speed_m_per_s"] - c) < 1e-9
    got = results("level-at-distance", level=96, reference=1, distance=12)["level_db"]
    assert abs(got - (96 - 20 * math.log10(12))) < 1e-9


def test_level_sum():
    got = results("level-sum", levels="78,81,75.5")["level_db"]
    assert abs(got - 10 * math.log10(10**7.8 + 10**8.1 + 10**7.55)) < 1e-9
    assert abs(results("level-sum", levels="70,70")["level_db"] - 73.0103) < 1e-4
