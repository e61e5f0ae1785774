//! The frequencies lines are solved at: base-ten third-octave centres (IEC 61260-1, clause 5.2), 20 Hz to 20 kHz.

/// Number of third-octave bands from 20 Hz to 20 kHz.
pub const BAND_COUNT: usize = 31;

/// Index of the 1 kHz band in [`third_octave_centres_hz`].
pub const BAND_1_KHZ: usize = 17;

/// The exact centres 1000 * 10^(n/10) Hz, n = -17..=13 (the bands named 20 Hz to 20 kHz), lowest first.
#[must_use]
pub fn third_octave_centres_hz() -> [f64; BAND_COUNT] {
    std::array::from_fn(|i| 1000.0 * 10f64.powf((i as f64 - BAND_1_KHZ as f64) / 10.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn centres_are_base_ten() {
        let centres = third_octave_centres_hz();
        assert!((centres[BAND_1_KHZ] - 1000.0).abs() < 1e-9);
        // IEC 61260-1 Annex A: exact centres of the bands named 20 Hz, 63 Hz and 20 kHz.
        assert!((centres[0] - 19.953).abs() < 1e-3);
        assert!((centres[5] - 63.096).abs() < 1e-3);
        assert!((centres[30] - 19952.62).abs() < 1e-2);
    }
}
