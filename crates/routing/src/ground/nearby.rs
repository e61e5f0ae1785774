//! The ground around some places of a large site.

use super::GroundMap;
use super::window::Window;
use loamline_geometry::{Point2, Segment};

impl GroundMap {
    /// The same ground with points for the places runs will end at, for ways between the places `around`.
    pub(crate) fn near(&self, spots: &[Point2], around: &[Point2]) -> Self {
        self.around_in(spots, Window::around(&self.mesh, around))
    }

    /// Whether ways are looked for in a part only.
    pub(crate) fn is_cut(&self) -> bool {
        self.window.is_some()
    }

    /// Whether a straight piece may lie where ways are looked for.
    pub(crate) fn is_near(&self, s: Segment) -> bool {
        self.window.as_ref().is_none_or(|window| window.is_near(s))
    }
}
