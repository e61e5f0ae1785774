"""A, C and Z weightings against the nominal values of IEC 61672-1:2013 Table 3, to the tenth of a decibel printed."""

import pytest
from tool import results

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
