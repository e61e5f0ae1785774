//! How long a person may stay in a sound, and the limit for venues.
//!
//! NIOSH Publication 98-126 (1998), chapter 1: 85 dBA for 8 hours, half the time for every 3 dB more, none above
//! 140 dBA. WHO global standard for safe listening venues and events (2022), feature 1: at most 100 dB
//! LAeq,15min. Both are about hearing, not annoyance. Left out: peaks of impulsive sound.

use thiserror::Error;

/// NIOSH recommended exposure limit, dBA for [`NIOSH_SHIFT_S`].
pub const NIOSH_LIMIT_DBA: f64 = 85.0;
/// Time that goes with [`NIOSH_LIMIT_DBA`]: 8 hours, s.
pub const NIOSH_SHIFT_S: f64 = 28_800.0;
/// Change of level that halves the permitted time, dB.
pub const NIOSH_EXCHANGE_DB: f64 = 3.0;
/// No exposure above this, dBA.
pub const NIOSH_CEILING_DBA: f64 = 140.0;
/// WHO 2022 limit for venues and events, dB LAeq over 15 minutes.
pub const WHO_VENUE_LIMIT_DBA: f64 = 100.0;

/// A level or time that cannot be judged.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum ExposureError {
    /// Level outside 0 to 200 dBA, or not a number.
    #[error("the level must be 0 to 200 dBA; {level_dba} dBA is not")]
    Level {
        /// What was given, dBA.
        level_dba: f64,
    },
    /// Negative time, or not a number.
    #[error("the time must be 0 s or more; {time_s} s is not")]
    Time {
        /// What was given, s.
        time_s: f64,
    },
}

/// Time permitted at a steady level in a day, s; 0 above 140 dBA. Quiet levels give more than a day, which means
/// no restriction.
///
/// # Errors
/// [`ExposureError::Level`] outside 0 to 200 dBA.
pub fn niosh_permitted_s(level_dba: f64) -> Result<f64, ExposureError> {
    if !(0.0..=200.0).contains(&level_dba) {
        return Err(ExposureError::Level { level_dba });
    }
    if level_dba > NIOSH_CEILING_DBA {
        return Ok(0.0);
    }
    Ok(NIOSH_SHIFT_S / 2f64.powf((level_dba - NIOSH_LIMIT_DBA) / NIOSH_EXCHANGE_DB))
}

/// Daily dose of a stay, % of what is permitted; 100 is the limit. Levels above 140 dBA count at the exchange
/// rate too, so the dose stays finite; they are never permitted whatever the dose.
///
/// # Errors
/// [`ExposureError`] for a level outside 0 to 200 dBA or a negative time.
pub fn niosh_dose_percent(level_dba: f64, time_s: f64) -> Result<f64, ExposureError> {
    niosh_permitted_s(level_dba)?;
    if !(time_s.is_finite() && time_s >= 0.0) {
        return Err(ExposureError::Time { time_s });
    }
    Ok(100.0 * time_s / NIOSH_SHIFT_S * 2f64.powf((level_dba - NIOSH_LIMIT_DBA) / NIOSH_EXCHANGE_DB))
}

/// Room below the WHO venue limit, dB; negative when LAeq,15min is above it.
pub fn who_venue_margin_db(laeq_15min_dba: f64) -> f64 {
    WHO_VENUE_LIMIT_DBA - laeq_15min_dba
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// NIOSH 98-126 Table 1-1: permitted duration at a level (hours, minutes, seconds as printed).
    #[test]
    fn the_table_of_niosh_is_met() {
        for (level, hours, minutes, seconds, printed_to_s) in [
            (80.0, 25.0, 24.0, 0.0, 60.0),
            (82.0, 16.0, 0.0, 0.0, 60.0),
            (85.0, 8.0, 0.0, 0.0, 1.0),
            (88.0, 4.0, 0.0, 0.0, 1.0),
            (90.0, 2.0, 31.0, 0.0, 60.0),
            (94.0, 1.0, 0.0, 0.0, 1.0),
            (97.0, 0.0, 30.0, 0.0, 1.0),
            (100.0, 0.0, 15.0, 0.0, 1.0),
            (103.0, 0.0, 7.0, 30.0, 1.0),
            (106.0, 0.0, 3.0, 45.0, 1.0),
            (109.0, 0.0, 1.0, 53.0, 1.0),
            (112.0, 0.0, 0.0, 56.0, 1.0),
            (115.0, 0.0, 0.0, 28.0, 1.0),
            (121.0, 0.0, 0.0, 7.0, 1.0),
        ] {
            let printed = 3600.0 * hours + 60.0 * minutes + seconds;
            let ours = niosh_permitted_s(level).unwrap();
            assert!((ours - printed).abs() < printed_to_s, "{level} dBA: {ours} s for {printed} s");
        }
        assert_eq!(niosh_permitted_s(140.1), Ok(0.0));
    }

    #[test]
    fn doses_and_bad_input() {
        assert!((niosh_dose_percent(94.0, 1800.0).unwrap() - 50.0).abs() < 1e-9);
        assert!(niosh_permitted_s(f64::NAN).unwrap_err().to_string().contains("0 to 200 dBA"));
        assert!(niosh_dose_percent(90.0, -1.0).is_err());
        assert_eq!(who_venue_margin_db(103.0), -3.0);
    }

    proptest! {
        #[test]
        fn three_decibels_halve_the_time(level in 0.0f64..137.0) {
            let (a, b) = (niosh_permitted_s(level).unwrap(), niosh_permitted_s(level + 3.0).unwrap());
            prop_assert!((a / b - 2.0).abs() < 1e-9);
        }
    }
}
