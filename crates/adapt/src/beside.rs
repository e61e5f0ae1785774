//! What a place lies in or along: sleeves, and faces of walls and buildings.

use loamline_geometry::{Point2, Segment};
use loamline_model::Job;

/// How near to a sleeve's line, and to a wall's face, counts as in it or along it, metres.
const ALONG_M: f64 = 0.35;

/// Whether a place lies in one of some sleeves.
pub(crate) fn in_sleeve(job: &Job, sleeves: &[String], at: Point2) -> bool {
    let lines = sleeves.iter().filter_map(|id| job.document().sleeves.get(id));
    lines.into_iter().any(|s| near_line(&s.line, at, ALONG_M))
}

/// Whether a place lies along a face that cable may be clipped to.
pub(crate) fn along_a_wall(job: &Job, at: Point2) -> bool {
    let d = job.document();
    d.walls.values().any(|w| w.clip && near_line(&w.line, at, ALONG_M))
        || d.buildings.values().any(|b| b.clip && b.outline.distance_to_outline(at) <= ALONG_M)
}

fn near_line(line: &[Point2], at: Point2, within_m: f64) -> bool {
    line.windows(2).any(|w| Segment::new(w[0], w[1]).distance_to(at) <= within_m)
}
