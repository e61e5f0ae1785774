#![doc = include_str!("../README.md")]
//!
//! In the order data flows: [`Counted`] is what the runs and loudspeakers of a job ask for, [`bill`] lists it, [`quote`]
//! prices the list with the catalogue's prices and those of a [`PriceBook`]; [`quotation`] is all three. Pure: the same job,
//! runs and book give the same cent.

mod bill;
mod book;
mod counted;
mod days;
mod error;
mod holes;
mod money;
mod row_problem;
#[cfg(test)]
mod tests;
mod total;
mod wording;

pub use bill::{BillItem, Group, Unit, bill};
pub use book::{PriceBook, UnknownCode};
pub use counted::Counted;
pub use days::{Day, DayTask, days, task_of, waits_for};
pub use error::QuotationError;
pub use holes::{GRAVEL_M, HoleNeed, OVERDIG_M, hole_needs, hole_of};
pub use loamline_study::{GroundNeed, JointConductor, JointNeed, Wire, opens_ground};
pub use money::{amount, decimals, estimate, grouped};
pub use total::{PricedItem, Quotation, Rates, quotation, quote};
pub use wording::{Wording, Wordless};
