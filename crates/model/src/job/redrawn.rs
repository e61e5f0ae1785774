//! A job with other lines, as a search tries them.

use super::Job;
use super::lines::check_lines;
use super::omitted::Omitted;
use crate::document::JobDocument;
use std::sync::Arc;

impl Job {
    /// This job with lines, loudspeakers' lines and joints as they are in a document that is else its own; `None` where they
    /// are no lines.
    pub fn with_lines_of(&self, document: JobDocument) -> Option<Self> {
        let mut problems = Vec::new();
        let trees = check_lines(&document, &self.catalogue, &Omitted::none(), &mut problems);
        let (document, catalogue) = (Arc::new(document), self.catalogue.clone());
        problems.is_empty().then_some(Self { document, catalogue, trees })
    }
}
