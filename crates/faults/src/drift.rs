//! A line's readings over the years.
//!
//! A straight line is fitted by least squares to the logarithm of each series; a rise of DC resistance means splices
//! going high, a fall of leakage (insulation) resistance water getting in. The slope's standard error is s / sqrt(sum of
//! (year - mean)^2), s being what a reading is known to err by or the scatter about the fit, whichever is larger (with two
//! readings there is no scatter to see). A warning needs a slope that is 1.96 of these errors the wrong way, so that of
//! steady lines one in forty warns.

use serde::Serialize;

use crate::normal::TWO_SIDED_95;

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
    /// On this course it passes its limit, in years from the last reading.
    Within {
        /// Likeliest.
        years: f64,
        /// At the fastest drift of its interval.
        earliest: f64,
    },
}

/// How a reading moves.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Drift {
    /// Relative change per year (0.05 is 5 % up a year).
    pub per_year: f64,
    /// 95 % interval of `per_year`: its lower end.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
    /// Standard error of the slope of ln(ohm), per year.
    pub slope_error: f64,
    /// The fitted value at the last reading, ohm.
    pub now_ohm: f64,
    /// Set when a limit is near (within ten years) or passed.
    pub warning: Option<DriftWarning>,
}

/// Fits `readings` (at least two different years, ohm above zero, a rate that is a number: otherwise `None`) against a limit in ohm that must not
/// be passed: from below when `rising_is_bad` (series resistance), from above otherwise (leakage resistance). `deviation` is
/// the relative standard deviation of one reading of an unchanged line: meter and temperature.
#[must_use]
pub fn drift(readings: &[YearReading], limit_ohm: f64, rising_is_bad: bool, deviation: f64) -> Option<Drift> {
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
    let residuals = readings.iter().map(|r| (r.ohm.ln() - log - slope * (r.year - year)).powi(2));
    let scatter = if readings.len() > 2 { (residuals.sum::<f64>() / (n - 2.0)).sqrt() } else { 0.0 };
    let slope_error = scatter.max(deviation) / spread.sqrt();
    // Far apart and of one day or two, they say nothing of years: the rate is beyond all numbers.
    let high = (slope + TWO_SIDED_95 * slope_error).exp_m1();
    if !high.is_finite() {
        return None;
    }
    let last = readings.iter().map(|r| r.year).fold(f64::MIN, f64::max);
    let now = log + slope * (last - year);
    let sign = if rising_is_bad { 1.0 } else { -1.0 };
    let room = sign * (limit_ohm.ln() - now);
    let bad = sign * slope;
    let years = room / bad;
    let warning = if room <= AT_THE_LIMIT {
        Some(DriftWarning::Beyond)
    } else {
        let earliest = room / (bad + TWO_SIDED_95 * slope_error);
        let sure = bad > TWO_SIDED_95 * slope_error;
        (sure && years <= AHEAD_YEARS).then_some(DriftWarning::Within { years, earliest })
    };
    Some(Drift {
        per_year: slope.exp_m1(),
        low: (slope - TWO_SIDED_95 * slope_error).exp_m1(),
        high,
        slope_error,
        now_ohm: now.exp(),
        warning,
    })
}

/// A fitted value this close to its limit, relative, is at it: a reading that is the limit itself comes out of the fit a few
/// last bits to either side.
const AT_THE_LIMIT: f64 = 1e-9;
/// A limit passed later than this, in years, is no reason to dig now (common practice, no source).
pub const AHEAD_YEARS: f64 = 10.0;

#[cfg(test)]
mod tests {
    use super::*;

    fn series(ohms: &[f64]) -> Vec<YearReading> {
        ohms.iter().enumerate().map(|(k, &ohm)| YearReading { year: k as f64, ohm }).collect()
    }

    #[test]
    fn a_line_mended_overnight_has_no_rate_a_year() {
        // ln 50 in a day is 1429 a year; e^709.8 is the largest number there is (IEEE 754).
        let overnight = [0.0, 1.0].map(|day| YearReading { year: day / 365.25, ohm: 0.68 * 50f64.powf(day) });
        assert_eq!(drift(&overnight, 31.0, true, 0.033), None);
        // In a year it has: fifty times as much.
        let year = [0.0, 1.0].map(|year| YearReading { year, ohm: 0.68 * 50f64.powf(year) });
        assert!((drift(&year, 31.0, true, 0.033).unwrap().per_year - 49.0).abs() < 1e-9);
    }

    #[test]
    fn a_series_that_ends_on_its_limit_has_come_to_it_whatever_the_rounding() {
        let limit = 91.182_324_590_111_26;
        for from in [109.259_231_832_366_28, 70.0, 85.3] {
            let readings =
                [YearReading { year: 0.0, ohm: from }, YearReading { year: 3.954_825, ohm: limit }];
            let warned = |limit: f64| drift(&readings, limit, true, 0.033).unwrap().warning;
            assert_eq!(warned(limit), Some(DriftWarning::Beyond), "{from}");
            assert_ne!(warned(limit * 1.000_001), Some(DriftWarning::Beyond), "{from}");
        }
    }

    #[test]
    fn a_splice_that_rises_ten_per_cent_a_year_is_seen_coming() {
        let readings = series(&[2.0, 2.2, 2.42, 2.662]);
        let drift = drift(&readings, 4.0, true, 0.03).unwrap();
        assert!((drift.per_year - 0.1).abs() < 1e-9);
        // ln(4 / 2.662) / ln 1.1 = 4.27 years; the error of the slope is 0.03 / sqrt 5 = 0.01342, the fastest drift
        // 0.09531 + 1.96 * 0.01342 = 0.1216 a year, 3.35 years.
        assert!((drift.slope_error - 0.013_416).abs() < 1e-6);
        let Some(DriftWarning::Within { years, earliest }) = drift.warning else { panic!("{drift:?}") };
        assert!((years - 4.27).abs() < 0.01 && (earliest - 3.35).abs() < 0.01, "{years} {earliest}");
        assert!(drift.low < 0.1 && 0.1 < drift.high);
    }

    #[test]
    fn steady_readings_warn_of_nothing() {
        let readings = [YearReading { year: 0.0, ohm: 5.0e6 }, YearReading { year: 3.0, ohm: 5.0e6 }];
        assert_eq!(drift(&readings, 1.0e6, false, 0.2).unwrap().warning, None);
        assert_eq!(drift(&readings[..1], 1.0e6, false, 0.2), None);
    }

    #[test]
    fn noise_alone_is_no_drift_and_what_is_past_its_limit_is_said() {
        // Two per cent up in a year is within what temperature does.
        let noisy = series(&[10.0, 10.2]);
        assert_eq!(drift(&noisy, 10.8, true, 0.03).unwrap().warning, None);
        let passed = series(&[10.0, 10.5, 11.0]);
        assert_eq!(drift(&passed, 10.8, true, 0.03).unwrap().warning, Some(DriftWarning::Beyond));
    }
}
