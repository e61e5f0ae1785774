"""Tuning, test signals and acoustic proof from the command line.

The recording is simulated here: NumPy delays, turns and attenuates the sweep the tool wrote and adds noise, so what
`listen` must find is known beforehand.
"""

import json
import shutil
import struct

import numpy as np
from scipy.io import wavfile
from tool import ROOT, run


def read_wav(path):
    rate, samples = wavfile.read(path)  # 24 bits come in the upper bytes of 32
    assert samples.dtype == np.int32
    return samples / 2**31, rate


def write_wav(path, samples, rate):
    whole = np.round(samples * 32767).astype("<i2").tobytes()
    head = struct.pack("<4sI4s4sIHHIIHH4sI", b"RIFF", 36 + len(whole), b"WAVE", b"fmt ", 16, 1, 1, rate, 2 * rate, 2, 16, b"data", len(whole))
    path.write_bytes(head + whole)


def sweep(tmp_path):
    path = tmp_path / "sweep.wav"
    done = run("signal", "sweep", "--out", path)
    assert done.returncode == 0, done.stderr
    return read_wav(path)


def test_listen_finds_a_known_delay_polarity_and_level(tmp_path):
    played, rate = sweep(tmp_path)
    delay, gain = 1234, -0.25
    heard = np.concatenate([np.zeros(delay), gain * played])
    heard += 1e-4 * np.random.default_rng(1).standard_normal(len(heard))
    write_wav(tmp_path / "heard.wav", heard, rate)
    done = run("listen", tmp_path / "heard.wav", "--calibration", "110", "--json")
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    # The sweep starts after one second of silence.
    assert abs(found["arrival_s"] * rate - (rate + delay)) < 1
    assert found["polarity"] == "inverted"
    mid = [b for b in found["bands"] if 200 < b["frequency_hz"] < 5000]
    assert all(abs(b["gain_db"] - 20 * np.log10(abs(gain))) < 0.1 for b in mid)
    assert all(abs(b["level_db"] - b["level_dbfs"] - 110) < 1e-9 for b in mid)


def test_listen_refuses_what_proves_nothing(tmp_path):
    played, rate = sweep(tmp_path)
    noise = 0.1 * np.random.default_rng(2).standard_normal(len(played))
    for samples, word in [(np.clip(20 * played, -1, 1), "clipped"), (1e-4 * played, "too quiet"), (noise, "not found")]:
        write_wav(tmp_path / "bad.wav", samples, rate)
        done = run("listen", tmp_path / "bad.wav")
        assert done.returncode == 2 and word in done.stderr, done.stderr


def test_every_signal_is_written(tmp_path):
    for kind in ["pink-noise", "polarity-pulse", "line-rhythm"]:
        done = run("signal", kind, "--out", tmp_path / f"{kind}.wav", "--rate", "44100")
        assert done.returncode == 0, done.stderr
        samples, rate = read_wav(tmp_path / f"{kind}.wav")
        assert rate == 44100 and 0.005 < np.abs(samples).max() <= 1
    done = run("signal", "sweep", "--to", "40000", "--out", tmp_path / "no.wav")
    assert done.returncode == 2 and not (tmp_path / "no.wav").exists()


def test_tune_writes_its_settings_and_files(tmp_path):
    job = tmp_path / "job"
    shutil.copytree(ROOT / "examples" / "juniper-court", job)
    done = run("tune", job, "--write", "--out", tmp_path / "out", "--json")
    assert done.returncode == 0, done.stderr
    report = json.loads(done.stdout)["report"]
    for area in report["areas"].values():
        assert area["uneven_after_db"] <= area["uneven_before_db"] + 0.1
    assert len(list((tmp_path / "out").glob("*.wav"))) == 3 * len(report["channels"])
    assert (tmp_path / "out" / "settings.csv").read_text().startswith("channel,setting,value\n")
    assert run("check", job).returncode == 0
    text = run("tune", job).stdout
    assert "[ ]" in text and max(map(len, text.splitlines())) <= 80
