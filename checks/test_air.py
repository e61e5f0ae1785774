"""Air absorption against PyPI acoustics (an independent ISO 9613-1), 1e-6 relative, and ISO 9613-2 Table 2 as
printed but for one entry, named in the file;
speed of sound against ISO 9613-1 equation A.5."""

import math
import warnings

import numpy as np
import pytest
from tool import results

warnings.simplefilter("ignore")
from acoustics.atmosphere import Atmosphere  # noqa: E402

OCTAVES = [1000 * 10 ** (0.3 * n) for n in range(-4, 4)]

# ISO 9613-2:1996 Table 2, dB/km, octaves 63 Hz to 8 kHz: temperature C, humidity %.
TABLE = {
    (10, 70): [0.1, 0.4, 1.0, 1.9, 3.7, 9.7, 32.8, 117],
    (20, 70): [0.1, 0.3, 1.1, 2.8, 5.0, 9.0, 22.9, 76.6],
    (30, 70): [0.1, 0.3, 1.0, 3.1, 7.4, 12.7, 23.1, 59.3],
    (15, 20): [0.3, 0.6, 1.2, 2.7, 8.2, 28.2, 88.8, 202],
    (15, 50): [0.1, 0.5, 1.2, 2.2, 4.2, 10.8, 36.2, 129],
    (15, 80): [0.1, 0.3, 1.1, 2.4, 4.1, 8.3, 23.7, 82.8],
}

# The one printed entry that is not the formula rounded: 4.1 stands where ISO 9613-1 gives 4.1511, here and in PyPI
# acoustics alike. Why the print differs is not known. Temperature, humidity, octave: dB/km by the formula.
NOT_AS_PRINTED = {(15, 80, 1000): 4.1511}


@pytest.mark.parametrize("temperature,humidity", TABLE)
def test_the_printed_table_is_met(temperature, humidity):
    got = results("air-absorption", temperature=temperature, humidity=humidity, frequency=OCTAVES)
    rows = zip(OCTAVES, got["attenuation_db_per_m"], TABLE[temperature, humidity], strict=True)
    for frequency, per_m, printed in rows:
        per_km = per_m * 1000
        by_formula = NOT_AS_PRINTED.get((temperature, humidity, round(frequency)))
        if by_formula is not None:
            assert abs(per_km - by_formula) <= 5e-5 and abs(per_km - printed) > 0.05
            continue
        # Half of the last printed digit; whole numbers are printed from 100 dB/km on.
        assert abs(per_km - printed) <= (0.5 if printed >= 100 else 0.05), (frequency, per_km, printed)


@pytest.mark.parametrize("temperature", [-15.0, 0.0, 20.0, 40.0])
@pytest.mark.parametrize("humidity", [10.0, 55.0, 100.0])
@pytest.mark.parametrize("pressure", [80.0, 101.325])
def test_the_independent_code_agrees(temperature, humidity, pressure):
    frequencies = [1000 * 10 ** (n / 10) for n in range(-17, 14)]
    air = Atmosphere(temperature=temperature + 273.15, pressure=pressure, relative_humidity=humidity)
    expected = air.attenuation_coefficient(np.array(frequencies))
    got = results(
        "air-absorption", temperature=temperature, humidity=humidity, pressure=f"{pressure} kPa", frequency=frequencies
    )
    assert np.allclose(got["attenuation_db_per_m"], expected, rtol=1e-6, atol=0)


@pytest.mark.parametrize("temperature", [-20, 0, 20, 35])
def test_the_speed_of_sound(temperature):
    expected = 343.2 * math.sqrt((temperature + 273.15) / 293.15)
    assert results("sound-speed", temperature=temperature)["speed_m_per_s"] == pytest.approx(expected, rel=1e-12)
