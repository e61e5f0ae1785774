//! A catalogue's values over frequency at the frequencies the engines work at.

use loamline_acoustics::{Band, BandValues, band_values};

/// Values over frequency at the band centres: straight over the logarithm of frequency, ends held.
pub(crate) fn on_bands(table: &[(f64, f64)]) -> BandValues {
    band_values(|b: Band| over_log_frequency(table, b.centre_hz()))
}

pub(crate) fn over_log_frequency(table: &[(f64, f64)], hz: f64) -> f64 {
    match table.iter().position(|p| p.0 >= hz) {
        None => table.last().map_or(0.0, |p| p.1),
        Some(0) => table[0].1,
        Some(i) => {
            let ((f0, v0), (f1, v1)) = (table[i - 1], table[i]);
            v0 + (v1 - v0) * (hz / f0).ln() / (f1 / f0).ln()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_run_straight_over_log_frequency_and_hold_at_the_ends() {
        let table = [(100.0, 0.0), (10_000.0, -20.0)];
        assert_eq!(over_log_frequency(&table, 20.0), 0.0);
        assert!((over_log_frequency(&table, 1000.0) + 10.0).abs() < 1e-12);
        assert_eq!(over_log_frequency(&table, 20_000.0), -20.0);
    }
}
