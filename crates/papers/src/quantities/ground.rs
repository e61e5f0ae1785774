//! Metres to lay by method.
//!
//! Cable that is staked, clipped or drawn through a sleeve is work for every cable. Ground that is opened (a slit, a
//! trench, paving lifted) is opened once for all cables that lie side by side in it (common practice, no source):
//! there a stretch counts only where no cable before it lies within [`BESIDE_M`].

use loamline_adapt::{LaidCable, LaidRun};
use loamline_geometry::{Point2, Segment};
use loamline_model::Choice as _;
use loamline_model::document::Laying;

/// Cables nearer than this lie in one opening, metres (common practice, no source): the width of a spade.
pub const BESIDE_M: f64 = 0.15;
/// Shortest stretch taken for lying side by side, metres: shorter ones are cables that cross.
const SHORTEST_M: f64 = 0.5;

/// Metres of one way of laying.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroundNeed {
    /// The way of laying.
    pub laying: Laying,
    /// Metres to lay or open.
    pub length_m: f64,
    /// Metres that are not counted because a cable before lies in the same opening.
    pub shared_m: f64,
}

/// Whether a way of laying opens the ground.
pub const fn opens_ground(laying: Laying) -> bool {
    matches!(laying, Laying::Slit | Laying::Trench | Laying::LiftedPaving)
}

/// Metres by way of laying, in the order of [`Laying::ALL`]; ways without any are left out. Ground that is not laid
/// in counts as a trench, the dearest, so that nothing is left out.
pub fn ground_needs(runs: &[LaidRun], cables: &[LaidCable]) -> Vec<GroundNeed> {
    let mut open: Vec<(Laying, Segment)> = Vec::new();
    let mut needs: Vec<GroundNeed> = Laying::ALL
        .iter()
        .map(|(laying, _, _)| GroundNeed { laying: *laying, length_m: 0.0, shared_m: 0.0 })
        .collect();
    for cable in cables.iter().filter(|c| !c.existing) {
        let mut own = Vec::new();
        for (laying, segment) in stretches(&runs[cable.lead]) {
            let shared_m = if opens_ground(laying) { shared_m(segment, laying, &open) } else { 0.0 };
            own.push((laying, segment));
            if let Some(need) = needs.iter_mut().find(|n| n.laying == laying) {
                need.length_m += segment.length() - shared_m;
                need.shared_m += shared_m;
            }
        }
        open.extend(own);
    }
    needs.retain(|n| n.length_m > 0.0);
    needs
}

/// Crossings of buried services to dig by hand: one for all cables that cross a service in the same opening.
pub fn crossings(runs: &[LaidRun], cables: &[LaidCable]) -> usize {
    let mut places: Vec<(&str, Point2)> = Vec::new();
    for run in cables.iter().filter(|c| !c.existing).map(|c| &runs[c.lead]) {
        for (service, at) in run.crosses.iter().zip(&run.crossed_at) {
            if !places.iter().any(|(other, there)| other == service && there.distance(*at) <= BESIDE_M) {
                places.push((service, *at));
            }
        }
    }
    places.len()
}

/// New holes through outer walls: one for all cables that go through a wall in the same place.
pub fn wall_holes(runs: &[LaidRun], cables: &[LaidCable]) -> usize {
    let mut places: Vec<(&str, Point2)> = Vec::new();
    for opening in cables.iter().filter(|c| !c.existing).flat_map(|c| &runs[c.lead].through) {
        let same = |(building, at): &(&str, Point2)| {
            *building == opening.building && at.distance(opening.at) <= BESIDE_M
        };
        if opening.passage.is_none() && !places.iter().any(same) {
            places.push((&opening.building, opening.at));
        }
    }
    places.len()
}

/// The straight stretches of a run with how each is laid.
fn stretches(run: &LaidRun) -> Vec<(Laying, Segment)> {
    let mut pieces = run.pieces.iter().map(|p| (p.laying.unwrap_or(Laying::Trench), p.length_m));
    let mut out = Vec::new();
    let (mut laying, mut left) = pieces.next().unwrap_or((Laying::Trench, f64::INFINITY));
    for leg in run.way.windows(2) {
        let (length, mut done) = (leg[0].distance(leg[1]), 0.0);
        while length - done > 1e-9 {
            // The last piece takes what rounding leaves of the way.
            while left <= 1e-9 {
                match pieces.next() {
                    Some(next) => (laying, left) = next,
                    None => left = f64::INFINITY,
                }
            }
            let step = left.min(length - done);
            let at = |m: f64| leg[0].lerp(leg[1], m / length);
            out.push((laying, Segment::new(at(done), at(done + step))));
            done += step;
            left -= step;
        }
    }
    out
}

/// Metres of a stretch beside which others of the same laying lie already.
fn shared_m(stretch: Segment, laying: Laying, open: &[(Laying, Segment)]) -> f64 {
    let length = stretch.length();
    if length <= 0.0 {
        return 0.0;
    }
    let along = (stretch.b - stretch.a) * (1.0 / length);
    let mut covered: Vec<(f64, f64)> = open
        .iter()
        .filter(|(other, _)| *other == laying)
        .filter_map(|(_, other)| {
            let (s, t) = ((other.a - stretch.a).dot(along), (other.b - stretch.a).dot(along));
            let (from, to) = (s.min(t).max(0.0), s.max(t).min(length));
            let off = |m: f64| distance_to_line(stretch.a + along * m, *other);
            (to - from >= SHORTEST_M.min(length) && off(from) <= BESIDE_M && off(to) <= BESIDE_M)
                .then_some((from, to))
        })
        .collect();
    covered.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut reached = 0.0f64;
    let mut sum = 0.0;
    for (from, to) in covered {
        sum += (to - from.max(reached)).max(0.0);
        reached = reached.max(to);
    }
    sum
}

/// Distance of a point from the line through a segment, metres; from its end where the segment has no length.
fn distance_to_line(p: Point2, segment: Segment) -> f64 {
    let d = segment.b - segment.a;
    let length = d.norm();
    if length <= 0.0 { p.distance(segment.a) } else { (d.cross(p - segment.a) / length).abs() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(x0: f64, y0: f64, x1: f64, y1: f64) -> Segment {
        Segment::new(Point2::new(x0, y0), Point2::new(x1, y1))
    }

    #[test]
    fn a_trench_is_dug_once_for_all_that_lie_in_it() {
        let open =
            [(Laying::Trench, line(0.0, 0.0, 10.0, 0.0)), (Laying::Trench, line(8.0, 0.05, 12.0, 0.05))];
        let shared = |s: Segment, laying: Laying| shared_m(s, laying, &open);
        // From 2 m to 12 m the two trenches lie beside it, with 2 m in common; the last 3 m are new ground.
        assert!((shared(line(15.0, 0.1, 2.0, 0.1), Laying::Trench) - 10.0).abs() < 1e-9);
        // A metre away, across, or another way of laying shares nothing.
        assert_eq!(shared(line(0.0, 1.0, 10.0, 1.0), Laying::Trench), 0.0);
        assert_eq!(shared(line(5.0, -5.0, 5.0, 5.0), Laying::Trench), 0.0);
        assert_eq!(shared(line(0.0, 0.0, 10.0, 0.0), Laying::Slit), 0.0);
    }
}
