//! What a job may cost.

use loamline_model::JobFile;

/// The budget of a job, tax included.
pub(crate) fn budget(file: &JobFile) -> Option<f64> {
    use rust_decimal::prelude::ToPrimitive as _;
    file.job().document().brief.budget.and_then(|b| b.to_f64())
}
