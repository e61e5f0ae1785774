//! Where branch boxes might go, and the trees with them.

use super::boxes;
use super::net::{Net, Tree};
use super::problem::LineProblem;
use super::sited::Sited;
use super::wanted::Wanted;
use crate::ground::GroundMap;
use crate::path::search::{Terms, Until};
use loamline_limits::go_on;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Box places considered per loudspeaker of a line. More finds slightly better places and costs a search of
/// the ground each.
const BOXES_PER_TERMINAL: usize = 2;

impl GroundMap {
    /// Looks for places where a branch box pays, line by line, and puts them into the trees.
    pub(super) fn add_boxes(
        &self,
        problem: &LineProblem,
        net: &mut Net,
        sited: &mut Sited,
        trees: &mut [Tree],
        terms: &Terms,
    ) {
        // Places are looked for on the prices there are: boxes count only once they have prices too.
        let places: Vec<Vec<u32>> =
            trees.iter().map(|tree| self.box_places(problem, net, sited, tree, terms)).collect();
        let mut free: Vec<Vec<usize>> = vec![Vec::new(); trees.len()];
        for (line, nodes) in places.into_iter().enumerate() {
            for node in nodes {
                let at = self.graph.nodes[node as usize].at;
                let stand = self.stand_on(at, self.mesh.triangles_at(at), None);
                free[line].push(sited.stands.len());
                let field = self.field_with(&stand, terms, &sited.shared, Until::Everywhere);
                sited.fields.push(Arc::new(field));
                sited.stands.push(stand);
                sited.rises.push(0.0);
                net.boxes += 1;
            }
        }
        if net.boxes == 0 {
            return;
        }
        self.price_net(problem, net, (&*sited, &Wanted::All), terms);
        for (line, tree) in trees.iter_mut().enumerate() {
            let members: Vec<usize> = tree.iter().map(|r| r.1).collect();
            let old = net.tree_price(line, tree) + net.loss_penalty(line, tree);
            if let Some(better) = boxes::with_boxes(net, line, &members, &free[line])
                && net.tree_price(line, &better) + net.loss_penalty(line, &better) < old - 1e-9
            {
                *tree = better;
            }
        }
    }

    /// The nodes where three vertices that hang together in a tree would best be joined in a box instead.
    fn box_places(
        &self,
        problem: &LineProblem,
        net: &Net,
        sited: &Sited,
        tree: &Tree,
        terms: &Terms,
    ) -> Vec<u32> {
        let mut beside: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for &(a, b) in tree {
            beside.entry(a).or_default().push(b);
            beside.entry(b).or_default().push(a);
        }
        let loops = 2.0 * problem.lengths.service_loop_m * terms.cable_per_m + problem.joint_price;
        let mut found: Vec<(f64, u32)> = Vec::new();
        for (&u, others) in &beside {
            for (i, &a) in others.iter().enumerate() {
                for &b in &others[i + 1..] {
                    go_on();
                    let now = net.price[u * net.size() + a] + net.price[u * net.size() + b];
                    let ends: f64 = [u, a, b].iter().map(|&v| sited.rises[v] * terms.cable_per_m).sum();
                    let fixed = 3.0 * loops + ends + problem.box_price;
                    let best = (0..self.graph.nodes.len())
                        .filter(|&n| self.graph.nodes[n].box_allowed)
                        .map(|n| (fixed + [u, a, b].map(|v| sited.fields[v].price[n]).iter().sum::<f64>(), n))
                        .min_by(|x, y| x.0.total_cmp(&y.0));
                    if let Some((price, n)) = best
                        && price < now
                    {
                        found.push((price - now, n as u32));
                    }
                }
            }
        }
        found.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let mut seen = BTreeSet::new();
        let most = BOXES_PER_TERMINAL * tree.len();
        found.into_iter().map(|f| f.1).filter(|n| seen.insert(*n)).take(most).collect()
    }
}
