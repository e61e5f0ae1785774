//! Lines as pure numbers: feeds, terminals and boxes with prices between them. What the searches work on, so
//! that they can be checked without any ground.

use super::loss::{LineNode, LossModel};
use loamline_limits::go_on;
use std::collections::BTreeSet;

/// Added to the price of a line for every dB of loss over the limit, in units of the net's dearest price:
/// large enough that a search never trades loss for cable.
const LOSS_WEIGHT: f64 = 50.0;

/// Vertices are numbered feeds first, then terminals, then boxes.
pub(crate) struct Net<'a> {
    pub feeds: usize,
    pub terminals: usize,
    pub boxes: usize,
    /// Price of a run between two vertices, row by row; infinite where there is no way.
    pub price: Vec<f64>,
    /// Length of cable of that run, metres.
    pub metres: Vec<f64>,
    /// Tap of each terminal, watts.
    pub watts: Vec<f64>,
    /// Which feeds each terminal may hang on: rows of `feeds`.
    pub allowed: Vec<bool>,
    /// What each feed can carry, watts.
    pub max_w: Vec<f64>,
    /// Price of using a feed at all.
    pub opening: Vec<f64>,
    /// Loop resistance between amplifier and feed, ohm.
    pub feed_ohm: Vec<f64>,
    /// Price of each box.
    pub box_price: f64,
    /// Runs that must be there, lower vertex first.
    pub forced: BTreeSet<(usize, usize)>,
    pub loss: Option<(&'a dyn LossModel, f64)>,
    /// The dearest finite price: the scale of penalties.
    pub scale: f64,
}

/// The dearest finite price of some, 1 at least.
pub(super) fn dearest(price: &[f64]) -> f64 {
    price.iter().copied().filter(|p| p.is_finite()).fold(1.0, f64::max)
}

/// A line's runs, each with the vertex it comes from, from the feed outwards.
pub(crate) type Tree = Vec<(usize, usize)>;

impl Net<'_> {
    pub fn size(&self) -> usize {
        self.feeds + self.terminals + self.boxes
    }

    pub fn is_forced(&self, a: usize, b: usize) -> bool {
        !self.forced.is_empty() && self.forced.contains(&(a.min(b), a.max(b)))
    }

    /// Price between two vertices, with forced runs made too cheap to leave out.
    pub fn pull(&self, a: usize, b: usize, bonus: f64) -> f64 {
        let price = self.price[a * self.size() + b];
        if self.is_forced(a, b) { price - bonus } else { price }
    }

    pub fn may(&self, terminal: usize, feed: usize) -> bool {
        self.allowed[(terminal - self.feeds) * self.feeds + feed]
    }

    pub fn watts_of(&self, vertex: usize) -> f64 {
        if vertex < self.feeds { 0.0 } else { self.watts.get(vertex - self.feeds).copied().unwrap_or(0.0) }
    }

    /// Loss at the worst terminal of a line, dB; 0 without a model.
    pub fn loss_db(&self, feed: usize, tree: &Tree) -> f64 {
        let Some((model, _)) = self.loss else { return 0.0 };
        let mut index = vec![usize::MAX; self.size()];
        index[feed] = 0;
        let mut nodes = vec![LineNode { parent: None, length_m: 0.0, watts: 0.0 }];
        for &(from, to) in tree {
            index[to] = nodes.len();
            let length_m = self.metres[from * self.size() + to];
            nodes.push(LineNode { parent: Some(index[from]), length_m, watts: self.watts_of(to) });
        }
        model.worst_loss_db(&nodes, self.feed_ohm[feed])
    }

    /// Penalty for a line's loss over the limit.
    pub fn loss_penalty(&self, feed: usize, tree: &Tree) -> f64 {
        self.penalty(self.loss_db(feed, tree))
    }

    /// The same for a line of chains from one feed, each given by the vertices it passes.
    pub fn loss_penalty_of_chains(&self, feed: usize, chains: &[Vec<usize>]) -> f64 {
        let Some((model, _)) = self.loss else { return 0.0 };
        let mut nodes = Vec::with_capacity(1 + chains.iter().map(Vec::len).sum::<usize>());
        nodes.push(LineNode { parent: None, length_m: 0.0, watts: 0.0 });
        for chain in chains {
            let (mut from, mut parent) = (feed, 0);
            for &to in chain {
                let length_m = self.metres[from * self.size() + to];
                nodes.push(LineNode { parent: Some(parent), length_m, watts: self.watts_of(to) });
                (from, parent) = (to, nodes.len() - 1);
            }
        }
        self.penalty(model.worst_loss_db(&nodes, self.feed_ohm[feed]))
    }

    fn penalty(&self, loss_db: f64) -> f64 {
        let Some((_, limit)) = self.loss else { return 0.0 };
        let over = loss_db - limit;
        if over > 1e-9 { self.scale * LOSS_WEIGHT * (1.0 + over) } else { 0.0 }
    }

    /// Price of a line's runs, boxes and opening.
    pub fn tree_price(&self, feed: usize, tree: &Tree) -> f64 {
        if tree.is_empty() {
            return 0.0;
        }
        let first_box = self.feeds + self.terminals;
        self.opening[feed]
            + tree
                .iter()
                .map(|&(a, b)| {
                    self.price[a * self.size() + b] + if b >= first_box { self.box_price } else { 0.0 }
                })
                .sum::<f64>()
    }

    /// Cheapest tree over a feed and some vertices (Prim 1957), from the feed outwards; `None` where something
    /// cannot be reached.
    pub fn spanning(&self, feed: usize, members: &[usize]) -> Option<Tree> {
        go_on();
        let bonus = if self.forced.is_empty() { 0.0 } else { 10.0 * self.scale };
        let mut left: Vec<(usize, f64, usize)> =
            members.iter().map(|&v| (v, self.pull(feed, v, bonus), feed)).collect();
        let mut tree = Vec::with_capacity(members.len());
        while !left.is_empty() {
            let (at, &(v, price, from)) =
                left.iter().enumerate().min_by(|a, b| a.1.1.total_cmp(&b.1.1).then(a.1.0.cmp(&b.1.0)))?;
            if !price.is_finite() {
                return None;
            }
            left.swap_remove(at);
            tree.push((from, v));
            for entry in &mut left {
                let price = self.pull(v, entry.0, bonus);
                if price < entry.1 {
                    (entry.1, entry.2) = (price, v);
                }
            }
        }
        Some(tree)
    }

    /// The cheapest spanning tree, then, if it loses too much, other parents until it does not.
    pub fn line(&self, feed: usize, members: &[usize]) -> Option<Tree> {
        let tree = self.spanning(feed, members)?;
        Some(if self.loss_penalty(feed, &tree) > 0.0 { self.repair_loss(feed, tree) } else { tree })
    }

    /// Hangs subtrees elsewhere, one at a time, as long as that brings price and penalty together down.
    fn repair_loss(&self, feed: usize, mut tree: Tree) -> Tree {
        let total = |t: &Tree| self.tree_price(feed, t) + self.loss_penalty(feed, t);
        let mut least = total(&tree);
        loop {
            let mut best: Option<(f64, Tree)> = None;
            for i in 0..tree.len() {
                go_on();
                if self.is_forced(tree[i].0, tree[i].1) {
                    continue;
                }
                let below = subtree(&tree, tree[i].1);
                let parents = std::iter::once(feed).chain(tree.iter().map(|r| r.1));
                for parent in parents.filter(|p| !below.contains(p) && *p != tree[i].0) {
                    if !self.price[parent * self.size() + tree[i].1].is_finite() {
                        continue;
                    }
                    let mut changed = tree.clone();
                    changed[i].0 = parent;
                    let changed = in_order(feed, changed);
                    let price = total(&changed);
                    if price < best.as_ref().map_or(least, |b| b.0) - 1e-9 {
                        best = Some((price, changed));
                    }
                }
            }
            match best {
                Some((price, changed)) => (least, tree) = (price, changed),
                None => return tree,
            }
        }
    }
}

/// A vertex and everything that hangs on it.
pub(super) fn subtree(tree: &Tree, root: usize) -> BTreeSet<usize> {
    let mut found = BTreeSet::from([root]);
    // Parents come first, so one pass is enough.
    for &(from, to) in tree {
        if found.contains(&from) {
            found.insert(to);
        }
    }
    found
}

/// The same runs with every parent before its children.
pub(super) fn in_order(feed: usize, mut runs: Tree) -> Tree {
    let mut known = BTreeSet::from([feed]);
    let mut ordered = Vec::with_capacity(runs.len());
    while let Some(at) = runs.iter().position(|r| known.contains(&r.0)) {
        let run = runs.remove(at);
        known.insert(run.1);
        ordered.push(run);
    }
    ordered
}
