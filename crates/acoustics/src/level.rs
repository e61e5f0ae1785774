//! Adding and averaging levels.

/// The level that stands for no sound at all, dB. Far below anything that is computed, yet a finite number that
/// tables, files and drawings can hold; no function here returns less.
pub const SILENCE_DB: f64 = -300.0;

/// Level of an energy (a ratio to the reference), dB: 10 lg; [`SILENCE_DB`] for nothing or less.
pub fn db_from_energy(energy: f64) -> f64 {
    if energy > 0.0 { (10.0 * energy.log10()).max(SILENCE_DB) } else { SILENCE_DB }
}

/// Energy of a level: 10^(level/10).
pub fn energy_from_db(level_db: f64) -> f64 {
    10f64.powf(level_db / 10.0)
}

/// Level of an amplitude (a ratio), dB: 20 lg of its size; [`SILENCE_DB`] for nothing.
pub fn db_from_amplitude(amplitude: f64) -> f64 {
    db_from_energy(amplitude * amplitude)
}

/// Amplitude of a level: 10^(level/20).
pub fn amplitude_from_db(level_db: f64) -> f64 {
    10f64.powf(level_db / 20.0)
}

/// Energy sum of levels, dB; [`SILENCE_DB`] for none. Sums about the loudest, so very high and very low levels
/// neither overflow nor vanish.
pub fn sum_db(levels_db: impl IntoIterator<Item = f64, IntoIter: Clone>) -> f64 {
    let levels = levels_db.into_iter();
    let loudest = levels.clone().fold(SILENCE_DB, f64::max);
    if loudest <= SILENCE_DB {
        return SILENCE_DB;
    }
    loudest + db_from_energy(levels.map(|l| energy_from_db(l - loudest)).sum())
}

/// Energy mean of levels, dB; [`SILENCE_DB`] for none.
pub fn mean_db(levels_db: impl IntoIterator<Item = f64, IntoIter: Clone>) -> f64 {
    let levels = levels_db.into_iter();
    let n = levels.clone().count();
    if n == 0 {
        return SILENCE_DB;
    }
    (sum_db(levels) - 10.0 * (n as f64).log10()).max(SILENCE_DB)
}

/// Level at another distance from a small source in the open, dB: falls 6.02 dB for each doubling (inverse
/// square law, no air absorption). Distances in metres, above zero; `None` where either is not.
pub fn level_at_distance_db(level_db: f64, reference_m: f64, distance_m: f64) -> Option<f64> {
    let usable = |d: f64| d.is_finite() && d > 0.0;
    (usable(reference_m) && usable(distance_m) && level_db.is_finite())
        .then(|| level_db - 20.0 * (distance_m / reference_m).log10())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_levels_add_three_decibels() {
        assert!((sum_db([70.0, 70.0]) - 73.0103).abs() < 1e-5);
        assert!((sum_db([5000.0, 5000.0]) - 5003.0103).abs() < 1e-5);
        assert!((mean_db([70.0, 70.0, 70.0]) - 70.0).abs() < 1e-12);
        // 10 lg ((10^6 + 10^7) / 2) = 67.404 dB, by hand.
        assert!((mean_db([60.0, 70.0]) - 67.4036).abs() < 1e-4);
    }

    #[test]
    fn nothing_is_a_number() {
        assert_eq!(sum_db([]), SILENCE_DB);
        assert_eq!(mean_db([]), SILENCE_DB);
        assert_eq!(sum_db([SILENCE_DB, f64::NEG_INFINITY]), SILENCE_DB);
        assert_eq!(db_from_amplitude(0.0), SILENCE_DB);
    }

    #[test]
    fn inverse_square() {
        assert!((level_at_distance_db(90.0, 1.0, 10.0).unwrap() - 70.0).abs() < 1e-12);
        assert_eq!(level_at_distance_db(90.0, 1.0, 0.0), None);
        assert_eq!(level_at_distance_db(f64::NAN, 1.0, 2.0), None);
    }
}
