//! What is told of one explanation of readings: the fault, where it lies, and what it predicts.

use loamline_terms::Sentence;
use serde::Serialize;

use crate::hypotheses::Fault;
use crate::places::Place;
use crate::readings::Shown;

/// A stretch of a run, m from its two ends (95 % of the probability).
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SuspectStretch {
    /// The run.
    pub run: String,
    /// The end distances are counted from.
    pub from: String,
    /// The other end.
    pub to: String,
    /// Nearest point, m from `from`.
    pub low_m: f64,
    /// Likeliest point, m from `from`.
    pub likely_m: f64,
    /// Farthest point, m from `from`.
    pub high_m: f64,
    /// Length of the run in m.
    pub length_m: f64,
}

/// One explanation.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Explanation {
    /// The fault.
    pub fault: Fault,
    /// Its probability, 0..=1.
    pub probability: f64,
    /// In words.
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub sentence: Sentence,
    /// Where along a run, for a short or a cut that readings place.
    pub stretch: Option<SuspectStretch>,
    /// Likeliest resistance of a high splice or a leak, ohm.
    pub ohm: Option<f64>,
    /// Its probability before any reading and before any joint was opened, 0..=1.
    pub prior: f64,
    /// How far all readings together are from its likeliest point, standard deviations.
    pub deviations: f64,
    /// What it predicts for each reading at its likeliest point, in the order of the readings.
    pub predicted: Vec<Predicted>,
}

/// A reading as an explanation predicts it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Predicted {
    /// Where.
    pub place: Place,
    /// Meter frequency in Hz, 0 for DC.
    pub frequency_hz: f64,
    /// What the meter would show, ohm; `None` for an open line.
    pub ohm: Option<f64>,
    /// What it showed.
    pub shown: Shown,
    /// How far apart the two are by themselves, standard deviations; `None` where one is an open line.
    pub deviations: Option<f64>,
}

/// A reading no hypothesis comes near.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Unexplained {
    /// The fault that comes nearest.
    pub nearest: Fault,
    /// How many standard deviations away it is.
    pub deviations: f64,
    /// In words.
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub sentence: Sentence,
}
