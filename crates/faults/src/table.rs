//! Everything needed to rank the explanations of readings on one line, as plain numbers: what stands in such a table.
//!
//! [`crate::build_table`] makes it of a line; the rule by which readings are held against it is that of [`crate::weigh`].

use loamline_terms::{PlacedMeasure, Sentence};
use serde::{Deserialize, Serialize};

use crate::hypotheses::Fault;
use crate::places::Place;
use crate::predict::Prediction;

/// The explanations of one line's readings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Table {
    /// The line.
    pub line: String,
    /// Everything that may be wrong, and that nothing is.
    pub hypotheses: Vec<TableHypothesis>,
    /// Grid points of all hypotheses: place along a run as a share of its length, or ohm; absent where there is none.
    pub parameters: Vec<Option<f64>>,
    /// Where a meter may be connected.
    pub places: Vec<TablePlace>,
    /// A meter shows an open line above this, ohm.
    pub meter_range_ohm: f64,
    /// Added to ohms before the logarithm is taken, ohm.
    pub offset_ohm: f64,
}

/// One hypothesis.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TableHypothesis {
    /// The fault.
    pub fault: Fault,
    /// In words.
    pub sentence: Sentence,
    /// The measures in the sentence, for a phone that shows them in other units; none where it has none.
    #[serde(skip_deserializing, skip_serializing_if = "Vec::is_empty")]
    pub measures: Vec<PlacedMeasure>,
    /// Prior weight; the weights of a table need not sum to one.
    pub weight: f64,
    /// Its first point.
    pub first: usize,
    /// How many points it has.
    pub count: usize,
    /// Joints at which it is seen when they are opened.
    pub seen: Vec<SeenAt>,
}

/// A joint at which a fault shows itself.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SeenAt {
    /// The joint.
    pub joint: String,
    /// Share of such faults seen there.
    pub share: f64,
}

/// One place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TablePlace {
    /// Where.
    pub place: Place,
    /// Frequencies in Hz, 0 for DC. The quantities are ln(|Z| + offset) at each, then the phase at each if `phases`.
    pub frequencies_hz: Vec<f64>,
    /// The quantities include phases.
    pub phases: bool,
    /// The different predictions; the first is a good line's.
    pub predictions: Vec<Prediction>,
    /// Per point, its prediction.
    pub of_point: Vec<usize>,
}
