//! Test signals: noise by band, sweeps, polarity pulses and rhythms that tell lines apart.

mod noise;
mod pulse;
mod random;
mod rhythm;
mod sweep;

pub use noise::{NoiseSpec, pink_noise};
pub use pulse::{PulseSpec, polarity_pulse};
pub use rhythm::{LineRhythm, RhythmSpec, line_rhythm};
pub use sweep::{Sweep, SweepSpec};

use crate::filters::SettingError;

/// Why a test signal cannot be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SignalError {
    /// The signal reaches above what the sample rate can carry.
    #[error(
        "{what} of {highest_hz:.0} Hz does not fit a sample rate of {sample_rate_hz:.0} Hz: go no higher than \
         {limit_hz:.0} Hz or raise the sample rate"
    )]
    TooHigh {
        /// Which frequency.
        what: &'static str,
        /// The frequency asked for, Hz.
        highest_hz: f64,
        /// The sample rate, Hz.
        sample_rate_hz: f64,
        /// Highest frequency that fits, Hz.
        limit_hz: f64,
    },
    /// The range is empty.
    #[error(
        "the signal would run from {lowest_hz:.1} Hz to {highest_hz:.1} Hz: the first must be below the second"
    )]
    EmptyRange {
        /// Low end, Hz.
        lowest_hz: f64,
        /// High end, Hz.
        highest_hz: f64,
    },
    /// The band is narrower than the signal is long enough to show.
    #[error(
        "{length_s} s of noise is too short for a band from {lowest_hz:.1} Hz to {highest_hz:.1} Hz: make it longer"
    )]
    NoLineInBand {
        /// Length asked for, s.
        length_s: f64,
        /// Low end, Hz.
        lowest_hz: f64,
        /// High end, Hz.
        highest_hz: f64,
    },
    /// A value lies outside its range.
    #[error(transparent)]
    Setting(#[from] SettingError),
}

/// Highest frequency a signal may reach, as a share of the sample rate: converters fade out above it.
const HIGHEST_SHARE: f64 = 0.46;

fn fits(what: &'static str, highest_hz: f64, rate: crate::SampleRate) -> Result<(), SignalError> {
    let limit_hz = HIGHEST_SHARE * rate.hz();
    if highest_hz <= limit_hz {
        Ok(())
    } else {
        Err(SignalError::TooHigh { what, highest_hz, sample_rate_hz: rate.hz(), limit_hz })
    }
}

/// A raised-cosine ramp: 0 at `t` = 0, 1 at `t` = 1 and beyond.
fn ramp(t: f64) -> f64 {
    if t >= 1.0 { 1.0 } else { 0.5 - 0.5 * (std::f64::consts::PI * t.max(0.0)).cos() }
}

/// dB re full scale as a factor.
fn amplitude(level_dbfs: f64) -> f64 {
    10_f64.powf(level_dbfs / 20.0)
}
