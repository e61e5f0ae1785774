//! One plan sheet.

use super::paper::Scale;
use loamline_geometry::Point2;

/// One plan sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// Whether the paper lies on its long side.
    pub landscape: bool,
    /// Size of the drawing, millimetres.
    pub size_mm: (f64, f64),
    /// Site coordinates of its middle.
    pub centre: Point2,
    /// Its scale.
    pub scale: Scale,
    /// Width and height of the map on it, millimetres.
    pub map_mm: (f64, f64),
    /// Its number among the detail sheets, from 1; `None` for the overview.
    pub detail: Option<usize>,
}
