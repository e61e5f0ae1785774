//! The vertices of a net, each where it stands on the ground.

use crate::ground::Stand;
use crate::path::Shared;
use crate::path::search::Field;

/// Everything about the vertices of a net on the ground.
pub(super) struct Sited {
    pub stands: Vec<Stand>,
    pub fields: Vec<Field>,
    pub rises: Vec<f64>,
    /// Ground that is open already.
    pub shared: Shared,
}
