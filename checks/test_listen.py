"""Acoustic proof against a job: recordings simulated here from a known place, with a known response, delay and polarity.

Expected arrival: the straight distance between the coordinates in the job, over c = 343.2 sqrt(T / 293.15) m/s (ISO
9613-1). Expected level of a sine: the level `predict --at` gives, less the programme's own band level re a full-scale
sine (the job's spectrum and crest factor), plus the sweep's. The recording is made with numpy and scipy alone.
"""

import json
import math
import shutil

import numpy as np
import pytest
from scipy import signal
from scipy.io import wavfile
from tool import ROOT, run

LEVEL, FULL_SCALE_DB = -12.0, 100.0
PLACE, EAR = (5.5, 4.0), 1.2
CENTRES = 1000 * 10 ** ((np.arange(31) - 17) / 10)


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    """The walled courtyard, its programme made pink with a crest factor of 12 dB: 10 lg(1/31) - (12 - 3.01) dB per band."""
    folder = tmp_path_factory.mktemp("listen") / "cafe"
    shutil.copytree(ROOT / "examples" / "walled-courtyard", folder)
    text = (folder / "job.toml").read_text()
    assert text.count('spectrum = "simulated programme"') == 1 and 'crest_factor = "12 dB"' in text
    (folder / "job.toml").write_text(text.replace('spectrum = "simulated programme"', 'spectrum = "pink"'))
    return folder


@pytest.fixture(scope="module")
def only_w1(job):
    """The sine levels of loudspeaker W1 alone at the place."""
    done = run("predict", job, "--at", f"{PLACE[0]},{PLACE[1]}", "--ear", f"{EAR} m", "--json")
    assert done.returncode == 0, done.stderr
    probe = json.loads(done.stdout)["at"]
    w1 = next(s for s in probe["loudspeakers"] if s["loudspeaker"] == "W1")
    own = 10 * math.log10(1 / 31) - (12 - 20 * math.log10(math.sqrt(2)))
    return np.array(w1["band_levels_db"]) - own + LEVEL


@pytest.fixture(scope="module")
def played(tmp_path_factory):
    path = tmp_path_factory.mktemp("sweep") / "sweep.wav"
    done = run("signal", "sweep", "--out", path)
    assert done.returncode == 0, done.stderr
    rate, samples = wavfile.read(path)
    return samples / 2**31, rate


def arrival_s():
    distance = math.dist((0.15, 5.8, 2.3), (*PLACE, EAR))
    return distance / (343.2 * math.sqrt((16 + 273.15) / 293.15)), distance


def recording(path, played, levels_db, delay_s, sign=1, loop_back=True):
    """The sweep through a linear-phase filter with the band levels wanted, delayed, beside its loop-back."""
    samples, rate = played
    gain = 10 ** ((levels_db - LEVEL - FULL_SCALE_DB) / 20)
    hz = np.linspace(0, rate / 2, 2049)
    shape = np.exp(np.interp(np.log(np.maximum(hz, 1)), np.log(CENTRES), np.log(gain)))
    taps = signal.firwin2(8191, hz, shape, fs=rate, window="hann")
    heard = signal.fftconvolve(samples, taps)[: len(samples)]
    # A whole number of samples: the filter's own delay is taken off.
    lag = round(delay_s * rate) - 4095
    microphone = sign * np.roll(heard, lag)
    microphone += 1e-6 * np.random.default_rng(5).standard_normal(len(microphone))
    channels = np.column_stack([microphone, 0.5 * samples]) if loop_back else microphone
    wavfile.write(path, rate, channels.astype(np.float32))


def listen(job, path, *more):
    done = run("listen", path, "--job", job, "--at", f"{PLACE[0]},{PLACE[1]}", "--height", f"{EAR} m", "--loudspeakers", "W1", *more)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_a_recording_of_what_is_predicted_is_as_predicted(job, only_w1, played, tmp_path):
    expected_s, distance = arrival_s()
    recording(tmp_path / "w1.wav", played, only_w1, expected_s)
    found = json.loads(listen(job, tmp_path / "w1.wav", "--calibration", FULL_SCALE_DB, "--json"))
    predicted, heard = found["predicted"], found["heard"]
    assert predicted["loudspeakers"] == ["W1"] and predicted["first"] == "W1"
    assert predicted["arrival_s"] == pytest.approx(expected_s, abs=2e-5)
    assert predicted["distance_m"] == pytest.approx(distance, abs=0.005)
    assert predicted["band_levels_db"] == pytest.approx(only_w1, abs=0.01)
    assert heard["arrival_s"] == pytest.approx(expected_s, abs=1 / 48_000)
    # A smooth filter through the band levels is not flat inside a band: half a decibel where they are steep.
    middle = [
        d
        for d, b in zip(heard["comparison"]["difference_db"], heard["bands"], strict=True)
        if d is not None and 250 <= b["frequency_hz"] <= 8000
    ]
    assert len(middle) >= 15 and max(map(abs, middle)) < 1.0
    assert abs(heard["comparison"]["mean_db"]) < 0.5
    text = listen(job, tmp_path / "w1.wav", "--calibration", FULL_SCALE_DB)
    assert "normal, as in the job" in text and "deviation: as predicted." in " ".join(text.split())
    assert max(map(len, text.splitlines())) <= 80


def test_what_differs_from_the_job_is_told(job, only_w1, played, tmp_path):
    expected_s, _ = arrival_s()
    recording(tmp_path / "odd.wav", played, only_w1 - 8, expected_s + 0.010, sign=-1)
    text = " ".join(listen(job, tmp_path / "odd.wav", "--calibration", FULL_SCALE_DB).split())
    assert "REVERSED, normal in the job: check the wires of W1" in text
    assert "ms later" in text and "farther than drawn" in text
    assert "deviation: OFF." in text
    found = json.loads(listen(job, tmp_path / "odd.wav", "--calibration", FULL_SCALE_DB, "--json"))["heard"]
    assert found["comparison"]["mean_db"] == pytest.approx(-8, abs=0.5)
    assert found["arrival_s"] == pytest.approx(expected_s + 0.010, abs=1 / 48_000)


def test_without_calibration_or_loop_back_it_says_what_is_missing(job, only_w1, played, tmp_path):
    recording(tmp_path / "mono.wav", played, only_w1, arrival_s()[0], loop_back=False)
    text = " ".join(listen(job, tmp_path / "mono.wav").split())
    assert "without a calibration value" in text and "has no loop-back" in text
    assert "as predicted" not in text


def test_places_and_loudspeakers_are_named_or_refused(job, only_w1, played, tmp_path):
    recording(tmp_path / "w1.wav", played, only_w1, arrival_s()[0])
    named = run("listen", tmp_path / "w1.wav", "--job", job, "--at", "tables", "--channel", "west", "--json")
    assert named.returncode == 0, named.stderr
    predicted = json.loads(named.stdout)["predicted"]
    assert predicted["loudspeakers"] == ["W1", "W2"]
    assert predicted["at"][:2] == pytest.approx((5.5, 4.0))
    for wrong, words in [
        (["--at", "moon"], 'no area or mark "moon"'),
        (["--at", "tables", "--channel", "nord"], 'no channel "nord"'),
        (["--at", "tables", "--loudspeakers", "W9"], 'no loudspeaker "W9"'),
    ]:
        done = run("listen", tmp_path / "w1.wav", "--job", job, *wrong)
        assert done.returncode == 2 and words in done.stderr, done.stderr
