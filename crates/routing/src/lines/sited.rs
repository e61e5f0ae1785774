//! The vertices of a net, each where it stands on the ground.

use crate::ground::Stand;
use crate::path::Shared;
use crate::path::search::Field;
use std::sync::Arc;

/// Everything about the vertices of a net on the ground.
pub(super) struct Sited {
    pub stands: Vec<Stand>,
    /// The prices from each; lines that start at one place share theirs.
    pub fields: Vec<Arc<Field>>,
    pub rises: Vec<f64>,
    /// Ground that is open already.
    pub shared: Shared,
}

impl Sited {
    /// Nodes that were settled to find the prices from all vertices.
    pub fn settled(&self) -> u64 {
        let first = |v: usize| !self.fields[..v].iter().any(|f| Arc::ptr_eq(f, &self.fields[v]));
        (0..self.fields.len()).filter(|&v| first(v)).map(|v| self.fields[v].settled).sum()
    }
}
