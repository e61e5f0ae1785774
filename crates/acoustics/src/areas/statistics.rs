//! What the levels at an area's points say about the area.
//!
//! Each point stands for the same share of the area. Percentiles interpolate linearly between sorted points (the
//! common definition, as in numpy). Spread is the 90th percentile less the 10th, in dBA.

use crate::bands::{BandValues, OctaveValues, octave_sums_db};
use crate::level::mean_db;
use crate::weighting::Weighting;
use loamline_terms::{BASS, MID};
use serde::Serialize;
use thiserror::Error;

/// Why an area has no statistics.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum AreaError {
    /// No points.
    #[error("the area has no points to take statistics over; sample its outline first")]
    Empty,
    /// A level that is not a number.
    #[error("the level at point {point} is not a finite number")]
    NotFinite {
        /// Which point, from 1.
        point: usize,
    },
    /// A target or tolerance that makes no sense.
    #[error(
        "the target must be a finite level and its tolerance more than 0 dB; {target_dba} dBA +- {tolerance_db} dB is not"
    )]
    Target {
        /// Target, dBA.
        target_dba: f64,
        /// Tolerance, dB.
        tolerance_db: f64,
    },
}

/// Levels over an area.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct AreaStatistics {
    /// Points taken.
    pub points: usize,
    /// Arithmetic mean of LAeq over the points, dBA: what a listener meets on average.
    pub mean_dba: f64,
    /// Energy mean of LAeq, dBA: loud corners weigh more.
    pub energy_mean_dba: f64,
    /// Level that a tenth of the area stays below, dBA.
    pub p10_dba: f64,
    /// Level that nine tenths of the area stay below, dBA.
    pub p90_dba: f64,
    /// 90th less 10th percentile, dB.
    pub spread_db: f64,
    /// Quietest point, dBA.
    pub lowest_dba: f64,
    /// Loudest point, dBA.
    pub highest_dba: f64,
    /// Place of the loudest point in the list, from 0.
    pub highest_point: usize,
    /// Share of the area within the tolerance of the target, 0 to 1.
    pub share_within: f64,
    /// Share of the area below the target by more than the tolerance, 0 to 1.
    pub share_below: f64,
    /// Share of the area above the target by more than the tolerance, 0 to 1.
    pub share_above: f64,
    /// Energy mean of the octaves 31.5, 63 and 125 Hz together, dB.
    pub bass_db: f64,
    /// Energy mean of the octaves 500 Hz, 1 kHz and 2 kHz together, dB.
    pub mid_db: f64,
    /// Bass less mid band, dB.
    pub bass_over_mid_db: f64,
    /// Energy mean of LCeq, dBC.
    pub energy_mean_dbc: f64,
    /// Energy mean per third octave, dB.
    #[cfg_attr(feature = "schema", schema(value_type = Vec<f64>))]
    pub mean_bands_db: BandValues,
}

/// Statistics of third-octave levels at an area's points against a target level (dBA) and a tolerance (dB, 3 by
/// custom).
///
/// # Errors
/// [`AreaError`] for no points, a level that is not finite, or a target that is none.
pub fn area_statistics(
    levels: &[BandValues],
    target_dba: f64,
    tolerance_db: f64,
) -> Result<AreaStatistics, AreaError> {
    if levels.is_empty() {
        return Err(AreaError::Empty);
    }
    if let Some(i) = levels.iter().position(|bands| bands.iter().any(|l| !l.is_finite())) {
        return Err(AreaError::NotFinite { point: i + 1 });
    }
    if !(target_dba.is_finite() && tolerance_db.is_finite() && tolerance_db > 0.0) {
        return Err(AreaError::Target { target_dba, tolerance_db });
    }
    let n = levels.len() as f64;
    let dba: Vec<f64> = levels.iter().map(|bands| Weighting::A.level_db(bands)).collect();
    let mut sorted = dba.clone();
    sorted.sort_by(f64::total_cmp);
    let share =
        |wanted: &dyn Fn(f64) -> bool| dba.iter().filter(|&&l| wanted(l - target_dba)).count() as f64 / n;
    let mean_bands_db: BandValues = std::array::from_fn(|b| mean_db(levels.iter().map(|bands| bands[b])));
    // The mean over points of a sum over bands is the sum over bands of means over points.
    let octaves: OctaveValues = octave_sums_db(&mean_bands_db);
    let (bass_db, mid_db) = (BASS.level_db(&octaves), MID.level_db(&octaves));
    let (p10_dba, p90_dba) = (percentile_sorted(&sorted, 0.1), percentile_sorted(&sorted, 0.9));
    let highest_point = dba.iter().enumerate().rev().max_by(|a, b| a.1.total_cmp(b.1)).map_or(0, |(i, _)| i);
    Ok(AreaStatistics {
        points: levels.len(),
        mean_dba: dba.iter().sum::<f64>() / n,
        energy_mean_dba: mean_db(dba.iter().copied()),
        p10_dba,
        p90_dba,
        spread_db: p90_dba - p10_dba,
        lowest_dba: sorted[0],
        highest_dba: sorted[sorted.len() - 1],
        highest_point,
        share_within: share(&|off| off.abs() <= tolerance_db),
        share_below: share(&|off| off < -tolerance_db),
        share_above: share(&|off| off > tolerance_db),
        bass_db,
        mid_db,
        bass_over_mid_db: bass_db - mid_db,
        energy_mean_dbc: Weighting::C.level_db(&mean_bands_db),
        mean_bands_db,
    })
}

/// The value a fraction (0 to 1) of the values lies below, linear between sorted values; `None` for no values or a
/// fraction outside 0 to 1. Values must be finite.
pub fn percentile(values: &[f64], fraction: f64) -> Option<f64> {
    if values.is_empty() || !(0.0..=1.0).contains(&fraction) {
        return None;
    }
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    Some(percentile_sorted(&sorted, fraction))
}

/// As [`percentile`], of at least one value, already sorted.
pub(crate) fn percentile_sorted(sorted: &[f64], fraction: f64) -> f64 {
    let place = fraction * (sorted.len() - 1) as f64;
    let below = place as usize;
    let above = (below + 1).min(sorted.len() - 1);
    sorted[below] + (place - below as f64) * (sorted[above] - sorted[below])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bands::{BAND_COUNT, Band};
    use crate::level::SILENCE_DB;
    use proptest::prelude::*;

    /// A tone in the 1 kHz band: dBA and level are the same.
    fn tones(levels: &[f64]) -> Vec<BandValues> {
        levels
            .iter()
            .map(|&l| {
                let mut bands = [SILENCE_DB; BAND_COUNT];
                bands[17] = l;
                bands
            })
            .collect()
    }

    /// By hand, and percentiles as numpy.percentile gives them: [60..=70], 10 % -> 61, 90 % -> 69.
    #[test]
    fn a_ramp_of_levels() {
        let ramp: Vec<f64> = (60..=70).map(f64::from).collect();
        let s = area_statistics(&tones(&ramp), 65.0, 3.0).unwrap();
        let close = |a: f64, b: f64| (a - b).abs() < 1e-9;
        assert!(close(s.mean_dba, 65.0) && close(s.p10_dba, 61.0) && close(s.p90_dba, 69.0));
        assert!(close(s.spread_db, 8.0) && close(s.lowest_dba, 60.0) && close(s.highest_dba, 70.0));
        assert!(close(s.share_within, 7.0 / 11.0) && close(s.share_below, 2.0 / 11.0));
        assert!(close(s.share_within + s.share_below + s.share_above, 1.0));
        assert_eq!((s.points, s.highest_point), (11, 10));
        assert!(s.energy_mean_dba > s.mean_dba);
        assert_eq!(percentile(&[1.0, 2.0, 4.0], 0.75), Some(3.0));
        assert_eq!((percentile(&[], 0.5), percentile(&[1.0], 1.5)), (None, None));
    }

    /// Equal levels in all thirds: three octaves each side of the balance, no difference.
    #[test]
    fn bass_is_held_against_the_mid_band() {
        let mut bands = [70.0; BAND_COUNT];
        let flat = area_statistics(&[bands; 4], 80.0, 3.0).unwrap();
        assert!(flat.bass_over_mid_db.abs() < 1e-9);
        assert!((flat.bass_db - (70.0 + 10.0 * 9f64.log10())).abs() < 1e-9);
        for b in Band::all().filter(|b| b.octave().is_some_and(|o| o.nominal_hz() < 200.0)) {
            bands[b.index()] += 6.0;
        }
        assert!((area_statistics(&[bands], 80.0, 3.0).unwrap().bass_over_mid_db - 6.0).abs() < 1e-9);
    }

    #[test]
    fn bad_areas_are_refused() {
        assert_eq!(area_statistics(&[], 70.0, 3.0), Err(AreaError::Empty));
        let bad = tones(&[60.0, f64::NAN]);
        assert_eq!(area_statistics(&bad, 70.0, 3.0), Err(AreaError::NotFinite { point: 2 }));
        assert!(area_statistics(&tones(&[60.0]), f64::NAN, 3.0).is_err());
    }

    proptest! {
        #[test]
        fn order_does_not_matter_and_numbers_stay_in_order(mut levels in prop::collection::vec(-20.0f64..120.0, 1..40)) {
            let a = area_statistics(&tones(&levels), 70.0, 3.0).unwrap();
            levels.reverse();
            let b = area_statistics(&tones(&levels), 70.0, 3.0).unwrap();
            prop_assert!((a.mean_dba - b.mean_dba).abs() < 1e-9);
            prop_assert!((a.p90_dba - b.p90_dba).abs() < 1e-9);
            prop_assert!(a.lowest_dba <= a.p10_dba && a.p10_dba <= a.p90_dba && a.p90_dba <= a.highest_dba);
            prop_assert!(a.mean_dba <= a.energy_mean_dba + 1e-9);
        }
    }
}
