//! Frequency weightings A, C and Z.
//!
//! IEC 61672-1:2013 Annex E, analytic: the pole frequencies follow from the design values (1 kHz reference,
//! 10^1.5 Hz and 10^3.9 Hz corners of C, 10^2.45 Hz of A, half power at the corners); both curves are exactly
//! 0 dB at 1 kHz. Checked against the nominal values of its Table 3, to the tenth of a decibel printed there.

use crate::bands::{BAND_COUNT, BandValues, band_values};
use crate::decibel::{SILENCE_DB, db_from_amplitude, sum_db};
use serde::{Deserialize, Serialize};
use std::sync::LazyLock;

/// A-weighting of the octaves 63 Hz to 8 kHz at their nominal frequencies, IEC 61672-1:2013 Table 3, dB: what methods that
/// work in octaves use (ISO 9613-2).
pub const A_OCTAVES_DB: [f64; 8] = [-26.2, -16.1, -8.6, -3.2, 0.0, 1.2, 1.0, -1.1];

/// A frequency weighting.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Weighting {
    /// A: about how loud moderate sound seems; limits for neighbours.
    A,
    /// C: nearly flat; shows bass that A hides.
    C,
    /// Z: flat.
    Z,
}

impl Weighting {
    /// Gain at a frequency, dB. [`SILENCE_DB`] at 0 Hz and for a frequency that is negative or not finite
    /// (A and C); Z is 0 everywhere.
    pub fn gain_db(self, frequency_hz: f64) -> f64 {
        if self == Self::Z {
            return 0.0;
        }
        if !(frequency_hz.is_finite() && frequency_hz > 0.0) {
            return SILENCE_DB;
        }
        let at_1k = self.unscaled(1000.0);
        db_from_amplitude(self.unscaled(frequency_hz) / at_1k)
    }

    /// Gain at the exact centre of each third octave, dB.
    pub fn band_gains_db(self) -> &'static BandValues {
        static A: LazyLock<BandValues> =
            LazyLock::new(|| band_values(|b| Weighting::A.gain_db(b.centre_hz())));
        static C: LazyLock<BandValues> =
            LazyLock::new(|| band_values(|b| Weighting::C.gain_db(b.centre_hz())));
        static Z: BandValues = [0.0; BAND_COUNT];
        match self {
            Self::A => &A,
            Self::C => &C,
            Self::Z => &Z,
        }
    }

    /// Weighted level of a third-octave spectrum, dB.
    pub fn level_db(self, bands_db: &BandValues) -> f64 {
        sum_db(bands_db.iter().zip(self.band_gains_db()).map(|(l, g)| l + g))
    }

    /// Annex E equations E.1 (C) and E.6 (A) without their constants, amplitude.
    fn unscaled(self, frequency_hz: f64) -> f64 {
        let p = &*POLES;
        // In units of 1 kHz, so that the squares of large frequencies stay in range.
        let f2 = (frequency_hz / 1000.0).powi(2);
        let square = |hz: f64| (hz / 1000.0).powi(2);
        let c = (f2 / (f2 + square(p.f1_hz))) / (f2 / square(p.f4_hz) + 1.0);
        match self {
            Self::A => c * (f2 / (f2 + square(p.f2_hz))).sqrt() * (f2 / (f2 + square(p.f3_hz))).sqrt(),
            Self::C => c,
            Self::Z => 1.0,
        }
    }
}

/// Pole frequencies of the weightings, Hz.
struct Poles {
    f1_hz: f64,
    f2_hz: f64,
    f3_hz: f64,
    f4_hz: f64,
}

static POLES: LazyLock<Poles> = LazyLock::new(|| {
    // Annex E.3: reference, low and high half-power frequencies.
    let (reference, low, high) = (1000f64, 10f64.powf(1.5), 10f64.powf(3.9));
    let d = 0.5f64.sqrt();
    let (r2, l2, h2) = (reference * reference, low * low, high * high);
    let b = (r2 + l2 * h2 / r2 - d * (l2 + h2)) / (1.0 - d);
    let c = l2 * h2;
    let root = (b * b - 4.0 * c).sqrt();
    let a = 10f64.powf(2.45);
    let five = 5f64.sqrt();
    Poles {
        f1_hz: ((-b - root) / 2.0).sqrt(),
        f2_hz: (3.0 - five) / 2.0 * a,
        f3_hz: (3.0 + five) / 2.0 * a,
        f4_hz: ((-b + root) / 2.0).sqrt(),
    }
});

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bands::Band;

    /// IEC 61672-1:2013 Table 3: nominal A and C weightings, dB, 20 Hz to 20 kHz.
    const TABLE_A: [f64; 31] = [
        -50.5, -44.7, -39.4, -34.6, -30.2, -26.2, -22.5, -19.1, -16.1, -13.4, -10.9, -8.6, -6.6, -4.8, -3.2,
        -1.9, -0.8, 0.0, 0.6, 1.0, 1.2, 1.3, 1.2, 1.0, 0.5, -0.1, -1.1, -2.5, -4.3, -6.6, -9.3,
    ];
    const TABLE_C: [f64; 31] = [
        -6.2, -4.4, -3.0, -2.0, -1.3, -0.8, -0.5, -0.3, -0.2, -0.1, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0,
        0.0, -0.1, -0.2, -0.3, -0.5, -0.8, -1.3, -2.0, -3.0, -4.4, -6.2, -8.5, -11.2,
    ];

    #[test]
    fn the_nominal_table_is_met() {
        for b in Band::all() {
            for (w, table) in [(Weighting::A, TABLE_A), (Weighting::C, TABLE_C)] {
                let (ours, printed) = (w.gain_db(b.centre_hz()), table[b.index()]);
                assert!((ours - printed).abs() <= 0.05, "{w:?} {}: {ours} for {printed}", b.label());
            }
        }
    }

    #[test]
    fn the_octaves_are_those_of_the_table() {
        // 63 Hz is the sixth third octave from 20 Hz on.
        let printed: Vec<f64> = TABLE_A.iter().skip(5).step_by(3).take(8).copied().collect();
        assert_eq!(printed, A_OCTAVES_DB);
    }

    /// IEC 61672-1:2013 Annex E: approximate pole frequencies.
    #[test]
    fn the_poles_are_those_of_the_annex() {
        let p = &*POLES;
        for (ours, printed) in [(p.f1_hz, 20.60), (p.f2_hz, 107.7), (p.f3_hz, 737.9), (p.f4_hz, 12194.0)] {
            assert!((ours / printed - 1.0).abs() < 5e-4, "{ours} for {printed}");
        }
        assert_eq!(Weighting::A.gain_db(1000.0), 0.0);
        assert_eq!(Weighting::C.gain_db(1000.0), 0.0);
    }

    #[test]
    fn odd_frequencies_give_numbers() {
        for f in [0.0, -5.0, f64::NAN, f64::INFINITY] {
            assert_eq!(Weighting::A.gain_db(f), SILENCE_DB);
            assert_eq!(Weighting::Z.gain_db(f), 0.0);
        }
        assert!(Weighting::A.gain_db(1e-9) >= SILENCE_DB);
    }

    /// One band at a level reads that level plus the weighting.
    #[test]
    fn a_tone_reads_its_level_plus_the_weighting() {
        let mut bands = [SILENCE_DB; 31];
        bands[17] = 94.0;
        assert!((Weighting::A.level_db(&bands) - 94.0).abs() < 1e-9);
        bands[17] = SILENCE_DB;
        bands[5] = 94.0;
        assert!((Weighting::A.level_db(&bands) - (94.0 - 26.2)).abs() < 0.05);
    }
}
