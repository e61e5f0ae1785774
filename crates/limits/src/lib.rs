#![doc = include_str!("../README.md")]

mod bound;
mod reference;
mod table;

pub use bound::{Bound, Exceeded, Unit};
pub use reference::reference;
pub use table::*;
