//! Quantities as people type them, read once into the units the engines use, and written back.
//!
//! [`Quantity::parse`] turns text such as `12 ft 6 in`, `2.5 mm2`, `72 F` or `1.2 kHz` into a number in the
//! quantity's own unit ([`Quantity::symbol`]); [`Quantity::of_number`] does the same for a number without a unit.
//! [`read_conductor`] reads wire sizes, which come either as a gauge or as a cross-section. [`Units`] writes
//! quantities for tables, in metric or in US customary units. [`closest`] finds what a misspelt word may have meant.
//!
//! Conversion factors are the exact definitions of the BIPM SI Brochure (9th edition) and NIST SP 811 Appendix B
//! (1 in = 25.4 mm, 1 lb = 0.453 592 37 kg, degF = 1.8 degC + 32, 1 atm = 101 325 Pa, 1 US gal = 231 in3).

mod conductor;
mod error;
mod format;
mod kinds;
mod letters;
mod parse;
mod suggest;
mod unit;

pub use conductor::{read_conductor, read_gauge};
pub use error::{QuantityError, QuantityProblem};
pub use format::Units;
pub use kinds::Quantity;
pub use suggest::closest;

#[cfg(test)]
mod tests;
