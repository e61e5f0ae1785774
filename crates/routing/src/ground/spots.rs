//! Points of the graph for places that runs end at.
//!
//! Where a place lies within a step or two of a boundary, the even spacing of the graph is too coarse for it: a
//! bracket on a wall, 0.1 m off the face along which cable is clipped, would be priced as if it stood half a step
//! of dear ground away. So the boundary gets points at the foot of the perpendicular from the place and, on both
//! sides of it, at distances that grow in proportion to the distance from the place (the grading by which Aleksandrov,
//! Maheshwari and Sack 2005 bound the error near a vertex); the place is joined to them straight, at the exact price.

use loamline_geometry::{Point2, Segment, project_on_segment};

/// Points of one side closer than this are one, metres.
pub(super) const FINEST_M: f64 = 0.002;

/// How many steps of a side's own spacing off a place still gets points on it. Smaller leaves places priced by the
/// nearest even point, at most 3 % too dear for the piece up to the boundary from two steps off.
const REACH_STEPS: f64 = 2.0;

/// Distance of the first point from the foot, as a share of the distance from the place, and the least one, metres.
const FIRST: f64 = 0.4;
const LEAST_FIRST_M: f64 = 0.05;

/// Each gap is longer than the one before by this factor, until they are as long as the side's own.
const GROWTH: f64 = 2.0;

/// Adds points close to places on a side cut into `parts`, as fractions along it.
pub(super) fn points_near(spots: &[Point2], side: Segment, parts: u32, points: &mut Vec<f64>) {
    let length = side.length();
    if length <= FINEST_M {
        return;
    }
    let step_m = length / f64::from(parts);
    for at in spots.iter().filter(|at| at.is_finite()) {
        let (foot, t) = project_on_segment(*at, side);
        let off_m = foot.distance(*at);
        if off_m > REACH_STEPS * step_m {
            continue;
        }
        points.push(t);
        for way in [-1.0, 1.0] {
            let (mut from_foot, mut gap) = (0.0, (FIRST * off_m).max(LEAST_FIRST_M));
            while gap <= step_m {
                from_foot += gap;
                gap *= GROWTH;
                let u = t + way * from_foot / length;
                if !(0.0..=1.0).contains(&u) {
                    break;
                }
                points.push(u);
            }
        }
    }
}
