#![doc = include_str!("../README.md")]

#[macro_use]
mod row;

mod bound;
mod leave;
mod reference;
mod table;

pub use bound::{Bound, Exceeded, Side, Unit};
pub use leave::{Leave, Lent, Over, go_on, lent, to_the_end};
pub use reference::reference;
pub use table::*;
