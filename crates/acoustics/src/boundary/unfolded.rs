//! What stands along a way, seen from its receiver: as it stands, or for a reflected way unfolded into a straight one.
//!
//! A way by a face becomes the straight line from the image of the source. Everything ahead of the face then counts
//! twice: as it stands, where the sound runs after the bounce, and mirrored behind the face's plane, where it runs
//! before. What lies behind the face is behind it for the sound, too, and counts nowhere.

use super::site::{Face, Obstacle, Shape, Site, TOUCH_M};
use loamline_geometry::{Crossing, Point2, Segment, segments_cross};

/// An obstacle as a way meets it.
#[derive(Clone, Copy)]
pub(super) struct Seen<'s> {
    pub(super) obstacle: &'s Obstacle,
    half: Option<Half<'s>>,
}

/// The half of an unfolded way an obstacle counts in.
#[derive(Clone, Copy)]
struct Half<'s> {
    face: &'s Face,
    /// Before the bounce: mirrored, behind the face's plane.
    before: bool,
}

impl Half<'_> {
    /// Depth into this half, m; on the plane itself nothing stands.
    fn depth_m(&self, p: Point2) -> f64 {
        let ahead = self.face.ahead_m(p);
        (if self.before { -ahead } else { ahead }) - TOUCH_M
    }

    /// The part of a piece that lies in this half, as fractions of it.
    fn part(&self, s: Segment) -> Option<(f64, f64)> {
        let (a, b) = (self.depth_m(s.a), self.depth_m(s.b));
        match (a > 0.0, b > 0.0) {
            (true, true) => Some((0.0, 1.0)),
            (false, false) => None,
            (true, false) => Some((0.0, a / (a - b))),
            (false, true) => Some((a / (a - b), 1.0)),
        }
    }
}

/// Everything that may stand along ways, by number: as it stands, or along ways by a face, where what is ahead of the face is
/// there twice, first as it counts before the bounce.
#[derive(Clone, Copy)]
pub(super) struct View<'s> {
    site: &'s Site,
    face: Option<&'s Face>,
}

impl Site {
    /// Everything as it stands.
    pub(super) fn seen(&self) -> View<'_> {
        View { site: self, face: None }
    }

    /// Everything along ways by a face.
    pub(super) fn seen_by<'s>(&'s self, face: &'s Face) -> View<'s> {
        View { site: self, face: Some(face) }
    }
}

impl<'s> View<'s> {
    /// What has a number.
    pub(super) fn at(&self, number: usize) -> Seen<'s> {
        match self.face {
            None => Seen { obstacle: &self.site.obstacles[number], half: None },
            Some(face) => {
                let half = Half { face, before: number.is_multiple_of(2) };
                Seen { obstacle: &self.site.obstacles[number / 2], half: Some(half) }
            }
        }
    }

    /// Numbers of what a piece of a way may meet, ascending: all that it does meet is among them.
    pub(super) fn along(&self, piece: Segment) -> Vec<usize> {
        let boxes = &self.site.obstacle_boxes;
        let Some(face) = self.face else { return boxes.along(piece) };
        let ahead = |i: &usize| self.site.obstacles[*i].points().iter().any(|p| face.ahead_m(*p) > TOUCH_M);
        // Before the bounce it runs mirrored.
        let before = boxes.along(Segment::new(face.mirrored(piece.a), face.mirrored(piece.b)));
        let after = boxes.along(piece);
        let mut met: Vec<usize> = before.into_iter().filter(ahead).map(|i| 2 * i).collect();
        met.extend(after.into_iter().filter(ahead).map(|i| 2 * i + 1));
        met.sort_unstable();
        met
    }
}

impl Seen<'_> {
    /// A place of the unfolded way where it really is.
    fn really(&self, p: Point2) -> Point2 {
        match self.half {
            Some(half) if half.before => half.face.mirrored(p),
            _ => p,
        }
    }

    fn holds(&self, p: Point2) -> bool {
        self.half.is_none_or(|half| half.depth_m(p) > 0.0)
    }

    /// Corners that a way round has to keep clear of, where the face's plane cuts it off among them.
    pub(super) fn corners(&self) -> Vec<Point2> {
        // Mirroring twice is no mirroring: `really` leads both ways.
        let points: Vec<Point2> = self.obstacle.points().iter().map(|p| self.really(*p)).collect();
        let Some(half) = self.half else { return points };
        let closed = matches!(self.obstacle.shape, Shape::Building(_)).then(|| points[0]);
        let ring: Vec<Point2> = points.iter().copied().chain(closed).collect();
        let mut corners: Vec<Point2> = points.into_iter().filter(|p| half.depth_m(*p) > 0.0).collect();
        for w in ring.windows(2) {
            if let Some((from, to)) = half.part(Segment::new(w[0], w[1])).filter(|p| *p != (0.0, 1.0)) {
                corners.push(w[0].lerp(w[1], if from > 0.0 { from } else { to }));
            }
        }
        corners
    }

    /// Whether a place in plan is over (or, lower than the top, in) it, away from its outline.
    pub(super) fn is_under(&self, p: Point2) -> bool {
        self.holds(p) && self.obstacle.is_under(self.really(p))
    }

    /// Distances along a line of length `dp`, m, where it meets a screen; both ends of a stretch that runs along it.
    pub(super) fn line_crossings(&self, points: &[Point2], line: Segment, dp: f64) -> Vec<f64> {
        let line = Segment::new(self.really(line.a), self.really(line.b));
        let along = (line.b - line.a) * dp.recip();
        let mut found = Vec::new();
        for w in points.windows(2) {
            let off = |p: Point2| along.cross(p - line.a);
            if off(w[0]).abs() <= TOUCH_M && off(w[1]).abs() <= TOUCH_M {
                let (a, b) = (along.dot(w[0] - line.a), along.dot(w[1] - line.a));
                if a.max(b) > 0.0 && a.min(b) < dp {
                    found.extend([a.clamp(0.0, dp), b.clamp(0.0, dp)]);
                }
            } else if let Some(Crossing::Proper(_, t) | Crossing::Touch(_, t)) =
                segments_cross(line, Segment::new(w[0], w[1]))
            {
                found.push(t * dp);
            }
        }
        found.retain(|a| self.holds(self.really(line.a.lerp(line.b, a / dp))));
        found
    }

    /// Fractions along a piece of a way between which it lies in a building.
    pub(super) fn inside(&self, outline: &loamline_geometry::Polygon, s: Segment) -> Vec<(f64, f64)> {
        let part = match self.half {
            Some(half) => half.part(s),
            None => Some((0.0, 1.0)),
        };
        let Some((from, to)) = part else { return Vec::new() };
        let intervals = outline.inside_intervals(Segment::new(self.really(s.a), self.really(s.b)));
        intervals.into_iter().map(|(a, b)| (a.max(from), b.min(to))).filter(|(a, b)| b > a).collect()
    }

    /// Where a piece of a way crosses a part of a screen, as a fraction of it.
    pub(super) fn crosses(&self, leg: Segment, part: Segment) -> Option<f64> {
        let there = Segment::new(self.really(leg.a), self.really(leg.b));
        match segments_cross(there, part) {
            Some(Crossing::Proper(_, t) | Crossing::Touch(_, t)) => {
                self.holds(leg.a.lerp(leg.b, t)).then_some(t)
            }
            None => None,
        }
    }

    /// Distance from a place of the way to it; far where it does not count.
    pub(super) fn distance_m(&self, p: Point2) -> f64 {
        if !self.holds(p) {
            return f64::INFINITY;
        }
        let at = self.really(p);
        match &self.obstacle.shape {
            Shape::Line(line) => line
                .windows(2)
                .map(|w| Segment::new(w[0], w[1]).distance_to(at))
                .fold(f64::INFINITY, f64::min),
            Shape::Building(outline) => outline.distance_to_outline(at),
        }
    }
}
