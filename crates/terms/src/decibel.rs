//! Decibels: to and from energies and amplitudes, sums and means.

/// The level that stands for no sound at all, dB. Far below anything that is computed, yet a finite number that
/// tables, files and drawings can hold; no function here returns less.
pub const SILENCE_DB: f64 = -300.0;

/// Sound power level of a source that radiates alike all round, over its level at 1 m: 10 lg(4 pi), dB.
pub const POWER_OVER_LEVEL_DB: f64 = 10.992_098_640_220_96;

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

    /// The surface of a sphere of 1 m over 1 m2, in decibels; ISO 9613-2 rounds it to 11 dB.
    #[test]
    fn power_over_level_is_the_sphere_in_decibels() {
        let defined = 10.0 * (4.0 * std::f64::consts::PI).log10();
        assert!((POWER_OVER_LEVEL_DB - defined).abs() < 4e-15, "{defined}");
        assert!((POWER_OVER_LEVEL_DB - 11.0).abs() < 0.01);
    }
}
