//! Where subwoofers on one signal cancel each other.
//!
//! Two subwoofers far apart do not simply add: where one path is longer by half a wavelength the sum is less than
//! either alone. Per band: how much of the area that costs, and the place where it is worst.

use super::field::{BassError, BassField, SubwooferSetting};
use crate::bands::Band;
use crate::level::db_from_energy;
use loamline_limits::go_on;
use num_complex::Complex64;
use serde::Serialize;

/// What adding with phase does in one third octave.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Cancellation {
    /// Which band.
    pub band: Band,
    /// Share of the points where the set is quieter than its loudest member alone, 0 to 1.
    pub quieter_share: f64,
    /// Point where the set falls furthest below its loudest member, from 0.
    pub worst_point: usize,
    /// Level of the set there, dB.
    pub level_db: f64,
    /// Level of the loudest member alone there, dB.
    pub loudest_alone_db: f64,
    /// Set less loudest member there, dB; negative where it cancels.
    pub gain_db: f64,
    /// Energy mean over the area of the set, less that of the members added without phase, dB: 0 where sums and
    /// nulls balance, up to 3 dB for two that add everywhere.
    pub mean_gain_db: f64,
}

/// What adding with phase does in each band, for a set of subwoofers on one signal. A single subwoofer cancels
/// nothing: all shares and gains are 0.
///
/// # Errors
/// [`BassError`] as [`bass_levels`](super::bass_levels).
pub fn cancellations(
    field: &BassField,
    setting: &[SubwooferSetting],
) -> Result<Vec<Cancellation>, BassError> {
    field.check_setting(setting)?;
    Ok(field.bands.iter().enumerate().map(|(b, &band)| in_band(field, setting, b, band)).collect())
}

fn in_band(field: &BassField, setting: &[SubwooferSetting], b: usize, band: Band) -> Cancellation {
    let n = setting.len();
    let mut together = vec![0.0; field.points];
    let mut alone = vec![vec![0.0; field.points]; n];
    for f in (0..field.frequencies_hz.len()).filter(|&f| field.band_of[f] == b) {
        go_on();
        let factors: Vec<Complex64> = setting.iter().map(|s| s.factor(field.frequencies_hz[f])).collect();
        for point in 0..field.points {
            let mut sum = Complex64::default();
            for (k, s) in setting.iter().enumerate() {
                let p = factors[k] * field.row(f, s.candidate)[point];
                alone[k][point] += p.norm_sqr() / field.lines_in[b];
                sum += p;
            }
            together[point] += sum.norm_sqr() / field.lines_in[b];
        }
    }
    let loudest = |point: usize| alone.iter().map(|a| a[point]).fold(0.0, f64::max);
    let gain = |point: usize| db_from_energy(together[point]) - db_from_energy(loudest(point));
    // A member alone sums to itself but for rounding.
    const ROUNDING_DB: f64 = 1e-9;
    let quieter = (0..field.points).filter(|&p| gain(p) < -ROUNDING_DB).count();
    let worst_point = (0..field.points).min_by(|&p, &q| gain(p).total_cmp(&gain(q))).unwrap_or(0);
    let energy: f64 = alone.iter().flatten().sum();
    Cancellation {
        band,
        quieter_share: quieter as f64 / field.points as f64,
        worst_point,
        level_db: db_from_energy(together[worst_point]),
        loudest_alone_db: db_from_energy(loudest(worst_point)),
        gain_db: gain(worst_point),
        mean_gain_db: db_from_energy(together.iter().sum()) - db_from_energy(energy),
    }
}
