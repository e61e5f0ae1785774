//! Metres to lay by method.
//!
//! Cable that is staked, clipped or drawn through a sleeve is work for every cable. Ground that is opened (a slit, a
//! trench, paving lifted) is opened once for all cables that lie side by side in it (common practice, no source):
//! there a stretch counts only where no cable before it lies within [`BESIDE_M`].

use loamline_adapt::{LaidCable, LaidRun};
use loamline_geometry::{Point2, Segment};
use loamline_model::document::Laying;
use loamline_model::{Choice as _, Job};

/// Cables nearer than this lie in one opening, metres (common practice, no source): the width of a spade.
pub(crate) const BESIDE_M: f64 = 0.15;
/// Shortest stretch taken for lying side by side, metres: shorter ones are cables that cross.
const SHORTEST_M: f64 = 0.5;

/// Metres of one way of laying, at one price.
#[derive(Debug, Clone, PartialEq)]
pub struct GroundNeed {
    /// The way of laying.
    pub laying: Laying,
    /// The surface whose own price it is laid at; none at the usual price.
    pub priced_by: Option<String>,
    /// Metres to lay or open.
    pub length_m: f64,
    /// Metres that are not counted because a cable before lies in the same opening.
    pub shared_m: f64,
}

/// Whether a way of laying opens the ground.
pub const fn opens_ground(laying: Laying) -> bool {
    matches!(laying, Laying::Slit | Laying::Trench | Laying::LiftedPaving)
}

/// A straight stretch of cable, with what of it has to be laid or opened.
pub(super) struct Stretch {
    /// The way of laying.
    pub laying: Laying,
    /// The surface whose own price it is laid at; none at the usual price.
    pub priced_by: Option<String>,
    /// Where it lies.
    pub at: Segment,
    /// Metres beside which a cable before lies in the same opening.
    pub shared_m: f64,
}

/// Every stretch of the cables to lay, in their order. Ground that is not laid in counts as a trench, the dearest, so that
/// nothing is left out.
pub(super) fn stretches_to_lay(job: &Job, runs: &[LaidRun], cables: &[LaidCable]) -> Vec<Stretch> {
    let mut all: Vec<Stretch> = Vec::new();
    let mut open: Vec<(Laying, Segment)> = Vec::new();
    // A surface's price is that of the way it is usually laid in.
    let priced = |surface: &str, laying: Laying| {
        let surface = job.document().surfaces.get(surface);
        surface.is_some_and(|s| s.laying_price.is_some() && s.laying_method() == Some(laying))
    };
    for cable in cables.iter().filter(|c| !c.existing) {
        let own = stretches(&runs[cable.lead]);
        for (laying, surface, at) in &own {
            let shared_m = if opens_ground(*laying) { shared_m(*at, *laying, &open) } else { 0.0 };
            let priced_by = surface.filter(|id| priced(id, *laying)).map(str::to_owned);
            all.push(Stretch { laying: *laying, priced_by, at: *at, shared_m });
        }
        open.extend(own.into_iter().map(|(laying, _, at)| (laying, at)));
    }
    all
}

/// Metres by way of laying, in the order of [`Laying::ALL`], first at the usual price, then at those that surfaces have of
/// their own; ways without any are left out.
pub fn ground_needs(job: &Job, runs: &[LaidRun], cables: &[LaidCable]) -> Vec<GroundNeed> {
    let mut needs: Vec<GroundNeed> = Vec::new();
    for stretch in stretches_to_lay(job, runs, cables) {
        let same = |n: &&mut GroundNeed| n.laying == stretch.laying && n.priced_by == stretch.priced_by;
        let length_m = stretch.at.length() - stretch.shared_m;
        match needs.iter_mut().find(same) {
            Some(need) => {
                need.length_m += length_m;
                need.shared_m += stretch.shared_m;
            }
            None => needs.push(GroundNeed {
                laying: stretch.laying,
                priced_by: stretch.priced_by,
                length_m,
                shared_m: stretch.shared_m,
            }),
        }
    }
    needs.retain(|n| n.length_m > 0.0);
    let surfaces = &job.document().surfaces;
    needs.sort_by_key(|n| {
        let way = Laying::ALL.iter().position(|(laying, _, _)| *laying == n.laying);
        (way, n.priced_by.as_ref().map(|id| surfaces.get_index_of(id)))
    });
    needs
}

/// Crossings of buried services to dig by hand, each by the service it crosses: one for all cables that cross it in the same
/// opening.
pub fn crossings<'r>(runs: &'r [LaidRun], cables: &[LaidCable]) -> Vec<&'r str> {
    let mut places: Vec<(&str, Point2)> = Vec::new();
    for run in cables.iter().filter(|c| !c.existing).map(|c| &runs[c.lead]) {
        for (service, at) in run.crosses.iter().zip(&run.crossed_at) {
            if !places.iter().any(|(other, there)| other == service && there.distance(*at) <= BESIDE_M) {
                places.push((service, *at));
            }
        }
    }
    places.into_iter().map(|(service, _)| service).collect()
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

/// The straight stretches of a run where ground is opened.
pub(crate) fn open_stretches(run: &LaidRun) -> Vec<Segment> {
    stretches(run).into_iter().filter(|(laying, ..)| opens_ground(*laying)).map(|(.., s)| s).collect()
}

/// The straight stretches of a run with how each is laid, and the surface it lies in.
fn stretches(run: &LaidRun) -> Vec<(Laying, Option<&str>, Segment)> {
    let mut pieces =
        run.pieces.iter().map(|p| (p.laying.unwrap_or(Laying::Trench), p.surface.as_deref(), p.length_m));
    let mut out = Vec::new();
    let (mut laying, mut surface, mut left) = pieces.next().unwrap_or((Laying::Trench, None, f64::INFINITY));
    for leg in run.way.windows(2) {
        let (length, mut done) = (leg[0].distance(leg[1]), 0.0);
        while length - done > 1e-9 {
            // The last piece takes what rounding leaves of the way.
            while left <= 1e-9 {
                match pieces.next() {
                    Some(next) => (laying, surface, left) = next,
                    None => left = f64::INFINITY,
                }
            }
            let step = left.min(length - done);
            let at = |m: f64| leg[0].lerp(leg[1], m / length);
            out.push((laying, surface, Segment::new(at(done), at(done + step))));
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
