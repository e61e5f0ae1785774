//! Prices of the runs there could be, from searches of the ground.

use super::net::{Net, dearest};
use super::problem::{LineProblem, LossLimit, Mode, index};
use super::sited::Sited;
use super::wanted::Wanted;
use crate::ground::{GroundMap, Stand};
use crate::path::search::{Field, Terms, Until};
use crate::path::{CableToLay, Shared};
use loamline_limits::{go_on, lent};
use rayon::prelude::*;
use std::sync::Arc;

/// With up to so many vertices a search ends once it has reached all of them; with more of them, hardly a node would be left
/// out, and telling when would take as long.
const ENDED_EARLY: usize = 24;

impl GroundMap {
    /// On what terms cable of a problem is laid.
    pub(super) fn terms(&self, problem: &LineProblem) -> Terms {
        let cable = CableToLay {
            price_per_m: problem.cable.price_per_m,
            outside_diameter_mm: problem.cable.outside_diameter_mm,
        };
        Terms {
            cable_per_m: problem.cable.price_per_m * (1.0 + problem.lengths.waste_fraction),
            sleeves: self.roomy_sleeves(&cable),
            breach_per_m: None,
        }
    }

    /// The vertices of a problem with the prices from each, beside ground that is open.
    pub(super) fn sited(
        &self,
        problem: &LineProblem,
        stands: &[Stand],
        wanted: &Wanted,
        terms: &Terms,
        shared: Shared,
    ) -> Sited {
        let ends = |v: usize| match wanted {
            // Where boxes are put is looked for on all nodes.
            Wanted::All if problem.mode == Mode::Tree || stands.len() > ENDED_EARLY => None,
            _ => Some(wanted.reached_from(v, stands)),
        };
        let fields = self.fields(stands, ends, terms, &shared);
        let rises = problem.feeds.iter().map(|f| f.rise_m.abs());
        let rises = rises.chain(problem.terminals.iter().map(|t| t.rise_m.abs())).collect();
        Sited { stands: stands.to_vec(), fields, rises, shared }
    }

    /// The prices from every place, as far as its ends; from one place they are searched once.
    fn fields(
        &self,
        stands: &[Stand],
        ends: impl Fn(usize) -> Option<Vec<usize>>,
        terms: &Terms,
        shared: &Shared,
    ) -> Vec<Arc<Field>> {
        let same = |a: usize, b: usize| stands[a].at == stands[b].at && stands[a].inside == stands[b].inside;
        let first: Vec<usize> =
            (0..stands.len()).map(|v| (0..v).find(|&u| same(u, v)).unwrap_or(v)).collect();
        // For each first of a place, all ends of those that stand there.
        let mut asked: Vec<Option<Vec<usize>>> = vec![Some(Vec::new()); stands.len()];
        for (v, &first) in first.iter().enumerate() {
            asked[first] = asked[first].take().zip(ends(v)).map(|(mut all, more)| {
                all.extend(more);
                all.sort_unstable();
                all.dedup();
                all
            });
        }
        let leave = lent();
        let search = |(v, ends): (usize, &Option<Vec<usize>>)| {
            if first[v] != v {
                return None;
            }
            let places: Vec<&Stand> = ends.iter().flatten().map(|&end| &stands[end]).collect();
            let until = if ends.is_some() { Until::Reached(&places) } else { Until::Everywhere };
            Some(Arc::new(leave.lend(|| self.field_with(&stands[v], terms, shared, until))))
        };
        let searched: Vec<Option<Arc<Field>>> = asked.par_iter().enumerate().map(search).collect();
        first.iter().filter_map(|&v| searched[v].clone()).collect()
    }

    /// A problem as pure numbers, with the prices of the runs that are wanted.
    pub(super) fn net<'a>(
        &self,
        problem: &LineProblem,
        limit: Option<LossLimit<'a>>,
        (sited, wanted): (&Sited, &Wanted),
        terms: &Terms,
    ) -> Net<'a> {
        let (m, n) = (problem.feeds.len(), problem.terminals.len());
        let index = index(problem);
        let allowed = problem
            .terminals
            .iter()
            .flat_map(|t| problem.feeds.iter().map(|f| t.line.as_ref().is_none_or(|l| *l == f.id)))
            .collect();
        let forced = problem
            .fixed
            .iter()
            .map(|r| (index[&r.from], index[&r.to]))
            .map(|(a, b)| (a.min(b), a.max(b)))
            .collect();
        let mut net = Net {
            feeds: m,
            terminals: n,
            boxes: 0,
            price: Vec::new(),
            metres: Vec::new(),
            watts: problem.terminals.iter().map(|t| t.watts).collect(),
            allowed,
            max_w: problem.feeds.iter().map(|f| f.max_w).collect(),
            opening: problem.feeds.iter().map(|f| f.opening_price).collect(),
            feed_ohm: problem
                .feeds
                .iter()
                .map(|f| f.stub_out.as_ref().map_or(0.0, |s| s.loop_ohm) + f.before_ohm)
                .collect(),
            box_price: problem.box_price,
            forced,
            loss: limit.map(|l| (l.model, l.limit_db)),
            scale: 1.0,
        };
        self.price_net(problem, &mut net, (sited, wanted), terms);
        net
    }

    /// Fills in the prices and lengths that are wanted; the others are infinite.
    pub(super) fn price_net(
        &self,
        problem: &LineProblem,
        net: &mut Net,
        (sited, wanted): (&Sited, &Wanted),
        terms: &Terms,
    ) {
        let size = net.size();
        net.price = vec![f64::INFINITY; size * size];
        net.metres = vec![f64::INFINITY; size * size];
        let waste = 1.0 + problem.lengths.waste_fraction;
        for a in 0..size {
            for b in wanted.reached_from(a, &sited.stands) {
                go_on();
                let Some((way, last)) =
                    self.reach_with(&sited.fields[a], &sited.stands[b], terms, &sited.shared)
                else {
                    continue;
                };
                let ends = sited.rises[a] + sited.rises[b] + 2.0 * problem.lengths.service_loop_m;
                let price = way + ends * terms.cable_per_m + problem.joint_price;
                let plan_m = self.way_m(sited, a, b, last);
                let metres = (plan_m + ends) * waste;
                // The two directions differ where one end is indoors; the cheaper serves both.
                for at in [a * size + b, b * size + a] {
                    if price < net.price[at] {
                        (net.price[at], net.metres[at]) = (price, metres);
                    }
                }
            }
        }
        net.scale = dearest(&net.price);
    }

    /// Metres of cable along a way found, before it is straightened.
    fn way_m(&self, sited: &Sited, a: usize, b: usize, last: Option<u32>) -> f64 {
        let nodes = sited.fields[a].nodes_to(last);
        let mut points = vec![sited.stands[a].at];
        points.extend(nodes.iter().map(|&n| self.node_at(n, &sited.shared)));
        points.push(sited.stands[b].at);
        loamline_geometry::polyline_length(&points)
    }
}
