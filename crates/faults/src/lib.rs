#![doc = include_str!("../README.md")]
//!
//! [`expected_readings`] predicts with intervals; [`expected_stages`] does so for every stage of building; [`locate`] ranks
//! the faults that would explain what a meter shows, two at once if asked, and says what to measure next; [`Table`] is
//! the same ranking as plain numbers for a phone, [`rules`] the numbers of every rule; [`ExpectedReading::judge`] says at
//! once whether a reading is good; [`drift`] watches a line over the years.

mod asked;
mod build_table;
mod drift;
mod error;
mod expect;
mod explanation;
mod grade;
mod grid;
mod groups;
mod hypotheses;
mod judge;
mod line_under_test;
mod load_sensitivity;
mod locate;
mod next;
mod normal;
mod outcomes;
mod pairs;
mod places;
mod predict;
mod readings;
pub mod rules;
mod sees;
mod sentences;
mod spread;
mod swapped_at;
mod table;
mod tolerances;
mod weigh;

pub use asked::{Asked, Effort};
pub use drift::{Drift, DriftWarning, YearReading, drift};
pub use error::FaultError;
pub use expect::{ExpectedReading, StageReading, expected_readings, expected_stages};
pub use explanation::{Explanation, Predicted, SuspectStretch, Unexplained};
pub use grade::Grade;
pub use groups::Answer;
pub use hypotheses::{Fault, Priors};
pub use judge::{Judgement, LEAKAGE_DOUBTFUL_MOHM, LEAKAGE_MOHM, Says, judge_leakage};
pub use locate::{Diagnosis, locate};
pub use next::{NextTest, Test};
pub use outcomes::{Outcome, Shows};
pub use pairs::PairCount;
pub use places::Place;
pub use predict::Prediction;
pub use readings::{MeterReading, Setup, Shown};
pub use sees::Sees;
pub use spread::{ReadingSpread, expected_spread};
pub use table::{SeenAt, Table, TableHypothesis, TablePlace};
pub use tolerances::{Cause, LoadTolerances, Tolerances, WindingTolerances};
pub use weigh::Weighed;
