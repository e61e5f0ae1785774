//! Ground that other runs have opened already: a cable that follows it pays no laying.
//!
//! Earlier ways become points half a metre apart, joined along the way at the price of the cable alone and to
//! the graph around them at the price of the ground.

use super::corner::Corner;
use crate::ground::GroundMap;
use crate::ground::graph::{Link, Step};
use loamline_geometry::{Point2, Segment};
use std::collections::BTreeMap;

/// Spacing of points along ways that may be shared, metres: a run joins or leaves within half of this.
const SPACING_M: f64 = 0.5;

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

    /// Ways through ground that is open before any run is laid.
    pub fn opened(ground: &GroundMap, ways: &[Vec<Point2>]) -> Self {
        let mut shared = Self::default();
        for w in ways.iter().flat_map(|way| way.windows(2)) {
            shared.open(ground, Segment::new(w[0], w[1]));
        }
        shared
    }

    /// Adds the stretches of a way that run through open ground.
    pub fn add(&mut self, ground: &GroundMap, way: &[Corner]) {
        for w in way.windows(2).filter(|w| w[1].step == Step::Ground) {
            let leg = Segment::new(w[0].at, w[1].at);
            // What is staked, clipped, in conduit or indoors has opened nothing.
            for p in ground.pieces(leg, None).unwrap_or_default() {
                if ground.lay_of(p.triangle).method.opens_ground() {
                    self.open(ground, Segment::new(leg.a.lerp(leg.b, p.from), leg.a.lerp(leg.b, p.to)));
                }
            }
        }
    }

    fn open(&mut self, ground: &GroundMap, s: Segment) {
        if ground.pieces(s, None).is_some() {
            let parts = (s.length() / SPACING_M).ceil().max(1.0) as u32;
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
        let charge = if step == Step::Shared { 0.0 } else { ground.charge(s) };
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

    /// The number of the point at a place, added if it is new.
    fn point(&mut self, ground: &GroundMap, at: Point2) -> u32 {
        let n = ground.graph.nodes.len() as u32;
        if let Some(known) = self.points.iter().position(|p| p.distance(at) < 1e-6) {
            return n + known as u32;
        }
        let id = n + self.points.len() as u32;
        self.points.push(at);
        self.links.push(Vec::new());
        for t in ground.mesh.triangles_at(at) {
            if !ground.passable(t, None) {
                continue;
            }
            let price = ground.mesh.triangles[t as usize].price;
            for &node in &ground.graph.rims[t as usize] {
                self.join(ground, id, node, Step::Ground, price);
            }
            for other in self.by_triangle.get(&t).cloned().unwrap_or_default() {
                self.join(ground, id, other, Step::Ground, price);
            }
            self.by_triangle.entry(t).or_default().push(id);
        }
        id
    }
}
