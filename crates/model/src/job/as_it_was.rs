//! A line that is gone, as a visit kept it.

use super::Job;
use super::lines::check_lines;
use super::omitted::Omitted;
use crate::document::{KeptLine, Line};
use crate::reading::ProblemKind;
use indexmap::IndexMap;
use loamline_terms::{Sentence, say};
use std::fmt;
use thiserror::Error;

/// What a line that was kept by a visit needs and is gone; each goes on after a colon.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum KeptLineError {
    /// A cable.
    CableGone {
        /// Its id.
        cable: String,
    },
    /// A model of loudspeaker.
    LoudspeakerGone {
        /// Its id.
        model: String,
    },
    /// The line as kept is none.
    Line(ProblemKind),
}

impl KeptLineError {
    /// What is missing, to be said in any language.
    pub fn told(&self) -> Sentence {
        match self {
            Self::CableGone { cable } => {
                say!("its cable \"{cable}\" is in the catalogue no more", cable = cable)
            }
            Self::LoudspeakerGone { model } => {
                say!("its loudspeaker \"{model}\" is in the catalogue no more", model = model)
            }
            Self::Line(problem) => problem.told(),
        }
    }
}

impl fmt::Display for KeptLineError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.told())
    }
}

impl Job {
    /// The job as far as a line that was kept by a visit goes: that line alone, as it was, on this job's site and with its
    /// catalogue, so that whatever is asked of a line can be asked of it.
    ///
    /// # Errors
    /// What the line needs and is gone.
    pub fn as_it_was(&self, kept: &KeptLine) -> Result<Self, KeptLineError> {
        let mut document = self.document().clone();
        document.lines =
            IndexMap::from([(kept.line.clone(), Line { channel: None, ..kept.as_it_was.clone() })]);
        document.loudspeakers = kept.loudspeakers.clone();
        document.joints = kept.joints.clone();
        document.racks.extend(kept.racks.clone());
        document.stubs.extend(kept.stubs.clone());
        document.channels.clear();
        document.amplifiers.clear();
        document.sources.clear();
        document.leads.clear();
        document.visits.clear();
        let cables = std::iter::once(&kept.as_it_was.cable)
            .chain(kept.as_it_was.runs.values().filter_map(|r| r.cable.as_ref()));
        let mut gone = cables.filter(|c| !self.catalogue.cables.contains_key(*c));
        let mut models = kept.loudspeakers.values().map(|l| &l.model);
        if let Some(cable) = gone.next() {
            return Err(KeptLineError::CableGone { cable: cable.clone() });
        }
        if let Some(model) = models.find(|m| !self.catalogue.loudspeakers.contains_key(*m)) {
            return Err(KeptLineError::LoudspeakerGone { model: model.clone() });
        }
        let mut problems = Vec::new();
        let trees = check_lines(&document, &self.catalogue, &Omitted::none(), &mut problems);
        match problems.first() {
            None => Ok(Self::of(document, self.catalogue.clone(), trees)),
            Some(problem) => Err(KeptLineError::Line(problem.kind.clone())),
        }
    }
}
