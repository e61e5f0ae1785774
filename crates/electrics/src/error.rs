//! What is wrong with an input, with the numbers and the way out.

use serde::Serialize;
use thiserror::Error;

/// A value that cannot be.
#[derive(Debug, Clone, PartialEq, Serialize, Error)]
pub enum InputError {
    /// A number outside its possible range (NaN and infinities included).
    #[error("{place}: {quantity} is {value} {unit}; it must be {expected}")]
    OutOfRange {
        /// What the number belongs to, such as `run R3 (J1 to J2)`.
        place: String,
        /// The quantity's name.
        quantity: &'static str,
        /// The unit of `value`.
        unit: &'static str,
        /// The offending value.
        value: f64,
        /// What is possible, in words.
        expected: String,
    },
    /// A list that may not be empty.
    #[error("{place}: {quantity} is empty; give at least one")]
    Empty {
        /// What the list belongs to.
        place: String,
        /// The list's name.
        quantity: &'static str,
    },
    /// Values that must rise from one to the next.
    #[error("{place}: {quantity} must rise; {next} {unit} follows {previous} {unit}")]
    NotRising {
        /// What the list belongs to.
        place: String,
        /// The list's name.
        quantity: &'static str,
        /// Unit of both values.
        unit: &'static str,
        /// The earlier value.
        previous: f64,
        /// The later value, not above the earlier one.
        next: f64,
    },
    /// A wanted result no offered choice reaches.
    #[error("{place}: {problem}")]
    NoChoice {
        /// What was asked.
        place: String,
        /// Why nothing fits and how near the nearest came.
        problem: String,
    },
}

impl InputError {
    /// `value` must be a finite number within `low..=high`.
    ///
    /// # Errors
    /// [`InputError::OutOfRange`].
    pub(crate) fn check_range(
        place: &str,
        quantity: &'static str,
        unit: &'static str,
        value: f64,
        low: f64,
        high: f64,
    ) -> Result<(), Self> {
        if value.is_finite() && (low..=high).contains(&value) {
            return Ok(());
        }
        Err(Self::OutOfRange {
            place: place.to_owned(),
            quantity,
            unit,
            value,
            expected: format!("{low} to {high} {unit}"),
        })
    }

    /// `value` must be finite and above zero.
    ///
    /// # Errors
    /// [`InputError::OutOfRange`].
    pub(crate) fn check_positive(
        place: &str,
        quantity: &'static str,
        unit: &'static str,
        value: f64,
    ) -> Result<(), Self> {
        Self::check_positive_lazy(|| place.to_owned(), quantity, unit, value)
    }

    /// `value` must be finite and not below zero.
    ///
    /// # Errors
    /// [`InputError::OutOfRange`].
    pub(crate) fn check_not_negative(
        place: &str,
        quantity: &'static str,
        unit: &'static str,
        value: f64,
    ) -> Result<(), Self> {
        Self::check_not_negative_lazy(|| place.to_owned(), quantity, unit, value)
    }

    /// As `check_positive`, the place spelt out only when it is needed.
    pub(crate) fn check_positive_lazy(
        place: impl FnOnce() -> String,
        quantity: &'static str,
        unit: &'static str,
        value: f64,
    ) -> Result<(), Self> {
        if value.is_finite() && value > 0.0 {
            return Ok(());
        }
        Err(Self::OutOfRange { place: place(), quantity, unit, value, expected: "above zero".to_owned() })
    }

    /// As `check_not_negative`, the place spelt out only when it is needed.
    pub(crate) fn check_not_negative_lazy(
        place: impl FnOnce() -> String,
        quantity: &'static str,
        unit: &'static str,
        value: f64,
    ) -> Result<(), Self> {
        if value.is_finite() && value >= 0.0 {
            return Ok(());
        }
        Err(Self::OutOfRange { place: place(), quantity, unit, value, expected: "zero or more".to_owned() })
    }
}

/// One thing wrong with a line's layout or values.
#[derive(Debug, Clone, PartialEq, Serialize, Error)]
pub enum LineError {
    /// Nothing is connected to the source.
    #[error("nothing is connected to the source joint {joint}; one run must start there")]
    NothingAtSource {
        /// The source joint's name.
        joint: String,
    },
    /// A joint is listed more than once.
    #[error("joint {joint} is listed {count} times; each joint needs a name of its own")]
    DuplicateJoint {
        /// The repeated name.
        joint: String,
        /// How often it is listed.
        count: usize,
    },
    /// Two runs share a name.
    #[error("run {run} is listed twice (the second one goes from {from} to {to}); name each run differently")]
    DuplicateRun {
        /// The repeated name.
        run: String,
        /// Start of the second run.
        from: String,
        /// End of the second run.
        to: String,
    },
    /// Two loads share a name.
    #[error("load {load} is listed twice (the second one is at joint {joint}); name each load differently")]
    DuplicateLoad {
        /// The repeated name.
        load: String,
        /// Joint of the second load.
        joint: String,
    },
    /// A run or load names a joint the line does not have.
    #[error("{place} is at joint {joint}, which the line does not have")]
    UnknownJoint {
        /// The run or load.
        place: String,
        /// The missing joint.
        joint: String,
    },
    /// A listed joint with no run to it.
    #[error("joint {joint} has no run to it; connect it or take it off the line")]
    LooseJoint {
        /// The joint.
        joint: String,
    },
    /// A run that nothing feeds.
    #[error(
        "run {run} ({from} to {to}) is open: no way leads from the source {source_joint} to joint {from}"
    )]
    OpenRun {
        /// The run.
        run: String,
        /// Its start.
        from: String,
        /// Its end.
        to: String,
        /// The source joint.
        source_joint: String,
    },
    /// Runs that close a ring nothing feeds.
    #[error("the loop through joint {joint} ({joints}) has no source: no way leads to it from {source_joint}", joints = joints.join(", "))]
    LoopWithoutSource {
        /// One joint of the loop.
        joint: String,
        /// All joints of the part that is cut off.
        joints: Vec<String>,
        /// The source joint.
        source_joint: String,
    },
    /// A run that returns to its own start.
    #[error("run {run} starts and ends at joint {joint}")]
    RunToItself {
        /// The run.
        run: String,
        /// The joint.
        joint: String,
    },
    /// A name that is empty.
    #[error("{place} has an empty name")]
    EmptyName {
        /// What lacks a name.
        place: String,
    },
    /// A value that cannot be.
    #[error(transparent)]
    Value(#[from] InputError),
}

/// Everything wrong with a line, in the order found; never empty.
#[derive(Debug, Clone, PartialEq, Serialize, Error)]
#[error("{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))]
pub struct LineErrors(pub Vec<LineError>);
