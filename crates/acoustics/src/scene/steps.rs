//! Where the ground falls from one level to another, and what walls and houses stand on.
//!
//! Ground is drawn as level pieces; between two of different elevation it falls without a slope. That edge bends sound
//! like a wall of no thickness as high as the step, and its face reflects to the low side.
//!
//! What stands on uneven ground stands on the lowest ground beside it: a wall on that of either side along the whole of
//! its line, a house on that outside along the whole of its outline. So nothing hangs in the air, a wall that holds back
//! higher ground is measured from below, and neither screens what it may not; which corner is named first and how the plan
//! lies make no difference. The ground is looked up a little off the line, never on it, where rounding would decide.

use super::input::Surface;
use loamline_geometry::{Crossing, Point2, Polygon, Segment, project_on_segment, segments_cross};
use loamline_limits::go_on;

/// Lower steps are taken for level ground, m: a kerb. Lower would make an edge of every paving; higher would let a
/// terrace of two treads screen nothing.
const LEAST_STEP_M: f64 = 0.1;
/// How far to either side of a line the ground is looked up, m.
const BESIDE_M: f64 = 0.01;
/// Places nearer together than this are one, m.
const SAME_M: f64 = 1e-3;

/// An edge where the ground falls from one level to another.
#[derive(Debug, Clone, PartialEq)]
pub struct GroundStep {
    /// Line in plan; the low ground lies on its right.
    pub line: Vec<Point2>,
    /// Elevation of the high ground, m.
    pub top_m: f64,
    /// Elevation of the low ground, m.
    pub foot_m: f64,
}

/// Pieces of ground over ground of one elevation; where two overlap, the later one counts.
#[derive(Debug, Clone, Copy)]
pub struct Terrain<'g> {
    /// The pieces.
    pub surfaces: &'g [Surface],
    /// Elevation where none lies, m.
    pub default_elevation_m: f64,
}

impl Terrain<'_> {
    /// Elevation of the ground at a place, m.
    pub fn elevation_m(&self, at: Point2) -> f64 {
        self.surfaces
            .iter()
            .rev()
            .find(|s| {
                let (lo, hi) = s.outline.bounds();
                at.x >= lo.x && at.x <= hi.x && at.y >= lo.y && at.y <= hi.y && s.outline.contains(at)
            })
            .map_or(self.default_elevation_m, |s| s.elevation_m)
    }

    /// Elevation of the foot of a wall along a line of two or more points that says none itself, m: the lowest ground
    /// on either side of it. Cost: pieces of the line times sides of the surfaces beside each; nothing where no ground
    /// is higher or lower.
    pub fn wall_foot_m(&self, line: &[Point2]) -> f64 {
        self.lowest_beside_m(line.windows(2).map(|w| Segment::new(w[0], w[1])), &[BESIDE_M, -BESIDE_M])
    }

    /// Elevation of the foot of a house, m: the lowest ground outside along its outline. Cost as of a wall.
    pub fn building_foot_m(&self, outline: &Polygon) -> f64 {
        // Corners run counter-clockwise, so the outside lies to the right.
        self.lowest_beside_m(outline.sides(), &[-BESIDE_M])
    }

    /// The lowest ground so far to the left of some pieces, m; a negative distance is to the right.
    fn lowest_beside_m(&self, pieces: impl Iterator<Item = Segment>, left_m: &[f64]) -> f64 {
        if self.surfaces.iter().all(|s| s.elevation_m == self.default_elevation_m) {
            return self.default_elevation_m;
        }
        let boxes = self.boxes();
        let mut lowest_m = f64::INFINITY;
        for side in pieces {
            go_on();
            for piece in self.pieces(side, &boxes) {
                let (middle, left) = (piece.a.lerp(piece.b, 0.5), left_of(piece));
                for &off_m in left_m {
                    lowest_m = lowest_m.min(self.elevation_m(middle + left * off_m));
                }
            }
        }
        if lowest_m.is_finite() { lowest_m } else { self.default_elevation_m }
    }

    fn boxes(&self) -> Vec<(Point2, Point2)> {
        self.surfaces.iter().map(|s| s.outline.bounds()).collect()
    }

    /// Every step of 0.1 m or more, in the order of the pieces. Cost: sides times sides of the pieces beside each.
    pub fn steps(&self) -> Vec<GroundStep> {
        let level =
            self.surfaces.iter().all(|s| (s.elevation_m - self.default_elevation_m).abs() < LEAST_STEP_M);
        // Elevations that differ from one another by a step differ from the rest by half of one.
        if level
            && self
                .surfaces
                .windows(2)
                .all(|w| (w[0].elevation_m - w[1].elevation_m).abs() < 0.5 * LEAST_STEP_M)
        {
            return Vec::new();
        }
        let boxes = self.boxes();
        let mut steps: Vec<GroundStep> = Vec::new();
        for surface in self.surfaces {
            let first = steps.len();
            for side in surface.outline.sides() {
                go_on();
                for piece in self.pieces(side, &boxes) {
                    let Some(step) = self.step(piece) else { continue };
                    if !steps[..first].iter().any(|s| runs_along(s, &step)) {
                        join(&mut steps, first, step);
                    }
                }
            }
            close(&mut steps, first);
        }
        steps
    }

    /// A side cut wherever the ground beside it may change.
    fn pieces(&self, side: Segment, boxes: &[(Point2, Point2)]) -> Vec<Segment> {
        let mut cuts = vec![0.0, 1.0];
        let beside = |a: f64, b: f64, lo: f64, hi: f64| a.max(b) >= lo - SAME_M && a.min(b) <= hi + SAME_M;
        let near = self.surfaces.iter().zip(boxes).filter(|(_, (lo, hi))| {
            beside(side.a.x, side.b.x, lo.x, hi.x) && beside(side.a.y, side.b.y, lo.y, hi.y)
        });
        for other in near.flat_map(|(s, _)| s.outline.sides()) {
            if let Some(Crossing::Proper(_, t) | Crossing::Touch(_, t)) = segments_cross(side, other) {
                cuts.push(t);
            }
            let (foot, t) = project_on_segment(other.a, side);
            if foot.distance(other.a) <= SAME_M {
                cuts.push(t);
            }
        }
        cuts.sort_by(f64::total_cmp);
        let at = |t: f64| side.a.lerp(side.b, t);
        let pieces = cuts.windows(2).map(|w| Segment::new(at(w[0]), at(w[1])));
        pieces.filter(|p| p.length() > SAME_M).collect()
    }

    fn step(&self, piece: Segment) -> Option<GroundStep> {
        let left = left_of(piece) * BESIDE_M;
        let middle = piece.a.lerp(piece.b, 0.5);
        let (l, r) = (self.elevation_m(middle + left), self.elevation_m(middle - left));
        if (l - r).abs() < LEAST_STEP_M {
            return None;
        }
        let line = if l > r { vec![piece.a, piece.b] } else { vec![piece.b, piece.a] };
        Some(GroundStep { line, top_m: l.max(r), foot_m: l.min(r) })
    }
}

/// A metre to the left of a piece.
fn left_of(piece: Segment) -> Point2 {
    let along = (piece.b - piece.a) * piece.length().recip();
    Point2::new(-along.y, along.x)
}

/// Whether a step of one piece lies on a known one: two pieces of ground share their border.
fn runs_along(known: &GroundStep, step: &GroundStep) -> bool {
    let middle = step.line[0].lerp(step.line[1], 0.5);
    known.top_m == step.top_m
        && known.foot_m == step.foot_m
        && known.line.windows(2).any(|w| Segment::new(w[0], w[1]).distance_to(middle) <= SAME_M)
}

/// Adds a step of one piece: to the last line, where it goes on at either end, so that it is no end to walk round.
fn join(steps: &mut Vec<GroundStep>, first: usize, step: GroundStep) {
    let same = |s: &GroundStep| s.top_m == step.top_m && s.foot_m == step.foot_m;
    let (start, end) = (step.line[0], step.line[1]);
    if let Some(last) = steps[first..].last_mut().filter(|s| same(s)) {
        if last.line[last.line.len() - 1].distance(start) <= SAME_M {
            last.line.push(end);
            return;
        }
        if last.line[0].distance(end) <= SAME_M {
            last.line.insert(0, start);
            return;
        }
    }
    steps.push(step);
}

/// Joins the last line of a piece of ground to its first, where the outline was entered in the middle of a step.
fn close(steps: &mut Vec<GroundStep>, first: usize) {
    if steps.len() < first + 2 {
        return;
    }
    let (head, tail) = (&steps[first], &steps[steps.len() - 1]);
    if head.top_m != tail.top_m || head.foot_m != tail.foot_m {
        return;
    }
    let ends = |s: &GroundStep| (s.line[0], s.line[s.line.len() - 1]);
    let ((head_start, head_end), (tail_start, tail_end)) = (ends(head), ends(tail));
    if tail_end.distance(head_start) <= SAME_M {
        let Some(mut tail) = steps.pop() else { return };
        tail.line.extend(steps[first].line.drain(1..));
        steps[first].line = tail.line;
    } else if head_end.distance(tail_start) <= SAME_M {
        let Some(tail) = steps.pop() else { return };
        steps[first].line.extend(tail.line.into_iter().skip(1));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ground::Ground;

    fn surface(list: &[[f64; 2]], elevation_m: f64) -> Surface {
        Surface {
            outline: Polygon::new(list.iter().map(|&p| p.into())).unwrap(),
            ground: Ground::new(500.0).unwrap(),
            elevation_m,
        }
    }

    fn square(a: f64, b: f64, elevation_m: f64) -> Surface {
        surface(&[[a, 0.0], [b, 0.0], [b, 10.0], [a, 10.0]], elevation_m)
    }

    #[test]
    fn a_terrace_is_one_ring_with_the_low_ground_outside() {
        let surfaces = [square(0.0, 10.0, 2.0)];
        let steps = Terrain { surfaces: &surfaces, default_elevation_m: 0.0 }.steps();
        assert_eq!(steps.len(), 1);
        assert_eq!((steps[0].top_m, steps[0].foot_m, steps[0].line.len()), (2.0, 0.0, 5));
        assert_eq!(steps[0].line[0], steps[0].line[4]);
        // Corners run counter-clockwise: the outside, on the right, is low.
        assert_eq!(steps[0].line[..2], [Point2::new(0.0, 0.0), Point2::new(10.0, 0.0)]);
        // A sunken court: the inside is low.
        let surfaces = [square(0.0, 10.0, -1.0)];
        let steps = Terrain { surfaces: &surfaces, default_elevation_m: 0.0 }.steps();
        assert_eq!((steps.len(), steps[0].top_m, steps[0].foot_m), (1, 0.0, -1.0));
        assert_eq!(steps[0].line[0], steps[0].line[4]);
    }

    #[test]
    fn a_shared_border_is_one_step_and_level_ground_none() {
        let surfaces = [square(0.0, 10.0, 2.0), square(10.0, 20.0, 3.5), square(20.0, 30.0, 3.5)];
        let steps = Terrain { surfaces: &surfaces, default_elevation_m: 0.0 }.steps();
        let at = |p: Point2| {
            let on =
                |s: &&GroundStep| s.line.windows(2).any(|w| Segment::new(w[0], w[1]).distance_to(p) < 1e-6);
            steps.iter().filter(on).map(|s| (s.foot_m, s.top_m)).collect::<Vec<_>>()
        };
        assert_eq!(at(Point2::new(10.0, 5.0)), [(2.0, 3.5)]);
        assert_eq!(at(Point2::new(20.0, 5.0)), []);
        assert_eq!(at(Point2::new(5.0, 0.0)), [(0.0, 2.0)]);
        assert_eq!(at(Point2::new(30.0, 5.0)), [(0.0, 3.5)]);
        let flat = [square(0.0, 10.0, 0.0), square(2.0, 6.0, 0.05)];
        assert!(Terrain { surfaces: &flat, default_elevation_m: 0.0 }.steps().is_empty());
    }

    #[test]
    fn a_retaining_wall_stands_on_the_low_side() {
        let surfaces = [square(0.0, 10.0, 2.0)];
        let terrain = Terrain { surfaces: &surfaces, default_elevation_m: 0.0 };
        let p = |x: f64, y: f64| Point2::new(x, y);
        assert_eq!(terrain.wall_foot_m(&[p(0.0, 0.0), p(10.0, 0.0)]), 0.0);
        assert_eq!(terrain.wall_foot_m(&[p(10.0, 0.0), p(0.0, 0.0)]), 0.0);
        assert_eq!(terrain.wall_foot_m(&[p(1.0, 1.0), p(9.0, 1.0)]), 2.0);
        assert_eq!(terrain.wall_foot_m(&[p(-5.0, 1.0), p(9.0, 1.0)]), 0.0);
        assert_eq!(terrain.wall_foot_m(&[p(9.0, 1.0), p(-5.0, 1.0)]), 0.0, "drawn from its other end");
        let bent = [p(1.0, 1.0), p(9.0, 1.0), p(9.0, 14.0)];
        assert_eq!(terrain.wall_foot_m(&bent), 0.0, "it leaves the high ground on its second piece");
    }

    /// A place turned anticlockwise about the datum, then moved.
    fn turned(at: [f64; 2], degrees: f64, by: [f64; 2]) -> [f64; 2] {
        let (sin, cos) = degrees.to_radians().sin_cos();
        [by[0] + at[0] * cos - at[1] * sin, by[1] + at[0] * sin + at[1] * cos]
    }

    /// Houses by the edges of a terrace at 2 m and a basin at -1.4 m, and what they stand on by looking at the plan.
    #[test]
    fn a_house_stands_on_the_lowest_ground_outside_it() {
        let ground: [(&[[f64; 2]], f64); 2] = [
            (&[[0.0, 0.0], [40.0, 0.0], [40.0, 10.0], [0.0, 10.0]], 2.0),
            (&[[-9.0, -20.0], [60.0, -20.0], [60.0, -8.0], [-9.0, -8.0]], -1.4),
        ];
        let houses: [(&str, &[[f64; 2]], f64); 6] = [
            ("whole on the terrace", &[[2.0, 2.0], [12.0, 2.0], [12.0, 8.0], [2.0, 8.0]], 2.0),
            (
                "behind the terrace, its front on the edge",
                &[[4.0, 10.0], [30.0, 10.0], [30.0, 17.0], [4.0, 17.0]],
                0.0,
            ),
            (
                "on the terrace, its back on the edge",
                &[[4.0, 4.0], [30.0, 4.0], [30.0, 10.0], [4.0, 10.0]],
                0.0,
            ),
            (
                "one corner on the corner of the terrace",
                &[[40.0, 10.0], [50.0, 10.0], [50.0, 18.0], [40.0, 18.0]],
                0.0,
            ),
            (
                "across the quay into the basin",
                &[[2.0, -10.0], [12.0, -10.0], [12.0, -4.0], [2.0, -4.0]],
                -1.4,
            ),
            (
                "a wing on the terrace",
                &[[30.0, 5.0], [50.0, 5.0], [50.0, 30.0], [45.0, 30.0], [45.0, 8.0], [30.0, 8.0]],
                0.0,
            ),
        ];
        for (degrees, by) in
            [(0.0, [0.0, 0.0]), (37.0, [0.0, 0.0]), (90.0, [12.34, -5.6]), (-128.5, [411.0, 77.7])]
        {
            let lie =
                |corners: &[[f64; 2]]| corners.iter().map(|&c| turned(c, degrees, by)).collect::<Vec<_>>();
            let surfaces = ground.map(|(outline, elevation_m)| surface(&lie(outline), elevation_m));
            let terrain = Terrain { surfaces: &surfaces, default_elevation_m: 0.0 };
            for (which, outline, stands_on_m) in houses {
                for first in 0..outline.len() {
                    let mut corners = lie(outline);
                    corners.rotate_left(first);
                    let house = Polygon::new(corners.iter().map(|&p| p.into())).unwrap();
                    let foot_m = terrain.building_foot_m(&house);
                    assert_eq!(foot_m, stands_on_m, "{which}, turned by {degrees}, from corner {first}");
                }
            }
        }
        let level = [square(0.0, 10.0, 0.0)];
        let house = Polygon::rectangle(Point2::new(2.0, 2.0), Point2::new(4.0, 4.0)).unwrap();
        assert_eq!(Terrain { surfaces: &level, default_elevation_m: 0.0 }.building_foot_m(&house), 0.0);
        assert_eq!(Terrain { surfaces: &[], default_elevation_m: 3.0 }.building_foot_m(&house), 3.0);
    }
}
