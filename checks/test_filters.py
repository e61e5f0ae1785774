"""Filters against scipy.signal: butter, bessel(norm="mag") and sosfreqz, the bilinear transform of each.

Tolerance 0.01 dB and 0.01 rad from 20 Hz to 0.4 of the sample rate. Where a filter lets less than -250 dB through,
phase means nothing in double precision and only the level's smallness is compared.
"""

import json
import math
import os
import random
import subprocess

import numpy as np
import pytest
from scipy import signal

LOAMLINE = os.environ["LOAMLINE_BIN"]
CASES = 120


def calculate(**arguments):
    pairs = [f"{key}={value}" for key, value in arguments.items()]
    done = subprocess.run(
        [LOAMLINE, "calc", "filter", *pairs, "--json"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)["results"]


def reference_sections(kind, response, order, corner, rate):
    side = {"low-pass": "lowpass", "high-pass": "highpass"}[response]
    if kind == "butterworth":
        return signal.butter(order, corner, side, fs=rate, output="sos")
    if kind == "bessel":
        return signal.bessel(order, corner, side, norm="mag", fs=rate, output="sos")
    half = signal.butter(order // 2, corner, side, fs=rate, output="sos")
    return np.vstack([half, half])


def settings():
    source = random.Random(20_000)
    for _ in range(CASES):
        kind = source.choice(["butterworth", "linkwitz-riley", "bessel"])
        order = source.choice([2, 4, 6, 8]) if kind == "linkwitz-riley" else source.randint(1, 8)
        rate = source.choice([44_100, 48_000, 96_000])
        corner = round(math.exp(source.uniform(math.log(20), math.log(0.4 * rate))), 3)
        yield kind, source.choice(["low-pass", "high-pass"]), order, corner, rate


def own_gain(sections, frequencies, rate):
    """The response of the sections printed, by their stated sign convention."""
    rows = [[s["b0"], s["b1"], s["b2"], 1.0, s["a1"], s["a2"]] for s in sections]
    return signal.sosfreqz(np.array(rows), frequencies, fs=rate)[1]


@pytest.mark.parametrize(("kind", "response", "order", "corner", "rate"), list(settings()))
def test_response_is_that_of_scipy(kind, response, order, corner, rate):
    frequencies = np.geomspace(20, 0.4 * rate, 60)
    found = calculate(
        kind=kind,
        response=response,
        order=order,
        corner=corner,
        sample_rate=rate,
        frequency=",".join(repr(float(f)) for f in frequencies),
    )
    _, expected = signal.sosfreqz(reference_sections(kind, response, order, corner, rate), frequencies, fs=rate)
    level = 20 * np.log10(np.maximum(np.abs(expected), 1e-15))
    audible = level > -250
    assert audible.sum() >= 10
    gain = np.array(found["gain_db"])
    assert np.max(np.abs(gain - level)[audible]) < 0.01
    assert np.all(gain[~audible] < -240)
    turn = np.angle(np.exp(1j * (np.array(found["phase_rad"]) - np.angle(expected))))
    assert np.max(np.abs(turn)[audible]) < 0.01
    assert all(-math.pi < p <= math.pi for p in found["phase_rad"])
    # The sections that would be typed in do what the table says, and are stable.
    typed = own_gain(found["sections"], frequencies, rate)
    assert np.max(np.abs(typed - expected)) < 1e-3
    for s in found["sections"]:
        assert np.max(np.abs(np.roots([1, s["a1"], s["a2"]]))) < 1


@pytest.mark.parametrize("order", [2, 4, 6, 8])
@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
def test_linkwitz_riley_pair_adds_up_to_an_all_pass(order, rate):
    """Linkwitz 1976; orders 2 and 6 with one half turned over."""
    frequencies = np.geomspace(20, 0.4 * rate, 80)
    listed = ",".join(repr(float(f)) for f in frequencies)
    halves = []
    for response in ("low-pass", "high-pass"):
        found = calculate(
            kind="linkwitz-riley", response=response, order=order, corner=90, sample_rate=rate, frequency=listed
        )
        halves.append(10 ** (np.array(found["gain_db"]) / 20) * np.exp(1j * np.array(found["phase_rad"])))
    total = halves[0] + halves[1] * (-1 if order % 4 == 2 else 1)
    assert np.max(np.abs(20 * np.log10(np.abs(total)))) < 0.01


def limiter(**arguments):
    pairs = [f"{key}={value}" for key, value in arguments.items()]
    done = subprocess.run([LOAMLINE, "calc", "limiter", *pairs, "--json"], capture_output=True, text=True, check=True)
    return json.loads(done.stdout)["results"]


def test_limiter_thresholds():
    """V = sqrt(P Z); dBu relative to 0.7746 V (1 mW in 600 ohm); peak 6 dB over the continuous rating (common practice, no
    source), behind a transformer at most that of a sine."""
    found = limiter(rated_power=100, impedance=8)
    assert found["threshold_v_rms"] == pytest.approx(math.sqrt(800), rel=1e-9)
    assert found["threshold_v_peak"] == pytest.approx(math.sqrt(4 * 100 * 8), rel=1e-9)
    assert limiter(rated_power=100, rated_peak=600, impedance=8)["threshold_v_peak"] == pytest.approx(math.sqrt(4800), rel=1e-9)
    assert found["threshold_dbu"] == pytest.approx(20 * math.log10(math.sqrt(800) / 0.7746), abs=1e-3)
    found = limiter(tap=30, volts=70.7)
    assert found["threshold_v_rms"] == pytest.approx(70.7, rel=1e-9)
    assert found["threshold_v_peak"] == pytest.approx(70.7 * math.sqrt(2), rel=1e-9)
