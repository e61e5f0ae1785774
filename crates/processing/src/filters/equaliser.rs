//! Parametric and shelving equalisation.
//!
//! R. Bristow-Johnson, "Cookbook formulae for audio equalizer biquad filter coefficients" (also a W3C note,
//! 2021): the peaking, low-shelf and high-shelf forms, with Q as the bandwidth parameter of all three. Left out:
//! the band-pass, notch and all-pass forms. Conventions: A = 10^(gain/40); a peaking section's Q is that of its
//! zeros divided by A, so a boost and a cut of the same size cancel exactly; a shelf with Q = 0.707 is the
//! steepest without overshoot and has half its gain in dB at its frequency.
//!
//! Written here as analogue sections put through the same bilinear transform as the other filters, which gives
//! the cookbook's coefficients; the tests compare with its digital formulae directly.

use super::rate::SampleRate;
use super::section::{Analogue, Section};
use super::setting::SettingError;
use serde::{Deserialize, Serialize};
use std::f64::consts::PI;

/// The shape of an equaliser section.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum EqKind {
    /// A bell around the frequency.
    Peaking,
    /// Lifts or lowers everything well below the frequency.
    LowShelf,
    /// Lifts or lowers everything well above the frequency.
    HighShelf,
}

/// One equaliser section: frequency 1 Hz to 200 kHz, gain -30 to +18 dB, Q 0.1 to 20.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(try_from = "Unchecked", into = "Unchecked")]
pub struct EqSection {
    kind: EqKind,
    frequency_hz: f64,
    gain_db: f64,
    q: f64,
}

#[derive(Serialize, Deserialize)]
struct Unchecked {
    kind: EqKind,
    frequency_hz: f64,
    gain_db: f64,
    q: f64,
}

impl EqSection {
    /// A section of `gain_db` at `frequency_hz`.
    ///
    /// # Errors
    /// A value outside the ranges in the type's description.
    pub fn new(kind: EqKind, frequency_hz: f64, gain_db: f64, q: f64) -> Result<Self, SettingError> {
        Ok(Self {
            kind,
            frequency_hz: SettingError::check(
                "the equaliser frequency",
                " Hz",
                frequency_hz,
                1.0,
                200_000.0,
            )?,
            gain_db: SettingError::check("the equaliser gain", " dB", gain_db, -30.0, 18.0)?,
            q: SettingError::check("the equaliser Q", "", q, 0.1, 20.0)?,
        })
    }

    /// The shape.
    pub const fn kind(&self) -> EqKind {
        self.kind
    }

    /// Centre of a bell, half-gain point of a shelf, Hz.
    pub const fn frequency_hz(&self) -> f64 {
        self.frequency_hz
    }

    /// Gain at the centre of a bell or on the level part of a shelf, dB.
    pub const fn gain_db(&self) -> f64 {
        self.gain_db
    }

    /// Quality factor, no unit.
    pub const fn q(&self) -> f64 {
        self.q
    }

    /// The section at `rate`.
    ///
    /// # Errors
    /// A frequency below a hundred-thousandth or above 0.49 of the sample rate.
    pub fn section(&self, rate: SampleRate) -> Result<Section, SettingError> {
        let warp = (PI * rate.checked_frequency(self.frequency_hz)? / rate.hz()).tan();
        Ok(Section::bilinear(self.analogue(), warp))
    }

    fn analogue(&self) -> Analogue {
        let a = 10_f64.powf(self.gain_db / 40.0);
        let root = a.sqrt() / self.q;
        match self.kind {
            EqKind::Peaking => Analogue { num: [1.0, a / self.q, 1.0], den: [1.0, 1.0 / (a * self.q), 1.0] },
            EqKind::LowShelf => Analogue { num: [a * a, a * root, a], den: [1.0, root, a] },
            EqKind::HighShelf => Analogue { num: [a, a * root, a * a], den: [a, root, 1.0] },
        }
    }
}

impl TryFrom<Unchecked> for EqSection {
    type Error = SettingError;
    fn try_from(u: Unchecked) -> Result<Self, SettingError> {
        Self::new(u.kind, u.frequency_hz, u.gain_db, u.q)
    }
}

impl From<EqSection> for Unchecked {
    fn from(s: EqSection) -> Self {
        Self { kind: s.kind, frequency_hz: s.frequency_hz, gain_db: s.gain_db, q: s.q }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The cookbook's digital coefficients, written out from its formulae.
    fn cookbook(s: &EqSection, rate: SampleRate) -> Section {
        let a = 10_f64.powf(s.gain_db / 40.0);
        let w0 = 2.0 * PI * s.frequency_hz / rate.hz();
        let (c, alpha) = (w0.cos(), w0.sin() / (2.0 * s.q));
        let r = 2.0 * a.sqrt() * alpha;
        let (b, d) = match s.kind {
            EqKind::Peaking => {
                ([1.0 + alpha * a, -2.0 * c, 1.0 - alpha * a], [1.0 + alpha / a, -2.0 * c, 1.0 - alpha / a])
            }
            EqKind::LowShelf => (
                [
                    a * ((a + 1.0) - (a - 1.0) * c + r),
                    2.0 * a * ((a - 1.0) - (a + 1.0) * c),
                    a * ((a + 1.0) - (a - 1.0) * c - r),
                ],
                [
                    (a + 1.0) + (a - 1.0) * c + r,
                    -2.0 * ((a - 1.0) + (a + 1.0) * c),
                    (a + 1.0) + (a - 1.0) * c - r,
                ],
            ),
            EqKind::HighShelf => (
                [
                    a * ((a + 1.0) + (a - 1.0) * c + r),
                    -2.0 * a * ((a - 1.0) + (a + 1.0) * c),
                    a * ((a + 1.0) + (a - 1.0) * c - r),
                ],
                [
                    (a + 1.0) - (a - 1.0) * c + r,
                    2.0 * ((a - 1.0) - (a + 1.0) * c),
                    (a + 1.0) - (a - 1.0) * c - r,
                ],
            ),
        };
        Section { b0: b[0] / d[0], b1: b[1] / d[0], b2: b[2] / d[0], a1: d[1] / d[0], a2: d[2] / d[0] }
    }

    #[test]
    fn sections_are_those_of_the_cookbook() {
        for kind in [EqKind::Peaking, EqKind::LowShelf, EqKind::HighShelf] {
            for (f, g, q) in [(63.0, 5.0, 1.2), (1_000.0, -9.0, 4.0), (8_000.0, 3.0, 0.707)] {
                for rate in SampleRate::COMMON {
                    let s = EqSection::new(kind, f, g, q).unwrap();
                    let (ours, theirs) = (s.section(rate).unwrap(), cookbook(&s, rate));
                    for (x, y) in [
                        (ours.b0, theirs.b0),
                        (ours.b1, theirs.b1),
                        (ours.b2, theirs.b2),
                        (ours.a1, theirs.a1),
                        (ours.a2, theirs.a2),
                    ] {
                        assert!((x - y).abs() < 1e-11, "{kind:?} {f} Hz {g} dB Q {q}: {x} {y}");
                    }
                }
            }
        }
    }

    #[test]
    fn gain_at_the_frequency_is_what_was_asked() {
        let rate = SampleRate::R48K;
        let db = |s: EqSection, f: f64| 20.0 * s.section(rate).unwrap().response(f, rate).norm().log10();
        let bell = EqSection::new(EqKind::Peaking, 500.0, -6.0, 2.0).unwrap();
        assert!((db(bell, 500.0) + 6.0).abs() < 1e-9);
        let low = EqSection::new(EqKind::LowShelf, 500.0, 4.0, 0.707).unwrap();
        assert!((db(low, 500.0) - 2.0).abs() < 1e-9 && (db(low, 1.0) - 4.0).abs() < 1e-3);
        let high = EqSection::new(EqKind::HighShelf, 500.0, 4.0, 0.707).unwrap();
        assert!((db(high, 500.0) - 2.0).abs() < 1e-9 && db(high, 1.0).abs() < 1e-3);
    }
}
