//! How a figure came about: what every "why?" answers in.

use serde::Serialize;
use utoipa::ToSchema;

/// How a figure came about and by which source.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct WhyView {
    /// What it is about, where several stand together; else empty.
    pub about: String,
    /// Sentences with the numbers, in the order things follow from each other.
    pub steps: Vec<String>,
    /// Standards, papers or practice behind it.
    pub source: String,
}

/// What levels come to together by energy, dB.
pub fn energy_sum_db(levels_db: &[f64]) -> f64 {
    10.0 * levels_db.iter().map(|db| 10f64.powf(db / 10.0)).sum::<f64>().log10()
}
