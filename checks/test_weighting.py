"""A, C and Z weightings against the nominal values of IEC 61672-1:2013 Table 3, to the tenth of a decibel printed."""

import pytest
from tool import results, run

EXACT_HZ = [1000 * 10 ** (n / 10) for n in range(-17, 14)]

# IEC 61672-1:2013 Table 3, dB, 20 Hz to 20 kHz.
A = [
    -50.5, -44.7, -39.4, -34.6, -30.2, -26.2, -22.5, -19.1, -16.1, -13.4, -10.9, -8.6, -6.6, -4.8, -3.2, -1.9, -0.8,
    0.0, 0.6, 1.0, 1.2, 1.3, 1.2, 1.0, 0.5, -0.1, -1.1, -2.5, -4.3, -6.6, -9.3,
]  # fmt: skip
C = [
    -6.2, -4.4, -3.0, -2.0, -1.3, -0.8, -0.5, -0.3, -0.2, -0.1, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, -0.1,
    -0.2, -0.3, -0.5, -0.8, -1.3, -2.0, -3.0, -4.4, -6.2, -8.5, -11.2,
]  # fmt: skip


@pytest.mark.parametrize("curve,nominal", [("A", A), ("C", C), ("Z", [0.0] * 31)])
def test_the_nominal_table_is_met(curve, nominal):
    gains = results("weighting", curve=curve, frequency=EXACT_HZ)["gain_db"]
    assert len(gains) == 31
    for hz, gain, printed in zip(EXACT_HZ, gains, nominal, strict=True):
        assert abs(gain - printed) <= 0.05, (hz, gain, printed)


@pytest.mark.parametrize("curve", ["A", "C"])
def test_the_curves_are_nothing_at_one_kilohertz(curve):
    assert abs(results("weighting", curve=curve, frequency="1 kHz")["gain_db"][0]) < 1e-12


NOMINAL_HZ = [
    20, 25, 31.5, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000, 2500, 3150, 4000,
    5000, 6300, 8000, 10000, 12500, 16000, 20000,
]  # fmt: skip


def test_a_nominal_frequency_means_its_band():
    """ISO 266 names the bands, IEC 61260-1 puts their centres: 79.43 Hz is called 80 Hz. What is no band's name is a tone."""
    named = results("weighting", curve="A", frequency=NOMINAL_HZ)["gain_db"]
    assert named == pytest.approx(results("weighting", curve="A", frequency=EXACT_HZ)["gain_db"], abs=1e-9)
    done = run("calc", "weighting", "curve=A", "frequency=80,81", "--explain")
    told = " ".join(done.stdout.split())
    assert "80 Hz is the third octave about 79.4328 Hz" in told and "A(81 Hz)" in told


def test_bands_are_told_by_their_names():
    """The table that answers without frequencies: 31 rows by nominal name, none by its exact centre."""
    shown = run("calc", "weighting", "curve=A").stdout
    for hz in NOMINAL_HZ:
        name = f"{hz / 1000:g} kHz" if hz >= 1000 else f"{hz:g} Hz"
        assert f" {name} " in f" {shown} ".replace("\n", " \n "), name
    assert "79.4" not in shown and "125.9" not in shown
