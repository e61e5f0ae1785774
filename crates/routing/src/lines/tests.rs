//! The searches against exact answers: dynamic programming over all subsets, written here for the purpose.

use super::net::{Net, Tree, dearest};
use super::{boxes, branching, chain};
use loamline_chance::Draws;
use std::collections::BTreeSet;

/// A net over points in a square with one feed: straight distances, or random ones closed under detours.
fn net(dice: &mut Draws, feeds: usize, terminals: usize, boxes: usize, euclidean: bool) -> Net<'static> {
    let size = feeds + terminals + boxes;
    let at: Vec<(f64, f64)> = (0..size).map(|_| (100.0 * dice.unit(), 100.0 * dice.unit())).collect();
    let mut price = vec![0.0; size * size];
    for a in 0..size {
        for b in 0..a {
            let d = (at[a].0 - at[b].0).hypot(at[a].1 - at[b].1);
            let d = if euclidean { d } else { d * (0.5 + 2.0 * dice.unit()) };
            (price[a * size + b], price[b * size + a]) = (d, d);
        }
    }
    for k in 0..size {
        for a in 0..size {
            for b in 0..size {
                let through = price[a * size + k] + price[k * size + b];
                price[a * size + b] = price[a * size + b].min(through);
            }
        }
    }
    Net {
        feeds,
        terminals,
        boxes,
        metres: price.clone(),
        scale: dearest(&price),
        price,
        watts: vec![1.0; terminals],
        allowed: vec![true; terminals * feeds],
        max_w: vec![1e9; feeds],
        opening: vec![0.0; feeds],
        feed_ohm: vec![0.0; feeds],
        box_price: 0.0,
        forced: BTreeSet::new(),
        loss: None,
    }
}

/// Shortest chain from the feed through all terminals (Held and Karp 1962, open end).
fn held_karp(net: &Net) -> f64 {
    let (n, size) = (net.terminals, net.size());
    let d = |a: usize, b: usize| net.price[a * size + b];
    let mut best = vec![vec![f64::INFINITY; n]; 1 << n];
    for t in 0..n {
        best[1 << t][t] = d(0, 1 + t);
    }
    for set in 1..1usize << n {
        for last in 0..n {
            let so_far = best[set][last];
            for next in (0..n).filter(|t| set >> t & 1 == 0) {
                let with = set | 1 << next;
                best[with][next] = best[with][next].min(so_far + d(1 + last, 1 + next));
            }
        }
    }
    best[(1 << n) - 1].iter().copied().fold(f64::INFINITY, f64::min)
}

/// Cheapest tree that joins feed and terminals, boxes free to use (Dreyfus and Wagner 1971).
fn dreyfus_wagner(net: &Net) -> f64 {
    let (k, size) = (net.terminals, net.size());
    let d = |a: usize, b: usize| net.price[a * size + b];
    let mut best = vec![vec![f64::INFINITY; size]; 1 << k];
    for t in 0..k {
        best[1 << t] = (0..size).map(|v| d(1 + t, v)).collect();
    }
    for set in 1..1usize << k {
        let mut joined = vec![f64::INFINITY; size];
        for (v, joined) in joined.iter_mut().enumerate() {
            let mut part = (set - 1) & set;
            while part > 0 {
                *joined = joined.min(best[part][v] + best[set ^ part][v]);
                part = (part - 1) & set;
            }
        }
        for (v, best) in best[set].iter_mut().enumerate() {
            for (u, joined) in joined.iter().enumerate() {
                *best = best.min(joined + d(u, v));
            }
        }
    }
    best[(1 << k) - 1][0]
}

fn price(net: &Net, tree: &Tree) -> f64 {
    tree.iter().map(|&(a, b)| net.price[a * net.size() + b]).sum()
}

/// Share of cases solved exactly must be 95 % or more, and no case dearer than 3 %.
fn assert_good(what: &str, ratios: &[f64]) {
    let exact = ratios.iter().filter(|r| **r < 1.0 + 1e-9).count();
    let worst = ratios.iter().copied().fold(1.0, f64::max);
    println!("{what}: {exact} of {} exact, worst {worst:.4}", ratios.len());
    assert!(ratios.iter().all(|r| *r > 1.0 - 1e-9), "{what}: better than exact cannot be");
    assert!(exact * 100 >= 95 * ratios.len() && worst < 1.03, "{what}: {exact}/{} {worst}", ratios.len());
}

#[test]
fn chains_of_up_to_ten_are_nearly_always_exact() {
    let mut dice = Draws::new(3);
    let ratios: Vec<f64> = (0..120)
        .map(|case| {
            let net = net(&mut dice, 1, 3 + case % 8, 0, case % 2 == 0);
            let tree = chain::chains(&net, 1, 100).remove(0);
            assert_eq!(tree.len(), net.terminals);
            assert!(tree.windows(2).all(|w| w[0].1 == w[1].0), "one in, one out");
            price(&net, &tree) / held_karp(&net)
        })
        .collect();
    assert_good("chains", &ratios);
}

#[test]
fn trees_with_boxes_of_up_to_ten_are_nearly_always_exact() {
    let mut dice = Draws::new(7);
    let ratios: Vec<f64> = (0..60)
        .map(|case| {
            let net = net(&mut dice, 1, 3 + case % 7, 30, case % 2 == 0);
            let members: Vec<usize> = (1..=net.terminals).collect();
            let free: Vec<usize> = (1 + net.terminals..net.size()).collect();
            let tree = boxes::with_boxes(&net, 0, &members, &free).unwrap();
            price(&net, &tree) / dreyfus_wagner(&net)
        })
        .collect();
    assert_good("trees", &ratios);
}

/// Least over every way to split the terminals between two feeds under a power limit.
fn two_lines_by_trying(net: &Net, of_line: &dyn Fn(usize, &[usize]) -> f64) -> f64 {
    let n = net.terminals;
    (0..1usize << n)
        .filter_map(|set| {
            let on = |f: usize| -> Vec<usize> {
                (0..n).filter(|t| (set >> t & 1) == f).map(|t| net.feeds + t).collect()
            };
            let fits = (0..2)
                .all(|f| on(f).iter().map(|&t| net.watts[t - net.feeds]).sum::<f64>() <= net.max_w[f] + 1e-9);
            fits.then(|| of_line(0, &on(0)) + of_line(1, &on(1)))
        })
        .fold(f64::INFINITY, f64::min)
}

#[test]
fn two_lines_under_power_limits_are_nearly_always_exact() {
    let mut dice = Draws::new(11);
    let (mut branching_ratios, mut chain_ratios) = (Vec::new(), Vec::new());
    for case in 0..40 {
        let mut net = net(&mut dice, 2, 4 + case % 5, 0, true);
        net.watts = (0..net.terminals).map(|_| 5.0 + (10.0 * dice.unit()).round()).collect();
        let total: f64 = net.watts.iter().sum();
        net.max_w = vec![0.65 * total, 0.6 * total];
        let exact = two_lines_by_trying(&net, &|f, on| net.spanning(f, on).map_or(0.0, |t| price(&net, &t)));
        let trees = branching::trees(&net, 100);
        check_power(&net, &trees);
        branching_ratios.push(trees.iter().map(|t| price(&net, t)).sum::<f64>() / exact);
        let exact = two_lines_by_trying(&net, &|f, on| best_order(&net, f, &mut on.to_vec(), 0));
        let chains = chain::chains(&net, 1, 100);
        check_power(&net, &chains);
        chain_ratios.push(chains.iter().map(|t| price(&net, t)).sum::<f64>() / exact);
    }
    assert_good("two branching lines", &branching_ratios);
    assert_good("two chains", &chain_ratios);
}

fn check_power(net: &Net, trees: &[Tree]) {
    assert_eq!(trees.iter().map(Vec::len).sum::<usize>(), net.terminals);
    for (f, tree) in trees.iter().enumerate() {
        assert!(tree.iter().map(|r| net.watts_of(r.1)).sum::<f64>() <= net.max_w[f] * (1.0 + 1e-9));
    }
}

/// Shortest chain over the rest of a list by trying every order.
fn best_order(net: &Net, feed: usize, on: &mut Vec<usize>, done: usize) -> f64 {
    if done == on.len() {
        return 0.0;
    }
    let from = if done == 0 { feed } else { on[done - 1] };
    let mut best = f64::INFINITY;
    for i in done..on.len() {
        on.swap(done, i);
        best = best.min(net.price[from * net.size() + on[done]] + best_order(net, feed, on, done + 1));
        on.swap(done, i);
    }
    best
}

#[test]
fn forced_runs_are_kept_and_a_loss_limit_changes_the_tree() {
    let mut dice = Draws::new(23);
    for _ in 0..20 {
        let mut net = net(&mut dice, 1, 8, 0, true);
        net.forced = BTreeSet::from([(2, 7), (0, 4)]);
        for tree in [chain::chains(&net, 1, 100).remove(0), branching::trees(&net, 100).remove(0)] {
            for (a, b) in [(2, 7), (0, 4)] {
                assert!(tree.contains(&(a, b)) || tree.contains(&(b, a)));
            }
        }
    }
    let model = super::ConstantVoltage { volts: 70.7, loop_ohm_per_m: 0.04 };
    let mut changed = 0;
    for _ in 0..20 {
        let mut net = net(&mut dice, 1, 10, 0, true);
        net.watts = vec![20.0; 10];
        let free = branching::trees(&net, 100).remove(0);
        net.loss = Some((&model, 1e9));
        let loss = net.loss_db(0, &free);
        // The best any tree can do is a home run each.
        let star: Tree = (1..=10).map(|t| (0, t)).collect();
        let limit = 0.5 * (loss + net.loss_db(0, &star));
        net.loss = Some((&model, limit));
        let held = branching::trees(&net, 100).remove(0);
        assert!(net.loss_db(0, &held) <= limit + 1e-9);
        assert!(price(&net, &held) >= price(&net, &free) - 1e-9);
        changed += usize::from(held != free);
    }
    assert!(changed > 10);
}
