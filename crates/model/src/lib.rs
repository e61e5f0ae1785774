//! The job document: types, units, catalogue, validation and edits.

mod units;

pub use units::{ConductorSize, Quantity, QuantityError, QuantityProblem, Units, closest};
