"""Recorded sweeps against scipy: simulated rooms with known delay, polarity and noise, deconvolved independently.

The recordings are made and deconvolved here with numpy and scipy alone; the tool hears them through its example
`analyse_recording`. Arrival within one sample, level per third octave within 0.1 dB.
"""

import json
import subprocess

import numpy as np
import pytest
from scipy import fft, signal
from scipy.io import wavfile
from tool import example

START, END, LENGTH, LEVEL = 50.0, 18_000.0, 4.0, -12.0


@pytest.fixture(scope="session")
def analyse_recording():
    """The example, built once."""
    return str(example("loamline-processing", "analyse_recording"))


def sweep(rate):
    """Farina 2000, with raised-cosine fades of 50 ms and 10 ms."""
    t = np.arange(round(LENGTH * rate)) / rate
    growth = LENGTH / np.log(END / START)
    x = 10 ** (LEVEL / 20) * np.sin(2 * np.pi * START * growth * np.expm1(t / growth))
    fade = lambda s: 0.5 - 0.5 * np.cos(np.pi * np.arange(round(s * rate)) / (s * rate))
    x[: round(0.05 * rate)] *= fade(0.05)
    x[-round(0.01 * rate) :] *= fade(0.01)[::-1]
    return x


def room(rate, delay, sign, seed):
    """A direct sound, five reflections and a decaying tail, with a treble loss that adds no delay."""
    source = np.random.default_rng(seed)
    h = np.zeros(round(0.45 * rate))
    h[delay] = 0.5 * sign
    for _ in range(5):
        h[delay + round(source.uniform(0.004, 0.05) * rate)] += 0.5 * source.uniform(-0.4, 0.4)
    tail = source.normal(size=len(h) - delay) * 10 ** (-3 * np.arange(len(h) - delay) / (0.25 * rate))
    h[delay:] += 0.002 * np.concatenate([np.zeros(200), tail[:-200]])
    b, a = signal.butter(1, 9_000, fs=rate)
    return signal.filtfilt(b, a, h)


def deconvolved_bands(recording, rate):
    """Mean |H|^2 per third octave in logarithmic frequency, by spectral division over the whole recording."""
    n = fft.next_fast_len(2 * len(recording))
    transfer = fft.rfft(recording, n) / (fft.rfft(sweep(rate), n) + 1e-9)
    f = fft.rfftfreq(n, 1 / rate)
    bands = {}
    for k in range(-17, 14):
        low, high = 1000 * 10 ** ((k - 0.5) / 10), 1000 * 10 ** ((k + 0.5) / 10)
        if low >= START and high <= END:
            inside = (f >= low) & (f <= high)
            bands[k] = 10 * np.log10(np.average(np.abs(transfer[inside]) ** 2, weights=1 / f[inside]))
    return bands


def write(path, channels, rate, kind):
    data = np.column_stack(channels) if len(channels) > 1 else channels[0]
    if kind == "float32":
        wavfile.write(path, rate, data.astype(np.float32))
    else:
        whole = {"int16": 2**15 - 1, "int32": 2**31 - 1}[kind]
        wavfile.write(path, rate, np.round(data * whole).astype(kind))


def run(analyse_recording, path, *numbers):
    values = [START, END, LENGTH, LEVEL, *numbers]
    done = subprocess.run([analyse_recording, str(path), *map(str, values)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


CASES = [
    (48_000, 700, 1, "float32", 1e-5),
    (48_000, 1_931, -1, "int16", 1e-4),
    (44_100, 333, 1, "int32", 1e-5),
    (44_100, 2_500, -1, "float32", 3e-4),
    (96_000, 4_001, -1, "int32", 1e-5),
    (96_000, 50, 1, "int16", 1e-4),
]


@pytest.mark.parametrize(("rate", "delay", "sign", "kind", "noise"), CASES)
def test_simulated_rooms(analyse_recording, tmp_path, rate, delay, sign, kind, noise):
    lead, tail = round(0.6 * rate), round(1.6 * rate)
    played = np.concatenate([np.zeros(lead), sweep(rate), np.zeros(tail)])
    response = room(rate, delay, sign, seed=delay)
    clean = signal.fftconvolve(played, response)[: len(played)]
    microphone = clean + np.random.default_rng(1).normal(scale=noise, size=len(played))
    write(tmp_path / "heard.wav", [microphone, 0.8 * played], rate, kind)
    heard = run(analyse_recording, tmp_path / "heard.wav", 110)

    assert heard["relative_to_loop_back"]
    assert abs(heard["arrival_s"] * rate - delay) < 1
    assert heard["polarity"] == ("normal" if sign > 0 else "reversed")
    expected = deconvolved_bands(clean, rate)
    assert len(heard["bands"]) == len(expected) >= 24
    compared = 0
    for band, level in zip(heard["bands"], expected.values(), strict=True):
        assert band["level_db"] == pytest.approx(110 + LEVEL + band["gain_db"], abs=1e-9)
        if band["signal_to_noise_db"] > 25:
            assert band["gain_db"] == pytest.approx(level, abs=0.1), band
            compared += 1
    assert compared >= 18


def test_mono_counts_from_the_start_of_the_recording(analyse_recording, tmp_path):
    rate, lead = 48_000, 24_000
    played = np.concatenate([np.zeros(lead), 0.4 * sweep(rate), np.zeros(rate)])
    write(tmp_path / "mono.wav", [played], rate, "int16")
    heard = run(analyse_recording, tmp_path / "mono.wav")
    assert not heard["relative_to_loop_back"]
    assert abs(heard["arrival_s"] * rate - lead) < 1
    assert heard["level_db"] is None


def test_refusals(analyse_recording, tmp_path):
    rate = 48_000
    played = np.concatenate([np.zeros(rate), sweep(rate), np.zeros(rate)])
    for name, samples, words in [
        ("clipped", np.clip(6 * played, -1, 1), "the microphone is clipped"),
        ("quiet", 1e-3 * played, "the microphone is too quiet"),
        ("noise", np.random.default_rng(3).normal(scale=0.1, size=len(played)), "the sweep was not found"),
        ("backwards", played[::-1], "the sweep was not found"),
        ("short", played[:rate * 3], "the recording is 3.00 s long"),
    ]:
        write(tmp_path / f"{name}.wav", [samples], rate, "float32")
        answer = run(analyse_recording, tmp_path / f"{name}.wav")
        assert answer.get("refused", "").startswith(words), (name, answer.keys(), answer.get("refused"))
