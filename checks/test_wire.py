"""Wire resistances against the published tables.

ASTM B258-18 (solid annealed copper, 20 C, ohm/km) and IEC 60228:2004 Table 3 (class 5, plain copper, greatest
resistance at 20 C, ohm/km). Temperature by IEC 60028 (0.00393 per kelvin).
"""

import json
import os
import subprocess

import pytest

ASTM_B258 = {10: 3.277, 12: 5.211, 14: 8.286, 16: 13.17, 18: 20.95}
IEC_60228_CLASS_5 = {0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98, 4: 4.95, 6: 3.30, 10: 1.91}


def calc(name, *arguments):
    run = subprocess.run(
        [os.environ["LOAMLINE_BIN"], "calc", name, *arguments, "--json"], capture_output=True, text=True, check=True
    )
    return json.loads(run.stdout)["results"]


@pytest.mark.parametrize("gauge,expected", ASTM_B258.items())
def test_gauges(gauge, expected):
    got = calc("wire", f"gauge={gauge}", "temperature=20C")["resistance_ohm_per_km"]
    assert got == pytest.approx(expected, rel=5e-4)


@pytest.mark.parametrize("area,expected", IEC_60228_CLASS_5.items())
def test_areas(area, expected):
    got = calc("wire", f"area={area}mm2", "temperature=20C")["resistance_ohm_per_km"]
    assert got == pytest.approx(expected, rel=1e-6)


def test_temperature():
    cold, hot = (calc("wire", "gauge=14", f"temperature={t}C")["resistance_ohm_per_km"] for t in (20, 50))
    assert hot / cold == pytest.approx(1 + 0.00393 * 30, rel=1e-9)


def test_impossible_gauge_is_refused():
    run = subprocess.run(
        [os.environ["LOAMLINE_BIN"], "calc", "wire", "gauge=99"], capture_output=True, text=True, check=False
    )
    assert run.returncode == 2
    assert "gauge" in run.stderr
