//! The sample rate of a processor or a recording.

use super::setting::SettingError;
use serde::{Deserialize, Serialize};

/// A sample rate, Hz, from 8 kHz to 768 kHz.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct SampleRate(f64);

impl SampleRate {
    /// 44.1 kHz.
    pub const R44_1K: Self = Self(44_100.0);
    /// 48 kHz.
    pub const R48K: Self = Self(48_000.0);
    /// 96 kHz.
    pub const R96K: Self = Self(96_000.0);
    /// The rates processors and recorders use: 44.1, 48 and 96 kHz.
    pub const COMMON: [Self; 3] = [Self::R44_1K, Self::R48K, Self::R96K];

    /// The sample rate of `hz` samples per second.
    ///
    /// # Errors
    /// Outside 8 kHz to 768 kHz.
    pub fn new(hz: f64) -> Result<Self, SettingError> {
        SettingError::check("the sample rate", " Hz", hz, 8_000.0, 768_000.0).map(Self)
    }

    /// Samples per second.
    pub const fn hz(self) -> f64 {
        self.0
    }

    /// Whether this is one of [`SampleRate::COMMON`].
    pub fn is_common(self) -> bool {
        Self::COMMON.iter().any(|r| (r.0 - self.0).abs() < 0.5)
    }

    /// `frequency_hz` if sections can be built there: from a hundred-thousandth to 0.49 of the sample rate.
    /// Below that the coefficients lose their digits, above it the bilinear transform squeezes the filter flat.
    pub(crate) fn checked_frequency(self, frequency_hz: f64) -> Result<f64, SettingError> {
        let (lowest_hz, highest_hz) = (1e-5 * self.0, 0.49 * self.0);
        if (lowest_hz..=highest_hz).contains(&frequency_hz) {
            Ok(frequency_hz)
        } else {
            Err(SettingError::OutsideSampleRate {
                frequency_hz,
                sample_rate_hz: self.0,
                lowest_hz,
                highest_hz,
            })
        }
    }
}

impl TryFrom<f64> for SampleRate {
    type Error = SettingError;
    fn try_from(hz: f64) -> Result<Self, SettingError> {
        Self::new(hz)
    }
}

impl From<SampleRate> for f64 {
    fn from(rate: SampleRate) -> f64 {
        rate.0
    }
}
