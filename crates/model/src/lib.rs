//! The job document: types, units, catalogue, validation and edits.
//!
//! [`JobDocument`] is what a `job.toml` holds, [`Catalogue`] what equipment and prices there are.

#[macro_use]
mod reading;
mod units;

pub mod catalogue;
pub mod document;

pub use catalogue::Catalogue;
pub use document::JobDocument;
pub use reading::{Choice, Definitions, Node, NodeValue, Place, Problem, ProblemKind, Record};
pub use units::{ConductorSize, Quantity, QuantityError, QuantityProblem, Units, closest};
