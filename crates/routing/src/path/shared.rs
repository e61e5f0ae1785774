//! What other runs have opened already: a cable that follows their ground pays no laying, one that goes through their hole
//! in an outer wall pays no hole.
//!
//! Earlier ways become points half a metre apart (farther where they are long, see [`SHARED_POINTS`]), joined along the way at
//! the price of the cable alone and to the graph around them at the price of the ground. A hole is a point on either side of
//! the wall.

use super::corner::Corner;
use crate::ground::GroundMap;
use crate::ground::graph::{Link, Step};
use crate::ground::mesh::Barrier;
use loamline_geometry::{Point2, Segment, polyline_length};
use loamline_limits::{JOINED_POINTS, SHARED_POINTS, go_on};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What runs open and pay for: free for every other run that takes the same way.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Opened {
    /// Straight pieces of slits and trenches.
    #[serde(default)]
    pub ground: Vec<[Point2; 2]>,
    /// New holes through outer walls.
    #[serde(default)]
    pub holes: Vec<OpenHole>,
}

impl Opened {
    /// Takes in what other runs have opened.
    pub fn extend(&mut self, more: &Self) {
        self.ground.extend(&more.ground);
        self.holes.extend(more.holes.iter().cloned());
    }
}

/// A new hole through the outer wall of a building.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OpenHole {
    /// The building.
    pub building: String,
    /// Its two ends, in plan.
    pub ends: [Point2; 2],
}

/// Least spacing of points along ways that may be shared, metres: a run joins or leaves within half of this.
const SPACING_M: f64 = 0.5;

/// Where a triangle has more points than are joined each to each (a site of kilometres is two triangles, with all of its
/// trenches in them), a point is joined to so many nearest others, and to as many more spread over the rest.
const NEAREST: usize = 64;

/// Points that are nearer to each other are one, metres.
const SAME_M: f64 = 1e-6;

/// Side of the cells that points are kept in by where they are, metres: a point is held against those of its cell alone.
const CELL_M: f64 = 1.0;

fn cell_of(at: Point2) -> (i64, i64) {
    ((at.x / CELL_M).floor() as i64, (at.y / CELL_M).floor() as i64)
}

/// Ways that may be shared. Its points are numbered on from the graph's nodes.
#[derive(Debug, Default, Clone)]
pub(crate) struct Shared {
    pub points: Vec<Point2>,
    /// Links from each point.
    links: Vec<Vec<Link>>,
    /// Links from graph nodes to points.
    from_nodes: BTreeMap<u32, Vec<Link>>,
    /// Points of each triangle.
    by_triangle: BTreeMap<u32, Vec<u32>>,
    /// Points by the cell they lie in.
    by_cell: BTreeMap<(i64, i64), Vec<usize>>,
    /// What was opened by the ways added.
    pub opened: Opened,
    /// Spacing of points, metres.
    spacing_m: f64,
}

impl Shared {
    pub fn links_from_node(&self, node: u32) -> &[Link] {
        self.from_nodes.get(&node).map_or(&[], Vec::as_slice)
    }

    pub fn links_from_point(&self, point: usize) -> &[Link] {
        &self.links[point]
    }

    pub fn in_triangle(&self, triangle: u32) -> &[u32] {
        self.by_triangle.get(&triangle).map_or(&[], Vec::as_slice)
    }

    /// What is open before any run is laid, as far as it is near where ways are looked for; ways of about `expected_m` in all
    /// are to be added.
    pub fn of(ground: &GroundMap, opened: &Opened, expected_m: f64) -> Self {
        let near = |[a, b]: &&[Point2; 2]| ground.is_near(Segment::new(*a, *b));
        let open_m: f64 = opened.ground.iter().filter(near).map(|piece| polyline_length(piece)).sum();
        let spacing_m = ((open_m + expected_m.max(0.0)) / SHARED_POINTS.number as f64).max(SPACING_M);
        let mut shared = Self { spacing_m, ..Self::default() };
        for [a, b] in opened.ground.iter().filter(near) {
            shared.open(ground, Segment::new(*a, *b));
        }
        for hole in opened.holes.iter().filter(|hole| near(&&hole.ends)) {
            let building = ground.plan.buildings.iter().position(|b| b.id == hole.building);
            if let Some(building) = building {
                shared.pierce(ground, building as u16, Segment::new(hole.ends[0], hole.ends[1]));
            }
        }
        shared
    }

    /// Adds the stretches of a way that run through open ground, and the holes it makes; `inside` is the building it comes
    /// from.
    pub fn add(&mut self, ground: &GroundMap, way: &[Corner], inside: Option<u16>) {
        let digs = |c: &Corner| matches!(c.step, Step::Ground | Step::Barred(_));
        for w in way.windows(2).filter(|w| digs(&w[1])) {
            let leg = Segment::new(w[0].at, w[1].at);
            let mut hole: Option<(u16, f64, f64)> = None;
            // What is staked, clipped, in conduit or indoors has opened nothing.
            for p in ground.pieces(leg, inside).unwrap_or_default() {
                match (ground.hole_in(p.triangle), hole) {
                    (Some(b), Some((building, from, to))) if b == building && p.from - to < 1e-9 => {
                        hole = Some((building, from, p.to));
                    }
                    (Some(b), _) => {
                        self.pierced(ground, leg, hole);
                        hole = Some((b, p.from, p.to));
                    }
                    (None, _) => {}
                }
                let open = ground.mesh.triangles[p.triangle as usize].barrier.is_none();
                if open && ground.lay_of(p.triangle).method.opens_ground() {
                    let s = Segment::new(leg.a.lerp(leg.b, p.from), leg.a.lerp(leg.b, p.to));
                    self.opened.ground.push([s.a, s.b]);
                    self.open(ground, s);
                }
            }
            self.pierced(ground, leg, hole);
        }
    }

    /// Takes down a hole a leg makes.
    fn pierced(&mut self, ground: &GroundMap, leg: Segment, hole: Option<(u16, f64, f64)>) {
        let Some((building, from, to)) = hole else { return };
        let s = Segment::new(leg.a.lerp(leg.b, from), leg.a.lerp(leg.b, to));
        let name = ground.plan.buildings[building as usize].id.clone();
        self.opened.holes.push(OpenHole { building: name, ends: [s.a, s.b] });
        self.pierce(ground, building, s);
    }

    fn pierce(&mut self, ground: &GroundMap, building: u16, s: Segment) {
        let (a, b) = (self.point(ground, s.a), self.point(ground, s.b));
        if a != b {
            let indoors = ground.plan.buildings[building as usize].indoor_price_per_m;
            self.join(ground, a, b, Step::Hole(building), indoors);
        }
    }

    fn open(&mut self, ground: &GroundMap, s: Segment) {
        if ground.pieces(s, None).is_some() {
            let parts = (s.length() / self.spacing_m.max(SPACING_M)).ceil().max(1.0) as u32;
            let mut before = self.point(ground, s.a);
            for i in 1..=parts {
                let at = if i == parts { s.b } else { s.a.lerp(s.b, f64::from(i) / f64::from(parts)) };
                let here = self.point(ground, at);
                if here != before {
                    self.join(ground, before, here, Step::Shared, 0.0);
                }
                before = here;
            }
        }
    }

    fn place(&self, ground: &GroundMap, id: u32) -> Point2 {
        let n = ground.graph.nodes.len() as u32;
        if id < n { ground.graph.nodes[id as usize].at } else { self.points[(id - n) as usize] }
    }

    fn join(&mut self, ground: &GroundMap, a: u32, b: u32, step: Step, laying_per_m: f64) {
        let s = Segment::new(self.place(ground, a), self.place(ground, b));
        let cable_m = s.length();
        let charge = if matches!(step, Step::Shared | Step::Hole(_)) { 0.0 } else { ground.charge(s) };
        let n = ground.graph.nodes.len() as u32;
        for (from, to) in [(a, b), (b, a)] {
            let link = Link { to, step, laying: cable_m * laying_per_m + charge, cable_m };
            if from < n {
                self.from_nodes.entry(from).or_default().push(link);
            } else {
                self.links[(from - n) as usize].push(link);
            }
        }
    }

    /// Points of a triangle that a new one of it is joined to; `n` is the number of the first point.
    fn joined_to(&self, at: Point2, triangle: u32, n: u32) -> Vec<u32> {
        let all = self.in_triangle(triangle);
        if all.len() <= JOINED_POINTS.most() {
            return all.to_vec();
        }
        let away = |id: &u32| self.points[(*id - n) as usize].distance(at);
        let mut near: Vec<(f64, u32)> = all.iter().map(|id| (away(id), *id)).collect();
        near.select_nth_unstable_by(NEAREST, |a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let (nearest, rest) = near.split_at_mut(NEAREST);
        rest.sort_unstable_by_key(|other| other.1);
        let spread = rest.iter().step_by(rest.len().div_ceil(NEAREST).max(1));
        nearest.iter().chain(spread).map(|other| other.1).collect()
    }

    /// The point there is at a place.
    fn known(&self, at: Point2) -> Option<usize> {
        let same = Point2::new(SAME_M, SAME_M);
        let (low, high) = (cell_of(at - same), cell_of(at + same));
        let cells = (low.0..=high.0).flat_map(|x| (low.1..=high.1).map(move |y| (x, y)));
        let inside = cells.filter_map(|cell| self.by_cell.get(&cell)).flatten().copied();
        inside.filter(|&k| self.points[k].distance(at) < SAME_M).min()
    }

    /// The number of the point at a place, added if it is new.
    fn point(&mut self, ground: &GroundMap, at: Point2) -> u32 {
        go_on();
        let n = ground.graph.nodes.len() as u32;
        if let Some(known) = self.known(at) {
            return n + known as u32;
        }
        let id = n + self.points.len() as u32;
        self.by_cell.entry(cell_of(at)).or_default().push(self.points.len());
        self.points.push(at);
        self.links.push(Vec::new());
        for t in ground.mesh.triangles_at(at) {
            let triangle = &ground.mesh.triangles[t as usize];
            let step = match triangle.barrier {
                None => Step::Ground,
                // For what comes from inside.
                Some(barrier @ Barrier::Building(_)) => Step::Barred(barrier),
                Some(_) => continue,
            };
            let price = triangle.price;
            for &node in &ground.graph.rims[t as usize] {
                self.join(ground, id, node, step, price);
            }
            for other in self.joined_to(at, t, n) {
                self.join(ground, id, other, step, price);
            }
            self.by_triangle.entry(t).or_default().push(id);
        }
        id
    }
}
