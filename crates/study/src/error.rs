//! Why a result of a job cannot be given: what the engines say, with what it is about.

use loamline_acoustics::{AreaError, BassError, BoundarySceneError, SceneErrors, WavesError};
use loamline_adapt::SoundErrors;
use loamline_electrics::{InputError, LineErrors};
use loamline_faults::FaultError;
use loamline_limits::Exceeded;
use loamline_model::{KeptLineError, closest, exceeded};
use loamline_terms::{Measure, Sentence, say};
use std::fmt;
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

    /// That there is none.
    pub fn told(&self) -> Sentence {
        let what = match self.what {
            "line" => say!("line"),
            "loudspeaker" => say!("loudspeaker"),
            "channel" => say!("channel"),
            "stub-out" => say!("stub-out"),
            "area or mark" => say!("area or mark"),
            other => other.into(),
        };
        say!("there is no {what} \"{name}\"", what = what, name = &self.name)
    }

    /// What may have been meant, or what there is.
    pub fn hint(&self) -> Sentence {
        let known: Vec<&str> = self.known.iter().map(String::as_str).collect();
        match closest(&self.name, known.iter().copied()) {
            Some(near) => say!("did you mean \"{word}\"?", word = near),
            None if known.is_empty() => say!("there is none at all"),
            None => say!("there are {known}", known = known.join(", ")),
        }
    }
}

/// Why a result of a job cannot be given.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum StudyError {
    /// What the job sounds in.
    Sound(#[from] SoundErrors),
    /// A place in it.
    Scene(#[from] SceneErrors),
    /// The bass of an area.
    Area {
        /// The area.
        area: String,
        /// What is wrong with it.
        error: FieldError,
    },
    /// A value of a line no cable or loudspeaker can have.
    LineValue {
        /// The line.
        line: String,
        /// What is wrong with it.
        error: InputError,
    },
    /// A line that cannot be solved.
    Line {
        /// The line.
        line: String,
        /// What is wrong with it.
        error: LineErrors,
    },
    /// Readings of a line that cannot be told or explained.
    Readings {
        /// The line.
        line: String,
        /// What is wrong.
        error: FaultError,
    },
    /// A line as a visit kept it.
    KeptLine {
        /// The line.
        line: String,
        /// What is missing.
        error: KeptLineError,
    },
    /// A thing asked for by a name that is none.
    Unknown(#[from] Unknown),
    /// A line that is none, or that has nothing to be measured.
    NothingToMeasure(Unknown),
    /// The date of a visit.
    NoDay {
        /// The visit.
        visit: String,
        /// What stands there.
        date: String,
    },
    /// A stub whose cable or rack is not known.
    StubUnfinished {
        /// The stub.
        stub: String,
    },
    /// A loop that would make a cable no job has.
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
    MiddleOutside {
        /// The area.
        area: String,
    },
    /// A place that no level is predicted for.
    Indoors,
    /// Loudspeakers of which none sounds.
    NoneSounds {
        /// Their tags.
        tags: Vec<String>,
    },
    /// A place where nothing arrives.
    NothingHeard,
}

impl FieldError {
    /// What is wrong, to be said in any language.
    pub fn told(&self) -> Sentence {
        match self {
            Self::TooMuch(more) => exceeded(more),
            other => other.to_string().into(),
        }
    }
}

impl StudyError {
    /// What is wrong, to be said in any language.
    pub fn told(&self) -> Sentence {
        match self {
            Self::Sound(e) => e.told(),
            Self::Scene(e) => e.to_string().into(),
            Self::Area { area, error } => say!("Area {area}: {why}", area = area, why = error.told()),
            Self::LineValue { line, error } => of_line(line, error.to_string()),
            Self::Line { line, error } => of_line(line, error.to_string()),
            Self::Readings { line, error } => of_line(line, error.to_string()),
            Self::KeptLine { line, error } => {
                say!("Line {line} as it was cannot be worked out: {why}", line = line, why = error.told())
            }
            Self::Unknown(unknown) => unknown.told(),
            Self::NothingToMeasure(unknown) => {
                say!("There is no line \"{line}\" that can be measured", line = &unknown.name)
            }
            Self::NoDay { visit, date } => {
                say!("visits.{visit}.date: \"{date}\" is no day", visit = visit, date = date)
            }
            Self::StubUnfinished { stub } => {
                say!("Stub-out {stub} has no cable or no rack that is known", stub = stub)
            }
            Self::StubLength { stub, cable, loop_ohm, length_m, taken_m } => say!(
                "A loop of {ohm} ohm in the cable \"{cable}\" of stub-out {stub} would be {length} of cable; it must be from {least} m to {most} m",
                ohm = loop_ohm.to_string(),
                cable = cable,
                stub = stub,
                length = Measure::Clearance(*length_m),
                least = taken_m.start().to_string(),
                most = taken_m.end().to_string()
            ),
            Self::MiddleOutside { area } => say!("the middle of area {area} lies outside it", area = area),
            Self::Indoors => say!("the place is inside a building; what is heard there is not predicted"),
            Self::NoneSounds { tags } => say!("none of {tags} sounds", tags = tags.join(", ")),
            Self::NothingHeard => say!("nothing is heard at that place"),
        }
    }

    /// What to do about it, where that can be said.
    pub fn hint(&self) -> Option<Sentence> {
        match self {
            Self::Unknown(unknown) | Self::NothingToMeasure(unknown) => Some(unknown.hint()),
            Self::NoDay { .. } => Some(say!("write it as year-month-day, 2026-04-17")),
            Self::StubLength { .. } => Some(say!(
                "join the two conductors of one pair at the stub-out, nothing else on them, and read again"
            )),
            Self::MiddleOutside { .. } => Some(say!("give the place as x,y instead")),
            Self::NoneSounds { .. } => Some(say!("loamline predict JOB says why")),
            _ => None,
        }
    }
}

/// What is wrong with a line, after its name.
fn of_line(line: &str, why: String) -> Sentence {
    say!("Line {line}: {why}", line = line, why = why)
}

/// Errors whose words are said in any language: as they are displayed they are English.
macro_rules! displayed {
    ($($error:ty),*) => {$(
        impl fmt::Display for $error {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&self.told())
            }
        }
    )*};
}
displayed!(Unknown, StudyError);

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
    }
}
