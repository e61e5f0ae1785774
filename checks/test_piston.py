"""Piston directivity against 2 J1(x)/x with scipy.special.j1, and its directivity index against numerical integration of
that over the half space (scipy.integrate) and the closed form (Beranek, Acoustics, section 4.8)."""

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import j1
from tool import results

SPEED = 343.2  # 20 C, ISO 9613-1


def relative(x):
    return 1.0 if x == 0 else 2 * j1(x) / x


def cases():
    rng = np.random.default_rng(5)
    for _ in range(60):
        yield (
            round(float(rng.uniform(0.02, 0.5)), 4),
            round(float(10 ** rng.uniform(1.3, 4.3)), 2),
            round(float(rng.uniform(0, 90)), 2),
        )


@pytest.mark.parametrize("diameter,frequency,angle", list(cases()))
def test_the_front_follows_the_bessel_function(diameter, frequency, angle):
    got = results("directivity-piston", diameter=diameter, frequency=frequency, angle=angle, temperature=20)
    ka = 2 * math.pi * frequency / SPEED * diameter / 2
    amplitude = abs(relative(ka * math.sin(math.radians(angle))))
    # Amplitudes rather than decibels, so that nulls are compared too.
    assert 10 ** (got["directivity_db"] / 20) == pytest.approx(amplitude, abs=1e-9)
    closed = 10 * math.log10(ka**2 / (1 - j1(2 * ka) / ka)) if ka > 0.05 else 3.0103
    assert got["directivity_index_db"] == pytest.approx(closed, abs=2e-3 if ka <= 0.05 else 1e-6)


@pytest.mark.parametrize("ka", [0.1, 1.0, 3.0, 10.0])
def test_the_index_is_the_integral_over_the_half_space(ka):
    diameter = 0.2
    frequency = ka * SPEED / (math.pi * diameter)
    got = results("directivity-piston", diameter=diameter, frequency=frequency, angle=0, temperature=20)
    power, _ = quad(lambda t: relative(ka * math.sin(t)) ** 2 * math.sin(t), 0, math.pi / 2, limit=200)
    assert got["directivity_index_db"] == pytest.approx(10 * math.log10(2 / power), abs=1e-5)
    assert got["directivity_db"] == 0


def test_low_sound_reaches_behind_the_enclosure_and_high_sound_does_not():
    """Common practice, no source: the model for the rear."""
    low = results("directivity-piston", diameter=0.2, frequency=50, angle=180)["directivity_db"]
    high = results("directivity-piston", diameter=0.2, frequency=8000, angle=180)["directivity_db"]
    assert low > -0.1 and high < -20
