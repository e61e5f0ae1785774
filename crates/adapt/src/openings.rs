//! Where runs go through the outer walls of buildings, and by what.

use crate::beside::in_sleeve;
use crate::run::WallOpening;
use loamline_geometry::{Point2, Segment};
use loamline_model::Job;

/// How far inside an outline counts as inside, metres: cable clipped along a face is outside.
const INSIDE_M: f64 = 0.02;

/// How near a passage a run must go through the wall to be drawn through it, metres.
const PASSAGE_M: f64 = 0.25;

/// Whether a place is inside a building.
pub fn inside_a_building(job: &Job, at: Point2) -> bool {
    job.buildings_near(at, 0.0).any(|(_, b)| b.outline.contains_with_margin(at, INSIDE_M))
}

/// Where a way goes through outer walls, in order. What lies in a sleeve needs no opening.
pub(crate) fn wall_openings(job: &Job, way: &[Point2], sleeves: &[String]) -> Vec<WallOpening> {
    let d = job.document();
    let mut found: Vec<WallOpening> = Vec::new();
    for (building, b) in job.buildings_along(way) {
        let inside = |p: Point2| b.outline.contains_with_margin(p, INSIDE_M);
        // Whether the way is inside, piece by piece between meetings with the outline.
        let mut was: Option<bool> = None;
        for leg in way.windows(2).map(|w| Segment::new(w[0], w[1])) {
            let mut cuts = vec![0.0, 1.0];
            cuts.extend(b.outline.inside_intervals(leg).into_iter().flat_map(|(from, to)| [from, to]));
            cuts.sort_by(f64::total_cmp);
            for w in cuts.windows(2).filter(|w| (w[1] - w[0]) * leg.length() > 1e-6) {
                let now = inside(leg.a.lerp(leg.b, 0.5 * (w[0] + w[1])));
                let at = leg.a.lerp(leg.b, w[0]);
                if was.is_some_and(|was| was != now) && !in_sleeve(job, sleeves, at) {
                    let here = |p: Point2| p.distance(at) <= PASSAGE_M;
                    let passage = d.passages.iter().find(|(_, p)| here(p.position)).map(|(id, _)| id.clone());
                    found.push(WallOpening { building: building.clone(), at, passage });
                }
                was = Some(now);
            }
        }
    }
    let along = |at: Point2| {
        let mut m = 0.0;
        for leg in way.windows(2).map(|w| Segment::new(w[0], w[1])) {
            if leg.distance_to(at) < 1e-6 {
                return m + leg.a.distance(at);
            }
            m += leg.length();
        }
        m
    };
    found.sort_by(|a, b| along(a.at).total_cmp(&along(b.at)));
    found
}
