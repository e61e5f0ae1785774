//! Branch boxes: extra joints off the loudspeakers that make a line's tree cheaper (Steiner points).
//!
//! Over the prices between all vertices a tree with a given set of boxes is a spanning tree; which boxes to use
//! is a local search: add, take out or exchange one while that helps, then shake and repeat, best kept
//! (iterated 1-Steiner, Kahng and Robins 1992, with removal and exchange). Deterministic. No bound is proven;
//! against exact dynamic programming (Dreyfus and Wagner 1971) up to 10 terminals it is optimal nearly always.

use super::net::{Net, Tree};
use loamline_chance::Draws;
use loamline_limits::go_on;

/// Shakes without a better tree before the search ends.
const PATIENCE: usize = 30;

/// Improves one line by boxes; the vertices of boxes in `free` may be used.
pub(crate) fn with_boxes(net: &Net, feed: usize, members: &[usize], free: &[usize]) -> Option<Tree> {
    let search = Search { net, feed, members };
    let mut now: Vec<usize> = Vec::new();
    let (mut tree, mut price) = search.tree(&now)?;
    (now, tree, price) = search.descend(now, tree, price, free);
    let mut best = (now.clone(), tree, price);
    let mut dice = Draws::new(41);
    let mut idle = 0;
    while idle < PATIENCE && !free.is_empty() {
        let mut shaken = best.0.clone();
        for _ in 0..=dice.below(3) {
            if !shaken.is_empty() && dice.unit() < 0.5 {
                shaken.swap_remove(dice.below(shaken.len()));
            } else {
                let v = free[dice.below(free.len())];
                if !shaken.contains(&v) {
                    shaken.push(v);
                }
            }
        }
        idle += 1;
        let Some((tree, price)) = search.tree(&shaken) else { continue };
        // Boxes the tree does not branch at were pruned; start from what is left.
        let kept = shaken.into_iter().filter(|v| tree.iter().any(|r| r.1 == *v)).collect();
        let (now, tree, price) = search.descend(kept, tree, price, free);
        if price < best.2 - 1e-9 {
            best = (now, tree, price);
            idle = 0;
        }
    }
    Some(best.1)
}

struct Search<'a> {
    net: &'a Net<'a>,
    feed: usize,
    members: &'a [usize],
}

impl Search<'_> {
    /// The line's tree with some boxes, those that are mere ends taken off, and its price with penalty.
    fn tree(&self, boxes: &[usize]) -> Option<(Tree, f64)> {
        go_on();
        let mut members = self.members.to_vec();
        members.extend(boxes);
        let first_box = self.net.feeds + self.net.terminals;
        let mut tree = self.net.spanning(self.feed, &members)?;
        while let Some(end) = tree.iter().position(|r| r.1 >= first_box && !tree.iter().any(|s| s.0 == r.1)) {
            tree.remove(end);
        }
        let price = self.net.tree_price(self.feed, &tree) + self.net.loss_penalty(self.feed, &tree);
        Some((tree, price))
    }

    fn descend(
        &self,
        mut boxes: Vec<usize>,
        mut tree: Tree,
        mut price: f64,
        free: &[usize],
    ) -> (Vec<usize>, Tree, f64) {
        loop {
            let mut best: Option<(Vec<usize>, Tree, f64)> = None;
            let mut offer = |candidate: Vec<usize>| {
                if let Some((t, p)) = self.tree(&candidate)
                    && p < best.as_ref().map_or(price, |b| b.2) - 1e-9
                {
                    best = Some((candidate, t, p));
                }
            };
            for &v in free.iter().filter(|v| !boxes.contains(v)) {
                offer(boxes.iter().copied().chain([v]).collect());
            }
            for i in 0..boxes.len() {
                let mut without = boxes.clone();
                without.remove(i);
                offer(without.clone());
                if free.len() <= 60 {
                    for &v in free.iter().filter(|v| !boxes.contains(v)) {
                        offer(without.iter().copied().chain([v]).collect());
                    }
                }
            }
            match best {
                Some(found) => (boxes, tree, price) = found,
                None => return (boxes, tree, price),
            }
        }
    }
}
