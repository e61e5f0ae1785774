//! Third-octave bands.
//!
//! IEC 61260-1:2014, base-ten system: exact centres 1000 * 10^(n/10) Hz for whole n from -17 to 13 (20 Hz to
//! 20 kHz, 31 bands), edges a twentieth of a decade either side, so neighbouring bands meet exactly. Nominal
//! frequencies are those of ISO 266.

use serde::{Deserialize, Serialize};
use std::fmt;

/// Number of third-octave bands, 20 Hz to 20 kHz.
pub const BAND_COUNT: usize = 31;
/// Place of the 1 kHz band in the row of 31.
pub const BAND_1_KHZ: usize = 17;
/// One value per third octave, lowest first.
pub type BandValues = [f64; BAND_COUNT];

const FIRST_NUMBER: i32 = -17;
/// Frequencies closer than a millionth are one. A nominal frequency that is not its exact centre is at least 0.2 % off it.
const SAME: f64 = 1e-6;

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
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
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

    /// The band whose exact centre a frequency is: what people know by its nominal name. `None` for every other frequency.
    pub fn with_centre(frequency_hz: f64) -> Option<Self> {
        Self::containing(frequency_hz).filter(|b| (frequency_hz / b.centre_hz() - 1.0).abs() < SAME)
    }

    /// The band that people call by this frequency (ISO 266): 80 Hz for the one with its centre at 79.43 Hz.
    pub fn called(frequency_hz: f64) -> Option<Self> {
        Self::containing(frequency_hz).filter(|b| (frequency_hz / b.nominal_hz() - 1.0).abs() < SAME)
    }

    /// The band at a place that is known to be one of the 31.
    pub(crate) const fn at(index: u8) -> Self {
        Self(index)
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
}

/// A place that none of the 31 bands has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NoSuchBand {
    /// The place asked for.
    pub index: usize,
}

impl fmt::Display for NoSuchBand {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "a third-octave index is 0 to {}, this one is {}", BAND_COUNT - 1, self.index)
    }
}

impl std::error::Error for NoSuchBand {}

impl TryFrom<usize> for Band {
    type Error = NoSuchBand;
    fn try_from(index: usize) -> Result<Self, NoSuchBand> {
        Self::from_index(index).ok_or(NoSuchBand { index })
    }
}

impl From<Band> for usize {
    fn from(band: Band) -> Self {
        band.index()
    }
}

/// A value per band from a function of the band.
pub fn band_values(f: impl FnMut(Band) -> f64) -> BandValues {
    let mut f = f;
    std::array::from_fn(|i| f(Band(i as u8)))
}

/// Exact centres of all bands, Hz, lowest first.
pub fn third_octave_centres_hz() -> BandValues {
    band_values(Band::centre_hz)
}

/// The frequency 1000 * 10^(number/10), Hz.
pub(crate) fn exact_hz(number: f64) -> f64 {
    1000.0 * 10f64.powf(number / 10.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// IEC 61260-1:2014 Table E.1: exact base-ten centres (five digits) and nominal frequencies of third octaves.
    const TABLE_E1: [(f64, f64); BAND_COUNT] = [
        (19.953, 20.0),
        (25.119, 25.0),
        (31.623, 31.5),
        (39.811, 40.0),
        (50.119, 50.0),
        (63.096, 63.0),
        (79.433, 80.0),
        (100.0, 100.0),
        (125.89, 125.0),
        (158.49, 160.0),
        (199.53, 200.0),
        (251.19, 250.0),
        (316.23, 315.0),
        (398.11, 400.0),
        (501.19, 500.0),
        (630.96, 630.0),
        (794.33, 800.0),
        (1000.0, 1000.0),
        (1258.9, 1250.0),
        (1584.9, 1600.0),
        (1995.3, 2000.0),
        (2511.9, 2500.0),
        (3162.3, 3150.0),
        (3981.1, 4000.0),
        (5011.9, 5000.0),
        (6309.6, 6300.0),
        (7943.3, 8000.0),
        (10_000.0, 10_000.0),
        (12_589.0, 12_500.0),
        (15_849.0, 16_000.0),
        (19_953.0, 20_000.0),
    ];

    #[test]
    fn bands_are_those_of_iec_61260_1() {
        // Clause 5: G = 10^(3/10), b = 3, centres f_r G^(x/b), edges f_m G^(-1/2b) and f_m G^(1/2b).
        let g = 10f64.powf(0.3);
        let all: Vec<Band> = Band::all().collect();
        assert_eq!(all.len(), TABLE_E1.len());
        for (band, (exact, nominal)) in all.iter().zip(TABLE_E1) {
            let by_formula = 1000.0 * g.powf(f64::from(band.number()) / 3.0);
            assert!((band.centre_hz() / by_formula - 1.0).abs() < 1e-13, "{}", band.label());
            assert!((band.centre_hz() / exact - 1.0).abs() < 5e-5, "{}", band.label());
            assert!((band.lower_hz() / (by_formula * g.powf(-1.0 / 6.0)) - 1.0).abs() < 1e-13);
            assert!((band.upper_hz() / (by_formula * g.powf(1.0 / 6.0)) - 1.0).abs() < 1e-13);
            assert_eq!(band.nominal_hz(), nominal);
            let said = band.label().trim_end_matches(" kHz").trim_end_matches(" Hz");
            let factor = if band.label().ends_with("kHz") { 1000.0 } else { 1.0 };
            assert_eq!(said.parse::<f64>().unwrap() * factor, nominal);
        }
        for w in all.windows(2) {
            assert!((w[0].upper_hz() / w[1].lower_hz() - 1.0).abs() < 1e-14);
        }
        assert_eq!(Band::from_index(BAND_1_KHZ).map(Band::label), Some("1 kHz"));
        assert_eq!(third_octave_centres_hz()[BAND_1_KHZ], 1000.0);
    }

    /// Exact centres are 79.43 and 125.9 Hz, people say 80 and 125 Hz (Table E.1); 79.5 Hz is neither.
    #[test]
    fn a_band_is_known_by_its_centre_and_by_its_name() {
        for b in Band::all() {
            assert_eq!((Band::with_centre(b.centre_hz()), Band::called(b.nominal_hz())), (Some(b), Some(b)));
        }
        assert_eq!(Band::with_centre(1000.0 * 10f64.powf(-1.1)).map(Band::label), Some("80 Hz"));
        assert_eq!(Band::with_centre(80.0), None);
        assert_eq!(Band::called(125.0).map(|b| (100.0 * b.centre_hz()).round()), Some(12_589.0));
        assert_eq!((Band::called(79.5), Band::with_centre(f64::NAN)), (None, None));
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
}
