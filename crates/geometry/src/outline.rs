//! Outlines: simple polygons, checked once when made.

use crate::{Crossing, Point2, Segment, project_on_segment, segments_cross};
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Why a list of corners is not a usable outline. Corner numbers count from 1, as a person would.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum OutlineError {
    /// Fewer than three different corners.
    #[error("an outline needs at least 3 corners, this one has {corners}")]
    TooFewCorners {
        /// Corners given, after repeated ones and a repeated first corner at the end are dropped.
        corners: usize,
    },
    /// A coordinate is not a finite number.
    #[error("corner {corner} is not a finite number")]
    NotFinite {
        /// Which corner, from 1.
        corner: usize,
    },
    /// Two sides meet where they should not.
    #[error(
        "the outline meets itself: the side after corner {first} and the side after corner {second} meet near x {:.2} m, y {:.2} m",
        at.x, at.y
    )]
    CrossesItself {
        /// First side, named by the corner it starts from.
        first: usize,
        /// Second side, named by the corner it starts from.
        second: usize,
        /// Where they meet.
        at: Point2,
    },
    /// All corners lie on one line.
    #[error("the outline encloses no area")]
    NoArea,
}

/// A simple outline in plan, corners counter-clockwise, without the repeated last corner.
/// Serialises as a list of `[x, y]`, metres.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Vec<Point2>", into = "Vec<Point2>")]
pub struct Polygon {
    corners: Vec<Point2>,
}

impl Polygon {
    /// Makes an outline of its corners in either direction. A last corner equal to the first, and repeats of
    /// the corner before, are dropped.
    ///
    /// # Errors
    /// [`OutlineError`] when the corners are too few, not finite, enclose no area or the outline meets itself.
    /// Cost grows with the square of the number of corners.
    pub fn new(corners: impl IntoIterator<Item = Point2>) -> Result<Self, OutlineError> {
        let given: Vec<Point2> = corners.into_iter().collect();
        if let Some(i) = given.iter().position(|p| !p.is_finite()) {
            return Err(OutlineError::NotFinite { corner: i + 1 });
        }
        // Keep the number each corner had in the input, for the messages.
        let mut kept: Vec<(usize, Point2)> = Vec::with_capacity(given.len());
        for (i, &p) in given.iter().enumerate() {
            if kept.last().is_none_or(|&(_, last)| last != p) {
                kept.push((i + 1, p));
            }
        }
        while kept.len() > 1 && kept[0].1 == kept[kept.len() - 1].1 {
            kept.pop();
        }
        let n = kept.len();
        if n < 3 {
            return Err(OutlineError::TooFewCorners { corners: n });
        }
        let side = |i: usize| Segment::new(kept[i].1, kept[(i + 1) % n].1);
        let meets = |i: usize, j: usize, at: Point2| OutlineError::CrossesItself {
            first: kept[i].0,
            second: kept[j].0,
            at,
        };
        let area = signed_area(kept.iter().map(|k| k.1));
        let scale = kept.iter().map(|k| k.1.distance(kept[0].1)).fold(0.0, f64::max);
        if kept.iter().all(|k| side(0).a == k.1 || collinear(side(0), k.1))
            || area.abs() <= 1e-12 * scale * scale
        {
            let crossing = (0..n).find_map(|i| {
                ((i + 2)..n).filter(|&j| (j + 1) % n != i).find_map(|j| {
                    match segments_cross(side(i), side(j)) {
                        Some(Crossing::Proper(at, _)) => Some(meets(i, j, at)),
                        _ => None,
                    }
                })
            });
            return Err(crossing.unwrap_or(OutlineError::NoArea));
        }
        for i in 0..n {
            for j in (i + 1)..n {
                let adjacent = j == i + 1 || (i == 0 && j == n - 1);
                if adjacent {
                    // Neighbouring sides share one corner; more than that is a spike folded back on itself.
                    let (mid, far_a, far_b) = if j == i + 1 {
                        (side(i).b, side(i).a, side(j).b)
                    } else {
                        (side(i).a, side(i).b, side(j).a)
                    };
                    let folded =
                        collinear(Segment::new(mid, far_a), far_b) && (far_a - mid).dot(far_b - mid) > 0.0;
                    if folded {
                        return Err(meets(i, j, mid));
                    }
                } else if let Some(c) = segments_cross(side(i), side(j)) {
                    let (Crossing::Proper(at, _) | Crossing::Touch(at, _)) = c;
                    return Err(meets(i, j, at));
                }
            }
        }
        let mut corners: Vec<Point2> = kept.into_iter().map(|k| k.1).collect();
        if area < 0.0 {
            corners.reverse();
        }
        Ok(Self { corners })
    }

    /// An axis-parallel rectangle between two opposite corners.
    ///
    /// # Errors
    /// As [`Polygon::new`], when the corners share a coordinate.
    pub fn rectangle(a: Point2, b: Point2) -> Result<Self, OutlineError> {
        Self::new([a, Point2::new(b.x, a.y), b, Point2::new(a.x, b.y)])
    }

    /// Corners, counter-clockwise, first not repeated.
    pub fn corners(&self) -> &[Point2] {
        &self.corners
    }

    /// Sides in order, each from its corner to the next.
    pub fn sides(&self) -> impl Iterator<Item = Segment> + '_ {
        let n = self.corners.len();
        (0..n).map(move |i| Segment::new(self.corners[i], self.corners[(i + 1) % n]))
    }

    /// Area, square metres, positive.
    pub fn area(&self) -> f64 {
        signed_area(self.corners.iter().copied())
    }

    /// Length of the outline, metres.
    pub fn perimeter(&self) -> f64 {
        self.sides().map(Segment::length).sum()
    }

    /// Centre of area (may lie outside a hollow shape).
    pub fn centroid(&self) -> Point2 {
        let origin = self.corners[0];
        let mut sum = Point2::default();
        let mut twice_area = 0.0;
        for s in self.sides() {
            let (a, b) = (s.a - origin, s.b - origin);
            let w = a.cross(b);
            sum = sum + (a + b) * w;
            twice_area += w;
        }
        origin + sum * (1.0 / (3.0 * twice_area))
    }

    /// Whether a point lies inside or on the outline.
    pub fn contains(&self, p: Point2) -> bool {
        let mut inside = false;
        for s in self.sides() {
            if collinear(s, p) && s.distance_to(p) == 0.0 {
                return true;
            }
            if (s.a.y > p.y) != (s.b.y > p.y) {
                let upward = s.b.y > s.a.y;
                let d = robust_side(s.a, s.b, p);
                if (d > 0.0) == upward && d != 0.0 {
                    inside = !inside;
                }
            }
        }
        inside
    }

    /// Whether a point lies inside and farther than `margin_m` from the outline.
    pub fn contains_with_margin(&self, p: Point2, margin_m: f64) -> bool {
        self.contains(p) && self.distance_to_outline(p) > margin_m
    }

    /// Shortest distance from a point to the outline itself, metres (also for points inside).
    pub fn distance_to_outline(&self, p: Point2) -> f64 {
        self.sides().map(|s| s.distance_to(p)).fold(f64::INFINITY, f64::min)
    }

    /// Nearest point of the outline to `p`.
    pub fn nearest_on_outline(&self, p: Point2) -> Point2 {
        self.sides()
            .map(|s| project_on_segment(p, s).0)
            .min_by(|a, b| a.distance(p).total_cmp(&b.distance(p)))
            .unwrap_or(p)
    }

    /// Smallest axis-parallel box, as its south-west and north-east corners.
    pub fn bounds(&self) -> (Point2, Point2) {
        let mut lo = self.corners[0];
        let mut hi = lo;
        for p in &self.corners {
            lo = Point2::new(lo.x.min(p.x), lo.y.min(p.y));
            hi = Point2::new(hi.x.max(p.x), hi.y.max(p.y));
        }
        (lo, hi)
    }

    /// Whether no corner turns inward.
    pub fn is_convex(&self) -> bool {
        let n = self.corners.len();
        (0..n).all(|i| {
            robust_side(self.corners[i], self.corners[(i + 1) % n], self.corners[(i + 2) % n]) >= 0.0
        })
    }

    /// Fractions along `s` (0 to 1, ascending) between which it lies inside or on the outline.
    pub fn inside_intervals(&self, s: Segment) -> Vec<(f64, f64)> {
        let mut cuts = vec![0.0, 1.0];
        for side in self.sides() {
            if let Some(Crossing::Proper(_, t) | Crossing::Touch(_, t)) = segments_cross(s, side) {
                cuts.push(t);
            }
            // A side that runs along the piece: both of its ends matter.
            for end in [side.a, side.b] {
                let (foot, t) = project_on_segment(end, s);
                if foot.distance(end) == 0.0 {
                    cuts.push(t);
                }
            }
        }
        cuts.sort_by(f64::total_cmp);
        let mut intervals: Vec<(f64, f64)> = Vec::new();
        for w in cuts.windows(2) {
            if w[1] - w[0] <= 1e-12 || !self.contains(s.a.lerp(s.b, 0.5 * (w[0] + w[1]))) {
                continue;
            }
            match intervals.last_mut() {
                Some(last) if w[0] - last.1 <= 1e-12 => last.1 = w[1],
                _ => intervals.push((w[0], w[1])),
            }
        }
        intervals
    }
}

impl TryFrom<Vec<Point2>> for Polygon {
    type Error = OutlineError;
    fn try_from(corners: Vec<Point2>) -> Result<Self, OutlineError> {
        Self::new(corners)
    }
}

impl From<Polygon> for Vec<Point2> {
    fn from(p: Polygon) -> Self {
        p.corners
    }
}

fn robust_side(a: Point2, b: Point2, c: Point2) -> f64 {
    robust::orient2d(
        robust::Coord { x: a.x, y: a.y },
        robust::Coord { x: b.x, y: b.y },
        robust::Coord { x: c.x, y: c.y },
    )
}

fn collinear(s: Segment, p: Point2) -> bool {
    robust_side(s.a, s.b, p) == 0.0
}

fn signed_area(corners: impl Iterator<Item = Point2> + Clone) -> f64 {
    let Some(origin) = corners.clone().next() else { return 0.0 };
    let next = corners.clone().skip(1).chain(corners.clone().take(1));
    0.5 * corners.zip(next).map(|(a, b)| (a - origin).cross(b - origin)).sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn pts(list: &[[f64; 2]]) -> Vec<Point2> {
        list.iter().map(|&p| p.into()).collect()
    }

    #[test]
    fn a_bow_tie_is_refused_with_its_sides() {
        let e = Polygon::new(pts(&[[0.0, 0.0], [4.0, 4.0], [4.0, 0.0], [0.0, 4.0]])).unwrap_err();
        assert!(
            matches!(e, OutlineError::CrossesItself { first: 1, second: 3, at } if at == Point2::new(2.0, 2.0))
        );
        assert!(e.to_string().contains("the side after corner 1 and the side after corner 3"), "{e}");
    }

    #[test]
    fn degenerate_outlines_are_refused() {
        assert_eq!(
            Polygon::new(pts(&[[0.0, 0.0], [1.0, 0.0], [0.0, 0.0]])),
            Err(OutlineError::TooFewCorners { corners: 2 })
        );
        assert_eq!(Polygon::new(pts(&[[0.0, 0.0], [1.0, 1.0], [2.0, 2.0]])), Err(OutlineError::NoArea));
        assert_eq!(
            Polygon::new(pts(&[[0.0, 0.0], [f64::NAN, 1.0], [2.0, 2.0]])),
            Err(OutlineError::NotFinite { corner: 2 })
        );
        let spike = pts(&[[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [4.0, 2.0], [0.0, 4.0]]);
        assert!(matches!(Polygon::new(spike), Err(OutlineError::CrossesItself { .. })));
    }

    #[test]
    fn clockwise_input_is_turned_and_measured() {
        let p = Polygon::new(pts(&[[0.0, 0.0], [0.0, 2.0], [3.0, 2.0], [3.0, 0.0], [0.0, 0.0]])).unwrap();
        assert_eq!(p.corners().len(), 4);
        assert_eq!(p.area(), 6.0);
        assert_eq!(p.perimeter(), 10.0);
        assert_eq!(p.centroid(), Point2::new(1.5, 1.0));
        assert!(p.is_convex() && p.contains(Point2::new(3.0, 1.0)) && !p.contains(Point2::new(3.1, 1.0)));
    }

    #[test]
    fn a_line_through_an_l_shape_is_cut_where_it_is_inside() {
        let l = Polygon::new(pts(&[[0.0, 0.0], [4.0, 0.0], [4.0, 1.0], [1.0, 1.0], [1.0, 4.0], [0.0, 4.0]]))
            .unwrap();
        let cut = l.inside_intervals(Segment::new(Point2::new(-1.0, 3.0), Point2::new(3.0, -1.0)));
        // x + y = 2: enters at (0,2), leaves at (1,1) which is the inner corner, goes on inside to (2,0).
        assert_eq!(cut.len(), 1);
        assert!((cut[0].0 - 0.25).abs() < 1e-12 && (cut[0].1 - 0.75).abs() < 1e-12);
        let apart = l.inside_intervals(Segment::new(Point2::new(-1.0, 4.5), Point2::new(5.0, -0.5)));
        assert_eq!(apart.len(), 2);
    }

    proptest! {
        #[test]
        fn star_outlines_keep_area_and_membership_when_moved(
            radii in prop::collection::vec(0.5f64..5.0, 3..12), dx in -50.0f64..50.0, dy in -50.0f64..50.0,
        ) {
            let n = radii.len() as f64;
            let corner = |i: usize| {
                let a = std::f64::consts::TAU * i as f64 / n;
                Point2::new(radii[i] * a.cos(), radii[i] * a.sin())
            };
            let make = |d: Point2| Polygon::new((0..radii.len()).map(|i| corner(i) + d));
            if let (Ok(p), Ok(q)) = (make(Point2::default()), make(Point2::new(dx, dy))) {
                prop_assert!((p.area() - q.area()).abs() < 1e-9);
                // The middle of each spoke is inside a star.
                for i in 0..radii.len() {
                    prop_assert!(q.contains(corner(i) * 0.5 + Point2::new(dx, dy)));
                }
            }
        }
    }
}
