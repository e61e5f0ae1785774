//! What stands on each paper: the data of the templates, the tables, the JSON.
//!
//! Texts arrive at the templates finished, with their units; a template only sets them.

mod as_built;
mod before_work;
mod certificate;
mod client;
mod commissioned;
mod common;
mod conductors;
mod crew;
mod electrical;
mod guide;
mod labels;
mod limits;
mod pictures;
mod readings;
mod schedules;
mod service;
mod since_accepted;
mod spreadsheets;
mod work_plan;

pub use as_built::as_built;
pub use before_work::before_work;
pub use certificate::certificate;
pub use client::{proposal, quotation};
pub use crew::crew;
pub use electrical::electrical;
pub use guide::guide;
pub use labels::{has_labels, label_list, labels};
pub use schedules::data;
pub use service::service;
pub use spreadsheets::tables;
pub use work_plan::{has_work, work_plan};
