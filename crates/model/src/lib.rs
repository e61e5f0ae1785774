#![doc = include_str!("../README.md")]
//!
//! [`JobDocument`] is what a `job.toml` holds, [`Catalogue`] what equipment and prices there are. [`load_job`] reads
//! both into a [`Job`], which is checked once and cannot be wrong after, or into a [`Report`] of every problem.

#[macro_use]
mod reading;
mod edit;
mod exceeded;
mod job;
mod schema;
mod source;
mod units;

pub mod catalogue;
pub mod document;

pub use catalogue::Catalogue;
pub use document::JobDocument;
pub use edit::{
    Edit, EditError, JobFile, Operation, Past, PatchError, SaveError, TakenOut, conflicting_place, conflicts,
    entries as catalogue_entries, place_built_upon, with_entry,
};
#[cfg(feature = "schema")]
pub use edit::{PatchOperation, PatchWord};
pub use exceeded::exceeded;
pub use job::{
    ChannelView, ExistingCable, GroundAt, Job, JobNode, KeptLineError, LineChange, LineTree, LineView,
    LoadError, NoPart, ONE_STAKE_M, Part, PlacedLoudspeaker, RunView, SHIPPED_CATALOGUE, TreeRun,
    catalogue_with, load_job, read_catalogue, read_job, read_job_with, shipped_catalogue,
};
pub use reading::{Choice, Definitions, DocumentPlace, Node, NodeValue, Problem, ProblemKind, Record};
pub use schema::{catalogue_schema, job_schema};
pub use source::{Report, ReportEntry, SourceFile};
pub use units::{Quantity, QuantityError, QuantityProblem, Units, closest, read_conductor, read_gauge};
