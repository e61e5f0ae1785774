//! What stands in the way of proposing anything at all, with what it is about.

use loamline_acoustics::{AirError, BoundarySceneError, DirectivityError, SceneErrors, SourceError};
use loamline_adapt::SoundErrors;
use loamline_design::ProblemError;
use loamline_limits::Exceeded;
use loamline_model::EditError;
use loamline_quotation::QuotationError;
use loamline_study::{FieldError, RouteProblems, StudyError};
use loamline_tune::TuningError;
use thiserror::Error;

/// One thing that is missing from the brief or the site, or that an engine does not take.
#[derive(Debug, Error)]
pub enum BriefProblem {
    /// Nowhere to listen.
    #[error("There is no listening area to design for: draw one first.")]
    NoArea,
    /// Nowhere to feed from.
    #[error("There is no rack for amplifiers: draw one first, where the cables leave.")]
    NoRack,
    /// Nowhere to put a loudspeaker.
    #[error(
        "There is no place for a loudspeaker within {reach_m} m of an area: beds, gravel and soil take them, or say so on a surface, wall or building (loudspeakers = true)."
    )]
    NoPlace {
        /// How far from the areas places are looked for, metres.
        reach_m: f64,
    },
    /// Nowhere to put a loudspeaker for some areas of a site that is designed district by district.
    #[error(
        "There is no place for a loudspeaker within {reach_m} m of {areas}: beds, gravel and soil take them, or say so on a surface, wall or building (loudspeakers = true)."
    )]
    NoPlaceNear {
        /// The areas.
        areas: String,
        /// How far from the areas places are looked for, metres.
        reach_m: f64,
    },
    /// The wishes name a model that is none.
    #[error("The wishes name the loudspeaker \"{model}\", which the catalogue does not have.")]
    UnknownModel {
        /// The id named.
        model: String,
    },
    /// The wishes leave nothing.
    #[error(
        "No loudspeaker of the catalogue may be proposed: the wishes and the supply of the brief leave none."
    )]
    NothingOffered,
    /// Nothing that may be proposed can be put up where there is room.
    #[error(
        "None of the loudspeakers that may be proposed can be put up where there is room: brackets take a wall or building that says loudspeakers = true, all others take ground."
    )]
    NothingFits,
    /// A loudspeaker that is to stay and cannot.
    #[error(
        "Loudspeaker {tag} is pinned, and \"{model}\" cannot be used at the brief's supply or by its wishes."
    )]
    PinnedUnusable {
        /// Its tag.
        tag: String,
        /// Its model.
        model: String,
    },
    /// Nothing in the catalogue feeds what is chosen.
    #[error("No amplifier of the catalogue with processing can feed the loudspeakers at the brief's supply.")]
    NoAmplifier,
    /// A rack that would be too full.
    #[error("Rack {rack} would need more amplifiers than stand in one rack: add a rack nearer to the areas.")]
    RackFull {
        /// The rack.
        rack: String,
    },
    /// The effort allowed was not enough for a single try.
    #[error("Nothing was tried.")]
    NothingTried,
    /// The design has no levels to go by.
    #[error("Nothing is heard in the design.")]
    NothingHeard,
    /// What the job sounds in.
    #[error(transparent)]
    Sound(#[from] SoundErrors),
    /// A scene of the design.
    #[error(transparent)]
    Scene(#[from] SceneErrors),
    /// Levels or bass in an area.
    #[error(transparent)]
    Field(FieldError),
    /// A result of the design.
    #[error(transparent)]
    Study(#[from] StudyError),
    /// How a model radiates.
    #[error("\"{model}\": {error}")]
    Directivity {
        /// The model.
        model: String,
        /// What is wrong with it.
        error: DirectivityError,
    },
    /// A programme, or the level of a model.
    #[error(transparent)]
    Source(#[from] SourceError),
    /// The air of the site.
    #[error(transparent)]
    Air(#[from] AirError),
    /// What the neighbours' method sees of the site.
    #[error(transparent)]
    Neighbours(#[from] BoundarySceneError),
    /// The choice as a problem of numbers.
    #[error(transparent)]
    Choice(#[from] ProblemError),
    /// The ways of the cable.
    #[error(transparent)]
    Routes(#[from] RouteProblems),
    /// The settings of the design.
    #[error(transparent)]
    Tuning(#[from] TuningError),
    /// What it costs.
    #[error(transparent)]
    Quotation(#[from] QuotationError),
    /// The design as an edit of the job.
    #[error(transparent)]
    Edit(#[from] EditError),
}

impl BriefProblem {
    /// Whether it is of one design, whose lines or amplifiers cannot be: others may do.
    pub(crate) const fn of_one_design(&self) -> bool {
        matches!(self, Self::Routes(_) | Self::Quotation(_) | Self::NoAmplifier | Self::RackFull { .. })
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
