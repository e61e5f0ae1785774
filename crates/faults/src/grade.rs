//! How good a reading, or a line, is.

use serde::Serialize;

/// How good a reading is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "lowercase")]
pub enum Grade {
    /// As it should be.
    Good,
    /// Outside what 95 of 100 good lines read.
    Doubtful,
    /// Outside what 999 of 1000 good lines read.
    Bad,
}

impl Grade {
    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Good => "good",
            Self::Doubtful => "doubtful",
            Self::Bad => "bad",
        }
    }
}
