//! Evening out the sound: equalisation, zone gains and delays from predictions.

mod delays;
mod fit;
mod levels;
mod solve;
mod tidy;

pub use delays::{
    AreaArrivals, AreaDelayReport, Arrival, DelayAdvice, DelayLimits, DelayVerdict, suggest_delays,
};
pub use fit::{EqFit, FitLimits, FitTarget, area_average_db, fit_equaliser};
pub use levels::{AreaLevels, Ceiling, GainLimits, ZoneGains, balance_gains, hold};

use crate::filters::SettingError;

/// Why a tuning step cannot be worked out.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TuneError {
    /// Two lists that belong together differ in length.
    #[error("{what}: {found} values were given where {expected} are needed")]
    Length {
        /// Which list.
        what: &'static str,
        /// How many values it has.
        found: usize,
        /// How many it should have.
        expected: usize,
    },
    /// A value is not a finite number.
    #[error("{what}: value number {} is {value}, which is not a usable number", .index + 1)]
    NotFinite {
        /// Which list.
        what: &'static str,
        /// Index of the value.
        index: usize,
        /// The value.
        value: f64,
    },
    /// Fewer than three frequencies lie in the range to be equalised.
    #[error(
        "only {found} bands lie between {lowest_hz:.0} Hz and {highest_hz:.0} Hz: at least 3 are needed to fit an \
         equaliser; widen the range"
    )]
    TooFewBands {
        /// Bands in the range.
        found: usize,
        /// Low end of the range, Hz.
        lowest_hz: f64,
        /// High end of the range, Hz.
        highest_hz: f64,
    },
    /// Limits that contradict each other.
    #[error("{what} runs from {lowest} to {highest}: the first must be below the second")]
    EmptyRange {
        /// Which range.
        what: &'static str,
        /// Its low end.
        lowest: f64,
        /// Its high end.
        highest: f64,
    },
    /// An arrival belongs to a channel that does not exist.
    #[error("an arrival comes from channel number {}, but there are only {channels} channels", .channel + 1)]
    NoSuchChannel {
        /// Index of the channel.
        channel: usize,
        /// How many channels there are.
        channels: usize,
    },
    /// Nothing was given to work on.
    #[error("there are no {0} to work on")]
    Nothing(&'static str),
    /// A filter cannot be set.
    #[error(transparent)]
    Setting(#[from] SettingError),
}

fn same_length(what: &'static str, found: usize, expected: usize) -> Result<(), TuneError> {
    if found == expected { Ok(()) } else { Err(TuneError::Length { what, found, expected }) }
}

fn all_finite(what: &'static str, values: &[f64]) -> Result<(), TuneError> {
    match values.iter().position(|v| !v.is_finite()) {
        Some(index) => Err(TuneError::NotFinite { what, index, value: values[index] }),
        None => Ok(()),
    }
}

fn range(what: &'static str, lowest: f64, highest: f64) -> Result<(), TuneError> {
    if lowest < highest { Ok(()) } else { Err(TuneError::EmptyRange { what, lowest, highest }) }
}
