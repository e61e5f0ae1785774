#![doc = include_str!("../README.md")]
//!
//! [`expected_readings`] predicts with intervals; [`expected_stages`] does so for every stage of building; [`locate`] ranks
//! the faults that would explain what a meter shows, two at once if asked, and says what to measure next; [`Table`] is
//! the same ranking as plain numbers for a phone, [`rules`] the numbers of every rule; [`ExpectedReading::judge`] says at
//! once whether a reading is good; [`drift`] watches a line over the years.

mod drift;
mod error;
mod expect;
mod groups;
mod hypotheses;
mod judge;
mod locate;
mod next;
mod normal;
mod outcomes;
mod pairs;
mod places;
mod predict;
mod readings;
pub mod rules;
mod sentences;
mod spread;
mod table;
mod tolerances;

pub use drift::{Drift, DriftWarning, YearReading, drift};
pub use error::FaultError;
pub use expect::{ExpectedReading, StageReading, expected_readings, expected_stages};
pub use groups::Answer;
pub use hypotheses::{Fault, Priors};
pub use judge::{Grade, Judgement, LEAKAGE_DOUBTFUL_MOHM, LEAKAGE_MOHM, Says, judge_leakage};
pub use locate::{Asked, Diagnosis, Explanation, Predicted, Stretch, Unexplained, locate};
pub use next::{Effort, NextTest, Test};
pub use outcomes::{Outcome, Shows};
pub use pairs::PairCount;
pub use places::Place;
pub use predict::Prediction;
pub use readings::{MeterReading, Shown};
pub use spread::{Cause, ReadingSpread, expected_spread};
pub use table::{SeenAt, Setup, Table, TableHypothesis, TablePlace, Weighed};
pub use tolerances::{LoadTolerances, Tolerances};
