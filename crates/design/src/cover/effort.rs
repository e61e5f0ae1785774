//! How hard the search works, and what it tells meanwhile.

/// How hard to search.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effort {
    /// Independent walks.
    pub walks: usize,
    /// Changes drawn in each walk.
    pub draws: usize,
    /// Seed of all walks.
    pub seed: u64,
}

impl Default for Effort {
    fn default() -> Self {
        Self { walks: 16, draws: 60_000, seed: 1 }
    }
}

/// What is told while the search runs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Progress {
    /// Which walk.
    pub walk: usize,
    /// Changes it has drawn.
    pub draws: usize,
    /// Cheapest choice this walk has found that meets everything, in money.
    pub best_cost: f64,
}
