//! What stands on each paper: the data of the templates, the tables, the JSON.
//!
//! Texts arrive at the templates finished, with their units; a template only sets them.

mod common;
mod crew;
mod schedules;

pub use crew::crew;
pub use schedules::{data, tables};
