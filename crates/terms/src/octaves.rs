//! Octave bands, and the stretches of them that the bass and the middle are.
//!
//! An octave is the energy of three third octaves (IEC 61260-1): 31.5 Hz to 16 kHz, ten of them; the 20 Hz third octave
//! belongs to the 16 Hz octave, which is not covered, so no octave counts it.

use crate::bands::{Band, BandValues, exact_hz};
use crate::decibel::{mean_db, sum_db};
use std::ops::Range;

/// Number of octave bands, 31.5 Hz to 16 kHz.
pub const OCTAVE_COUNT: usize = 10;
/// One value per octave, 31.5 Hz first.
pub type OctaveValues = [f64; OCTAVE_COUNT];

const FIRST_OCTAVE_NUMBER: i32 = -15;
const FIRST_BAND_OF_FIRST_OCTAVE: usize = 1;

/// The bass band: the octaves 31.5, 63 and 125 Hz together.
pub const BASS: OctaveRange = OctaveRange { first: 0, count: 3 };
/// The mid band: the octaves 500 Hz, 1 kHz and 2 kHz together. The bass of an area is told over it, and whatever is evened
/// out is evened out to it.
pub const MID: OctaveRange = OctaveRange { first: 4, count: 3 };

/// Octaves side by side, taken together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct OctaveRange {
    first: usize,
    count: usize,
}

impl OctaveRange {
    /// Places of its octaves in a row of ten.
    pub const fn octaves(self) -> Range<usize> {
        self.first..self.first + self.count
    }

    /// Places of its third octaves in a row of 31.
    pub const fn bands(self) -> Range<usize> {
        let start = FIRST_BAND_OF_FIRST_OCTAVE + 3 * self.first;
        start..start + 3 * self.count
    }

    /// Level of its octaves together, dB.
    pub fn level_db(self, octaves_db: &OctaveValues) -> f64 {
        sum_db(octaves_db[self.octaves()].iter().copied())
    }

    /// Arithmetic mean of its third octaves, in whatever the values are.
    pub fn mean(self, bands: &BandValues) -> f64 {
        bands[self.bands()].iter().sum::<f64>() / self.bands().len() as f64
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
        [Band::at(first), Band::at(first + 1), Band::at(first + 2)]
    }
}

impl Band {
    /// The octave that counts this band; `None` for 20 Hz.
    pub fn octave(self) -> Option<Octave> {
        self.index().checked_sub(FIRST_BAND_OF_FIRST_OCTAVE).and_then(|i| Octave::from_index(i / 3))
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bands::BAND_COUNT;

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

    /// The octaves by their names, the third octaves by their frequencies: both ways of saying the same stretch agree.
    #[test]
    fn bass_and_middle_are_the_octaves_they_are_called() {
        for (range, octaves, thirds) in [
            (BASS, ["31.5 Hz", "63 Hz", "125 Hz"], (25.0, 160.0)),
            (MID, ["500 Hz", "1 kHz", "2 kHz"], (400.0, 2500.0)),
        ] {
            let named: Vec<&str> =
                range.octaves().filter_map(Octave::from_index).map(Octave::label).collect();
            assert_eq!(named, octaves);
            let bands: Vec<Band> = range.bands().filter_map(Band::from_index).collect();
            assert_eq!((bands[0].nominal_hz(), bands[8].nominal_hz(), bands.len()), (thirds.0, thirds.1, 9));
            assert!(bands.iter().all(|b| named.contains(&b.octave().unwrap().label())));
            // Nine third octaves of one level are 10 lg 9 over one of them.
            let together = range.level_db(&octave_sums_db(&[70.0; BAND_COUNT]));
            assert!((together - (70.0 + 10.0 * 9f64.log10())).abs() < 1e-9);
            let ramp = std::array::from_fn(|i| i as f64);
            let middle = 0.5 * (range.bands().start + range.bands().end - 1) as f64;
            assert!((range.mean(&ramp) - middle).abs() < 1e-12);
        }
    }
}
