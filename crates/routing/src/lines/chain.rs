//! Daisy chains: each line goes from its feed to loudspeaker after loudspeaker, one cable in and one out.
//!
//! This is open vehicle routing with several depots. The search takes out strings of neighbours and puts them
//! back where they cost least, with simulated annealing over both (slack induction by string removals,
//! Christiaens and Vanden Berghe 2020), then reverses and shifts pieces until nothing improves (2-opt, Croes
//! 1958; Or 1976). Deterministic: the dice are seeded. No bound is proven; against exact dynamic programming up
//! to 10 terminals it is optimal nearly always (see the tests).

use super::net::{Net, Tree};
use loamline_chance::Draws;
use loamline_limits::go_on;

/// Longest string taken out.
const STRING: usize = 10;

/// Chance of passing over a place when putting back: keeps the search from repeating itself.
const BLINK: f64 = 0.01;

/// One chain per home run; chain `i` starts at feed `i / home_runs`.
#[derive(Clone)]
struct Chains {
    chains: Vec<Vec<usize>>,
    /// Terminals with no place.
    left_out: Vec<usize>,
}

struct Search<'a> {
    net: &'a Net<'a>,
    home_runs: usize,
    bonus: f64,
    scale: f64,
    /// Terminals from near to far, for each terminal.
    near: Vec<Vec<usize>>,
}

/// Chains for every feed; terminals no feed can take are left out. `rounds` scales the time spent.
pub(crate) fn chains(net: &Net, home_runs: usize, rounds: usize) -> Vec<Tree> {
    let n = net.terminals;
    let scale = net.scale;
    let near = (net.feeds..net.feeds + n)
        .map(|t| {
            let mut others: Vec<usize> = (net.feeds..net.feeds + n).collect();
            others.sort_by(|&a, &b| net.price[t * net.size() + a].total_cmp(&net.price[t * net.size() + b]));
            // The terminal itself comes first whatever its price with itself.
            others.retain(|&o| o != t);
            others.insert(0, t);
            others
        })
        .collect();
    let bonus = if net.forced.is_empty() { 0.0 } else { 10.0 * scale };
    let search = Search { net, home_runs: home_runs.max(1), bonus, scale, near };
    search.run(rounds)
}

impl Search<'_> {
    fn feed(&self, chain: usize) -> usize {
        chain / self.home_runs
    }

    fn run(&self, rounds: usize) -> Vec<Tree> {
        let net = self.net;
        let mut dice = Draws::new(17);
        let mut now = Chains {
            chains: vec![Vec::new(); net.feeds * self.home_runs],
            left_out: (net.feeds..net.feeds + net.terminals).collect(),
        };
        self.put_back(&mut now, &mut dice);
        let mut lines = self.line_prices(&now);
        let mut price = self.price(&now, &lines);
        let (mut best, mut least) = (now.clone(), price);
        let typical = least.abs() / (net.terminals.max(1) as f64);
        let (hot, cold) = (0.3 * typical.min(self.scale), 1e-4 * typical.min(self.scale));
        let iterations = if net.terminals < 2 { 0 } else { rounds * (40 + 4 * net.terminals) };
        for i in 0..iterations {
            go_on();
            let heat = hot * (cold / hot).powf(i as f64 / iterations as f64);
            let mut next = now.clone();
            self.take_out(&mut next, &mut dice);
            self.put_back(&mut next, &mut dice);
            let same = |f: usize| self.of(&now, f) == self.of(&next, f);
            let line = |f: usize| if same(f) { lines[f] } else { self.line_price(&next, f) };
            let next_lines: Vec<f64> = (0..net.feeds).map(line).collect();
            let next_price = self.price(&next, &next_lines);
            if next_price < price - heat * dice.unit().max(1e-300).ln() {
                (now, lines, price) = (next, next_lines, next_price);
                if price < least - 1e-9 {
                    (best, least) = (now.clone(), price);
                }
            }
        }
        self.polish(&mut best);
        let mut trees: Vec<Tree> = vec![Vec::new(); net.feeds];
        for (c, chain) in best.chains.iter().enumerate() {
            trees[self.feed(c)].extend(self.tree(c, chain));
        }
        trees
    }

    fn tree(&self, chain: usize, stops: &[usize]) -> Tree {
        let from = std::iter::once(self.feed(chain)).chain(stops.iter().copied());
        from.zip(stops.iter().copied()).collect()
    }

    /// The chains of a feed.
    fn of<'c>(&self, all: &'c Chains, feed: usize) -> &'c [Vec<usize>] {
        &all.chains[feed * self.home_runs..(feed + 1) * self.home_runs]
    }

    fn load(&self, chains: &Chains, feed: usize) -> f64 {
        self.of(chains, feed).iter().flatten().map(|&t| self.net.watts_of(t)).sum()
    }

    /// Price of everything, from those of the lines.
    fn price(&self, all: &Chains, lines: &[f64]) -> f64 {
        all.left_out.len() as f64 * 100.0 * self.scale + lines.iter().sum::<f64>()
    }

    fn line_prices(&self, all: &Chains) -> Vec<f64> {
        (0..self.net.feeds).map(|f| self.line_price(all, f)).collect()
    }

    /// Price of what hangs on a feed, its loss over the limit priced in.
    fn line_price(&self, all: &Chains, feed: usize) -> f64 {
        let (net, chains) = (self.net, self.of(all, feed));
        if chains.iter().all(Vec::is_empty) {
            return 0.0;
        }
        let pulls = chains.iter().map(|chain| {
            let from = std::iter::once(feed).chain(chain.iter().copied());
            from.zip(chain).map(|(a, &b)| net.pull(a, b, self.bonus)).sum::<f64>()
        });
        net.opening[feed] + pulls.sum::<f64>() + net.loss_penalty_of_chains(feed, chains)
    }

    fn take_out(&self, all: &mut Chains, dice: &mut Draws) {
        let net = self.net;
        let placed: Vec<usize> = all.chains.iter().flatten().copied().collect();
        if placed.is_empty() {
            return;
        }
        let used = all.chains.iter().filter(|c| !c.is_empty()).count();
        let longest = STRING.min(placed.len().div_ceil(used).max(3));
        let strings = 1 + dice.below(1 + (6.0 / longest as f64).ceil() as usize);
        let seed = placed[dice.below(placed.len())];
        let mut touched = vec![false; all.chains.len()];
        let mut done = 0;
        for &t in &self.near[seed - net.feeds] {
            if done == strings {
                break;
            }
            let found =
                all.chains.iter().enumerate().find_map(|(c, s)| Some((c, s.iter().position(|&x| x == t)?)));
            let Some((c, at)) = found else { continue };
            if touched[c] {
                continue;
            }
            touched[c] = true;
            done += 1;
            let length = (1 + dice.below(longest)).min(all.chains[c].len());
            let first = at.saturating_sub(dice.below(length)).min(all.chains[c].len() - length);
            all.left_out.extend(all.chains[c].drain(first..first + length));
        }
    }

    fn put_back(&self, all: &mut Chains, dice: &mut Draws) {
        let net = self.net;
        let mut waiting = std::mem::take(&mut all.left_out);
        match dice.below(4) {
            0 => waiting.sort_by(|&a, &b| net.watts_of(b).total_cmp(&net.watts_of(a)).then(a.cmp(&b))),
            1 => waiting
                .sort_by(|&a, &b| self.nearest_feed(b).total_cmp(&self.nearest_feed(a)).then(a.cmp(&b))),
            _ => {
                for i in (1..waiting.len()).rev() {
                    waiting.swap(i, dice.below(i + 1));
                }
            }
        }
        let mut loads: Vec<f64> = (0..net.feeds).map(|f| self.load(all, f)).collect();
        for t in waiting {
            go_on();
            let mut best: Option<(f64, usize, usize)> = None;
            for c in 0..all.chains.len() {
                let feed = self.feed(c);
                if !net.may(t, feed) || loads[feed] + net.watts_of(t) > net.max_w[feed] * (1.0 + 1e-9) {
                    continue;
                }
                let chain = &all.chains[c];
                let open = if loads[feed] > 0.0 { 0.0 } else { net.opening[feed] };
                for at in 0..=chain.len() {
                    if dice.unit() < BLINK {
                        continue;
                    }
                    let before = if at == 0 { feed } else { chain[at - 1] };
                    let mut more = open + net.pull(before, t, self.bonus);
                    if let Some(&after) = chain.get(at) {
                        more += net.pull(t, after, self.bonus) - net.pull(before, after, self.bonus);
                    }
                    if more.is_finite() && best.is_none_or(|b| more < b.0) {
                        best = Some((more, c, at));
                    }
                }
            }
            match best {
                Some((_, c, at)) => {
                    all.chains[c].insert(at, t);
                    loads[self.feed(c)] += net.watts_of(t);
                }
                None => all.left_out.push(t),
            }
        }
    }

    fn nearest_feed(&self, t: usize) -> f64 {
        (0..self.net.feeds).map(|f| self.net.price[f * self.net.size() + t]).fold(f64::INFINITY, f64::min)
    }

    /// Reverses and shifts pieces within each chain until nothing improves.
    fn polish(&self, all: &mut Chains) {
        let mut lines = self.line_prices(all);
        loop {
            let mut better = false;
            for c in 0..all.chains.len() {
                let n = all.chains[c].len();
                let least = &mut lines[self.feed(c)];
                for i in 0..n {
                    for j in i + 1..n {
                        let old = all.chains[c].clone();
                        all.chains[c][i..=j].reverse();
                        better |= self.keep_if_better(all, c, old, least);
                    }
                    for length in 1..=3.min(n - i) {
                        for to in 0..=n - length {
                            let old = all.chains[c].clone();
                            let piece: Vec<usize> = all.chains[c].drain(i..i + length).collect();
                            for (k, t) in piece.into_iter().enumerate() {
                                all.chains[c].insert(to + k, t);
                            }
                            better |= self.keep_if_better(all, c, old, least);
                        }
                    }
                }
            }
            if !better {
                return;
            }
        }
    }

    /// Whether a changed chain makes its line cheaper than `least`; else it is what it was.
    fn keep_if_better(&self, all: &mut Chains, c: usize, old: Vec<usize>, least: &mut f64) -> bool {
        go_on();
        let price = self.line_price(all, self.feed(c));
        let better = price < *least - 1e-9;
        if better {
            *least = price;
        } else {
            all.chains[c] = old;
        }
        better
    }
}
