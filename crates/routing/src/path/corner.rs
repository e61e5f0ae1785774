//! A way while it is being straightened: its points, and how far each may still move.

use crate::ground::graph::Step;
use loamline_geometry::{Point2, Segment};

/// A point of a way.
#[derive(Debug, Clone)]
pub(crate) struct Corner {
    pub at: Point2,
    /// Lines along which it may slide; none for a fixed point.
    pub slides: Vec<Segment>,
    /// What the way goes over on its way here.
    pub step: Step,
}
