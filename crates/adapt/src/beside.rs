//! What a place lies in or along: sleeves, and faces of walls and buildings.

use loamline_geometry::{Point2, Segment};
use loamline_model::Job;

/// How near to a sleeve's line, and to a wall's face, counts as in it or along it, metres.
const ALONG_M: f64 = 0.35;

/// Whether a place lies in one of some sleeves, or where cable goes in.
pub(crate) fn in_sleeve(job: &Job, sleeves: &[String], at: Point2) -> bool {
    let lines = sleeves.iter().filter_map(|id| job.document().sleeves.get(id));
    lines.into_iter().any(|s| near_line(&s.line, at, ALONG_M))
}

/// Whether cable at a place is inside one of some sleeves: beside it, and not before its mouth or past its end.
pub(crate) fn inside_sleeve(job: &Job, sleeves: &[String], at: Point2) -> bool {
    let mut lines = sleeves.iter().filter_map(|id| job.document().sleeves.get(id)).map(|s| s.line.as_slice());
    lines
        .any(|line| near_line(line, at, ALONG_M) && !ends(line).into_iter().any(|end| is_past(line, end, at)))
}

/// Whether a place lies past an end of a line: nowhere on the line is nearer, and the line leads away from it.
fn is_past(line: &[Point2], (end, out): (Point2, Point2), at: Point2) -> bool {
    (at - end).dot(out) > 0.0 && !near_line(line, at, at.distance(end) - 1e-9)
}

/// Where the mouths of some sleeves cut a leg, as fractions of it: square to the sleeve, at its ends.
pub(crate) fn mouths<'j>(
    job: &'j Job,
    sleeves: &'j [String],
    leg: Segment,
) -> impl Iterator<Item = f64> + 'j {
    let lines = sleeves.iter().filter_map(|id| job.document().sleeves.get(id));
    lines.flat_map(|s| ends(&s.line)).filter_map(move |(end, out)| {
        let along = (leg.b - leg.a).dot(out);
        let at = (end - leg.a).dot(out) / along;
        (along.abs() > 1e-9 && at > 0.0 && at < 1.0).then_some(at)
    })
}

/// The two ends of a line, each with the direction that leads out of it.
fn ends(line: &[Point2]) -> Vec<(Point2, Point2)> {
    let mut ends = Vec::new();
    if let [first, second, ..] = line {
        ends.push((*first, *first - *second));
    }
    if let [.., before, last] = line {
        ends.push((*last, *last - *before));
    }
    ends
}

/// Whether a place lies along a face that cable may be clipped to.
pub(crate) fn along_a_wall(job: &Job, at: Point2) -> bool {
    job.walls_near(at, ALONG_M).any(|(_, w)| w.clip && near_line(&w.line, at, ALONG_M))
        || job
            .buildings_near(at, ALONG_M)
            .any(|(_, b)| b.clip && b.outline.distance_to_outline(at) <= ALONG_M)
}

fn near_line(line: &[Point2], at: Point2, within_m: f64) -> bool {
    line.windows(2).any(|w| Segment::new(w[0], w[1]).distance_to(at) <= within_m)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A sleeve round three sides of a square of 4 m: past an end is out of it, whatever other part is across from there.
    #[test]
    fn a_sleeve_ends_at_its_mouths() {
        let line = [(0.0, 4.0), (0.0, 0.0), (4.0, 0.0), (4.0, 4.0)].map(|(x, y)| Point2::new(x, y));
        let past = |x: f64, y: f64| ends(&line).into_iter().any(|end| is_past(&line, end, Point2::new(x, y)));
        for inside in [(0.1, 3.9), (2.0, 0.2), (4.0, 2.0), (-0.2, -0.2)] {
            assert!(!past(inside.0, inside.1), "{inside:?}");
        }
        for out in [(0.0, 4.1), (0.2, 4.3), (4.0, 4.01)] {
            assert!(past(out.0, out.1), "{out:?}");
        }
    }
}
