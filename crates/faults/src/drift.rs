//! A line's readings over the years.
//!
//! A straight line is fitted by least squares to the logarithm of each series; a rise of DC resistance means splices
//! going high, a fall of leakage (insulation) resistance water getting in.

use serde::Serialize;

/// A reading of one year.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct YearReading {
    /// Years since the first reading.
    pub year: f64,
    /// Ohm.
    pub ohm: f64,
}

/// A warning before failure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum DriftWarning {
    /// Beyond its limit already.
    Beyond,
    /// On this course it passes its limit in so many years from the last reading.
    Within(f64),
}

/// How a reading moves.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Drift {
    /// Relative change per year (0.05 is 5 % up a year).
    pub per_year: f64,
    /// The fitted value at the last reading, ohm.
    pub now_ohm: f64,
    /// Set when a limit is near (within ten years) or passed.
    pub warning: Option<DriftWarning>,
}

/// Fits `readings` (at least two different years, ohm above zero, otherwise `None`) against a limit in ohm that must not
/// be passed: from below when `rising_is_bad` (series resistance), from above otherwise (leakage resistance).
#[must_use]
pub fn drift(readings: &[YearReading], limit_ohm: f64, rising_is_bad: bool) -> Option<Drift> {
    if readings.iter().any(|r| !(r.ohm > 0.0 && r.ohm.is_finite() && r.year.is_finite())) {
        return None;
    }
    let n = readings.len() as f64;
    let mean = |value: &dyn Fn(&YearReading) -> f64| readings.iter().map(value).sum::<f64>() / n;
    let (year, log) = (mean(&|r| r.year), mean(&|r| r.ohm.ln()));
    let spread: f64 = readings.iter().map(|r| (r.year - year).powi(2)).sum();
    if readings.len() < 2 || spread <= 0.0 || !(limit_ohm > 0.0 && limit_ohm.is_finite()) {
        return None;
    }
    let slope = readings.iter().map(|r| (r.year - year) * (r.ohm.ln() - log)).sum::<f64>() / spread;
    let last = readings.iter().map(|r| r.year).fold(f64::MIN, f64::max);
    let now = log + slope * (last - year);
    let sign = if rising_is_bad { 1.0 } else { -1.0 };
    let room = sign * (limit_ohm.ln() - now);
    let years = room / (sign * slope);
    let warning = if room <= 0.0 {
        Some(DriftWarning::Beyond)
    } else {
        (sign * slope > 0.0 && years <= 10.0).then_some(DriftWarning::Within(years))
    };
    Some(Drift { per_year: slope.exp() - 1.0, now_ohm: now.exp(), warning })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_splice_that_rises_ten_per_cent_a_year_is_seen_coming() {
        let readings: Vec<_> =
            (0..4).map(|k| YearReading { year: f64::from(k), ohm: 2.0 * 1.1f64.powi(k) }).collect();
        let drift = drift(&readings, 4.0, true).unwrap();
        assert!((drift.per_year - 0.1).abs() < 1e-9);
        // 2 * 1.1^3 = 2.662 ohm; ln(4 / 2.662) / ln 1.1 = 4.27 years.
        assert!(matches!(drift.warning, Some(DriftWarning::Within(years)) if (years - 4.27).abs() < 0.01));
    }

    #[test]
    fn steady_readings_warn_of_nothing() {
        let readings = [YearReading { year: 0.0, ohm: 5.0e6 }, YearReading { year: 3.0, ohm: 5.0e6 }];
        assert_eq!(drift(&readings, 1.0e6, false).unwrap().warning, None);
        assert_eq!(drift(&readings[..1], 1.0e6, false), None);
    }
}
