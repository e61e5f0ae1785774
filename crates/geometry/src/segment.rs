//! Straight pieces in plan: where two cross, how near a point is. Decisions use exact orientation tests
//! (Shewchuk 1997, crate `robust`), so that touching pieces never flip with rounding.

use crate::Point2;
use robust::{Coord, orient2d};

/// A straight piece in plan from `a` to `b`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Segment {
    /// Start.
    pub a: Point2,
    /// End.
    pub b: Point2,
}

impl Segment {
    /// The piece from `a` to `b`.
    pub const fn new(a: Point2, b: Point2) -> Self {
        Self { a, b }
    }

    /// Length, metres.
    pub fn length(self) -> f64 {
        self.a.distance(self.b)
    }

    /// Shortest distance from `p`, metres.
    pub fn distance_to(self, p: Point2) -> f64 {
        let (foot, _) = project_on_segment(p, self);
        foot.distance(p)
    }

    /// Shortest distance to another piece, metres; 0 where they touch or cross.
    pub fn distance_to_segment(self, o: Self) -> f64 {
        if segments_cross(self, o).is_some() {
            return 0.0;
        }
        [self.distance_to(o.a), self.distance_to(o.b), o.distance_to(self.a), o.distance_to(self.b)]
            .into_iter()
            .fold(f64::INFINITY, f64::min)
    }
}

/// How two pieces meet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Crossing {
    /// They cross at one point inside both; the point and its fraction along the first piece.
    Proper(Point2, f64),
    /// They touch at an end, or overlap along a line; one shared point and its fraction along the first.
    Touch(Point2, f64),
}

fn side(a: Point2, b: Point2, c: Point2) -> f64 {
    orient2d(Coord { x: a.x, y: a.y }, Coord { x: b.x, y: b.y }, Coord { x: c.x, y: c.y })
}

/// Whether and where two pieces meet; `None` where they do not.
pub fn segments_cross(s: Segment, o: Segment) -> Option<Crossing> {
    let (d1, d2) = (side(o.a, o.b, s.a), side(o.a, o.b, s.b));
    let (d3, d4) = (side(s.a, s.b, o.a), side(s.a, s.b, o.b));
    if d1 * d2 < 0.0 && d3 * d4 < 0.0 {
        let t = d1 / (d1 - d2);
        return Some(Crossing::Proper(s.a.lerp(s.b, t), t));
    }
    let within = |q: Segment, p: Point2| {
        p.x >= q.a.x.min(q.b.x)
            && p.x <= q.a.x.max(q.b.x)
            && p.y >= q.a.y.min(q.b.y)
            && p.y <= q.a.y.max(q.b.y)
    };
    let fraction = |p: Point2| project_on_segment(p, s).1;
    if d1 == 0.0 && within(o, s.a) {
        return Some(Crossing::Touch(s.a, 0.0));
    }
    if d2 == 0.0 && within(o, s.b) {
        return Some(Crossing::Touch(s.b, 1.0));
    }
    if d3 == 0.0 && within(s, o.a) {
        return Some(Crossing::Touch(o.a, fraction(o.a)));
    }
    if d4 == 0.0 && within(s, o.b) {
        return Some(Crossing::Touch(o.b, fraction(o.b)));
    }
    None
}

/// Nearest point of a piece to `p`, and its fraction along the piece (0 to 1).
pub fn project_on_segment(p: Point2, s: Segment) -> (Point2, f64) {
    let d = s.b - s.a;
    let len2 = d.dot(d);
    let t = if len2 > 0.0 { ((p - s.a).dot(d) / len2).clamp(0.0, 1.0) } else { 0.0 };
    (s.a.lerp(s.b, t), t)
}

/// Length of a line through the given points, metres; 0 for fewer than two.
pub fn polyline_length(points: &[Point2]) -> f64 {
    points.windows(2).map(|w| w[0].distance(w[1])).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seg(ax: f64, ay: f64, bx: f64, by: f64) -> Segment {
        Segment::new(Point2::new(ax, ay), Point2::new(bx, by))
    }

    #[test]
    fn pieces_cross_touch_or_miss() {
        let s = seg(0.0, 0.0, 4.0, 0.0);
        assert_eq!(
            segments_cross(s, seg(1.0, -1.0, 1.0, 1.0)),
            Some(Crossing::Proper(Point2::new(1.0, 0.0), 0.25))
        );
        assert_eq!(
            segments_cross(s, seg(4.0, 0.0, 5.0, 3.0)),
            Some(Crossing::Touch(Point2::new(4.0, 0.0), 1.0))
        );
        assert_eq!(
            segments_cross(s, seg(2.0, 0.0, 9.0, 0.0)),
            Some(Crossing::Touch(Point2::new(4.0, 0.0), 1.0))
        );
        assert_eq!(segments_cross(s, seg(5.0, -1.0, 5.0, 1.0)), None);
        assert_eq!(segments_cross(s, seg(5.0, 0.0, 6.0, 0.0)), None);
    }

    #[test]
    fn distances_between_pieces() {
        assert_eq!(seg(0.0, 0.0, 4.0, 0.0).distance_to_segment(seg(1.0, 2.0, 3.0, 5.0)), 2.0);
        assert_eq!(seg(0.0, 0.0, 4.0, 0.0).distance_to(Point2::new(7.0, 4.0)), 5.0);
        assert_eq!(
            polyline_length(&[Point2::new(0.0, 0.0), Point2::new(3.0, 4.0), Point2::new(3.0, 5.0)]),
            6.0
        );
    }
}
