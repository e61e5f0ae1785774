//! Cheapest ways on the graph (Dijkstra 1959) from one place to all others.

use super::shared::Shared;
use crate::ground::graph::{Link, Step};
use crate::ground::mesh::Barrier;
use crate::ground::{GroundMap, Stand, Straight};
use loamline_geometry::{Point2, Segment};
use loamline_limits::go_on;
use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};

/// No node: the way comes straight from the start.
const START: u32 = u32::MAX;

/// On what terms a search runs.
#[derive(Debug, Clone)]
pub(crate) struct Terms {
    /// Price of cable per metre, waste included.
    pub cable_per_m: f64,
    /// Which sleeves may be used.
    pub sleeves: Vec<bool>,
    /// Price per metre of passing what cannot be passed: only to find what stands in the way.
    pub breach_per_m: Option<f64>,
}

/// Cheapest prices from a start to every node.
pub(crate) struct Field {
    pub price: Vec<f64>,
    /// Nodes whose price is settled: the work that it took.
    pub settled: u64,
    prev: Vec<u32>,
    start: Stand,
}

/// How far a search goes.
#[derive(Clone, Copy)]
pub(crate) enum Until<'a> {
    /// Everywhere.
    Everywhere,
    /// Until nothing cheaper can come to any of these places. The prices then say nothing about nodes farther off; without a
    /// place nothing is searched.
    Reached(&'a [&'a Stand]),
}

/// The places a search is to reach: the steps to them, and the least price found so far for each.
struct Ends {
    /// For each node, the places that a last step leads to from there, with its price.
    steps: BTreeMap<u32, Vec<(usize, f64)>>,
    least: Vec<f64>,
    /// How many were not reached at all yet.
    left: usize,
    /// From this price on nothing cheaper can come to any.
    most: f64,
}

impl Ends {
    /// None to reach: a search goes on everywhere.
    fn everywhere() -> Self {
        Self { steps: BTreeMap::new(), least: Vec::new(), left: 0, most: f64::INFINITY }
    }

    /// Takes note that a node is settled.
    fn settled(&mut self, node: u32, price: f64) {
        let Some(steps) = self.steps.get(&node) else { return };
        let mut nearer = false;
        for &(end, step) in steps {
            let before = self.least[end];
            if price + step < before {
                self.left -= usize::from(before.is_infinite());
                self.least[end] = price + step;
                nearer = true;
            }
        }
        if nearer && self.left == 0 {
            self.most = self.least.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        }
    }
}

/// Prices of all nodes, the node before each, and how many are settled.
struct Grown {
    price: Vec<f64>,
    prev: Vec<u32>,
    settled: u64,
}

impl Terms {
    /// Price of a straight step between a place and a point of a boundary.
    fn straight(&self, s: &Straight) -> f64 {
        s.laying + s.length_m * self.cable_per_m
    }

    /// Price of a step; `None` where it is not allowed.
    pub fn price(&self, link: &Link, open: Option<u16>) -> Option<f64> {
        let base = link.laying + link.cable_m * self.cable_per_m;
        match link.step {
            Step::Barred(Barrier::Building(b)) | Step::Hole(b) if open == Some(b) => Some(base),
            Step::Barred(_) => self.breach_per_m.map(|p| base + p * link.cable_m),
            Step::Hole(_) => None,
            Step::Sleeve(s) => self.sleeves[s as usize].then_some(base),
            Step::Ground | Step::Face(_) | Step::Transition(_) | Step::Shared => Some(base),
        }
    }
}

impl GroundMap {
    /// Price of the straight way from a place to a point of one of its triangles.
    fn step_off(
        &self,
        from: &Stand,
        triangle: u32,
        s: Segment,
        terms: &Terms,
        open: Option<u16>,
    ) -> Option<f64> {
        let length = s.length();
        let t = &self.mesh.triangles[triangle as usize];
        let breach = if self.passable(triangle, from.inside.or(open)) { 0.0 } else { terms.breach_per_m? };
        Some(length * (t.price + terms.cable_per_m + breach) + self.charge(s))
    }

    /// Cheapest prices from `start` to every node. `open` is a building whose inside may be used besides the
    /// one the start is in.
    pub(crate) fn field(&self, start: &Stand, terms: &Terms) -> Field {
        self.field_with(start, terms, &Shared::default(), Until::Everywhere)
    }

    /// The same with ground that may be shared, as far as is asked.
    pub(crate) fn field_with(
        &self,
        start: &Stand,
        terms: &Terms,
        shared: &Shared,
        until: Until<'_>,
    ) -> Field {
        let ends = match until {
            Until::Everywhere => Ends::everywhere(),
            Until::Reached(places) => self.ends(places, terms, shared, start.inside),
        };
        let grown = self.grown((std::slice::from_ref(start), start.inside), terms, shared, ends);
        Field { price: grown.price, settled: grown.settled, prev: grown.prev, start: start.clone() }
    }

    /// The places a search from outdoors, or from inside the building `open`, is to reach.
    fn ends(&self, places: &[&Stand], terms: &Terms, shared: &Shared, open: Option<u16>) -> Ends {
        let mut steps: BTreeMap<u32, Vec<(usize, f64)>> = BTreeMap::new();
        for (end, place) in places.iter().enumerate() {
            for (node, step) in self.last_steps(place, terms, shared, open) {
                steps.entry(node).or_default().push((end, step));
            }
        }
        let most = if places.is_empty() { f64::NEG_INFINITY } else { f64::INFINITY };
        Ends { steps, least: vec![f64::INFINITY; places.len()], left: places.len(), most }
    }

    /// Cheapest prices to every node from whichever of some places outdoors is nearest in price.
    pub(crate) fn prices_from_any(&self, starts: &[Stand], terms: &Terms, shared: &Shared) -> Vec<f64> {
        self.grown((starts, None), terms, shared, Ends::everywhere()).price
    }

    /// Price from where some prices start to a place; `open` is the building they start in.
    pub(crate) fn price_at(
        &self,
        prices: &[f64],
        to: &Stand,
        terms: &Terms,
        shared: &Shared,
        open: Option<u16>,
    ) -> f64 {
        let steps = self.last_steps(to, terms, shared, open);
        steps.iter().map(|(&node, step)| prices[node as usize] + step).fold(f64::INFINITY, f64::min)
    }

    /// Prices and nodes before each node, grown from some places until nothing cheaper can come to any of the ends.
    fn grown(
        &self,
        (starts, open): (&[Stand], Option<u16>),
        terms: &Terms,
        shared: &Shared,
        mut ends: Ends,
    ) -> Grown {
        let graph_nodes = self.graph.nodes.len();
        let n = graph_nodes + shared.points.len();
        let (mut prices, mut prev) = (vec![f64::INFINITY; n], vec![START; n]);
        let mut queue: BinaryHeap<Reverse<(u64, u32)>> = BinaryHeap::new();
        // Positive floats order like their bits.
        let key = |price: f64, node: u32| Reverse((price.to_bits(), node));
        for start in starts {
            let mut offer = |price: f64, node: u32| {
                if price < prices[node as usize] {
                    prices[node as usize] = price;
                    queue.push(key(price, node));
                }
            };
            for &t in &start.triangles {
                for &node in self.graph.rims[t as usize].iter().chain(shared.in_triangle(t)) {
                    let s = Segment::new(start.at, self.node_at(node, shared));
                    if let Some(price) = self.step_off(start, t, s, terms, None) {
                        offer(price, node);
                    }
                }
            }
            for s in &start.straight {
                offer(terms.straight(s), s.node);
            }
        }
        let (mut taken, mut settled) = (0u32, 0u64);
        while let Some(Reverse((bits, node))) = queue.pop() {
            taken = taken.wrapping_add(1);
            if taken.is_multiple_of(64) {
                go_on();
            }
            let price = f64::from_bits(bits);
            if price > prices[node as usize] {
                continue;
            }
            if price >= ends.most {
                break;
            }
            settled += 1;
            ends.settled(node, price);
            let (links, more) = if (node as usize) < graph_nodes {
                (self.graph.links(node), shared.links_from_node(node))
            } else {
                (shared.links_from_point(node as usize - graph_nodes), [].as_slice())
            };
            for link in links.iter().chain(more) {
                let Some(step) = terms.price(link, open) else { continue };
                let to = link.to as usize;
                if price + step < prices[to] {
                    prices[to] = price + step;
                    prev[to] = node;
                    queue.push(key(price + step, link.to));
                }
            }
        }
        Grown { price: prices, prev, settled }
    }

    /// Prices of the steps from the rims of a place's triangles to the place.
    fn last_steps(
        &self,
        to: &Stand,
        terms: &Terms,
        shared: &Shared,
        open: Option<u16>,
    ) -> BTreeMap<u32, f64> {
        let mut steps = BTreeMap::new();
        for s in &to.straight {
            steps.insert(s.node, terms.straight(s));
        }
        for &t in &to.triangles {
            for &node in self.graph.rims[t as usize].iter().chain(shared.in_triangle(t)) {
                let s = Segment::new(self.node_at(node, shared), to.at);
                if let Some(price) = self.step_off(to, t, s, terms, open) {
                    let least = steps.entry(node).or_insert(price);
                    *least = price.min(*least);
                }
            }
        }
        steps
    }

    /// Where a node or a point of shared ground is.
    pub(crate) fn node_at(&self, node: u32, shared: &Shared) -> Point2 {
        match self.graph.nodes.get(node as usize) {
            Some(n) => n.at,
            None => shared.points[node as usize - self.graph.nodes.len()],
        }
    }

    /// Price from a field's start to a place, and the last node before it (`None`: straight).
    pub(crate) fn reach(&self, field: &Field, to: &Stand, terms: &Terms) -> Option<(f64, Option<u32>)> {
        self.reach_with(field, to, terms, &Shared::default())
    }

    /// The same with ground that may be shared.
    pub(crate) fn reach_with(
        &self,
        field: &Field,
        to: &Stand,
        terms: &Terms,
        shared: &Shared,
    ) -> Option<(f64, Option<u32>)> {
        let mut best: Option<(f64, Option<u32>)> = None;
        let mut offer = |price: f64, node: Option<u32>| {
            if price.is_finite() && best.is_none_or(|b| price < b.0) {
                best = Some((price, node));
            }
        };
        let direct = Segment::new(field.start.at, to.at);
        if let Some(laying) = self.laying(direct, field.start.inside.or(to.inside)) {
            offer(laying + direct.length() * terms.cable_per_m, None);
        }
        for s in &to.straight {
            offer(field.price[s.node as usize] + terms.straight(s), Some(s.node));
        }
        for &t in &to.triangles {
            if field.start.triangles.contains(&t) {
                let s = Segment::new(field.start.at, to.at);
                if let Some(price) = self.step_off(to, t, s, terms, field.start.inside) {
                    offer(price, None);
                }
            }
            for &node in self.graph.rims[t as usize].iter().chain(shared.in_triangle(t)) {
                let s = Segment::new(self.node_at(node, shared), to.at);
                if let Some(price) = self.step_off(to, t, s, terms, field.start.inside) {
                    offer(field.price[node as usize] + price, Some(node));
                }
            }
        }
        best
    }
}

impl Field {
    /// Nodes from the start to `last`, in order.
    pub(crate) fn nodes_to(&self, last: Option<u32>) -> Vec<u32> {
        let mut nodes = Vec::new();
        let mut at = last.unwrap_or(START);
        while at != START {
            nodes.push(at);
            at = self.prev[at as usize];
        }
        nodes.reverse();
        nodes
    }
}
