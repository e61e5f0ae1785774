//! A job with other lines, as a search tries them.

use super::Job;
use super::lines::check_lines;
use super::omitted::Omitted;
use crate::document::JobDocument;

impl Job {
    /// This job with lines, loudspeakers' lines and joints as they are in a document that is else its own; `None` where they
    /// are no lines.
    pub fn with_lines_of(&self, document: JobDocument) -> Option<Self> {
        let mut problems = Vec::new();
        let trees = check_lines(&document, &self.catalogue, &Omitted::none(), &mut problems);
        problems.is_empty().then(|| Self::of(document, self.catalogue.clone(), trees))
    }
}
