//! Explains meter readings: what a line should read at the rack and at every joint, and which fault a wrong reading means.
//!
//! [`expected_readings`] predicts with intervals; [`expected_stages`] does so for every stage of building; [`locate`] ranks
//! the faults that would explain what a meter shows and says what to measure next; [`drift`] watches a line over the years.

mod drift;
mod error;
mod expect;
mod hypotheses;
mod locate;
mod model;
mod next;
mod sentences;

pub use drift::{Drift, DriftWarning, YearReading, drift};
pub use error::FaultError;
pub use expect::{ExpectedReading, Place, StageReading, expected_readings, expected_stages};
pub use hypotheses::{Fault, Priors};
pub use locate::{Diagnosis, Explanation, MeterReading, Shown, Stretch, Unexplained, locate};
pub use model::Tolerances;
pub use next::{Effort, NextTest, Test};
