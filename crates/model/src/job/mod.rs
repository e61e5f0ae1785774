//! A job that makes sense: a document and its catalogue, checked once, that engines can rely on.

mod as_it_was;
mod beside;
mod broken;
mod catalogue_rules;
mod check;
mod described;
mod existing;
mod ground;
mod line_change;
mod lines;
mod load;
mod omitted;
mod part;
mod plan;
mod plan_index;
mod read_file;
mod redrawn;
mod references;
mod rules;
mod series;
mod shipped;
mod source_rules;
mod stub_rules;
mod tree;
mod views;

pub use as_it_was::KeptLineError;
pub(crate) use check::check;
pub use existing::ExistingCable;
pub use ground::GroundAt;
pub use line_change::LineChange;
pub(crate) use line_change::parts_from;
pub(crate) use load::job_files;
pub use load::{LoadError, catalogue_with, load_job, read_job, read_job_with};
pub use part::{NoPart, Part};
pub use read_file::read_catalogue;
pub(crate) use references::{ReferencePath, job_references};
pub use shipped::{SHIPPED_CATALOGUE, shipped_catalogue};
pub use tree::{LineTree, TreeRun};
pub use views::{ChannelView, JobNode, LineView, ONE_STAKE_M, PlacedLoudspeaker, RunView};

use crate::catalogue::Catalogue;
use crate::document::JobDocument;
use beside::Beside;
use indexmap::IndexMap;
use plan_index::PlanIndex;
use std::sync::Arc;

/// A job whose parts fit together: every id names something, every line is a tree from its start that reaches all
/// of its loudspeakers, outputs are used once, taps stand where they belong. Cannot be changed; an edit makes a
/// new one. What is merely poor design is not refused here but told by the engines.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    document: Arc<JobDocument>,
    catalogue: Arc<Catalogue>,
    trees: IndexMap<String, LineTree>,
    plan_index: PlanIndex,
    /// What a part of a job needs and another part brings; nothing in a whole job.
    beside: Beside,
}

impl Job {
    /// Of parts that have been checked.
    fn of(document: JobDocument, catalogue: Arc<Catalogue>, trees: IndexMap<String, LineTree>) -> Self {
        Self {
            document: Arc::new(document),
            catalogue,
            trees,
            plan_index: PlanIndex::default(),
            beside: Beside::default(),
        }
    }

    /// What was written.
    pub fn document(&self) -> &JobDocument {
        &self.document
    }

    /// The equipment and prices the job draws on: what ships with the program and what the job brought along.
    pub fn catalogue(&self) -> &Catalogue {
        &self.catalogue
    }
}
