"""Line calculators against formulae worked here: Ohm's and Joule's laws (any electrical handbook)."""

import json
import math
import os
import subprocess

import numpy
import pytest

R_14 = 17.241 / (math.pi / 4 * (0.127 * 92 ** ((36 - 14) / 39)) ** 2)  # ASTM B258, ohm/km


def calc(name, *arguments, document=None):
    command = [os.environ["LOAMLINE_BIN"], "calc", name, *arguments, "--json"]
    if document is not None:
        command += ["--input", "-"]
        text = json.dumps(document)
    else:
        text = None
    run = subprocess.run(command, capture_output=True, text=True, check=True, input=text)
    return json.loads(run.stdout)["results"]


def refused(name, *arguments, document=None):
    command = [os.environ["LOAMLINE_BIN"], "calc", name, *arguments]
    if document is not None:
        command += ["--input", "-"]
    text = json.dumps(document) if document is not None else None
    run = subprocess.run(command, capture_output=True, text=True, check=False, input=text)
    assert run.returncode == 2
    return run.stderr


@pytest.mark.parametrize("volts", [25, 70.7, 100])
@pytest.mark.parametrize("watts", [1.25, 7.5, 30, 120])
def test_tap_is_v_squared_over_p_and_halves(volts, watts):
    one = calc("tap", f"volts={volts}", f"watts={watts}")["impedance_ohm"]
    two = calc("tap", f"volts={volts}", f"watts={2 * watts}")["impedance_ohm"]
    assert one == pytest.approx(volts**2 / watts, rel=1e-9)
    assert one / two == pytest.approx(2, rel=1e-9)
    assert calc("tap", f"volts={volts}", f"impedance={one}")["watts"] == pytest.approx(watts, rel=1e-9)


@pytest.mark.parametrize("length,volts,watts", [(30, 70.7, 60), (120, 100, 240), (15, 28.3, 100)])
def test_cable_loss(length, volts, watts):
    got = calc("cable-loss", "gauge=14", f"length={length}", f"volts={volts}", f"watts={watts}", "temperature=35C")
    loop = 2 * R_14 * (1 + 0.00393 * 15) / 1000 * length
    load = volts**2 / watts
    at_load = volts * load / (load + loop)
    assert got["loop_resistance_ohm"] == pytest.approx(loop, rel=1e-6)
    assert got["load_voltage_v"] == pytest.approx(at_load, rel=1e-6)
    assert got["load_power_w"] == pytest.approx(at_load**2 / load, rel=1e-6)
    assert got["loss_db"] == pytest.approx(20 * math.log10(volts / at_load), rel=1e-6)


def test_longest_run_is_where_the_loss_is_the_limit():
    length = calc("longest-run", "area=2.5mm2", "volts=70.7", "watts=100", "loss=0.5")["length_m"]
    loop = 70.7**2 / 100 * (10 ** (0.5 / 20) - 1)
    assert length == pytest.approx(loop / (2 * 7.98 / 1000), rel=1e-6)


def test_line_load():
    got = calc("line-load", "taps=7.5,7.5,15,30,30", "rating=120")
    assert got["total_w"] == pytest.approx(90)
    assert got["used_fraction"] == pytest.approx(0.75)
    assert got["fits"] is True
    # What was called headroom once is a share; the old key is still read.
    for key in ("share", "headroom"):
        assert calc("line-load", "taps=7.5,7.5,15,30,30", "rating=120", f"{key}=0.7")["fits"] is False


def test_loads_combined():
    assert calc("loads-combined", "impedances=8,8,4", "arrangement=series")["impedance_ohm"] == pytest.approx(20)
    assert calc("loads-combined", "impedances=8,8,4", "arrangement=parallel")["impedance_ohm"] == pytest.approx(2)


def test_short_distance():
    got = calc("short-distance", "loop_resistance=0.83", "gauge=14", "temperature=20C")["distance_m"]
    assert got == pytest.approx(0.83 / (2 * R_14 / 1000), rel=1e-6)


def test_short_distance_interval():
    """The stated interval holds 95 % of the places a meter and a cable with the stated errors would give (to first order)."""
    rng = numpy.random.default_rng(14)
    for loop, floor, cable, kelvin in [(0.83, 0.05, 0.02, 8.0), (3.4, 0.02, 0.05, 15.0), (1.6, 0.1, 0.0, 0.0)]:
        got = calc("short-distance", f"loop_resistance={loop}", "gauge=14", "temperature=20C", f"meter_floor={floor}ohm",
                   f"cable_error={cable}", f"temperature_spread={kelvin}")
        n = lambda: rng.standard_normal(200_000)  # noqa: E731
        read = loop * (1 + 0.01 * n()) + floor * n()
        per_m = 2 * R_14 / 1000 * (1 + cable * n()) * (1 + 0.00393 * kelvin * n())
        low, high = numpy.quantile(read / per_m, [0.025, 0.975])
        assert got["low_m"] < got["distance_m"] < got["high_m"]
        assert got["low_m"] == pytest.approx(low, abs=0.08 * (high - low))
        assert got["high_m"] == pytest.approx(high, abs=0.08 * (high - low))


CABLE = {"loop_resistance_ohm_per_m": 0.0166, "loop_inductance_h_per_m": 6.5e-7, "capacitance_f_per_m": 6e-11}


def network(runs):
    return {
        "source": {"open_circuit_v": 70.7, "output_impedance_ohm": 0},
        "frequencies_hz": [1000],
        "runs": [{"from": a, "to": b, "length_m": m, "cable": CABLE} for a, b, m in runs],
        "loads": [{"at": "J1", "loudspeaker": {"resistance_ohm": 8}}],
    }


@pytest.mark.parametrize(
    "runs,words",
    [
        ([("amp", "J1", 0)], ["amp to J1", "length is 0 m"]),
        ([("amp", "J1", -3)], ["amp to J1", "length is -3 m"]),
        ([("amp", "J1", 5), ("J4", "J5", 5)], ["J4 to J5", "open"]),
        ([("amp", "J1", 5), ("J4", "J5", 5), ("J5", "J6", 5), ("J6", "J4", 5)], ["loop", "J4, J5, J6", "no source"]),
        ([("amp", "J1", 5), ("J1", "J1", 5)], ["starts and ends at joint J1"]),
        ([("rack", "J1", 5)], ["source joint amp"]),
    ],
)
def test_bad_networks_name_the_joint(runs, words):
    message = refused("line-network", document=network(runs))
    for word in words:
        assert word in message
