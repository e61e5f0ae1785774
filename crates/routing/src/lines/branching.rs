//! Lines that branch at loudspeaker joints: each line is the cheapest tree over its loudspeakers.
//!
//! Given who hangs on which feed, the tree of a line is a minimum spanning tree (exact). Who hangs where is
//! settled by simulated annealing over moves and exchanges of neighbouring loudspeakers between feeds, started
//! from a tree grown under the power limits (Esau and Williams 1966 give the problem; the growth here is
//! Prim's). With one feed and no loss limit the answer is exact. No bound is proven otherwise.

use super::net::{Net, Tree};
use loamline_chance::Draws;
use loamline_limits::go_on;

/// Largest group moved at once.
const GROUP: usize = 4;

struct Search<'a> {
    net: &'a Net<'a>,
    /// Feed of each terminal; none for one left out.
    on: Vec<Option<usize>>,
    prices: Vec<f64>,
    loads: Vec<f64>,
}

/// Trees for every feed; terminals no feed can take are left out. `rounds` scales the time spent.
pub(crate) fn trees(net: &Net, rounds: usize) -> Vec<Tree> {
    let mut on = grow(net);
    if on.contains(&None) {
        let packed = pack(net);
        let out = |on: &[Option<usize>]| on.iter().filter(|f| f.is_none()).count();
        if out(&packed) < out(&on) {
            on = packed;
        }
    }
    let loads = (0..net.feeds)
        .map(|f| (0..net.terminals).filter(|&t| on[t] == Some(f)).map(|t| net.watts[t]).sum())
        .collect();
    let mut search = Search { net, on, prices: vec![0.0; net.feeds], loads };
    for f in 0..net.feeds {
        search.prices[f] = search.line_price(f);
    }
    if net.feeds > 1 && net.terminals > 1 {
        search.anneal(rounds);
    }
    (0..net.feeds).map(|f| net.line(f, &search.members(f)).unwrap_or_default()).collect()
}

/// Grows all lines at once, always by the cheapest run a feed still has power for.
fn grow(net: &Net) -> Vec<Option<usize>> {
    let bonus = if net.forced.is_empty() { 0.0 } else { 10.0 * net.scale };
    let mut on = vec![None; net.terminals];
    let mut loads = vec![0.0; net.feeds];
    loop {
        let mut best: Option<(f64, usize, usize)> = None;
        for t in (0..net.terminals).filter(|&t| on[t].is_none()) {
            go_on();
            let v = net.feeds + t;
            for (f, load) in loads.iter().enumerate() {
                if !net.may(v, f) || load + net.watts[t] > net.max_w[f] * (1.0 + 1e-9) {
                    continue;
                }
                let open = if *load > 0.0 { 0.0 } else { net.opening[f] };
                let joined = (0..net.terminals).filter(|&u| on[u] == Some(f)).map(|u| net.feeds + u);
                let price =
                    joined.map(|u| net.pull(u, v, bonus)).fold(net.pull(f, v, bonus) + open, f64::min);
                if price.is_finite() && best.is_none_or(|b| price < b.0) {
                    best = Some((price, t, f));
                }
            }
        }
        let Some((_, t, f)) = best else { return on };
        on[t] = Some(f);
        loads[f] += net.watts[t];
    }
}

/// Places the largest first, each on the feed it fills best: for tight limits, where growth strands some.
fn pack(net: &Net) -> Vec<Option<usize>> {
    let mut order: Vec<usize> = (0..net.terminals).collect();
    let choices = |t: usize| (0..net.feeds).filter(|&f| net.may(net.feeds + t, f)).count();
    order.sort_by(|&a, &b| {
        choices(a).cmp(&choices(b)).then(net.watts[b].total_cmp(&net.watts[a])).then(a.cmp(&b))
    });
    let mut on = vec![None; net.terminals];
    let mut left = net.max_w.clone();
    for t in order {
        let v = net.feeds + t;
        let fits = |f: &usize| net.may(v, *f) && net.watts[t] <= left[*f] * (1.0 + 1e-9);
        let reach = |f: &usize| net.price[f * net.size() + v].is_finite();
        if let Some(f) =
            (0..net.feeds).filter(|f| fits(f) && reach(f)).min_by(|&a, &b| left[a].total_cmp(&left[b]))
        {
            on[t] = Some(f);
            left[f] -= net.watts[t];
        }
    }
    on
}

impl Search<'_> {
    fn members(&self, feed: usize) -> Vec<usize> {
        (0..self.net.terminals).filter(|&t| self.on[t] == Some(feed)).map(|t| self.net.feeds + t).collect()
    }

    fn line_price(&self, feed: usize) -> f64 {
        let bonus = if self.net.forced.is_empty() { 0.0 } else { 10.0 * self.net.scale };
        // Repairing the loss of every candidate would cost more than it tells: the penalty steers.
        match self.net.spanning(feed, &self.members(feed)) {
            Some(tree) => {
                let kept = tree.iter().filter(|r| self.net.is_forced(r.0, r.1)).count();
                self.net.tree_price(feed, &tree) + self.net.loss_penalty(feed, &tree) - bonus * kept as f64
            }
            None => f64::INFINITY,
        }
    }

    fn anneal(&mut self, rounds: usize) {
        let net = self.net;
        let mut dice = Draws::new(29);
        let near: Vec<Vec<usize>> = (0..net.terminals)
            .map(|t| {
                let mut others: Vec<usize> = (0..net.terminals).filter(|&o| o != t).collect();
                let row = (net.feeds + t) * net.size() + net.feeds;
                others.sort_by(|&a, &b| net.price[row + a].total_cmp(&net.price[row + b]));
                others.truncate(12);
                others
            })
            .collect();
        let typical = (self.prices.iter().sum::<f64>().abs() / net.terminals as f64).min(net.scale);
        let (hot, cold) = (typical, 1e-3 * typical);
        let (mut best, mut least) = (self.on.clone(), self.total());
        let iterations = rounds * (40 + 4 * net.terminals);
        for i in 0..iterations {
            go_on();
            let heat = hot * (cold / hot).powf(i as f64 / iterations as f64);
            let t = dice.below(net.terminals);
            if let Some(out) =
                (0..net.terminals).map(|k| (t + k) % net.terminals).find(|&k| self.on[k].is_none())
            {
                self.make_room(out, &mut dice);
            }
            let Some(home) = self.on[t] else { continue };
            // A neighbour on another line shows where this one might go.
            let Some(away) =
                near[t].iter().filter_map(|&o| self.on[o]).filter(|&f| f != home).nth(dice.below(3))
            else {
                let f = dice.below(net.feeds);
                if f != home {
                    self.attempt(&[t], home, f, heat, &mut dice);
                }
                continue;
            };
            let mut group = vec![t];
            if dice.unit() < 0.3 {
                // Any exchange at all: tight limits may leave only odd ones open.
                for _ in 0..=dice.below(3) {
                    let other = dice.below(net.terminals);
                    if !group.contains(&other) && [Some(home), Some(away)].contains(&self.on[other]) {
                        group.push(other);
                    }
                }
            } else {
                let beside = |feed: usize, most: usize| {
                    let on = &self.on;
                    near[t].iter().copied().filter(move |&o| on[o] == Some(feed)).take(most)
                };
                group.extend(beside(home, dice.below(GROUP)));
                if dice.unit() < 0.4 {
                    group.extend(beside(away, 1 + dice.below(2)));
                }
            }
            self.attempt(&group, home, away, heat, &mut dice);
            let total = self.total();
            if total < least - 1e-9 {
                (best, least) = (self.on.clone(), total);
            }
        }
        self.on = best;
    }

    /// Price of all lines; a terminal left out costs more than any line could save.
    fn total(&self) -> f64 {
        let out = self.on.iter().filter(|f| f.is_none()).count();
        self.prices.iter().sum::<f64>() + out as f64 * 100.0 * self.net.scale
    }

    /// Puts a terminal that was left out on a feed; where that is full, in exchange for one that takes less
    /// power and so is easier to place.
    fn make_room(&mut self, t: usize, dice: &mut Draws) {
        let net = self.net;
        let f = dice.below(net.feeds);
        if !net.may(net.feeds + t, f) {
            return;
        }
        let over = self.loads[f] + net.watts[t] - net.max_w[f] * (1.0 + 1e-9);
        if over > 0.0 {
            let start = dice.below(net.terminals);
            let smaller = (0..net.terminals)
                .map(|k| (start + k) % net.terminals)
                .find(|&k| self.on[k] == Some(f) && net.watts[k] >= over && net.watts[k] < net.watts[t]);
            let Some(out) = smaller else { return };
            self.on[out] = None;
            self.loads[f] -= net.watts[out];
        }
        self.on[t] = Some(f);
        self.loads[f] += net.watts[t];
        self.prices[f] = self.line_price(f);
    }

    /// Exchanges the group between two feeds and keeps that if the annealing accepts it.
    fn attempt(&mut self, group: &[usize], home: usize, away: usize, heat: f64, dice: &mut Draws) {
        let net = self.net;
        let before = (self.on.clone(), self.prices.clone(), self.loads.clone());
        for &t in group {
            let to = if self.on[t] == Some(home) { away } else { home };
            if !net.may(net.feeds + t, to) {
                (self.on, self.prices, self.loads) = before;
                return;
            }
            let from = home + away - to;
            self.on[t] = Some(to);
            self.loads[from] -= net.watts[t];
            self.loads[to] += net.watts[t];
        }
        let fits = [home, away].iter().all(|&f| self.loads[f] <= net.max_w[f] * (1.0 + 1e-9));
        if fits {
            for f in [home, away] {
                self.prices[f] = self.line_price(f);
            }
            let old: f64 = before.1.iter().sum();
            if self.prices.iter().sum::<f64>() < old - heat * dice.unit().max(1e-300).ln() {
                return;
            }
        }
        (self.on, self.prices, self.loads) = before;
    }
}
