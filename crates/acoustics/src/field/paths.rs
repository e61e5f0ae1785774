//! The ways sound takes from a loudspeaker to a point: straight, by way of the ground, by way of one face (two when
//! asked), each also with the ground, bent round what stands in the way.
//!
//! Images are those of geometrical acoustics in vertical faces: the reflection point must lie on the face in plan and
//! in height, and every leg must be clear. The straight and the ground path are bent round obstacles instead of
//! dropped. The ground path lies over the plane through the ground under source and receiver; the surface under its
//! specular point decides its reflection.

use super::detour::{Detours, Scratch, SightLine, blocked, detours, find_crossings};
use super::taut_string::{apart, length};
use crate::ground::LOWEST_HEIGHT_M;
use crate::scene::{Face, Image, Mounting, Obstacle, Placed, World};
use loamline_geometry::{Point2, Point3, Segment, project_on_segment};

/// Nearer than this to a loudspeaker's acoustic centre, levels are those at this distance, metres: closer in, a
/// loudspeaker is not a point.
pub const NEAREST_M: f64 = 0.1;

/// No face.
pub(crate) const NO_FACE: u32 = u32::MAX;

/// Where a path meets the ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Bounce {
    pub(crate) surface: u32,
    /// Cosine of the angle from the normal.
    pub(crate) cos: f64,
}

/// One way from a loudspeaker to a point.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Path {
    /// Length of the unbent way, metres: spreading, air absorption and phase.
    pub(crate) length_m: f64,
    /// Direction it leaves in, as the loudspeaker sees it, any length.
    pub(crate) departure: Point3,
    pub(crate) bounce: Option<Bounce>,
    /// Faces met in order; [`NO_FACE`] for none.
    pub(crate) faces: [u32; 2],
    pub(crate) detours: Option<Detours>,
}

/// A point ready for the path finder.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Receiver {
    pub(crate) at: Point3,
    pub(crate) height_m: f64,
    pub(crate) indoors: bool,
}

impl Receiver {
    pub(crate) fn new(world: &World, point: Point3) -> Self {
        let ground_m = world.map.elevation_m(point.plan());
        let height_m = (point.z - ground_m).max(LOWEST_HEIGHT_M);
        let at = point.plan().at_height(ground_m + height_m);
        Self { at, height_m, indoors: world.building_at(at).is_some() }
    }
}

/// What may matter between one loudspeaker and a patch of points.
#[derive(Debug, Default)]
pub(crate) struct Nearby {
    /// Obstacles that may stand in or beside the straight way.
    screens: Vec<u32>,
    /// Obstacles that may stand in a reflected way, image after image.
    legs: Vec<u32>,
    /// Images that may be seen, by number, with the end of their part of `legs`.
    images: Vec<(u32, usize)>,
}

/// A patch of points: its box in plan, their elevations and their greatest height above the ground.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Patch {
    pub(crate) low: Point2,
    pub(crate) high: Point2,
    elevations_m: (f64, f64),
    tallest_m: f64,
}

impl Patch {
    pub(crate) fn around(receivers: &[Receiver]) -> Self {
        let mut patch = Self {
            low: Point2::new(f64::INFINITY, f64::INFINITY),
            high: Point2::new(f64::NEG_INFINITY, f64::NEG_INFINITY),
            elevations_m: (f64::INFINITY, f64::NEG_INFINITY),
            tallest_m: 0.0,
        };
        for r in receivers {
            patch = patch.with(r.at.plan());
            let (low, high) = patch.elevations_m;
            patch.elevations_m = (low.min(r.at.z), high.max(r.at.z));
            patch.tallest_m = patch.tallest_m.max(r.height_m);
        }
        patch
    }

    /// The box of some points, if there are any.
    pub(crate) fn around_all(receivers: &[Receiver]) -> Option<Self> {
        (!receivers.is_empty()).then(|| Self::around(receivers))
    }

    fn corners(&self) -> [Point2; 4] {
        let Self { low, high, .. } = *self;
        [low, Point2::new(high.x, low.y), high, Point2::new(low.x, high.y)]
    }

    fn with(self, p: Point2) -> Self {
        Self {
            low: Point2::new(self.low.x.min(p.x), self.low.y.min(p.y)),
            high: Point2::new(self.high.x.max(p.x), self.high.y.max(p.y)),
            ..self
        }
    }

    /// How much a line from a source to a point of the patch rises at most, through the air or unfolded.
    fn rise_m(&self, source: &Placed) -> f64 {
        let (low, high) = self.elevations_m;
        (high - source.at.z).max(source.at.z - low).max(source.height_m + self.tallest_m)
    }

    fn meets(&self, o: &Obstacle, margin_m: f64) -> bool {
        o.low.x <= self.high.x + margin_m
            && o.high.x >= self.low.x - margin_m
            && o.low.y <= self.high.y + margin_m
            && o.high.y >= self.low.y - margin_m
    }
}

impl Nearby {
    /// Whether only the straight way and the ground count.
    pub(crate) fn nothing_matters(&self) -> bool {
        self.screens.is_empty() && self.images.is_empty()
    }

    /// Finds what may matter for any point of the patch; leaves out only what certainly does not.
    pub(crate) fn gather(&mut self, world: &World, source: &Placed, patch: &Patch) {
        self.gather_screens(world, source, patch);
        self.gather_images(world, source, patch);
    }

    /// What may stand in or beside the straight way alone: enough for when sound arrives.
    pub(crate) fn gather_screens(&mut self, world: &World, source: &Placed, patch: &Patch) {
        let s = source.at.plan();
        let span = patch.with(s);
        let farthest_m = apart(span.low, span.high) + 100.0;
        let margin_m = super::detour::reach_m(farthest_m);
        let centre = patch.low.lerp(patch.high, 0.5);
        let radius_m = 0.5 * apart(patch.low, patch.high) + 1e-6;
        let longest_m = length(apart(s, centre) + radius_m, patch.rise_m(source));
        let reach_m = super::detour::reach_m(longest_m) + radius_m;
        let corners = patch.corners();
        self.screens.clear();
        let reach = Point2::new(margin_m, margin_m);
        for i in world.boxes.within(span.low - reach, span.high + reach) {
            let o = &world.obstacles[i];
            if span.meets(o, margin_m) && (may_cross(o, &corners, &[s]) || may_reach(o, s, centre, reach_m)) {
                self.screens.push(i as u32);
            }
        }
    }

    fn gather_images(&mut self, world: &World, source: &Placed, patch: &Patch) {
        let s = source.at.plan();
        let centre = patch.low.lerp(patch.high, 0.5);
        let radius_m = 0.5 * apart(patch.low, patch.high) + 1e-6;
        let corners = patch.corners();
        self.images.clear();
        self.legs.clear();
        for (i, image) in source.images.iter().enumerate() {
            let last = &world.faces[image.second.unwrap_or(image.first) as usize];
            if !may_see(image.at, last, centre, radius_m) {
                continue;
            }
            let first = &world.faces[image.first as usize];
            let ends = [s, last.a, last.b, first.a, first.b];
            let legs = ends.iter().fold(*patch, |legs, p| legs.with(*p));
            for k in world.boxes.within(legs.low, legs.high) {
                let o = &world.obstacles[k];
                // Legs by way of one face stay ahead of it.
                let behind = || image.second.is_none() && o.corners.iter().all(|c| last.ahead_m(*c) < 1e-6);
                if legs.meets(o, 0.0) && may_cross(o, &corners, &ends) && !behind() {
                    self.legs.push(k as u32);
                }
            }
            self.images.push((i as u32, self.legs.len()));
        }
    }
}

/// Whether a line between some of the places may pass through a piece of an obstacle: not when all lie on one side of
/// every piece.
fn may_cross(o: &Obstacle, patch: &[Point2; 4], others: &[Point2]) -> bool {
    (0..o.pieces()).any(|i| {
        let (a, b) = o.piece(i);
        let along = b - a;
        let clear = |sign: f64| patch.iter().chain(others).all(|p| sign * along.cross(*p - a) >= 0.0);
        !(clear(1.0) || clear(-1.0))
    })
}

/// Whether a corner of an obstacle may be felt beside a line from a source to a place near `centre`.
fn may_reach(o: &Obstacle, s: Point2, centre: Point2, reach_m: f64) -> bool {
    let line = Segment::new(s, centre);
    o.corners.iter().any(|c| apart(project_on_segment(*c, line).0, *c) <= reach_m)
}

/// Whether some point of a disc may see an image through its face.
fn may_see(image: Point2, face: &Face, centre: Point2, radius_m: f64) -> bool {
    if face.ahead_m(centre) < -radius_m {
        return false;
    }
    // Turn so that `a` is on the right of the opening as seen from the image.
    let (right, left) = {
        let (a, b) = (face.a - image, face.b - image);
        if a.cross(b) >= 0.0 { (a, b) } else { (b, a) }
    };
    let c = centre - image;
    right.cross(c) >= -radius_m * right.norm() && c.cross(left) >= -radius_m * left.norm()
}

/// Finds all paths from a source to a receiver. `out` is cleared first.
pub(crate) fn find(
    world: &World,
    source: &Placed,
    nearby: &Nearby,
    receiver: &Receiver,
    scratch: &mut Scratch,
    out: &mut Vec<Path>,
) {
    out.clear();
    let (s, p) = (source.at, receiver.at);
    let (hs, hr) = (source.height_m, receiver.height_m);
    let offset = p - s;
    let direct = Ways::new(source, receiver, s.plan());
    let departure = source.source.aim.to_local(offset);
    let ground = (s.z - hs, p.z - hr);
    let line = SightLine { a: s.plan(), b: p.plan(), za: s.z, zb: p.z, ground, unfolded: false };
    let unfolded = SightLine { za: -hs, zb: hr, unfolded: true, ..line };
    find_crossings(world, &nearby.screens, &[line, unfolded], scratch);
    out.push(Path {
        length_m: direct.air_m,
        departure,
        bounce: None,
        faces: [NO_FACE; 2],
        detours: detours(world, &line, scratch),
    });
    let specular = s.plan().lerp(p.plan(), direct.bounce_at);
    let down = if source.source.mounting == Mounting::InGround {
        departure
    } else {
        source.source.aim.to_local(offset.plan().at_height(-(hs + hr)))
    };
    out.push(Path {
        length_m: direct.ground_m,
        departure: down,
        bounce: Some(Bounce { surface: world.map.surface_at(specular) as u32, cos: direct.cos }),
        faces: [NO_FACE; 2],
        detours: detours(world, &unfolded, scratch),
    });
    let mut start = 0;
    for &(i, end) in &nearby.images {
        by_face(
            world,
            source,
            &source.images[i as usize],
            &nearby.legs[start..end],
            receiver,
            departure,
            out,
        );
        start = end;
    }
}

/// Length of the quickest way from a source to a receiver, metres: straight, or round what is in the way.
pub(crate) fn first_m(
    world: &World,
    source: &Placed,
    nearby: &Nearby,
    receiver: &Receiver,
    scratch: &mut Scratch,
) -> f64 {
    let (s, p) = (source.at, receiver.at);
    let ground = (s.z - source.height_m, p.z - receiver.height_m);
    let line = SightLine { a: s.plan(), b: p.plan(), za: s.z, zb: p.z, ground, unfolded: false };
    find_crossings(world, &nearby.screens, &[line], scratch);
    let extra_m = detours(world, &line, scratch).map_or(0.0, |d| d.extra_m());
    s.distance(p).max(NEAREST_M) + extra_m
}

/// Lengths from a (mirrored) source in plan to a receiver, through the air and by way of the ground.
struct Ways {
    air_m: f64,
    ground_m: f64,
    cos: f64,
    /// Fraction of the way at which the ground is met.
    bounce_at: f64,
}

impl Ways {
    fn new(source: &Placed, receiver: &Receiver, from: Point2) -> Self {
        let plan_m = apart(from, receiver.at.plan());
        let rise = receiver.at.z - source.at.z;
        let (hs, hr) = (source.height_m, receiver.height_m);
        let true_m = length(plan_m, rise);
        let air_m = true_m.max(NEAREST_M);
        // R2^2 - R1^2 over R2 + R1: no figures lost. Over a slope the two heights and the rise need not fit together;
        // the ground path is never the shorter.
        let over_ground_m = length(plan_m, hs + hr);
        let longer_m = (((hs + hr).powi(2) - rise * rise) / (over_ground_m + true_m).max(1e-9)).max(0.0);
        let ground_m = air_m + longer_m;
        Self { air_m, ground_m, cos: ((hs + hr) / ground_m).min(1.0), bounce_at: hs / (hs + hr) }
    }
}

fn by_face(
    world: &World,
    source: &Placed,
    image: &Image,
    legs: &[u32],
    receiver: &Receiver,
    direct: Point3,
    out: &mut Vec<Path>,
) {
    let p = receiver.at.plan();
    let last = &world.faces[image.second.unwrap_or(image.first) as usize];
    let Some((t_last, x_last)) = meet(image.at, last, p) else { return };
    let mut first = None;
    if image.second.is_some() {
        let face = &world.faces[image.first as usize];
        let Some((u, x)) = meet(image.between, face, x_last) else { return };
        first = Some((u * t_last, x, face));
    }
    let ways = Ways::new(source, receiver, image.at);
    let (s, hs, hr) = (source.at, source.height_m, receiver.height_m);
    let clear = |za: f64, zb: f64, unfolded: bool| {
        let z = |t: f64| za + (zb - za) * t;
        let under = |t: f64| s.z - hs + (receiver.at.z - hr - s.z + hs) * t;
        let on = |f: &Face, t: f64| {
            if unfolded { z(t).abs() <= f.top_m - f.base_m } else { z(t) >= f.base_m && z(t) <= f.top_m }
        };
        let leg = |a: Point2, ta: f64, b: Point2, tb: f64, skip: &[(u32, u32)]| {
            let ground = (under(ta), under(tb));
            !blocked(world, legs, &SightLine { a, b, za: z(ta), zb: z(tb), ground, unfolded }, skip)
        };
        let skip_last = (last.obstacle, last.piece);
        on(last, t_last)
            && match first {
                None => leg(s.plan(), 0.0, x_last, t_last, &[skip_last]),
                Some((t, x, f)) => {
                    let skip_first = (f.obstacle, f.piece);
                    on(f, t)
                        && leg(s.plan(), 0.0, x, t, &[skip_first])
                        && leg(x, t, x_last, t_last, &[skip_first, skip_last])
                }
            }
            && leg(x_last, t_last, p, 1.0, &[skip_last])
    };
    // Fold a plan offset back through the faces: the direction sound really leaves in.
    let fold = |v: Point2| {
        let v = v - last.normal * (2.0 * v.dot(last.normal));
        first.map_or(v, |(_, _, f)| v - f.normal * (2.0 * v.dot(f.normal)))
    };
    let leaving = fold(p - image.at);
    let departure = |z: f64| {
        if image.flush { direct } else { source.source.aim.to_local(leaving.at_height(z)) }
    };
    let faces = if image.second.is_some() {
        [image.first, image.second.unwrap_or(NO_FACE)]
    } else {
        [image.first, NO_FACE]
    };
    if clear(s.z, receiver.at.z, false) {
        let departure = departure(receiver.at.z - s.z);
        out.push(Path { length_m: ways.air_m, departure, bounce: None, faces, detours: None });
    }
    if clear(-hs, hr, true) {
        let mirror = |q: Point2, f: &Face| q - f.normal * (2.0 * f.ahead_m(q));
        let mut specular = image.at.lerp(p, ways.bounce_at);
        if ways.bounce_at < t_last {
            specular = mirror(specular, last);
            if let Some((t, _, f)) = first
                && ways.bounce_at < t
            {
                specular = mirror(specular, f);
            }
        }
        let bounce = Bounce { surface: world.map.surface_at(specular) as u32, cos: ways.cos };
        let departure = departure(-(hs + hr));
        out.push(Path { length_m: ways.ground_m, departure, bounce: Some(bounce), faces, detours: None });
    }
}

/// Where the line from an image to a place ahead of the face passes through it: fraction and place.
fn meet(image: Point2, face: &Face, p: Point2) -> Option<(f64, Point2)> {
    let (behind, ahead) = (-face.ahead_m(image), face.ahead_m(p));
    if behind <= 0.0 || ahead <= 0.0 {
        return None;
    }
    let t = behind / (behind + ahead);
    let x = image.lerp(p, t);
    let along = face.b - face.a;
    let u = (x - face.a).dot(along);
    (u >= 0.0 && u <= along.dot(along)).then_some((t, x))
}
