//! What can be wrong with a setting, in words that say what to set instead.

/// A filter setting that cannot be used. Every message carries the value and the allowed range.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SettingError {
    /// The order is outside what this alignment offers.
    #[error("a filter of order {order} is not offered: choose an order from 1 to 8 (6 dB per octave each)")]
    Order {
        /// The order asked for.
        order: u32,
    },
    /// Linkwitz-Riley filters are two equal Butterworth filters in a row.
    #[error(
        "a Linkwitz-Riley filter of order {order} does not exist: it is two Butterworth filters of half the \
         order in a row, so choose 2, 4, 6 or 8"
    )]
    OddLinkwitzRiley {
        /// The order asked for.
        order: u32,
    },
    /// A value is not a number or lies outside its range.
    #[error("{quantity} is {value}{unit}: it must be from {lowest}{unit} to {highest}{unit}")]
    OutOfRange {
        /// What the value is.
        quantity: &'static str,
        /// The value given.
        value: f64,
        /// Its unit with a space before it; empty for a plain number.
        unit: &'static str,
        /// Lowest allowed.
        lowest: f64,
        /// Highest allowed.
        highest: f64,
    },
    /// A digital section cannot be built this close to half the sample rate, or this far below it.
    #[error(
        "a frequency of {frequency_hz} Hz cannot be set at a sample rate of {sample_rate_hz} Hz: it must lie \
         between {lowest_hz:.2} Hz and {highest_hz:.0} Hz; choose a higher sample rate or another frequency"
    )]
    OutsideSampleRate {
        /// The corner or centre frequency, Hz.
        frequency_hz: f64,
        /// The sample rate, Hz.
        sample_rate_hz: f64,
        /// Lowest frequency the sections are built for, Hz.
        lowest_hz: f64,
        /// Highest frequency the sections are built for, Hz.
        highest_hz: f64,
    },
}

impl SettingError {
    /// `value` if it is a number from `lowest` to `highest`; `unit` comes with a space before it.
    ///
    /// # Errors
    /// [`SettingError::OutOfRange`] when it is not.
    pub(crate) fn check(
        quantity: &'static str,
        unit: &'static str,
        value: f64,
        lowest: f64,
        highest: f64,
    ) -> Result<f64, Self> {
        if (lowest..=highest).contains(&value) {
            Ok(value)
        } else {
            Err(Self::OutOfRange { quantity, value, unit, lowest, highest })
        }
    }
}
