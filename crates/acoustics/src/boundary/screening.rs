//! Screening, ISO 9613-2:1996 clause 7.4: which edges count, the detours, and the attenuation they give.

use super::site::{FaceOf, Shape, TOUCH_M};
use super::unfolded::{Seen, View};
use loamline_geometry::{Point2, Point3, Segment};

/// An edge this little above a chord lies on it, m.
const ON_LINE_M: f64 = 1e-9;

/// A diffracted path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Detour {
    /// Source to first edge, m.
    pub(super) to_first_m: f64,
    /// First to last edge along the path, m; 0 for one edge.
    pub(super) between_m: f64,
    /// Last edge to receiver, m.
    pub(super) from_last_m: f64,
    /// Longer than the straight line by this, m; negative where the line of sight passes above.
    pub(super) difference_m: f64,
    /// Whether more than one edge bends it.
    pub(super) several_edges: bool,
}

/// What stands between a source and a receiver.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Screening {
    pub(super) over_top: Detour,
    /// To the left and to the right, seen from the source; none from or to a roof.
    pub(super) round_ends: Option<[Detour; 2]>,
}

/// An edge that the vertical plane through source and receiver cuts: distance from the source in plan, height.
#[derive(Clone, Copy)]
struct Edge {
    along_m: f64,
    height_m: f64,
    /// Number of what it belongs to among what is seen.
    seen: usize,
}

/// Where a way starts or ends.
#[derive(Debug, Clone, Copy)]
pub(super) struct End {
    pub(super) at: Point3,
    /// Elevation of the ground under it, m.
    pub(super) ground_m: f64,
}

/// Screening along a way, straight or unfolded; `None` where nothing counts.
pub(super) fn screening(seen: View<'_>, from: End, to: End) -> Option<Screening> {
    let (source, receiver) = (from.at, to.at);
    let dp = source.plan().distance(receiver.plan());
    if dp <= TOUCH_M {
        return None;
    }
    let mut edges = edges_between(seen, source, receiver, dp);
    let sight = |along_m: f64| source.z + (receiver.z - source.z) * along_m / dp;
    let rises = |e: &Edge| e.height_m > sight(e.along_m) + ON_LINE_M;
    // The formula takes 10 lg 3 for an edge the sight just touches, and low sound feels one far below it; of low steps,
    // that everywhere bound terraces and beds and have no way round, this would take bass off that nothing takes off.
    edges.retain(|e| rises(e) || !is_step(&seen.at(e.seen)));
    if edges.is_empty() {
        return None;
    }
    edges.sort_by(|a, b| a.along_m.total_cmp(&b.along_m).then(a.height_m.total_cmp(&b.height_m)));
    let mut round: Vec<usize> = edges.iter().filter(|e| rises(e)).map(|e| e.seen).collect();
    let d = source.distance(receiver);
    let over_top = if round.is_empty() {
        let (detour, obstacle) = least_detour_below(&edges, source, receiver, dp, d)?;
        round.push(obstacle);
        detour
    } else {
        over_hull(&edges, source, receiver, dp, d)
    };
    let hemmed = |end: &End| round.iter().any(|&o| stands_on(&seen.at(o), end));
    let round_ends = (!hemmed(&from) && !hemmed(&to))
        .then(|| [1.0, -1.0].map(|side| round_end(seen, &round, source, receiver, side)));
    Some(Screening { over_top, round_ends })
}

fn is_step(seen: &Seen<'_>) -> bool {
    matches!(seen.obstacle.of, FaceOf::Step(_))
}

/// Whether there is no way round something for who is there: on its roof, or on the high ground that ends in a step.
fn stands_on(seen: &Seen<'_>, end: &End) -> bool {
    if is_step(seen) { end.ground_m >= seen.obstacle.top_m - TOUCH_M } else { seen.is_under(end.at.plan()) }
}

/// Edges of everything the line between source and receiver crosses in plan.
fn edges_between(all: View<'_>, source: Point3, receiver: Point3, dp: f64) -> Vec<Edge> {
    let line = Segment::new(source.plan(), receiver.plan());
    let inside_path = |along_m: f64| along_m > TOUCH_M && along_m < dp - TOUCH_M;
    let mut edges = Vec::new();
    for i in all.along(line) {
        let seen = all.at(i);
        let top_m = seen.obstacle.top_m;
        let mut push = |along_m: f64| edges.push(Edge { along_m, height_m: top_m, seen: i });
        match &seen.obstacle.shape {
            Shape::Line(points) => {
                let crossings = seen.line_crossings(points, line, dp);
                crossings.into_iter().filter(|&a| inside_path(a)).for_each(&mut push);
            }
            Shape::Building(outline) => {
                for (from, to) in seen.inside(outline, line) {
                    if (to - from) * dp <= TOUCH_M {
                        continue;
                    }
                    // An end of the interval at a source or receiver above the roof is no edge.
                    if inside_path(from * dp) || source.z < top_m {
                        push(from * dp);
                    }
                    if inside_path(to * dp) || receiver.z < top_m {
                        push(to * dp);
                    }
                }
            }
        }
    }
    edges
}

/// The shortest path over the edges: the upper convex hull in the vertical plane.
fn over_hull(edges: &[Edge], source: Point3, receiver: Point3, dp: f64, d: f64) -> Detour {
    let mut hull = vec![Point2::new(0.0, source.z)];
    let rest = edges.iter().map(|e| Point2::new(e.along_m, e.height_m));
    for p in rest.chain([Point2::new(dp, receiver.z)]) {
        while hull.len() >= 2 && !rises_above(hull[hull.len() - 2], hull[hull.len() - 1], p) {
            hull.pop();
        }
        hull.push(p);
    }
    detour(&hull, 1.0, d)
}

/// Whether `m` lies above the chord from `a` to `b` by more than rounding.
fn rises_above(a: Point2, m: Point2, b: Point2) -> bool {
    (b - a).cross(m - a) > ON_LINE_M * (b - a).norm().max(ON_LINE_M)
}

/// The edge below the line of sight with the least detour, its difference negative.
fn least_detour_below(
    edges: &[Edge],
    source: Point3,
    receiver: Point3,
    dp: f64,
    d: f64,
) -> Option<(Detour, usize)> {
    edges
        .iter()
        .map(|e| {
            let edge = Point2::new(e.along_m, e.height_m);
            let path = [Point2::new(0.0, source.z), edge, Point2::new(dp, receiver.z)];
            let mut bent = detour(&path, 1.0, d);
            bent.difference_m = -bent.difference_m;
            (bent, e.seen)
        })
        .max_by(|a, b| a.0.difference_m.total_cmp(&b.0.difference_m))
}

/// The way round one side (+1 left, -1 right) of the obstacles, unfolded and rising evenly to the receiver. Of a way by
/// a face this is not asked to meet the face itself: the careful side.
fn round_end(all: View<'_>, round: &[usize], source: Point3, receiver: Point3, side: f64) -> Detour {
    let (s, r) = (source.plan(), receiver.plan());
    let dp = s.distance(r);
    let along = (r - s) * dp.recip();
    // Plan coordinates along the line and to the chosen side of it.
    let local = |p: Point2| Point2::new(along.dot(p - s), side * along.cross(p - s));
    let world = |q: Point2| s + along * q.x + Point2::new(-along.y, along.x) * (side * q.y);
    let mut taken = round.to_vec();
    taken.sort_unstable();
    taken.dedup();
    let path = loop {
        let beside = taken.iter().flat_map(|&o| all.at(o).corners()).map(local);
        let path = taut_path(dp, &beside.filter(|q| q.y > TOUCH_M).collect::<Vec<_>>());
        let corners: Vec<Point2> = path.iter().map(|&q| world(q)).collect();
        let blocks = |seen: &Seen<'_>| runs_into(seen, &corners, source.z, receiver.z);
        let legs = corners.windows(2).map(|w| Segment::new(w[0], w[1]));
        let mut beside: Vec<usize> = legs.flat_map(|leg| all.along(leg)).collect();
        beside.sort_unstable();
        beside.dedup();
        let next = beside.into_iter().find(|o| !taken.contains(o) && blocks(&all.at(*o)));
        match next {
            Some(o) => taken.push(o),
            None => break path,
        }
    };
    let in_plan: f64 = path.windows(2).map(|w| w[0].distance(w[1])).sum();
    let stretch = (receiver.z - source.z).hypot(in_plan) / in_plan;
    detour(&path, stretch, source.distance(receiver))
}

/// The taut string from (0, 0) to (dp, 0) that keeps all points, which lie at y > 0, between itself and the
/// straight line: their convex hull with both ends, walked from the start round the far side (gift wrapping; the
/// points are few).
fn taut_path(dp: f64, points: &[Point2]) -> Vec<Point2> {
    let end = Point2::new(dp, 0.0);
    let mut path = vec![Point2::default()];
    let mut here = path[0];
    while here != end && path.len() < points.len() + 2 {
        let mut next = end;
        for &p in points.iter().filter(|&&p| p != here) {
            let (ray, offset) = (next - here, p - here);
            let off_ray = ray.cross(offset) / ray.norm();
            // Left of the ray: the string has to go further out. On it: the farther one, no needless corner.
            if off_ray > ON_LINE_M
                || (off_ray.abs() <= ON_LINE_M && ray.dot(offset) > 0.0 && offset.norm() > ray.norm())
            {
                next = p;
            }
        }
        path.push(next);
        here = next;
    }
    path
}

/// Whether a path in plan that rises evenly from one height to another runs into an obstacle, or turns where one
/// stands (walls that meet at the corner it rounds).
fn runs_into(seen: &Seen<'_>, corners: &[Point2], from_z: f64, to_z: f64) -> bool {
    let top_m = seen.obstacle.top_m;
    let lengths: Vec<f64> = corners.windows(2).map(|w| w[0].distance(w[1])).collect();
    let total: f64 = lengths.iter().sum();
    let mut before = 0.0;
    corners.windows(2).zip(&lengths).any(|(w, &length)| {
        let start = before;
        before += length;
        let leg = Segment::new(w[0], w[1]);
        // Solid where the path is lower than the top; nothing stands at the source and the receiver themselves.
        let solid = |t: f64| {
            let place = start + t * length;
            place > TOUCH_M
                && place < total - TOUCH_M
                && from_z + (to_z - from_z) * place / total < top_m - ON_LINE_M
        };
        let met = match &seen.obstacle.shape {
            Shape::Line(line) => {
                let mut parts = line.windows(2).map(|part| Segment::new(part[0], part[1]));
                parts.any(|part| seen.crosses(leg, part).is_some_and(solid))
            }
            Shape::Building(outline) => seen
                .inside(outline, leg)
                .into_iter()
                .any(|(a, b)| (b - a) * length > TOUCH_M && [a, b, 0.5 * (a + b)].map(solid).contains(&true)),
        };
        met || (solid(1.0) && seen.distance_m(leg.b) <= TOUCH_M)
    })
}

/// Lengths of a bent path, each stretched by the same factor, against the straight distance.
fn detour(path: &[Point2], stretch: f64, straight_m: f64) -> Detour {
    let legs: Vec<f64> = path.windows(2).map(|w| stretch * w[0].distance(w[1])).collect();
    let total: f64 = legs.iter().sum();
    let to_first_m = legs.first().copied().unwrap_or(0.0);
    let from_last_m = if legs.len() > 1 { legs[legs.len() - 1] } else { 0.0 };
    Detour {
        to_first_m,
        between_m: if legs.len() > 2 { legs[1..legs.len() - 1].iter().sum() } else { 0.0 },
        from_last_m,
        difference_m: (total - straight_m).max(0.0),
        several_edges: legs.len() > 2,
    }
}

impl Detour {
    /// Equation 14 without the limits of a diffraction: Dz at a wavelength, 0 dB at least.
    fn attenuation_db(&self, wavelength_m: f64, weather: f64) -> f64 {
        const C2: f64 = 20.0;
        let c3 = if self.several_edges {
            let square = (5.0 * wavelength_m / self.between_m).powi(2);
            // Edges that all but coincide: the square may overflow, the limit is 1.
            if square.is_finite() { (1.0 + square) / (1.0 / 3.0 + square) } else { 1.0 }
        } else {
            1.0
        };
        let inner = 3.0 + C2 / wavelength_m * c3 * self.difference_m * weather;
        if inner > 1.0 { 10.0 * inner.log10() } else { 0.0 }
    }

    /// Over a top edge: with the weather factor of equation 18 and the limits of clause 7.4.
    pub(super) fn top_attenuation_db(&self, wavelength_m: f64, straight_m: f64) -> f64 {
        let z = self.difference_m;
        let weather = if z > 0.0 {
            (-(self.to_first_m * self.from_last_m * straight_m / (2.0 * z)).sqrt() / 2000.0).exp()
        } else {
            1.0
        };
        let limit = if self.several_edges { 25.0 } else { 20.0 };
        self.attenuation_db(wavelength_m, weather).min(limit)
    }

    /// Round an end: no weather factor, no limit.
    pub(super) fn side_attenuation_db(&self, wavelength_m: f64) -> f64 {
        self.attenuation_db(wavelength_m, 1.0)
    }
}
