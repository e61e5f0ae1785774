//! High-pass and low-pass filters: Butterworth, Linkwitz-Riley and Bessel.
//!
//! Digital sections come from the analogue prototype by the bilinear transform, pre-warped so that the gain at
//! the corner is that of the prototype (-3.01 dB; Linkwitz-Riley -6.02 dB). The high-pass is the low-pass with
//! s replaced by 1/s. Checked against scipy.signal (butter, bessel with norm="mag", sosfreqz) in
//! `checks/test_filters.py`. Near half the sample rate the transform squeezes the response: that is what the
//! processor does too, so it is what is reported.

use super::prototype::{Factor, bessel, butterworth};
use super::rate::SampleRate;
use super::section::{Analogue, Section};
use super::setting::SettingError;
use num_complex::Complex64;
use serde::{Deserialize, Serialize};
use std::f64::consts::PI;

/// The family a high-pass or low-pass belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Alignment {
    /// Flattest level in the pass band; -3 dB at the corner. Orders 1 to 8.
    Butterworth,
    /// Two equal Butterworth filters in a row; -6 dB at the corner, so that a pair adds up flat. Orders 2, 4, 6, 8.
    LinkwitzRiley,
    /// Gentlest on the wave form; -3 dB at the corner. Orders 1 to 8.
    Bessel,
}

/// Which side of the corner passes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Pass {
    /// Passes what lies above the corner.
    HighPass,
    /// Passes what lies below the corner.
    LowPass,
}

/// A high-pass or low-pass that exists: order 1 to 8 (even for Linkwitz-Riley), corner 1 Hz to 200 kHz.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(try_from = "Unchecked", into = "Unchecked")]
pub struct PassFilter {
    kind: Alignment,
    response: Pass,
    order: u32,
    corner_hz: f64,
}

#[derive(Serialize, Deserialize)]
struct Unchecked {
    kind: Alignment,
    response: Pass,
    order: u32,
    corner_hz: f64,
}

impl PassFilter {
    /// A filter of `order` (6 dB per octave each) with its corner at `corner_hz`.
    ///
    /// # Errors
    /// An order outside 1 to 8, an odd Linkwitz-Riley order, a corner outside 1 Hz to 200 kHz.
    pub fn new(kind: Alignment, response: Pass, order: u32, corner_hz: f64) -> Result<Self, SettingError> {
        if !(1..=8).contains(&order) {
            return Err(SettingError::Order { order });
        }
        if kind == Alignment::LinkwitzRiley && order % 2 == 1 {
            return Err(SettingError::OddLinkwitzRiley { order });
        }
        let corner_hz = SettingError::check("the corner", " Hz", corner_hz, 1.0, 200_000.0)?;
        Ok(Self { kind, response, order, corner_hz })
    }

    /// The family.
    pub const fn kind(&self) -> Alignment {
        self.kind
    }

    /// Which side passes.
    pub const fn response(&self) -> Pass {
        self.response
    }

    /// The order; the slope is 6 dB per octave each.
    pub const fn order(&self) -> u32 {
        self.order
    }

    /// Corner frequency, Hz.
    pub const fn corner_hz(&self) -> f64 {
        self.corner_hz
    }

    /// Slope far from the corner, dB per octave (the trade's round figure: 6 per order).
    pub const fn slope_db_per_octave(&self) -> u32 {
        6 * self.order
    }

    /// The filter as second-order sections at `rate`, each with gain one in the pass band, lowest Q first.
    ///
    /// # Errors
    /// A corner below a hundred-thousandth or above 0.49 of the sample rate.
    pub fn sections(&self, rate: SampleRate) -> Result<Vec<Section>, SettingError> {
        let warp = (PI * rate.checked_frequency(self.corner_hz)? / rate.hz()).tan();
        Ok(self.factors().into_iter().map(|f| Section::bilinear(self.analogue(f), warp)).collect())
    }

    /// Complex gain of the analogue filter at `frequency_hz`, free of any sample rate.
    pub fn analogue_gain(&self, frequency_hz: f64) -> Complex64 {
        let s = Complex64::new(0.0, frequency_hz / self.corner_hz);
        let value = |[c0, c1, c2]: [f64; 3]| (s * c2 + c1) * s + c0;
        self.factors()
            .into_iter()
            .map(|f| {
                let section = self.analogue(f);
                value(section.num) / value(section.den)
            })
            .product()
    }

    fn factors(&self) -> Vec<Factor> {
        match self.kind {
            Alignment::Butterworth => butterworth(self.order),
            Alignment::Bessel => bessel(self.order),
            Alignment::LinkwitzRiley => {
                let half = butterworth(self.order / 2);
                half.iter().chain(&half).copied().collect()
            }
        }
    }

    fn analogue(&self, factor: Factor) -> Analogue {
        match (factor, self.response) {
            (Factor::First { c0 }, Pass::LowPass) => Analogue { num: [c0, 0.0, 0.0], den: [c0, 1.0, 0.0] },
            (Factor::First { c0 }, Pass::HighPass) => Analogue { num: [0.0, c0, 0.0], den: [1.0, c0, 0.0] },
            (Factor::Second { c1, c0 }, Pass::LowPass) => {
                Analogue { num: [c0, 0.0, 0.0], den: [c0, c1, 1.0] }
            }
            (Factor::Second { c1, c0 }, Pass::HighPass) => {
                Analogue { num: [0.0, 0.0, c0], den: [1.0, c1, c0] }
            }
        }
    }
}

impl TryFrom<Unchecked> for PassFilter {
    type Error = SettingError;
    fn try_from(u: Unchecked) -> Result<Self, SettingError> {
        Self::new(u.kind, u.response, u.order, u.corner_hz)
    }
}

impl From<PassFilter> for Unchecked {
    fn from(f: PassFilter) -> Self {
        Self { kind: f.kind, response: f.response, order: f.order, corner_hz: f.corner_hz }
    }
}
