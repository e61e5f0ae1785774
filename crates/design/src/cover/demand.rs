//! What loudspeakers ask of amplification.

use loamline_terms::{Siemens, Watts};
use serde::{Deserialize, Serialize};

/// What loudspeakers ask of amplification, and what amplification can feed. A problem counts in one of the two throughout.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Demand {
    /// On lines of constant voltage: taps, which add up to the power a channel must have.
    Watts(Watts),
    /// On low impedance: conductances in parallel, which add up to that of the lowest load a channel may see.
    Siemens(Siemens),
}

impl Demand {
    /// The number, in its own unit.
    pub const fn amount(self) -> f64 {
        match self {
            Self::Watts(Watts(amount)) | Self::Siemens(Siemens(amount)) => amount,
        }
    }

    /// So much of the same kind.
    #[must_use]
    pub const fn with_amount(self, amount: f64) -> Self {
        match self {
            Self::Watts(_) => Self::Watts(Watts(amount)),
            Self::Siemens(_) => Self::Siemens(Siemens(amount)),
        }
    }

    /// The word for its unit.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Watts(_) => "watts",
            Self::Siemens(_) => "siemens",
        }
    }

    /// Whether two count in the same unit.
    pub(super) const fn is_like(self, other: Self) -> bool {
        matches!((self, other), (Self::Watts(_), Self::Watts(_)) | (Self::Siemens(_), Self::Siemens(_)))
    }
}
