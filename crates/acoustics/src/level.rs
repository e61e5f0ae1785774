//! Levels: decibels (`loamline_terms`), and how a level falls with distance.

pub use loamline_terms::{
    SILENCE_DB, amplitude_from_db, db_from_amplitude, db_from_energy, energy_from_db, mean_db, sum_db,
};

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
    fn inverse_square() {
        assert!((level_at_distance_db(90.0, 1.0, 10.0).unwrap() - 70.0).abs() < 1e-12);
        assert_eq!(level_at_distance_db(90.0, 1.0, 0.0), None);
        assert_eq!(level_at_distance_db(f64::NAN, 1.0, 2.0), None);
    }
}
