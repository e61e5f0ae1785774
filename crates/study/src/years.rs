//! A job's meter readings over the years: how each line drifts, and what fails when.

use crate::finding::{Finding, Severity, Subject};
use crate::laid::LaidRun;
use crate::meter::{LEAKAGE_MOHM, expect};
use indexmap::IndexMap;
use loamline_electrics::COPPER_COEFFICIENT_PER_K;
use loamline_faults::{Drift, DriftWarning, ExpectedReading, Place, Tolerances, YearReading, drift};
use loamline_model::Job;
use loamline_model::document::Reading;
use serde::Serialize;

/// What a series is of.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Measured {
    /// |Z| at a frequency in hertz; 0 is the resistance of the loop at direct current.
    Loop(f64),
    /// Resistance from the conductors to earth.
    Leakage,
}

/// One reading of a series.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Dated {
    /// The visit.
    pub visit: String,
    /// Its day.
    pub date: String,
    /// What was read, ohm.
    pub ohm: f64,
    /// The meter showed more than this; such a reading has no part in the drift.
    pub above: bool,
}

/// One quantity of a line at the rack, oldest reading first.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Series {
    /// What was measured.
    pub measured: Measured,
    /// The readings.
    pub readings: Vec<Dated>,
    /// What it must not pass, ohm: of the loop the top of what 95 of 100 sound lines read, of leakage what a dry line has;
    /// absent where a sound line reads open.
    pub limit_ohm: Option<f64>,
    /// How it moves; absent with fewer than two days.
    pub drift: Option<Drift>,
}

/// Deviation of an insulation tester's reading, relative: the ground's wetness of the day more than the tester (from
/// memory).
const LEAKAGE_DEVIATION: f64 = 0.2;

/// Every line's series, for lines that were read at the rack.
///
/// # Errors
/// A date that is none; what the engine finds wrong with a line.
pub fn years(
    job: &Job,
    runs: &[LaidRun],
    tolerances: &Tolerances,
) -> Result<IndexMap<String, Vec<Series>>, String> {
    let mut all: IndexMap<String, Vec<Series>> = IndexMap::new();
    let mut visits = Vec::new();
    for (id, visit) in &job.document().visits {
        let day = day_number(&visit.date).ok_or_else(|| {
            format!("visits.{id}.date: \"{}\" is no day; write it as year-month-day, 2026-04-17", visit.date)
        })?;
        visits.push((day, id, visit));
    }
    visits.sort_by_key(|(day, _, _)| *day);
    for (_, id, visit) in &visits {
        for reading in visit.readings.values().filter(|r| r.at.is_none()) {
            let Some((measured, ohm)) = measured(reading) else { continue };
            let line = all.entry(reading.line.clone()).or_default();
            let dated = Dated { visit: (*id).clone(), date: visit.date.clone(), ohm, above: reading.above };
            match line.iter_mut().find(|series| series.measured == measured) {
                Some(series) => {
                    // Measured again on the same visit: the later one counts.
                    series.readings.retain(|other| other.visit != **id);
                    series.readings.push(dated);
                }
                None => line.push(Series { measured, readings: vec![dated], limit_ohm: None, drift: None }),
            }
        }
    }
    if all.is_empty() {
        return Ok(all);
    }
    let mut frequencies: Vec<f64> = Vec::new();
    for series in all.values().flatten() {
        if let Measured::Loop(hz) = series.measured
            && !frequencies.contains(&hz)
        {
            frequencies.push(hz);
        }
    }
    let expected =
        if frequencies.is_empty() { IndexMap::new() } else { expect(job, runs, &frequencies, tolerances)? };
    for (line, series) in &mut all {
        let readings = expected.get(line).map_or(&[][..], |expected| &expected.readings);
        series.iter_mut().for_each(|one| fit(one, readings, tolerances));
    }
    Ok(all)
}

fn measured(reading: &Reading) -> Option<(Measured, f64)> {
    match (reading.leakage_ohm, reading.dc_ohm, reading.impedance_ohm) {
        (Some(ohm), _, _) => Some((Measured::Leakage, ohm)),
        (None, Some(ohm), _) => Some((Measured::Loop(0.0), ohm)),
        (None, None, Some(ohm)) => Some((Measured::Loop(reading.frequency_hz.unwrap_or(1000.0)), ohm)),
        (None, None, None) => None,
    }
}

fn fit(series: &mut Series, expected: &[ExpectedReading], tolerances: &Tolerances) {
    let days: Vec<(i64, f64)> = series
        .readings
        .iter()
        .filter(|reading| !reading.above)
        .filter_map(|reading| Some((day_number(&reading.date)?, reading.ohm)))
        .collect();
    let first = days.first().map_or(0, |day| day.0);
    let read: Vec<YearReading> =
        days.iter().map(|&(day, ohm)| YearReading { year: (day - first) as f64 / 365.25, ohm }).collect();
    let leakage = series.measured == Measured::Leakage;
    series.limit_ohm = match series.measured {
        Measured::Leakage => Some(1e6 * LEAKAGE_MOHM),
        Measured::Loop(hz) => expected
            .iter()
            .find(|e| e.place == Place::Rack && (e.frequency_hz - hz).abs() < 1e-9)
            .and_then(|e| e.high_ohm),
    };
    let Some(limit) = series.limit_ohm else { return };
    let mean = read.iter().map(|r| r.ohm).sum::<f64>() / read.len().max(1) as f64;
    // No reading is brought to one temperature: the ground's is a deviation of each.
    let warm = COPPER_COEFFICIENT_PER_K * tolerances.temperature_k;
    let floor = tolerances.meter_floor_ohm / mean.max(1e-9);
    let deviation = if leakage { LEAKAGE_DEVIATION } else { tolerances.meter.hypot(warm).hypot(floor) };
    series.drift = drift(&read, limit, !leakage, deviation);
}

/// Warnings before failure.
pub(crate) fn years_findings(job: &Job, runs: &[LaidRun]) -> Vec<Finding> {
    if job.document().visits.len() < 2 {
        return Vec::new();
    }
    let all = match years(job, runs, &Tolerances::default()) {
        Ok(all) => all,
        Err(sentence) => {
            return vec![Finding::new(Severity::Warning, Subject::new("visits", ""), sentence)];
        }
    };
    let of_line = |(line, series): (&String, &Vec<Series>)| -> Vec<Finding> {
        series.iter().filter_map(|one| warning(line, one)).collect()
    };
    all.iter().flat_map(of_line).collect()
}

fn warning(line: &str, series: &Series) -> Option<Finding> {
    let (drift, limit) = (series.drift?, series.limit_ohm?);
    let (what, mend) = match series.measured {
        Measured::Leakage => ("leakage resistance", "Open its joints before then: water is getting in."),
        Measured::Loop(0.0) => {
            ("loop resistance", "Look into its joints before then: a splice is going high.")
        }
        Measured::Loop(_) => ("impedance", "Look into its joints before then: a splice is going high."),
    };
    let when = match drift.warning? {
        DriftWarning::Beyond => "passed already".to_owned(),
        DriftWarning::Within { years, earliest } => {
            format!("passed in about {years:.1} years, {earliest:.1} at the earliest")
        }
    };
    let sentence = format!(
        "Line {line}: its {what} moves by {} and is {} now; its limit of {} is {when}.",
        a_year(&drift),
        ohms(drift.now_ohm),
        ohms(limit)
    );
    Some(Finding::new(Severity::Warning, Subject::new("lines", line), sentence).mend(mend))
}

/// A drift with its interval: `+4.1 % a year (+2.9 to +5.3)`.
#[must_use]
pub fn a_year(drift: &Drift) -> String {
    let percent = |x: f64| format!("{:+.1}", 100.0 * x);
    format!("{} % a year ({} to {})", percent(drift.per_year), percent(drift.low), percent(drift.high))
}

/// Ohms with three meaningful digits and their unit.
#[must_use]
pub fn ohms(ohm: f64) -> String {
    let (value, unit) = match ohm {
        _ if ohm >= 1e6 => (ohm / 1e6, "Mohm"),
        _ if ohm >= 1e4 => (ohm / 1e3, "kohm"),
        _ => (ohm, "ohm"),
    };
    let places = if value < 10.0 { 2 } else { usize::from(value < 100.0) };
    format!("{value:.places$} {unit}")
}

/// Days since 1970-01-01 of a year-month-day of the Gregorian calendar; `None` for a day that is none.
fn day_number(text: &str) -> Option<i64> {
    let mut parts = text.trim().split('-');
    let mut number = || parts.next().and_then(|part| part.parse::<i64>().ok());
    let (year, month, day) = (number()?, number()?, number()?);
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let long = [31, 28 + i64::from(leap), 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
    let within = *long.get(usize::try_from(month - 1).ok()?)?;
    if parts.next().is_some() || !(1..=within).contains(&day) || !(1..=9999).contains(&year) {
        return None;
    }
    let before = year - 1;
    let days = 365 * before + before / 4 - before / 100 + before / 400;
    let months: i64 = long.iter().take(usize::try_from(month - 1).ok()?).sum();
    Some(days + months + day - 719_163)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_counted_by_the_calendar() {
        // POSIX: 2000-03-01 is 951868800 s after the epoch, 11017 days; 2026-11-25 is 20782.
        assert_eq!(day_number("1970-01-01"), Some(0));
        assert_eq!(day_number("2000-03-01"), Some(11_017));
        assert_eq!(day_number("2026-11-25"), Some(20_782));
        assert_eq!(day_number("2026-02-29"), None);
        assert_eq!(day_number("17 April"), None);
    }

    #[test]
    fn ohms_have_three_digits() {
        assert_eq!(
            [1.234, 14.56, 140.2, 12_340.0, 2.5e6].map(ohms),
            ["1.23 ohm", "14.6 ohm", "140 ohm", "12.3 kohm", "2.50 Mohm"]
        );
    }
}
