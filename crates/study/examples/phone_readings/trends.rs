//! Readings of several years and what the engine makes of them.

use loamline_chance::Draws;
use loamline_faults::rules::{AHEAD_YEARS, TWO_SIDED_95};
use loamline_faults::{DriftWarning, YearReading, drift};
use serde_json::{Value, json};

/// So many series: steady, moving either way, noisy; few readings and many, several on one day or the days
/// after; some that say nothing (one reading, one day, no resistance, no limit).
pub fn trends(count: usize) -> Vec<Value> {
    let mut dice = Draws::new(20_270_112);
    (0..count).map(|_| trend(&mut dice)).collect()
}

fn trend(dice: &mut Draws) -> Value {
    let first = 10f64.powf(dice.between(-1.0, 7.0));
    // Half of them lie near the edges: a slope about as sure as it has to be, a limit about as far off as is told.
    let edge = dice.happens(0.5);
    let noise = if edge { 0.0 } else { *dice.among(&[0.0, 0.002, 0.03, 0.2, 3.0]) };
    let deviation = *dice.among(&[0.01, 0.033, 0.2]);
    let readings = if edge { 2 + dice.below(7) } else { dice.below(8) };
    let one_day = dice.happens(0.05);
    let overnight = dice.happens(0.05);
    let mut year = 0.0;
    let days: Vec<f64> = (0..readings)
        .map(|n| {
            if n > 0 && !one_day && !dice.happens(0.1) {
                year += if overnight { 1.0 / 365.25 } else { dice.between(0.05, 2.5) };
            }
            year
        })
        .collect();
    let rate = match edge {
        true => dice.between(0.98, 1.02) * TWO_SIDED_95 * deviation / spread(&days).max(0.01),
        false if dice.happens(0.3) => 0.0,
        false => 0.15 * dice.normal(),
    };
    let rate = if dice.happens(0.5) { rate } else { -rate };
    let readings: Vec<YearReading> = days
        .iter()
        .map(|&year| {
            let ohm = first * (rate * year + noise * dice.normal()).exp();
            YearReading { year, ohm: if dice.happens(0.01) { *dice.among(&[0.0, -1.0]) } else { ohm } }
        })
        .collect();
    let limit_ohm = match dice.below(40) {
        0 => 0.0,
        1 => -1.0,
        _ if edge => first * (rate * (year + dice.between(0.0, 1.2 * AHEAD_YEARS))).exp(),
        _ => first * (0.6 * dice.normal()).exp(),
    };
    let rising_is_bad = if edge { rate > 0.0 } else { dice.happens(0.5) };
    let told = drift(&readings, limit_ohm, rising_is_bad, deviation).map(
        |d| json!({ "per_year": d.per_year, "now_ohm": d.now_ohm, "years_left": years_left(d.warning) }),
    );
    json!({ "readings": readings, "limit_ohm": limit_ohm, "rising_is_bad": rising_is_bad, "deviation": deviation,
        "drift": told })
}

/// Square root of the sum of the squares about the mean.
fn spread(days: &[f64]) -> f64 {
    let mean = days.iter().sum::<f64>() / days.len() as f64;
    days.iter().map(|day| (day - mean).powi(2)).sum::<f64>().sqrt()
}

/// Years until the limit is passed, as a phone says it; 0 where it is.
pub fn years_left(warning: Option<DriftWarning>) -> Option<f64> {
    warning.map(|warning| match warning {
        DriftWarning::Beyond => 0.0,
        DriftWarning::Within { years, .. } => years,
    })
}
