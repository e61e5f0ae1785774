//! How much of everything the program takes: one table of bounds, each with its reason and the sentence it gives.
//!
//! What comes from outside (a file, an edit, a message, a site of kilometres) is held against a bound before memory is
//! asked for: asking for more than there is ends the process, and with it everybody's work. `docs/limits.md` is written
//! from the table. Knows nothing of files, documents or sound: it is numbers and sentences.

mod bound;
mod reference;
mod table;

pub use bound::{Bound, Exceeded, Unit};
pub use reference::reference;
pub use table::*;
