//! Third-octave and octave bands.
//!
//! IEC 61260-1:2014, base-ten system: exact centres 1000 * 10^(n/10) Hz for whole n from -17 to 13 (20 Hz to
//! 20 kHz, 31 bands), edges a twentieth of a decade either side, so neighbouring bands meet exactly. An octave
//! is the energy of three third octaves: 31.5 Hz to 16 kHz, ten of them; the 20 Hz third octave belongs to the
//! 16 Hz octave, which is not covered, so no octave counts it. Nominal frequencies are those of ISO 266.

use crate::level::{mean_db, sum_db};
use serde::{Deserialize, Serialize};

/// Number of third-octave bands, 20 Hz to 20 kHz.
pub const BAND_COUNT: usize = 31;
/// Number of octave bands, 31.5 Hz to 16 kHz.
pub const OCTAVE_COUNT: usize = 10;
/// One value per third octave, lowest first.
pub type BandValues = [f64; BAND_COUNT];
/// One value per octave, 31.5 Hz first.
pub type OctaveValues = [f64; OCTAVE_COUNT];

const FIRST_NUMBER: i32 = -17;
const FIRST_OCTAVE_NUMBER: i32 = -15;
const FIRST_BAND_OF_FIRST_OCTAVE: usize = 1;

const NOMINAL_HZ: BandValues = [
    20.0, 25.0, 31.5, 40.0, 50.0, 63.0, 80.0, 100.0, 125.0, 160.0, 200.0, 250.0, 315.0, 400.0, 500.0, 630.0,
    800.0, 1000.0, 1250.0, 1600.0, 2000.0, 2500.0, 3150.0, 4000.0, 5000.0, 6300.0, 8000.0, 10000.0, 12500.0,
    16000.0, 20000.0,
];
const LABELS: [&str; BAND_COUNT] = [
    "20 Hz", "25 Hz", "31.5 Hz", "40 Hz", "50 Hz", "63 Hz", "80 Hz", "100 Hz", "125 Hz", "160 Hz", "200 Hz",
    "250 Hz", "315 Hz", "400 Hz", "500 Hz", "630 Hz", "800 Hz", "1 kHz", "1.25 kHz", "1.6 kHz", "2 kHz",
    "2.5 kHz", "3.15 kHz", "4 kHz", "5 kHz", "6.3 kHz", "8 kHz", "10 kHz", "12.5 kHz", "16 kHz", "20 kHz",
];

/// One third-octave band. Serialises as its place in the row of 31, 0 for 20 Hz.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "usize", into = "usize")]
pub struct Band(u8);

impl Band {
    /// The bands from 20 Hz up.
    pub fn all() -> impl DoubleEndedIterator<Item = Self> + ExactSizeIterator {
        (0..BAND_COUNT as u8).map(Self)
    }

    /// The band at a place in the row of 31 (0 is 20 Hz); `None` past the end.
    pub fn from_index(index: usize) -> Option<Self> {
        (index < BAND_COUNT).then_some(Self(index as u8))
    }

    /// The band a frequency falls in; a frequency on an edge belongs to the band above. `None` outside the
    /// bands (below 17.8 Hz, from 22.4 kHz up) and for a number that is not finite.
    pub fn containing(frequency_hz: f64) -> Option<Self> {
        if !(frequency_hz.is_finite() && frequency_hz > 0.0) {
            return None;
        }
        let number = (10.0 * (frequency_hz / 1000.0).log10() + 0.5).floor() as i64;
        usize::try_from(number - i64::from(FIRST_NUMBER)).ok().and_then(Self::from_index)
    }

    /// Place in the row of 31, 0 for 20 Hz.
    pub fn index(self) -> usize {
        usize::from(self.0)
    }

    /// The n of 1000 * 10^(n/10): -17 for 20 Hz, 0 for 1 kHz, 13 for 20 kHz.
    pub fn number(self) -> i32 {
        i32::from(self.0) + FIRST_NUMBER
    }

    /// Exact centre, Hz.
    pub fn centre_hz(self) -> f64 {
        exact_hz(f64::from(self.number()))
    }

    /// Lower edge, Hz.
    pub fn lower_hz(self) -> f64 {
        exact_hz(f64::from(self.number()) - 0.5)
    }

    /// Upper edge, Hz.
    pub fn upper_hz(self) -> f64 {
        exact_hz(f64::from(self.number()) + 0.5)
    }

    /// Rounded frequency people call the band by (ISO 266), Hz.
    pub fn nominal_hz(self) -> f64 {
        NOMINAL_HZ[self.index()]
    }

    /// Name with its unit: "31.5 Hz", "1.25 kHz".
    pub fn label(self) -> &'static str {
        LABELS[self.index()]
    }

    /// The octave that counts this band; `None` for 20 Hz.
    pub fn octave(self) -> Option<Octave> {
        self.index().checked_sub(FIRST_BAND_OF_FIRST_OCTAVE).and_then(|i| Octave::from_index(i / 3))
    }
}

impl TryFrom<usize> for Band {
    type Error = String;
    fn try_from(index: usize) -> Result<Self, String> {
        Self::from_index(index).ok_or_else(|| format!("a third-octave index is 0 to 30, this one is {index}"))
    }
}

impl From<Band> for usize {
    fn from(band: Band) -> Self {
        band.index()
    }
}

/// One octave band, 31.5 Hz to 16 kHz.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Octave(u8);

impl Octave {
    /// The octaves from 31.5 Hz up.
    pub fn all() -> impl DoubleEndedIterator<Item = Self> + ExactSizeIterator {
        (0..OCTAVE_COUNT as u8).map(Self)
    }

    /// The octave at a place in the row of ten (0 is 31.5 Hz); `None` past the end.
    pub fn from_index(index: usize) -> Option<Self> {
        (index < OCTAVE_COUNT).then_some(Self(index as u8))
    }

    /// Place in the row of ten, 0 for 31.5 Hz.
    pub fn index(self) -> usize {
        usize::from(self.0)
    }

    /// Exact centre, Hz.
    pub fn centre_hz(self) -> f64 {
        exact_hz(f64::from(FIRST_OCTAVE_NUMBER + 3 * i32::from(self.0)))
    }

    /// Rounded frequency people call the octave by, Hz.
    pub fn nominal_hz(self) -> f64 {
        self.bands()[1].nominal_hz()
    }

    /// Name with its unit: "63 Hz", "8 kHz".
    pub fn label(self) -> &'static str {
        self.bands()[1].label()
    }

    /// Its three third octaves, lowest first.
    pub fn bands(self) -> [Band; 3] {
        let first = FIRST_BAND_OF_FIRST_OCTAVE as u8 + 3 * self.0;
        [Band(first), Band(first + 1), Band(first + 2)]
    }
}

/// Octave levels from third-octave levels, dB: the energy of three bands each.
pub fn octave_sums_db(bands_db: &BandValues) -> OctaveValues {
    std::array::from_fn(|o| {
        let first = FIRST_BAND_OF_FIRST_OCTAVE + 3 * o;
        sum_db(bands_db[first..first + 3].iter().copied())
    })
}

/// Octave means of a third-octave quantity in dB that is not a level (a gain, a directivity): the energy mean
/// of three bands each.
pub fn octave_means_db(bands_db: &BandValues) -> OctaveValues {
    std::array::from_fn(|o| {
        let first = FIRST_BAND_OF_FIRST_OCTAVE + 3 * o;
        mean_db(bands_db[first..first + 3].iter().copied())
    })
}

/// A value per band from a function of the band.
pub fn band_values(f: impl FnMut(Band) -> f64) -> BandValues {
    let mut f = f;
    std::array::from_fn(|i| f(Band(i as u8)))
}

fn exact_hz(number: f64) -> f64 {
    1000.0 * 10f64.powf(number / 10.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bands_meet_and_carry_their_names() {
        let all: Vec<Band> = Band::all().collect();
        assert_eq!(all.len(), 31);
        for w in all.windows(2) {
            assert!((w[0].upper_hz() / w[1].lower_hz() - 1.0).abs() < 1e-14);
        }
        // IEC 61260-1:2014 Table E.1: exact base-ten centres, five digits.
        for (label, exact) in [
            ("31.5 Hz", 31.623),
            ("63 Hz", 63.096),
            ("1 kHz", 1000.0),
            ("8 kHz", 7943.3),
            ("20 kHz", 19953.0),
        ] {
            let band = all.iter().find(|b| b.label() == label).unwrap();
            assert!((band.centre_hz() / exact - 1.0).abs() < 3e-5, "{label}");
            assert!((band.nominal_hz() / exact - 1.0).abs() < 0.012, "{label}");
        }
    }

    #[test]
    fn a_frequency_finds_its_band() {
        for b in Band::all() {
            assert_eq!(Band::containing(b.centre_hz()), Some(b));
            assert_eq!(Band::containing(b.nominal_hz()), Some(b));
            assert_eq!(Band::containing(b.lower_hz() * 1.0001), Some(b));
            assert_eq!(Band::containing(b.upper_hz() * 0.9999), Some(b));
        }
        for f in [f64::NAN, f64::INFINITY, 0.0, -3.0, 17.0, 22_500.0] {
            assert_eq!(Band::containing(f), None);
        }
    }

    #[test]
    fn octaves_hold_three_bands_each() {
        let labels: Vec<&str> = Octave::all().map(Octave::label).collect();
        assert_eq!(labels[..3], ["31.5 Hz", "63 Hz", "125 Hz"]);
        assert_eq!(labels[9], "16 kHz");
        let level = octave_sums_db(&[70.0; BAND_COUNT]);
        let mean = octave_means_db(&[-3.0; BAND_COUNT]);
        for o in Octave::all() {
            assert!((level[o.index()] - (70.0 + 10.0 * 3f64.log10())).abs() < 1e-12);
            assert!((mean[o.index()] + 3.0).abs() < 1e-12);
            assert!(o.bands().iter().all(|b| b.octave() == Some(o)));
            assert!((o.centre_hz() / o.bands()[1].centre_hz() - 1.0).abs() < 1e-14);
        }
        assert_eq!(Band::from_index(0).unwrap().octave(), None);
    }
}
