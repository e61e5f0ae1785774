//! Why a result of a job cannot be given: what the engines say, with what it is about.

use loamline_acoustics::{AreaError, BassError, BoundarySceneError, SceneErrors, WavesError};
use loamline_adapt::SoundErrors;
use loamline_electrics::{InputError, LineErrors};
use loamline_faults::FaultError;
use loamline_limits::Exceeded;
use loamline_model::{KeptLineError, closest};
use loamline_routing::{GroundMapError, GroundProblem, LineProblemError, RouteError, WAYS_THROUGH, stand};
use loamline_terms::{capitalised, listed};
use std::ops::RangeInclusive;
use thiserror::Error;

/// Levels in an area, or bass in it, that cannot be worked out.
#[derive(Debug, Clone, PartialEq, Error)]
#[error(transparent)]
pub enum FieldError {
    /// The area, or what sounds in it.
    Scene(#[from] SceneErrors),
    /// Its places.
    Area(#[from] AreaError),
    /// More than is worked out.
    TooMuch(#[from] Exceeded),
    /// Waves at its places.
    Waves(#[from] WavesError),
    /// Subwoofers in it.
    Bass(#[from] BassError),
}

/// Levels at a neighbour that cannot be worked out.
#[derive(Debug, Clone, PartialEq, Error)]
#[error(transparent)]
pub enum NeighbourError {
    /// The air of the site.
    Air(#[from] loamline_acoustics::AirError),
    /// What the method sees of the site.
    Scene(#[from] BoundarySceneError),
}

/// A thing that was asked for by a name that is none.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("there is no {what} \"{name}\"")]
pub struct Unknown {
    /// What was asked for: "stub-out", "loudspeaker", ...
    pub what: &'static str,
    /// The name given.
    pub name: String,
    /// Names there are, in the order of the document.
    pub known: Vec<String>,
}

impl Unknown {
    /// A name that is none among those there are.
    pub fn new<'a>(what: &'static str, name: &str, known: impl IntoIterator<Item = &'a str>) -> Self {
        Self { what, name: name.to_owned(), known: known.into_iter().map(str::to_owned).collect() }
    }

    /// What may have been meant, or what there is.
    pub fn hint(&self) -> String {
        let known: Vec<&str> = self.known.iter().map(String::as_str).collect();
        match closest(&self.name, known.iter().copied()) {
            Some(near) => format!("did you mean \"{near}\"?"),
            None if known.is_empty() => "there is none at all".to_owned(),
            None => format!("there are {}", known.join(", ")),
        }
    }
}

/// Why a result of a job cannot be given.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum StudyError {
    /// What the job sounds in.
    #[error(transparent)]
    Sound(#[from] SoundErrors),
    /// A place in it.
    #[error(transparent)]
    Scene(#[from] SceneErrors),
    /// The bass of an area.
    #[error("Area {area}: {error}")]
    Area {
        /// The area.
        area: String,
        /// What is wrong with it.
        error: FieldError,
    },
    /// A value of a line no cable or loudspeaker can have.
    #[error("Line {line}: {error}")]
    LineValue {
        /// The line.
        line: String,
        /// What is wrong with it.
        error: InputError,
    },
    /// A line that cannot be solved.
    #[error("Line {line}: {error}")]
    Line {
        /// The line.
        line: String,
        /// What is wrong with it.
        error: LineErrors,
    },
    /// Readings of a line that cannot be told or explained.
    #[error("Line {line}: {error}")]
    Readings {
        /// The line.
        line: String,
        /// What is wrong.
        error: FaultError,
    },
    /// A line as a visit kept it.
    #[error("Line {line} as it was cannot be worked out: {error}")]
    KeptLine {
        /// The line.
        line: String,
        /// What is missing.
        error: KeptLineError,
    },
    /// A thing asked for by a name that is none.
    #[error(transparent)]
    Unknown(#[from] Unknown),
    /// A line that is none, or that has nothing to be measured.
    #[error("There is no line \"{}\" that can be measured", .0.name)]
    NothingToMeasure(Unknown),
    /// The date of a visit.
    #[error("visits.{visit}.date: \"{date}\" is no day")]
    NoDay {
        /// The visit.
        visit: String,
        /// What stands there.
        date: String,
    },
    /// A stub whose cable or rack is not known.
    #[error("Stub-out {stub} has no cable or no rack that is known")]
    StubUnfinished {
        /// The stub.
        stub: String,
    },
    /// A loop that would make a cable no job has.
    #[error(
        "A loop of {loop_ohm} ohm in the cable \"{cable}\" of stub-out {stub} would be {length_m:.2} m of cable; it must be from {} m to {} m",
        .taken_m.start(), .taken_m.end()
    )]
    StubLength {
        /// The stub.
        stub: String,
        /// Catalogue id of its cable.
        cable: String,
        /// What was read, ohm.
        loop_ohm: f64,
        /// The length that follows, metres.
        length_m: f64,
        /// Lengths that are taken, metres.
        taken_m: RangeInclusive<f64>,
    },
    /// The middle of an area that is not in it.
    #[error("the middle of area {area} lies outside it")]
    MiddleOutside {
        /// The area.
        area: String,
    },
    /// A place that no level is predicted for.
    #[error("the place is inside a building; what is heard there is not predicted")]
    Indoors,
    /// Loudspeakers of which none sounds.
    #[error("none of {} sounds", .tags.join(", "))]
    NoneSounds {
        /// Their tags.
        tags: Vec<String>,
    },
    /// A place where nothing arrives.
    #[error("nothing is heard at that place")]
    NothingHeard,
}

impl StudyError {
    /// What to do about it, where that can be said.
    pub fn hint(&self) -> Option<String> {
        match self {
            Self::Unknown(unknown) | Self::NothingToMeasure(unknown) => Some(unknown.hint()),
            Self::NoDay { .. } => Some("write it as year-month-day, 2026-04-17".to_owned()),
            Self::StubLength { .. } => Some(
                "join the two conductors of one pair at the stub-out, nothing else on them, and read again"
                    .to_owned(),
            ),
            Self::MiddleOutside { .. } => Some("give the place as x,y instead".to_owned()),
            Self::NoneSounds { .. } => Some("loamline predict JOB says why".to_owned()),
            _ => None,
        }
    }
}

/// One reason why a job cannot be routed.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum RouteProblem {
    /// The site is empty.
    #[error("There is nothing on the site to route between.")]
    EmptySite,
    /// Nothing is to be led anywhere.
    #[error("There are no lines to route; add one with a channel and a cable.")]
    NoLines,
    /// A line that starts nowhere.
    #[error("Line {line} has no rack to start from; give it a channel or a start.")]
    NoStart {
        /// The line.
        line: String,
    },
    /// The ground as drawn.
    #[error("{}.", capitalised(&.0.to_string()))]
    Ground(GroundProblem),
    /// Lines that cannot be led.
    #[error("{}.", capitalised(&.0.to_string()))]
    Line(LineProblemError),
    /// Loudspeakers that no cable of a line reaches.
    #[error(
        "There is no way for cable from {from} to {}: {} in the way. {WAYS_THROUGH}{}.",
        spoken(to),
        stand(barriers),
        or_measure(unmeasured)
    )]
    CutOff {
        /// Where the cable would start.
        from: String,
        /// What it cannot reach, in order.
        to: Vec<String>,
        /// What stands in the way, in order.
        barriers: Vec<String>,
        /// Stubs whose cable may lead out, and whose length is not known.
        unmeasured: Vec<String>,
    },
}

impl RouteProblem {
    /// How many loudspeakers it keeps from their lines; 1 for a reason that names none.
    pub(crate) fn cut_off(&self) -> usize {
        if let Self::CutOff { to, .. } = self { to.len().max(1) } else { 1 }
    }
}

/// Names of one sort told once: "loudspeakers L1, L2 and L3"; of several sorts one by one.
fn spoken(names: &[String]) -> String {
    const SORT: &str = "loudspeaker ";
    match names.iter().map(|n| n.strip_prefix(SORT)).collect::<Option<Vec<_>>>() {
        Some(tags) if tags.len() > 1 => format!("loudspeakers {}", listed(&tags)),
        _ => listed(names),
    }
}

fn or_measure(stubs: &[String]) -> String {
    match stubs {
        [] => String::new(),
        [one] => format!(
            "; or measure the existing cable at stub-out {one} from the rack, far end joined: once its length is known, lines can start there"
        ),
        several => format!(
            "; or measure the existing cables at stub-outs {} from the rack, far end joined: once a length is known, lines can start there",
            listed(several)
        ),
    }
}

/// Why a job cannot be routed: one sentence for each reason; never empty.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))]
pub struct RouteProblems(pub Vec<RouteProblem>);

/// Why loudspeakers find no way to a line.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum NoWay {
    /// The site is empty.
    #[error("There is nothing on the site to lead cable over.")]
    EmptySite,
    /// There is no such loudspeaker.
    #[error("There is no loudspeaker {tag}.")]
    NoLoudspeaker {
        /// The tag given.
        tag: String,
    },
    /// The ground cannot be looked over.
    #[error("No way can be found for cable: {}.", .0.0.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
    Ground(GroundMapError),
    /// Nothing leads there.
    #[error("{tag} cannot be put on line {line}: {error}.")]
    Refused {
        /// The loudspeaker.
        tag: String,
        /// The line.
        line: String,
        /// Why not.
        error: Box<RouteError>,
    },
    /// The line has nothing to join.
    #[error("{tag} cannot be put on line {line}: line {line} joins nothing yet.")]
    NothingToJoin {
        /// The loudspeaker.
        tag: String,
        /// The line.
        line: String,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Each message names its subject; what to do stands apart from it.
    #[test]
    fn the_words_and_the_hints() {
        let told = |e: StudyError| match e.hint() {
            Some(hint) => format!("{e}; {hint}"),
            None => e.to_string(),
        };
        let unknown = |name: &str| Unknown::new("stub-out", name, ["house", "pond"]);
        assert_eq!(told(unknown("huose").into()), "there is no stub-out \"huose\"; did you mean \"house\"?");
        assert_eq!(told(unknown("gate").into()), "there is no stub-out \"gate\"; there are house, pond");
        assert_eq!(
            told(Unknown::new("stub-out", "x", []).into()),
            "there is no stub-out \"x\"; there is none at all"
        );
        assert_eq!(
            told(StudyError::NothingToMeasure(Unknown::new("line", "a", ["A"]))),
            "There is no line \"a\" that can be measured; did you mean \"A\"?"
        );
        assert_eq!(
            told(StudyError::NoDay { visit: "V1".into(), date: "spring".into() }),
            "visits.V1.date: \"spring\" is no day; write it as year-month-day, 2026-04-17"
        );
        let long = StudyError::StubLength {
            stub: "T1".into(),
            cable: "old".into(),
            loop_ohm: 900.0,
            length_m: 41_000.0,
            taken_m: 0.1..=5000.0,
        };
        assert!(told(long).starts_with(
            "A loop of 900 ohm in the cable \"old\" of stub-out T1 would be 41000.00 m of cable; it must be from 0.1 m to 5000 m; join"
        ));
        assert_eq!(
            told(StudyError::NoneSounds { tags: vec!["L1".into(), "L2".into()] }),
            "none of L1, L2 sounds; loamline predict JOB says why"
        );
        assert_eq!(
            NoWay::NothingToJoin { tag: "L1".into(), line: "A".into() }.to_string(),
            "L1 cannot be put on line A: line A joins nothing yet."
        );
    }
}
