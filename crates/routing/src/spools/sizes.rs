//! Cuts and spools as the packing counts them.

/// Cuts and spools in whole millimetres.
pub(super) struct Sizes<'a> {
    pub sizes: &'a [u64],
    /// Rising, each once.
    pub capacities: &'a [u64],
}

impl Sizes<'_> {
    /// The shortest spool that holds this much.
    pub fn shortest_for(&self, load: u64) -> Option<u64> {
        self.capacities.iter().copied().find(|&c| c >= load)
    }
}
