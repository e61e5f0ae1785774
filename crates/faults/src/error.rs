//! What is wrong with a question about readings.

use loamline_electrics::{InputError, LineErrors};
use thiserror::Error;

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum FaultError {
    /// The line itself is wrong.
    #[error(transparent)]
    Line(#[from] LineErrors),
    /// A meter frequency or line value is impossible.
    #[error(transparent)]
    Value(#[from] InputError),
    /// A reading that is no reading.
    #[error("a reading of {ohm} ohm at {frequency_hz} Hz cannot be; ohms are zero or more")]
    BadReading {
        /// The frequency, 0 for DC.
        frequency_hz: f64,
        /// The value given.
        ohm: f64,
    },
    /// The same quantity read twice.
    #[error("{frequency_hz} Hz is read twice at one place; give one reading per frequency (0 Hz is DC)")]
    ReadTwice {
        /// The frequency, 0 for DC.
        frequency_hz: f64,
    },
    /// A phase that is no phase.
    #[error(
        "a phase of {degrees} degrees at {frequency_hz} Hz cannot be; it is from -180 to 180 degrees, and DC has none"
    )]
    BadPhase {
        /// The frequency, 0 for DC.
        frequency_hz: f64,
        /// The value given.
        degrees: f64,
    },
    /// A joint the line does not have.
    #[error("the line has no joint {joint}")]
    NoSuchJoint {
        /// The joint.
        joint: String,
    },
    /// A joint that cannot be parted from the rack.
    #[error("a meter at {joint} cannot look away from the rack: it is the rack, or the line has a loop")]
    NotBehindTheRack {
        /// The joint.
        joint: String,
    },
    /// A reading the table has no predictions for.
    #[error("the table holds no predictions for a reading at {frequency_hz} Hz there")]
    NotInTable {
        /// The frequency, 0 for DC.
        frequency_hz: f64,
    },
    /// No reading was given.
    #[error("no reading was given; give at least one, such as |Z| at 1 kHz")]
    NoReading,
    /// A tolerance that cannot be.
    #[error("{name} is {value}; it must be {expected}")]
    BadTolerance {
        /// The tolerance.
        name: &'static str,
        /// The value given.
        value: f64,
        /// What is possible.
        expected: &'static str,
    },
}
