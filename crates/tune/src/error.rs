//! Why a job cannot be tuned.

use loamline_acoustics::{Problem, SceneErrors};
use loamline_adapt::{FilterError, SoundErrors};
use loamline_processing::TuneError;
use loamline_study::FieldError;
use loamline_terms::{Sentence, say};
use std::fmt;
use thiserror::Error;

/// Why a job cannot be tuned, with what it is about.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum TuningError {
    /// What the job sounds in.
    Sound(#[from] SoundErrors),
    /// There are no levels to go by.
    NothingHeard,
    /// Nothing is driven.
    NothingConnected,
    /// An area whose sound cannot be worked out.
    Area {
        /// The area.
        area: String,
        /// What is wrong with it.
        error: FieldError,
    },
    /// Filters of a channel.
    Filters {
        /// The channel.
        channel: String,
        /// What is wrong with them.
        error: FilterError,
    },
    /// A scene with new settings in it.
    Scene(#[from] SceneErrors),
    /// A source with new settings.
    Source(#[from] Problem),
    /// Gains, delays and equalisers.
    Settings(#[from] TuneError),
}

impl TuningError {
    /// What is in the way, to be said in any language.
    pub fn told(&self) -> Sentence {
        match self {
            Self::Sound(e) => e.told(),
            Self::NothingHeard => say!("nothing is heard in this job"),
            Self::NothingConnected => say!(
                "no channel drives a loudspeaker yet: put loudspeakers on a line and the line on a channel"
            ),
            Self::Area { area, error } => say!("Area {area}: {why}", area = area, why = error.told()),
            Self::Filters { channel, error } => {
                say!("Channel {channel}: {why}", channel = channel, why = error.to_string())
            }
            Self::Scene(e) => e.to_string().into(),
            Self::Source(e) => e.to_string().into(),
            Self::Settings(e) => e.to_string().into(),
        }
    }

    /// An area whose sound cannot be worked out.
    pub(crate) fn of_area(area: &str, error: impl Into<FieldError>) -> Self {
        Self::Area { area: area.to_owned(), error: error.into() }
    }
}

impl fmt::Display for TuningError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.told())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_acoustics::AreaError;

    #[test]
    fn the_words() {
        assert!(
            TuningError::NothingConnected
                .to_string()
                .ends_with("put loudspeakers on a line and the line on a channel")
        );
        let area = TuningError::of_area("terrace", AreaError::Empty).to_string();
        assert!(area.starts_with("Area terrace: ") && area.len() > "Area terrace: ".len(), "{area}");
    }
}
