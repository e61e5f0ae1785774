//! What stands in the way of proposing anything at all, with what it is about.

use loamline_acoustics::{AirError, BoundarySceneError, DirectivityError, SceneErrors, SourceError};
use loamline_adapt::SoundErrors;
use loamline_design::ProblemError;
use loamline_limits::Exceeded;
use loamline_model::EditError;
use loamline_quotation::QuotationError;
use loamline_study::{FieldError, RouteProblems, StudyError};
use loamline_terms::{Measure, Sentence, say};
use loamline_tune::TuningError;
use std::fmt;
use thiserror::Error;

/// One thing that is missing from the brief or the site, or that an engine does not take.
#[derive(Debug, Error)]
pub enum BriefProblem {
    /// Nowhere to listen.
    NoArea,
    /// Nowhere to feed from.
    NoRack,
    /// Nowhere to put a loudspeaker.
    NoPlace {
        /// How far from the areas places are looked for, metres.
        reach_m: f64,
    },
    /// Nowhere to put a loudspeaker for some areas of a site that is designed district by district.
    NoPlaceNear {
        /// The areas.
        areas: Sentence,
        /// How far from the areas places are looked for, metres.
        reach_m: f64,
    },
    /// The wishes name a model that is none.
    UnknownModel {
        /// The id named.
        model: String,
    },
    /// The wishes leave nothing.
    NothingOffered,
    /// Nothing that may be proposed can be put up where there is room.
    NothingFits,
    /// A loudspeaker that is to stay and cannot.
    PinnedUnusable {
        /// Its tag.
        tag: String,
        /// Its model.
        model: String,
    },
    /// Nothing in the catalogue feeds what is chosen.
    NoAmplifier,
    /// A rack that would be too full.
    RackFull {
        /// The rack.
        rack: String,
    },
    /// The effort allowed was not enough for a single try.
    NothingTried,
    /// The design has no levels to go by.
    NothingHeard,
    /// What the job sounds in.
    Sound(#[from] SoundErrors),
    /// A scene of the design.
    Scene(#[from] SceneErrors),
    /// Levels or bass in an area.
    Field(FieldError),
    /// A result of the design.
    Study(#[from] StudyError),
    /// How a model radiates.
    Directivity {
        /// The model.
        model: String,
        /// What is wrong with it.
        error: DirectivityError,
    },
    /// A programme, or the level of a model.
    Source(#[from] SourceError),
    /// The air of the site.
    Air(#[from] AirError),
    /// What the neighbours' method sees of the site.
    Neighbours(#[from] BoundarySceneError),
    /// The choice as a problem of numbers.
    Choice(#[from] ProblemError),
    /// The ways of the cable.
    Routes(#[from] RouteProblems),
    /// The settings of the design.
    Tuning(#[from] TuningError),
    /// What it costs.
    Quotation(#[from] QuotationError),
    /// The design as an edit of the job.
    Edit(#[from] EditError),
}

impl BriefProblem {
    /// What is missing or not taken as a sentence, to be said in any language.
    pub fn told(&self) -> Sentence {
        match self {
            Self::NoArea => say!("There is no listening area to design for: draw one first."),
            Self::NoRack => {
                say!("There is no rack for amplifiers: draw one first, where the cables leave.")
            }
            Self::NoPlace { reach_m } => say!(
                "There is no place for a loudspeaker within {reach} of an area: beds, gravel and soil take them, or say so on a surface, wall or building (loudspeakers = true).",
                reach = Measure::RoundLength(*reach_m)
            ),
            Self::NoPlaceNear { areas, reach_m } => say!(
                "There is no place for a loudspeaker within {reach} of {areas}: beds, gravel and soil take them, or say so on a surface, wall or building (loudspeakers = true).",
                reach = Measure::RoundLength(*reach_m),
                areas = areas.clone()
            ),
            Self::UnknownModel { model } => say!(
                "The wishes name the loudspeaker \"{model}\", which the catalogue does not have.",
                model = model
            ),
            Self::NothingOffered => say!(
                "No loudspeaker of the catalogue may be proposed: the wishes and the supply of the brief leave none."
            ),
            Self::NothingFits => say!(
                "None of the loudspeakers that may be proposed can be put up where there is room: brackets take a wall or building that says loudspeakers = true, all others take ground."
            ),
            Self::PinnedUnusable { tag, model } => say!(
                "Loudspeaker {tag} is pinned, and \"{model}\" cannot be used at the brief's supply or by its wishes.",
                tag = tag,
                model = model
            ),
            Self::NoAmplifier => say!(
                "No amplifier of the catalogue with processing can feed the loudspeakers at the brief's supply."
            ),
            Self::RackFull { rack } => say!(
                "Rack {rack} would need more amplifiers than stand in one rack: add a rack nearer to the areas.",
                rack = rack
            ),
            Self::NothingTried => say!("Nothing was tried."),
            Self::NothingHeard => say!("Nothing is heard in the design."),
            Self::Sound(e) => e.told(),
            Self::Field(e) => e.told(),
            Self::Study(e) => e.told(),
            Self::Routes(e) => e.told(),
            Self::Directivity { model, error } => format!("\"{model}\": {error}").into(),
            Self::Scene(e) => e.to_string().into(),
            Self::Source(e) => e.to_string().into(),
            Self::Air(e) => e.to_string().into(),
            Self::Neighbours(e) => e.to_string().into(),
            Self::Choice(e) => e.to_string().into(),
            Self::Tuning(e) => e.told(),
            Self::Quotation(e) => e.to_string().into(),
            Self::Edit(e) => e.to_string().into(),
        }
    }

    /// Whether it is of one design, whose lines or amplifiers cannot be: others may do.
    pub(crate) const fn of_one_design(&self) -> bool {
        matches!(self, Self::Routes(_) | Self::Quotation(_) | Self::NoAmplifier | Self::RackFull { .. })
    }
}

impl fmt::Display for BriefProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.told())
    }
}

/// Whatever keeps levels in an area from being worked out is of the field.
macro_rules! field_errors {
    ($($error:ty),*) => {$(
        impl From<$error> for BriefProblem {
            fn from(e: $error) -> Self {
                Self::Field(e.into())
            }
        }
    )*};
}
field_errors!(
    Exceeded,
    loamline_acoustics::WavesError,
    loamline_acoustics::BassError,
    loamline_acoustics::AreaError
);

/// All that is in the way; never empty.
#[derive(Debug)]
pub struct BriefProblems(pub Vec<BriefProblem>);

impl<E: Into<BriefProblem>> From<E> for BriefProblems {
    fn from(one: E) -> Self {
        Self(vec![one.into()])
    }
}

/// Why nothing can be proposed at all.
#[derive(Debug, Error)]
pub enum ProposeError {
    /// Something is missing from the brief or the site; one sentence for each.
    #[error("{}", sentences(.0).join("\n"))]
    Brief(Vec<BriefProblem>),
    /// The watcher ended it.
    #[error("The proposal was stopped before it was finished.")]
    Cancelled,
}

fn sentences(problems: &[BriefProblem]) -> Vec<String> {
    problems.iter().map(ToString::to_string).collect()
}

impl From<BriefProblems> for ProposeError {
    fn from(problems: BriefProblems) -> Self {
        Self::Brief(problems.0)
    }
}

impl From<BriefProblem> for ProposeError {
    fn from(one: BriefProblem) -> Self {
        Self::Brief(vec![one])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_problem_is_a_sentence_with_its_subject() {
        let told = ProposeError::Brief(vec![
            BriefProblem::NoArea,
            BriefProblem::PinnedUnusable { tag: "L3".into(), model: "stake-110-wide".into() },
            BriefProblem::RackFull { rack: "R1".into() },
            BriefProblem::NoPlace { reach_m: 14.0 },
            BriefProblem::NothingFits,
            BriefProblem::NoPlaceNear { areas: "Pool terrace and area lawn".into(), reach_m: 14.0 },
        ])
        .to_string();
        let lines: Vec<&str> = told.lines().collect();
        assert_eq!(lines.len(), 6);
        assert!(lines.iter().all(|l| l.ends_with('.')));
        assert!(lines[1].contains("L3") && lines[1].contains("\"stake-110-wide\""));
        assert!(lines[2].starts_with("Rack R1 ") && lines[3].contains("within 14 m"));
        assert!(lines[5].contains("within 14 m of Pool terrace and area lawn: "));
    }
}
