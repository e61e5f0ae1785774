"""Readings over the years (`years`, `check`) against scipy.stats.linregress, and what `locate` says to input that cannot be.

The limits are what `expect` gives for the same line; leakage is held against 1 Mohm.
"""

import json
import math
import random
import re
import shutil

import pytest
import scipy.stats

from tool import ROOT, run

DAYS = ["2016-05-02", "2018-04-20", "2020-05-11", "2022-04-30", "2024-05-06", "2026-04-28"]


def job(tmp_path, visits):
    """The guesthouse garden with these visits: (date, quantity of the file, ohm)."""
    folder = tmp_path / "job"
    shutil.copytree(ROOT / "examples" / "guesthouse-garden", folder)
    text = (folder / "job.toml").read_text()
    text = text[: text.index("[visits.V1]")]
    for k, (date, what, ohm) in enumerate(visits):
        text += f'\n[visits.Y{k}]\ndate = "{date}"\n\n[visits.Y{k}.readings.R]\nline = "A"\n{what} = "{ohm!r} ohm"\n'
    (folder / "job.toml").write_text(text)
    return folder


def series(folder):
    done = run("years", folder, "--json")
    assert done.returncode == 0, done.stderr
    (only,) = json.loads(done.stdout)["lines"]["A"]
    return only


def in_years(days):
    import datetime

    first = datetime.date.fromisoformat(days[0])
    return [(datetime.date.fromisoformat(day) - first).days / 365.25 for day in days]


def expected_high(hz):
    done = run("expect", ROOT / "examples" / "guesthouse-garden", "--at", hz, "--json")
    return json.loads(done.stdout)["lines"]["A"]["readings"][0]["high_ohm"]


def test_the_drift_is_that_of_a_linear_regression(tmp_path):
    rng = random.Random(31)
    years = in_years(DAYS)
    # Scattered by 8 %, more than meter and temperature do: the regression's own error rules.
    ohms = [14.0 * math.exp(0.002 * y + rng.gauss(0, 0.08)) for y in years]
    drift = series(job(tmp_path, [(d, "dc", o) for d, o in zip(DAYS, ohms)]))["drift"]
    fit = scipy.stats.linregress(years, [math.log(o) for o in ohms])
    assert drift["per_year"] == pytest.approx(math.expm1(fit.slope), rel=1e-9)
    assert drift["slope_error"] == pytest.approx(fit.stderr, rel=1e-9)
    assert drift["now_ohm"] == pytest.approx(math.exp(fit.intercept + fit.slope * years[-1]), rel=1e-9)
    z = scipy.stats.norm.ppf(0.975)
    assert drift["low"] == pytest.approx(math.expm1(fit.slope - z * fit.stderr), rel=1e-5)
    assert drift["high"] == pytest.approx(math.expm1(fit.slope + z * fit.stderr), rel=1e-5)


def test_a_rising_loop_is_warned_of_before_it_fails(tmp_path):
    years, high = in_years(DAYS), expected_high("dc")
    # Exactly 1.5 % a year, 4 % below the limit at the end: passed in ln(1/0.96) / 0.015 = 2.7 years.
    ohms = [0.96 * high * math.exp(0.015 * (y - years[-1])) for y in years]
    folder = job(tmp_path, [(d, "dc", o) for d, o in zip(DAYS, ohms)])
    one = series(folder)
    assert one["limit_ohm"] == pytest.approx(high, rel=1e-9)
    within = one["drift"]["warning"]["within"]
    assert within["years"] == pytest.approx(math.log(1 / 0.96) / 0.015, rel=1e-6)
    # Without scatter the error is the meter's 1 %, 8 K of copper and 0.05 ohm.
    mean = sum(ohms) / len(ohms)
    error = math.hypot(0.01, 0.00393 * 8, 0.05 / mean) / math.sqrt(sum((y - sum(years) / 6) ** 2 for y in years))
    assert one["drift"]["slope_error"] == pytest.approx(error, rel=1e-4)
    assert within["earliest"] == pytest.approx(math.log(1 / 0.96) / (0.015 + 1.959964 * error), rel=1e-4)
    said = [f for f in json.loads(run("check", folder, "--json").stdout)["findings"] if "loop resistance" in f["sentence"]]
    assert len(said) == 1 and said[0]["severity"] == "warning"
    assert "passed in about 2.7 years" in said[0]["sentence"], said
    text = run("years", folder).stdout
    assert "in 2.7 years" in " ".join(text.split()) and all(len(line) <= 80 for line in text.splitlines()), text


def test_falling_leakage_resistance_is_warned_of_and_past_its_limit_said(tmp_path):
    years = in_years(DAYS)
    ohms = [40e6 * math.exp(-0.3 * y) for y in years]
    drift = series(job(tmp_path, [(d, "leakage", o) for d, o in zip(DAYS, ohms)]))["drift"]
    left = math.log(ohms[-1] / 1e6) / 0.3
    assert drift["warning"]["within"]["years"] == pytest.approx(left, rel=1e-6)
    (tmp_path / "more").mkdir()
    wet = job(tmp_path / "more", [(d, "leakage", o / 10) for d, o in zip(DAYS, ohms)])
    assert series(wet)["drift"]["warning"] == "beyond"


def test_of_steady_lines_few_warn(tmp_path):
    """One in forty is what the interval lets through on the wrong side; more than one in ten would be crying wolf."""
    rng = random.Random(77)
    high = expected_high("dc")
    warned = 0
    for k in range(60):
        (tmp_path / str(k)).mkdir()
        ohms = [0.93 * high * (1 + rng.gauss(0, 0.033)) for _ in DAYS]
        drift = series(job(tmp_path / str(k), [(d, "dc", o) for d, o in zip(DAYS, ohms)]))["drift"]
        warned += drift["warning"] not in (None, "beyond")
    assert warned <= 6, warned


def test_a_fault_that_was_mended_is_no_line_on_its_way_to_fail(tmp_path):
    """Far too high at handover, as expected five years later: nothing moves. The regression is that of what was read since."""
    done = run("expect", ROOT / "examples" / "guesthouse-garden", "--at", "dc", "--json")
    ohm = json.loads(done.stdout)["lines"]["A"]["readings"][0]["ohm"]
    read = [("2026-05-02", "dc", 3 * ohm), ("2031-05-02", "dc", ohm)]
    folder = job(tmp_path, read)
    assert series(folder)["drift"] is None and series(folder)["since"] == "2031-05-02"
    assert not [f for f in json.loads(run("check", folder, "--json").stdout)["findings"] if "moves by" in f["sentence"]]
    assert "one reading since a fault was mended" in " ".join(run("years", folder).stdout.split())
    (tmp_path / "more").mkdir()
    later = [("2032-05-02", "dc", 1.02 * ohm), ("2033-05-02", "dc", 1.01 * ohm)]
    drift = series(job(tmp_path / "more", read + later))["drift"]
    days = [date for date, _, _ in read[1:] + later]
    fit = scipy.stats.linregress(in_years(days), [math.log(o) for _, _, o in read[1:] + later])
    assert drift["per_year"] == pytest.approx(math.expm1(fit.slope), rel=1e-9)


def test_a_day_that_is_none_is_said(tmp_path):
    done = run("years", job(tmp_path, [("2026-02-30", "dc", 14.0)]))
    assert done.returncode == 2
    assert 'visits.Y0.date: "2026-02-30" is no day; write it as year-month-day' in done.stderr


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--line", "AA", "--reading", "dc=3ohm"], 'did you mean "A"?'),
        (["--line", "A", "--reading", "dc=2.9"], "the unit is missing"),
        (["--line", "A", "--reading", "dc=-2ohm"], "not negative"),
        (["--line", "A", "--reading", "x@1kHz=61ohm"], "it is neither dc nor z@FREQUENCY"),
        (["--line", "A", "--reading", "z@1kHz=61V"], "61V"),
        (["--line", "A", "--reading", "z@1kHz"], "there is no = in it"),
        (["--line", "A", "--reading", "L44:dc=3ohm"], "no joint L44"),
        (["--line", "A", "--reading", "dc=3ohm", "--reading", "dc=4ohm"], "read twice"),
        (["--line", "A"], "no reading was given"),
        (["--line", "A", "--visit", "V9"], 'there is no visit "V9"'),
    ],
)
def test_input_that_cannot_be_is_refused_in_words(words, said):
    done = run("locate", ROOT / "examples" / "guesthouse-garden", *words)
    assert done.returncode == 2, done.stdout
    assert said in done.stderr and done.stdout == "", done.stderr


def test_readings_that_nothing_explains_name_the_nearest():
    """61 ohm at 1 kHz beside 1.2 ohm of direct current: no loudspeaker, cable or leak of this line does that."""
    words = ["--line", "A", "--reading", "z@1kHz=61ohm", "--reading", "dc=1.2ohm"]
    done = run("locate", ROOT / "examples" / "guesthouse-garden", *words)
    text = " ".join(done.stdout.split())
    assert "No single fault explains these readings. The nearest is far outside what the line allows" in text
    assert "add --pairs" in text and "deviation" not in text
    assert "DC reads 1.20 ohm and would read" in text and "%" not in text
    assert all(len(line) <= 80 for line in done.stdout.splitlines())


def test_locate_says_which_length_of_a_run_it_tells():
    """Cable as it lies, from which the readings are worked out: not the way on the plan, not what is cut."""
    runs = {r["id"]: r for r in json.loads(run("expect", ROOT / "examples" / "guesthouse-garden", "--json").stdout)["lines"]["A"]["runs"]}
    text = " ".join(run("locate", ROOT / "examples" / "guesthouse-garden", "--line", "A", "--reading", "z@1kHz=85ohm").stdout.split())
    told = re.findall(r"[Rr]un (\S+) \((\S+) to (\S+), ([\d.]+) m of cable as laid\)", text)
    assert told, text
    for name, start, end, metres in told:
        r = runs[name]
        assert (r["from"], r["to"]) == (start, end) and float(metres) == pytest.approx(r["electrical_m"], abs=0.0501)


def test_tables_of_expected_readings_fit_eighty_columns():
    for example in ("guesthouse-garden", "quayside-hotel", "walled-courtyard"):
        done = run("expect", ROOT / "examples" / example)
        assert done.returncode == 0 and max(map(len, done.stdout.splitlines())) <= 80
