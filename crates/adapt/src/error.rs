//! What keeps a document from being what an engine wants, with its subject.

use loamline_acoustics::{AirError, DirectivityError, SceneErrors, SourceError, Subject};
use loamline_processing::SettingError;
use loamline_terms::{Sentence, say};
use std::fmt;
use thiserror::Error;

/// Filters of a channel that no processor can have.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum FilterError {
    /// A high-pass or low-pass.
    #[error("{0}")]
    Pass(SettingError),
    /// A section of the equaliser.
    #[error("equaliser {section}: {error}")]
    Equaliser {
        /// Its id.
        section: String,
        /// What is wrong with it.
        error: SettingError,
    },
    /// Their response together.
    #[error("{0}")]
    Response(SourceError),
}

/// Why a loudspeaker does not sound.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum SilentBecause {
    /// It hangs on no line.
    #[error("it is on no line")]
    OnNoLine,
    /// Its line has no solution.
    #[error("line {line} could not be solved")]
    LineNotSolved {
        /// The line.
        line: String,
    },
    /// Nothing feeds its line.
    #[error("line {line} is on no channel")]
    NoChannel {
        /// The line.
        line: String,
    },
    /// Its line names a channel the job does not have.
    #[error("there is no channel {channel}")]
    UnknownChannel {
        /// The channel named.
        channel: String,
    },
    /// Its line runs at a constant voltage and it has nothing to take that with.
    #[error("it has no transformer or no tap for a constant-voltage line")]
    NoTap,
    /// How its model radiates.
    #[error("{0}")]
    Directivity(#[from] DirectivityError),
    /// The filters of its channel.
    #[error("{0}")]
    Filters(#[from] FilterError),
    /// Its level.
    #[error("{0}")]
    Level(#[from] SourceError),
}

/// What is wrong with what a job sounds in: the air, what is played, the scene.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum SoundProblem {
    /// Air no atmosphere has.
    #[error("{0}")]
    Air(AirError),
    /// A programme.
    #[error("Programme {programme}: {error}")]
    Programme {
        /// Its id; empty for the one of a job that names none.
        programme: String,
        /// What is wrong with it.
        error: SourceError,
    },
    /// A loudspeaker.
    #[error("Loudspeaker {tag}: {problem}")]
    Loudspeaker {
        /// Its tag.
        tag: String,
        /// What is wrong with it.
        problem: loamline_acoustics::Problem,
    },
    /// Anything else in the scene.
    #[error("{0}")]
    Scene(loamline_acoustics::SceneProblem),
}

/// All that is wrong with what a job sounds in; never empty.
#[derive(Debug, Clone, PartialEq)]
pub struct SoundErrors(pub Vec<SoundProblem>);

impl SoundErrors {
    /// The engine's words, with loudspeakers by their tags.
    pub(crate) fn of(errors: SceneErrors, tags: &[String]) -> Self {
        let told = |p: loamline_acoustics::SceneProblem| match p.subject {
            Subject::Source(i) => SoundProblem::Loudspeaker {
                tag: tags.get(i).cloned().unwrap_or_default(),
                problem: p.problem,
            },
            _ => SoundProblem::Scene(p),
        };
        Self(errors.0.into_iter().map(told).collect())
    }
}

impl From<SoundProblem> for SoundErrors {
    fn from(one: SoundProblem) -> Self {
        Self(vec![one])
    }
}

impl SoundErrors {
    /// One sentence for each, without full stops inside, to be said in any language: "The sound cannot be worked out: ....".
    pub fn told(&self) -> Sentence {
        let one = |p: &SoundProblem| {
            let why = p.to_string().trim_end_matches('.').to_owned();
            say!("The sound cannot be worked out: {why}.", why = why)
        };
        let joined = |all: Sentence, one: Sentence| if all.is_empty() { one } else { all + " " + one };
        self.0.iter().map(one).fold(Sentence::default(), joined)
    }
}

impl fmt::Display for SoundErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.told())
    }
}

impl std::error::Error for SoundErrors {}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_terms::Fraction;

    /// Each sentence names its subject and reads as the end of "does not sound: ...".
    #[test]
    fn the_words() {
        let said = |e: SilentBecause| format!("Loudspeaker L3 does not sound: {e}.");
        assert_eq!(said(SilentBecause::OnNoLine), "Loudspeaker L3 does not sound: it is on no line.");
        assert_eq!(
            said(SilentBecause::LineNotSolved { line: "A".into() }),
            "Loudspeaker L3 does not sound: line A could not be solved."
        );
        assert_eq!(
            said(SilentBecause::NoChannel { line: "A".into() }),
            "Loudspeaker L3 does not sound: line A is on no channel."
        );
        assert_eq!(
            said(SilentBecause::UnknownChannel { channel: "C9".into() }),
            "Loudspeaker L3 does not sound: there is no channel C9."
        );
        let dry = SoundProblem::Air(AirError::Humidity { humidity: Fraction(0.0) });
        let hot = SoundProblem::Air(AirError::Temperature { temperature_c: 80.0 });
        let told = SoundErrors(vec![dry, hot]).to_string();
        assert_eq!(told.matches("The sound cannot be worked out: ").count(), 2, "{told}");
        assert!(told.contains("80") && told.ends_with('.') && !told.contains(".."), "{told}");
    }
}
