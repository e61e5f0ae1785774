//! What a job of a part needs and another part brings.

use std::collections::BTreeSet;

/// What a job of a part needs and another part brings: neither bought nor set up with this one.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Beside {
    pub(super) amplifiers: BTreeSet<String>,
    pub(super) channels: BTreeSet<String>,
    pub(super) racks: BTreeSet<String>,
}
