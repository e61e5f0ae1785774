//! A line that is gone, as a visit kept it.

use super::Job;
use super::lines::check_lines;
use super::omitted::Omitted;
use crate::document::{KeptLine, Line};
use indexmap::IndexMap;
use std::sync::Arc;

impl Job {
    /// The job as far as a line that was kept by a visit goes: that line alone, as it was, on this job's site and with its
    /// catalogue, so that whatever is asked of a line can be asked of it.
    ///
    /// # Errors
    /// What the line needs and is gone (a cable of the catalogue), in words that go on after a colon.
    pub fn as_it_was(&self, kept: &KeptLine) -> Result<Self, String> {
        let mut document = self.document().clone();
        document.lines =
            IndexMap::from([(kept.line.clone(), Line { channel: None, ..kept.as_it_was.clone() })]);
        document.loudspeakers = kept.loudspeakers.clone();
        document.joints = kept.joints.clone();
        document.racks.extend(kept.racks.clone());
        document.stubs.extend(kept.stubs.clone());
        document.channels.clear();
        document.amplifiers.clear();
        document.visits.clear();
        let cables = std::iter::once(&kept.as_it_was.cable)
            .chain(kept.as_it_was.runs.values().filter_map(|r| r.cable.as_ref()));
        let mut gone = cables.filter(|c| !self.catalogue.cables.contains_key(*c));
        let mut models = kept.loudspeakers.values().map(|l| &l.model);
        if let Some(cable) = gone.next() {
            return Err(format!("its cable \"{cable}\" is in the catalogue no more"));
        }
        if let Some(model) = models.find(|m| !self.catalogue.loudspeakers.contains_key(*m)) {
            return Err(format!("its loudspeaker \"{model}\" is in the catalogue no more"));
        }
        let mut problems = Vec::new();
        let trees = check_lines(&document, &self.catalogue, &Omitted::none(), &mut problems);
        match problems.first() {
            None => Ok(Self { document: Arc::new(document), catalogue: self.catalogue.clone(), trees }),
            Some(problem) => Err(problem.kind.to_string()),
        }
    }
}
