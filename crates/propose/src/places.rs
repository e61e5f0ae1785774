//! Where loudspeakers may be put: beds and other ground that takes them, lawn edges, walls and eaves that take them.
//!
//! Ground places keep their distance from paths, water, buried services, no-go areas, walls and listeners. Places lie on
//! a grid centred on each surface, so that a mirrored site has the mirrored places. Places farther from every area
//! than [`REACH_M`] are left out.

use loamline_adapt::{LAWN_EDGE_M, Pricing, on_lawn_edge};
use loamline_geometry::{Point2, Segment, bearing_between, direction};
use loamline_limits::{go_on, lent};
use loamline_model::Job;
use loamline_model::document::{Laying, SurfaceKind};
use rayon::prelude::*;

/// Farthest a loudspeaker stands from the area it serves, metres: beyond, levels cannot be kept within a few decibels.
pub(crate) const REACH_M: f64 = 14.0;
/// Distance in front of a wall's face at which a bracket holds a loudspeaker, metres.
pub(crate) const OFF_WALL_M: f64 = 0.25;
/// Least distance from ground places to walls and buildings, metres: room to work.
const OFF_BUILDING_M: f64 = 0.2;
/// Highest a bracket is put, metres: what a stepladder reaches.
pub(crate) const BRACKET_M: f64 = 2.6;
/// Least height of a bracket above the heads of people, metres.
const HEADROOM_M: f64 = 2.0;
/// Places on ground that no surface covers are no nearer to each other, metres: there is much of it, and nothing to follow.
const OPEN_GROUND_M: f64 = 1.0;
/// Spacings tried, metres: the first that gives few enough places is taken.
const SPACINGS_M: [f64; 9] = [0.5, 0.75, 1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0];

/// A place for a loudspeaker.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spot {
    /// In plan.
    pub at: Point2,
    /// On a wall or under eaves: bearing away from the face, degrees.
    pub out_deg: Option<f64>,
    /// Height of a bracket there, metres.
    pub height_m: f64,
    /// Price per metre of laying cable there.
    pub lay_per_m: f64,
}

/// The rules for one job.
pub(crate) struct Rules<'j> {
    pub job: &'j Job,
    pinned: Vec<Point2>,
}

impl<'j> Rules<'j> {
    /// The rules of a job whose loudspeakers are all there to stay.
    pub fn new(job: &'j Job) -> Self {
        Self { job, pinned: job.document().loudspeakers.values().map(|l| l.position).collect() }
    }

    /// Whether a loudspeaker may stand on the ground at a place.
    pub fn ground(&self, at: Point2) -> bool {
        let d = self.job.document();
        if d.site.outline.as_ref().is_some_and(|o| !o.contains(at)) {
            return false;
        }
        (self.job.ground(at).takes_loudspeakers || on_lawn_edge(self.job, at)) && self.clear(at)
    }

    /// Whether a place on the ground keeps every distance.
    fn clear(&self, at: Point2) -> bool {
        let d = self.job.document();
        let wishes = &d.brief.wishes;
        let near_m = d.brief.nearest_listener_m;
        let ring = |radius_m: f64, kinds: &[SurfaceKind]| {
            radius_m > 0.0
                && (0..16).any(|k| {
                    let p = at + direction(22.5 * f64::from(k), 0.0).plan() * radius_m;
                    kinds.contains(&self.job.ground(p).kind)
                })
        };
        d.no_go.values().all(|n| !n.outline.contains(at) && n.outline.distance_to_outline(at) >= 0.1)
            && d.areas
                .values()
                .all(|a| !a.outline.contains(at) && a.outline.distance_to_outline(at) >= near_m)
            && d.buildings
                .values()
                .all(|b| !b.outline.contains(at) && b.outline.distance_to_outline(at) >= OFF_BUILDING_M)
            && d.walls.values().all(|w| away(&w.line, at, OFF_BUILDING_M))
            && d.services.values().all(|s| away(&s.line, at, s.clearance_m))
            && self.pinned.iter().all(|p| p.distance(at) >= 0.6)
            && !ring(wishes.path_setback_m, &[SurfaceKind::Paving, SurfaceKind::Deck])
            && ![0.25, 0.5, 0.75, 1.0].iter().any(|f| ring(f * wishes.water_setback_m, &[SurfaceKind::Water]))
    }

    /// Whether a bracket's place is free: on the site, outside buildings, away from no-go areas and water.
    pub fn face(&self, at: Point2) -> bool {
        let d = self.job.document();
        d.site.outline.as_ref().is_none_or(|o| o.contains(at))
            && d.buildings.values().all(|b| !b.outline.contains(at))
            && d.no_go.values().all(|n| !n.outline.contains(at))
            && self.pinned.iter().all(|p| p.distance(at) >= 0.6)
    }

    /// Whether a spot may be used at all.
    pub fn allows(&self, spot: &Spot) -> bool {
        if spot.out_deg.is_some() { self.face(spot.at) } else { self.ground(spot.at) }
    }

    fn reached(&self, at: Point2) -> bool {
        self.job
            .document()
            .areas
            .values()
            .any(|a| a.outline.contains(at) || a.outline.distance_to_outline(at) <= REACH_M)
    }

    /// Every spot on a grid fine enough that there are about `most` of them.
    pub fn spots(&self, most: usize) -> Vec<Spot> {
        let mut finer: Vec<Spot> = Vec::new();
        for spacing in SPACINGS_M {
            let found = self.at_spacing(spacing);
            if found.is_empty() && !finer.is_empty() {
                // A grid coarser than the beds are wide misses them all: some of the finer one, evenly.
                return finer.iter().copied().step_by(finer.len().div_ceil(most.max(1))).collect();
            }
            finer = found;
            if finer.len() <= most {
                break;
            }
        }
        finer
    }

    fn at_spacing(&self, spacing_m: f64) -> Vec<Spot> {
        let mut places: Vec<Point2> = Vec::new();
        for s in self.job.document().surfaces.values() {
            let edge_only = s.kind == SurfaceKind::Lawn && s.loudspeakers.is_none();
            if !s.takes_loudspeakers() && !edge_only {
                continue;
            }
            if edge_only {
                for side in s.outline.sides() {
                    let d = side.b - side.a;
                    // Corners run counter-clockwise, so the inside lies to the left of a side.
                    let inwards = Point2::new(-d.y, d.x) * (0.6 * LAWN_EDGE_M / d.norm().max(1e-9));
                    places.extend(points_along(side, spacing_m.max(0.75)).map(|p| p + inwards));
                }
                continue;
            }
            places.extend(in_box(s.outline.bounds(), spacing_m));
        }
        if self.job.document().site.ground.takes_loudspeakers() {
            // What no surface covers: round the areas.
            let round = Point2::new(REACH_M, REACH_M);
            for a in self.job.document().areas.values() {
                let (low, high) = a.outline.bounds();
                places.extend(in_box((low - round, high + round), spacing_m.max(OPEN_GROUND_M)));
            }
        }
        let leave = lent();
        let takes_one = |p: &Point2| leave.lend(|| self.reached(*p) && self.ground(*p));
        let usable: Vec<bool> = places.par_iter().map(takes_one).collect();
        let mut spots: Vec<Spot> = Vec::new();
        for (at, _) in places.into_iter().zip(usable).filter(|(_, u)| *u) {
            go_on();
            if spots.iter().all(|s| s.at.distance(at) > 0.45 * spacing_m) {
                spots.push(self.on_ground(at));
            }
        }
        spots.extend(self.faces(spacing_m.max(1.0)));
        spots
    }

    /// Spots along walls and eaves that take loudspeakers, on the sides that face an area.
    fn faces(&self, spacing_m: f64) -> Vec<Spot> {
        let d = self.job.document();
        let mut spots = Vec::new();
        for (side, bracket) in self.bracket_sides() {
            for foot in points_along(side, spacing_m) {
                let at = foot + bracket.out * OFF_WALL_M;
                let faces = |a: &loamline_model::document::Area| {
                    let nearest = nearest_in(&a.outline, at);
                    let before = (nearest - at).dot(bracket.out) > 0.0 && nearest.distance(at) <= REACH_M;
                    a.outline.contains(at) || before
                };
                if self.face(at) && d.areas.values().any(faces) {
                    spots.push(bracket.at(self, at));
                }
            }
        }
        spots
    }

    /// Sides of walls and buildings that take loudspeakers and are high enough for brackets.
    pub fn bracket_sides(&self) -> Vec<(Segment, Bracket)> {
        let d = self.job.document();
        let mut sides: Vec<(Segment, f64)> = Vec::new();
        for w in d.walls.values().filter(|w| w.loudspeakers) {
            for pair in w.line.windows(2) {
                sides.push((Segment::new(pair[0], pair[1]), w.height_m));
                sides.push((Segment::new(pair[1], pair[0]), w.height_m));
            }
        }
        for b in d.buildings.values().filter(|b| b.loudspeakers) {
            sides.extend(b.outline.sides().map(|s| (s, b.height_m)));
        }
        let with_bracket = |(side, top_m): (Segment, f64)| {
            let height_m = BRACKET_M.min(top_m - 0.3);
            let across = side.b - side.a;
            let out = Point2::new(across.y, -across.x) * across.norm().max(1e-9).recip();
            (height_m >= HEADROOM_M).then_some((side, Bracket { out, height_m }))
        };
        sides.into_iter().filter_map(with_bracket).collect()
    }

    /// A place on the ground.
    pub fn on_ground(&self, at: Point2) -> Spot {
        Spot { at, out_deg: None, height_m: 0.0, lay_per_m: self.lay_per_m(at) }
    }

    fn pricing(&self) -> Pricing<'_> {
        Pricing::of(self.job)
    }

    fn lay_per_m(&self, at: Point2) -> f64 {
        let allowed = &self.job.document().brief.laying;
        let laying = self.job.ground(at).laying.unwrap_or(Laying::Trench);
        let banned = !allowed.is_empty() && !allowed.contains(&laying);
        self.pricing().per_m(laying) * if banned { 5.0 } else { 1.0 }
    }
}

/// Brackets on one side of a wall or building.
pub(crate) struct Bracket {
    /// Away from the face.
    pub out: Point2,
    /// Height, metres.
    pub height_m: f64,
}

impl Bracket {
    /// One of them.
    pub fn at(&self, rules: &Rules<'_>, at: Point2) -> Spot {
        let lay_per_m = rules.pricing().per_m(Laying::Clipped);
        let out_deg = Some(bearing_between(Point2::default(), self.out));
        Spot { at, out_deg, height_m: self.height_m, lay_per_m }
    }
}

fn away(line: &[Point2], at: Point2, least_m: f64) -> bool {
    line.windows(2).all(|w| Segment::new(w[0], w[1]).distance_to(at) >= least_m)
}

/// Points along a piece, centred, half a step from its ends.
fn points_along(side: Segment, spacing_m: f64) -> impl Iterator<Item = Point2> {
    let n = ((side.length() / spacing_m).round() as usize).max(1);
    (0..n).map(move |i| side.a.lerp(side.b, (i as f64 + 0.5) / n as f64))
}

/// The point of an outline's inside that is nearest to a place.
pub(crate) fn nearest_in(outline: &loamline_geometry::Polygon, at: Point2) -> Point2 {
    if outline.contains(at) { at } else { outline.nearest_on_outline(at) }
}
/// Places within a box, so far apart in rows and columns, centred in it.
fn in_box((low, high): (Point2, Point2), spacing_m: f64) -> impl Iterator<Item = Point2> {
    let size = high - low;
    let steps = |length: f64| ((length / spacing_m).floor() as usize).max(1);
    let (columns, rows) = (steps(size.x), steps(size.y));
    let start =
        low.lerp(high, 0.5) - Point2::new(columns as f64 - 1.0, rows as f64 - 1.0) * (0.5 * spacing_m);
    (0..rows * columns)
        .map(move |i| start + Point2::new((i % columns) as f64, (i / columns) as f64) * spacing_m)
}
