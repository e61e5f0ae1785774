//! Which way round a loudspeaker, a channel or a sound is.

words! {
    /// Which conductor goes to the positive terminal, or which way the loudspeakers of a channel move.
    Polarity {
        /// Positive to positive: as it comes.
        Normal = "normal",
        /// Positive to negative: turned over.
        Reversed = "reversed",
    }
}

impl Polarity {
    /// +1 or -1.
    #[must_use]
    pub const fn sign(self) -> f64 {
        match self {
            Self::Normal => 1.0,
            Self::Reversed => -1.0,
        }
    }
}

/// The default changes nothing.
impl Default for Polarity {
    fn default() -> Self {
        Self::Normal
    }
}
