"""Ground effect against an independent code on scipy.special.wofz: 500 random geometries, flow resistivities 12.5 to
200000 kPa s/m2, within 0.05 dB except inside nulls deeper than 25 dB. Formulas: Chien and Soroka, J. Sound Vib. 43 (1975);
Delany and Bazley, Appl. Acoust. 3 (1970)."""

import math

import numpy as np
from scipy.special import wofz
from tool import results

HZ = np.array([1000 * 10 ** (n / 10) for n in range(-17, 14)])


def reference(hs, hr, d, flow, temperature):
    c = 343.2 * math.sqrt((temperature + 273.15) / 293.15)
    hs, hr = max(hs, 0.01), max(hr, 0.01)
    r1, r2 = math.hypot(d, hs - hr), math.hypot(d, hs + hr)
    cos = (hs + hr) / r2
    z = 1 + 9.08 * (HZ / flow) ** -0.75 + 11.9j * (HZ / flow) ** -0.73
    k = 2 * np.pi * HZ / c
    plane = (cos - 1 / z) / (cos + 1 / z)
    w = (1 + 1j) / 2 * np.sqrt(k * r2) * (cos + 1 / z)
    q = plane + (1 - plane) * (1 + 1j * math.sqrt(math.pi) * w * wofz(w))
    total = 1 + q * r1 / r2 * np.exp(1j * k * (r2 - r1))
    return 20 * np.log10(np.abs(total)), q


def test_random_geometries():
    rng = np.random.default_rng(20260)
    compared = 0
    for _ in range(500):
        hs, hr = rng.uniform(0.01, 3), rng.uniform(0.05, 4)
        d = 10 ** rng.uniform(-0.3, 2.5)
        flow = 12.5 * (200000 / 12.5) ** rng.uniform()
        temperature = rng.uniform(-10, 40)
        got = results(
            "ground-effect", source_height=hs, receiver_height=hr, distance=d, flow_resistivity=flow,
            frequency=HZ, temperature=temperature,
        )  # fmt: skip
        excess, q = reference(hs, hr, d, flow, temperature)
        for i in range(len(HZ)):
            if excess[i] > -25:
                compared += 1
                assert abs(got["excess_db"][i] - excess[i]) <= 0.05, (hs, hr, d, flow, HZ[i])
            assert abs(got["reflection_re"][i] + 1j * got["reflection_im"][i] - q[i]) < 1e-6
    assert compared > 14000


def test_hard_ground_doubles_low_sound():
    # Rigid plane, path difference far below the wavelength: 20 lg 2.
    got = results(
        "ground-effect", source_height=0.05, receiver_height=0.05, distance=10, flow_resistivity=200000, frequency=50
    )
    assert abs(got["excess_db"][0] - 20 * math.log10(2)) < 0.05
