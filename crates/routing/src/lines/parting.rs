//! Where lines that start at one place might part: up to there they could lie in one cable.
//!
//! For two lines the best place is the one where the price of the common cable from their start, and of the cheapest ways on
//! from there to what each of them feeds first, is least: a Steiner point of three, or more where a line leaves its start
//! several times. It is looked for among the points of the graph where the ground takes a box and the places that are
//! offered; then, from the best of them and from the middle of the ends, downhill over the ground by straight ways. What the
//! lines look like behind it is not looked at: whoever asks lays them anew and compares.

use super::check::{LineProblemError, LinesError};
use crate::ground::{GroundMap, RunEnd, Stand};
use crate::path::search::{Terms, Until};
use crate::path::{CableToLay, Opened, Shared};
use loamline_geometry::{Point2, Segment};
use loamline_limits::{go_on, lent};
use rayon::prelude::*;

/// Lines that start at one place.
#[derive(Debug, Clone)]
pub struct Bundle {
    /// Where they start.
    pub start: Point2,
    /// Price of the common cable per metre, waste included.
    pub cable_per_m: f64,
    /// Its outside diameter, millimetres.
    pub outside_diameter_mm: f64,
    /// The lines.
    pub lines: Vec<BundledLine>,
    /// Places where a joint may be made whatever the ground.
    pub places: Vec<Point2>,
    /// What is open already.
    pub open: Opened,
}

/// A line of a bundle.
#[derive(Debug, Clone)]
pub struct BundledLine {
    /// Price of its own cable per metre, waste included.
    pub cable_per_m: f64,
    /// For each cable that leaves its start, the loudspeakers it feeds.
    pub branches: Vec<Vec<Point2>>,
}

/// Where two lines of a bundle might part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parting {
    /// The lines, by their place in the bundle.
    pub lines: [usize; 2],
    /// Where.
    pub at: Point2,
    /// What the common cable saves by this reckoning, ends and joints left out; may be negative.
    pub saved: f64,
}

/// Prices to every node, and from the start, of one line.
struct Reached {
    /// What its first runs cost from the start on.
    from_start: f64,
    /// What they cost from each node, and from each offered place.
    from_nodes: Vec<f64>,
    from_places: Vec<f64>,
}

/// The search downhill starts with steps of this length and ends with steps below the other, metres.
const FIRST_STEP_M: f64 = 4.0;
const LAST_STEP_M: f64 = 0.02;

/// Loudspeakers of a branch it looks at.
const NEAREST: usize = 2;

impl GroundMap {
    /// For every two lines of a bundle, the place where they would best part.
    ///
    /// # Errors
    /// Places no run can end at.
    pub fn partings(&self, bundle: &Bundle) -> Result<Vec<Parting>, LinesError> {
        let spots: Vec<Point2> = bundle.places.iter().copied().chain([bundle.start]).collect();
        let branches = bundle.lines.iter().flat_map(|l| &l.branches).flatten().copied();
        let ends: Vec<Point2> = branches.chain([bundle.start]).collect();
        let ground = self.near(&spots, &ends);
        let stand = |name: &str, at: Point2| {
            let end = RunEnd { name: name.to_owned(), at };
            ground.stand(&end).map_err(|e| LinesError(vec![LineProblemError::Route(e.into())]))
        };
        let start = stand("the start of the lines", bundle.start)?;
        let places: Vec<Stand> = bundle.places.iter().filter_map(|&at| stand("a joint", at).ok()).collect();
        let shared = Shared::of(&ground, &bundle.open, 0.0);
        let cable =
            CableToLay { price_per_m: bundle.cable_per_m, outside_diameter_mm: bundle.outside_diameter_mm };
        let sleeves = ground.roomy_sleeves(&cable);
        let terms = |cable_per_m: f64| Terms { cable_per_m, sleeves: sleeves.clone(), breach_per_m: None };
        let common = terms(bundle.cable_per_m);
        let trunk = ground.field_with(&start, &common, &shared, Until::Everywhere);
        let to_places: Vec<f64> =
            places.iter().map(|p| ground.price_at(&trunk.price, p, &common, &shared, start.inside)).collect();
        let leave = lent();
        let reached = |line: &BundledLine| {
            let own = terms(line.cable_per_m);
            let field = ground.field_with(&start, &own, &shared, Until::Everywhere);
            let mut reached = Reached {
                from_start: 0.0,
                from_nodes: vec![0.0; trunk.price.len()],
                from_places: vec![0.0; places.len()],
            };
            for branch in &line.branches {
                let ends: Vec<Stand> =
                    branch.iter().filter_map(|&at| stand("a loudspeaker", at).ok()).collect();
                let ways = ends.iter().filter_map(|e| ground.reach_with(&field, e, &own, &shared));
                reached.from_start += ways.map(|w| w.0).fold(f64::INFINITY, f64::min);
                let prices = ground.prices_from_any(&ends, &own, &shared);
                reached.from_nodes.iter_mut().zip(&prices).for_each(|(sum, price)| *sum += price);
                for (sum, place) in reached.from_places.iter_mut().zip(&places) {
                    *sum += ground.price_at(&prices, place, &own, &shared, None);
                }
            }
            reached
        };
        let lines: Vec<Reached> = bundle.lines.par_iter().map(|line| leave.lend(|| reached(line))).collect();
        let nodes: Vec<usize> =
            (0..ground.graph.nodes.len()).filter(|&n| ground.graph.nodes[n].box_allowed).collect();
        let mut found = Vec::new();
        for (i, a) in lines.iter().enumerate() {
            for (j, b) in lines.iter().enumerate().skip(i + 1) {
                go_on();
                let now = a.from_start + b.from_start;
                let on_nodes = nodes.iter().map(|&n| {
                    let price = trunk.price[n] + a.from_nodes[n] + b.from_nodes[n];
                    (price, ground.graph.nodes[n].at)
                });
                let at_places = places
                    .iter()
                    .enumerate()
                    .map(|(k, place)| (to_places[k] + a.from_places[k] + b.from_places[k], place.at));
                let of_graph = at_places.chain(on_nodes).min_by(|x, y| x.0.total_cmp(&y.0));
                let two = [&bundle.lines[i], &bundle.lines[j]];
                let middle = ground.middle(bundle, two);
                // Straight ways know nothing of open ground.
                let closed = bundle.open == Opened::default();
                let seeds = of_graph.map(|s| s.1).into_iter().chain([middle]).filter(|_| closed);
                let settled = seeds.map(|at| ground.settled(bundle, two, start.inside, at));
                let best = of_graph.into_iter().chain(settled).min_by(|x, y| x.0.total_cmp(&y.0));
                if let Some((price, at)) = best
                    && price.is_finite()
                    && now.is_finite()
                {
                    found.push(Parting { lines: [i, j], at, saved: now - price });
                }
            }
        }
        Ok(found)
    }

    /// Whether a branch box may be put at a place.
    fn takes_a_box(&self, at: Point2) -> bool {
        self.mesh.triangles_at(at).iter().any(|&t| {
            let triangle = &self.mesh.triangles[t as usize];
            let lay = self.lay_of(t);
            triangle.barrier.is_none() && triangle.service.is_none() && lay.joints && lay.accessible
        })
    }

    /// The middle between the start and what is nearest to it in each branch.
    fn middle(&self, bundle: &Bundle, lines: [&BundledLine; 2]) -> Point2 {
        let nearer = |a: &&Point2, b: &&Point2| a.distance(bundle.start).total_cmp(&b.distance(bundle.start));
        let branches = lines.iter().flat_map(|l| &l.branches);
        let ends: Vec<Point2> = branches.filter_map(|b| b.iter().min_by(nearer).copied()).collect();
        let sum = ends.iter().fold(bundle.start, |sum, p| sum + *p);
        sum * (1.0 / (ends.len() + 1) as f64)
    }

    /// Downhill from a place by straight ways: what the ways cost from the place where it ends, infinite where it starts
    /// with ways that cannot be laid straight or ends where no box may be put.
    fn settled(
        &self,
        bundle: &Bundle,
        lines: [&BundledLine; 2],
        inside: Option<u16>,
        from: Point2,
    ) -> (f64, Point2) {
        let straight = |a: Point2, b: Point2, cable_per_m: f64, open: Option<u16>| {
            let s = Segment::new(a, b);
            self.laying(s, open).map_or(f64::INFINITY, |laying| laying + s.length() * cable_per_m)
        };
        // What is near where the search starts is near where it ends.
        let near = |branch: &Vec<Point2>| {
            let mut ends = branch.clone();
            ends.sort_by(|a, b| a.distance(from).total_cmp(&b.distance(from)));
            ends.truncate(NEAREST);
            ends
        };
        let mut ends: Vec<(f64, Vec<Point2>)> = Vec::new();
        for line in lines {
            ends.extend(line.branches.iter().map(|b| (line.cable_per_m, near(b))));
        }
        let price = |at: Point2| {
            go_on();
            if !self.takes_a_box(at) {
                return f64::INFINITY;
            }
            let trunk = straight(bundle.start, at, bundle.cable_per_m, inside);
            let nearest = |(per_m, ends): &(f64, Vec<Point2>)| {
                ends.iter().map(|&end| straight(at, end, *per_m, None)).fold(f64::INFINITY, f64::min)
            };
            let on: f64 = ends.iter().map(nearest).sum();
            trunk + on
        };
        let (mut at, mut least, mut step) = (from, price(from), FIRST_STEP_M);
        while step > LAST_STEP_M && least.is_finite() {
            let around = [(1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)];
            let better = around
                .into_iter()
                .map(|(x, y)| at + Point2::new(x, y) * step)
                .map(|p| (price(p), p))
                .filter(|c| c.0 < least - 1e-9)
                .min_by(|a, b| a.0.total_cmp(&b.0));
            match better {
                Some((p, there)) => (least, at) = (p, there),
                None => step *= 0.5,
            }
        }
        (least, at)
    }
}
