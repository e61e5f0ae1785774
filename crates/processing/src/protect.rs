//! What keeps drivers, transformers and amplifiers whole: limiter thresholds, high-pass and crossover choices.

mod crossover;
mod high_pass;
mod limiter;

pub use crossover::{Crossover, choose_crossover};
pub use high_pass::{
    DriverNeed, HighPassChoice, HighPassNeeds, HighPassReason, TransformerNeed, choose_high_pass,
};
pub use limiter::{
    FullDrive, LimiterCost, LimiterRule, LimiterThreshold, LimiterTimes, LineThreshold, PEAK_OVER_RMS,
    ProtectedLoad, dbu, dbv, limiter_cost, limiter_threshold, limiter_times, line_threshold, peak_behind,
};

use crate::filters::SettingError;

/// Why a protective setting cannot be worked out.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ProtectionError {
    /// A value that must be a positive number is not.
    #[error("{quantity} of {name} is {value}{unit}: it must be more than zero and finite")]
    NotPositive {
        /// What the value is.
        quantity: &'static str,
        /// Whose value it is.
        name: String,
        /// The value given.
        value: f64,
        /// Its unit with a space before it; empty for a plain number.
        unit: &'static str,
    },
    /// A channel with nothing connected has nothing to protect.
    #[error("there is no loudspeaker on this line: connect at least one, or leave the channel off")]
    NothingToProtect,
    /// The full-range loudspeakers and the subwoofers leave a gap between them.
    #[error(
        "the full-range loudspeakers reach down to {full_range_lowest_hz:.0} Hz and the subwoofers up to {subwoofer_highest_hz:.0} Hz: \
         there is a gap between them that no crossover closes; choose full-range loudspeakers that reach lower or subwoofers that \
         reach higher"
    )]
    Gap {
        /// Lowest frequency the full-range loudspeakers reproduce, Hz.
        full_range_lowest_hz: f64,
        /// Highest frequency the subwoofers reproduce, Hz.
        subwoofer_highest_hz: f64,
    },
    /// The filter itself cannot be set.
    #[error(transparent)]
    Setting(#[from] SettingError),
}

fn positive(
    quantity: &'static str,
    unit: &'static str,
    name: &str,
    value: f64,
) -> Result<f64, ProtectionError> {
    if value > 0.0 && value.is_finite() {
        Ok(value)
    } else {
        Err(ProtectionError::NotPositive { quantity, name: name.to_owned(), value, unit })
    }
}
