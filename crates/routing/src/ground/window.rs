//! The part of a large ground that ways between some places are looked for in.
//!
//! A graph over the whole of a large site costs every short run the whole site. Where the map has more corners than
//! [`WHOLE_GROUND_CORNERS`], a search between some places is made on the triangles within a box around them, with
//! [`MARGIN_M`] and a share of its size beside it for ways that lead round something. The points of the graph then stand
//! closer, too: there are about as many whatever it covers. What cannot be reached so is looked for over the whole ground by
//! whoever asks; a way that would be cheaper through ground beyond the box is not found, and no bound is proven for that.

use super::mesh::Mesh;
use loamline_geometry::{Point2, Segment};
use loamline_limits::WHOLE_GROUND_CORNERS;

/// Ground beside the box around the places, metres: enough for a way round a house. Less leaves such ways out, more costs time
/// in proportion to the ground.
const MARGIN_M: f64 = 30.0;

/// The same as a share of the longer side of that box: long ways lead round larger things.
const MARGIN_SHARE: f64 = 0.15;

/// Share of the triangles from which on the whole ground is taken: little is saved then.
const NEARLY_ALL: f64 = 0.7;

/// A part of the ground.
#[derive(Debug, Clone)]
pub(super) struct Window {
    low: Point2,
    high: Point2,
    /// Whether each triangle belongs to it.
    triangles: Vec<bool>,
}

impl Window {
    /// A mark for each triangle: whether it belongs to it.
    pub fn triangles(&self) -> &[bool] {
        &self.triangles
    }

    /// Whether a straight piece may lie in it.
    pub fn is_near(&self, s: Segment) -> bool {
        s.a.x.min(s.b.x) <= self.high.x
            && s.a.x.max(s.b.x) >= self.low.x
            && s.a.y.min(s.b.y) <= self.high.y
            && s.a.y.max(s.b.y) >= self.low.y
    }

    /// The part around some places; none where the whole is hardly more.
    pub fn around(mesh: &Mesh, places: &[Point2]) -> Option<Self> {
        WHOLE_GROUND_CORNERS.check(mesh.vertices.len()).err()?;
        let mut finite = places.iter().copied().filter(|p| p.is_finite());
        let first = finite.next()?;
        let (mut low, mut high) = (first, first);
        for p in finite {
            (low.x, low.y) = (low.x.min(p.x), low.y.min(p.y));
            (high.x, high.y) = (high.x.max(p.x), high.y.max(p.y));
        }
        let size = high - low;
        let margin_m = MARGIN_M + MARGIN_SHARE * size.x.max(size.y);
        let margin = Point2::new(margin_m, margin_m);
        let (low, high) = (low - margin, high + margin);
        let inside = mesh.index.within(low, high);
        if inside.len() as f64 > NEARLY_ALL * mesh.triangles.len() as f64 {
            return None;
        }
        let mut triangles = vec![false; mesh.triangles.len()];
        inside.into_iter().for_each(|t| triangles[t] = true);
        Some(Self { low, high, triangles })
    }
}
