//! Why a job cannot be tuned.

use loamline_acoustics::{Problem, SceneErrors};
use loamline_adapt::{FilterError, SoundErrors};
use loamline_processing::TuneError;
use loamline_study::FieldError;
use thiserror::Error;

/// Why a job cannot be tuned, with what it is about.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum TuningError {
    /// What the job sounds in.
    #[error(transparent)]
    Sound(#[from] SoundErrors),
    /// There are no levels to go by.
    #[error("nothing is heard in this job")]
    NothingHeard,
    /// Nothing is driven.
    #[error("no channel drives a loudspeaker yet: put loudspeakers on a line and the line on a channel")]
    NothingConnected,
    /// An area whose sound cannot be worked out.
    #[error("Area {area}: {error}")]
    Area {
        /// The area.
        area: String,
        /// What is wrong with it.
        error: FieldError,
    },
    /// Filters of a channel.
    #[error("Channel {channel}: {error}")]
    Filters {
        /// The channel.
        channel: String,
        /// What is wrong with them.
        error: FilterError,
    },
    /// A scene with new settings in it.
    #[error(transparent)]
    Scene(#[from] SceneErrors),
    /// A source with new settings.
    #[error(transparent)]
    Source(#[from] Problem),
    /// Gains, delays and equalisers.
    #[error(transparent)]
    Settings(#[from] TuneError),
}

impl TuningError {
    /// An area whose sound cannot be worked out.
    pub(crate) fn of_area(area: &str, error: impl Into<FieldError>) -> Self {
        Self::Area { area: area.to_owned(), error: error.into() }
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
