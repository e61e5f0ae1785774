//! A lower bound on the cost of any choice that meets everything.
//!
//! Lagrangian of the programme in the module's head: with multipliers 0 or more on the rows, the least of the
//! cost plus the priced violations over all binary choices is at most the optimum, whatever the multipliers. It splits
//! by place (take the best candidate or none) and by area (the few points that may miss are those that pay most).
//! Multipliers start from the relaxation of a sample (`relax`) and climb on the whole problem along subgradients (Polyak's
//! step towards a level that falls when progress does); their quality decides how good the bound is, never whether it
//! holds.
//!
//! Two things make it tighter than the plain relaxation. Candidates that no choice can hold are taken out first
//! (`presolve`). And what a candidate gives a point counts towards its floor only up to what the floor wants: of whole
//! candidates one that gives three times as much is still one, a third of it is no candidate (coefficient tightening,
//! e.g. Savelsbergh 1994, from memory).
//!
//! Where places cannot stay empty whatever the others hold, the least over their candidates counts and not nothing; and what is
//! cheapest of each of them adds up to a bound of its own (`by_place`), the better where candidates are whole rows of an area. The
//! greater of the two is the answer.
//!
//! Amplifiers come in whole pieces: the bound is the least, over all sets of them that could be bought, of the set's cost
//! plus what candidates that the set can feed must cost. The latter follows from Lagrangians with a price on watts (or siemens).

use super::by_place::Left;
use super::multipliers::Multipliers;
use super::presolve::without_hopeless;
use super::problem::{Candidate, Problem};
use super::relax::relax;
use loamline_limits::{go_on, lent};
use rayon::prelude::*;

/// A proven lower bound and the relaxation's values.
#[derive(Debug, Clone, PartialEq)]
pub struct Bound {
    /// No choice that meets everything costs less, in money.
    pub cost: f64,
    /// Share of each candidate the relaxation takes, 0 to 1: a guide for the search.
    pub guide: Vec<f64>,
}

/// Energies looked at while climbing: more bring the bound nearer to the relaxation's optimum.
const WORK: usize = 50_000_000;
/// Steps of the climb, at least and at most.
const STEPS: (usize, usize) = (120, 400);
/// Steps without a gain after which the level aimed at comes nearer.
const PATIENCE: usize = 8;
/// Rounding taken off every bound, as a share: sums of thousands of doubles.
const ROUNDING: f64 = 1e-9;
/// Prices on watts (or siemens) that candidates are priced with, as parts of the cheapest amplifier's.
const UNIT_PRICES: [f64; 2] = [0.0, 1.0];

/// A lower bound on the cost of any choice that meets everything, and the relaxation's values as a guide.
/// The bound is 0 when the relaxation cannot be solved; infinite never.
pub fn lower_bound(problem: &Problem) -> Bound {
    let (rest, kept) = without_hopeless(problem);
    let Some(left) = Left::of(&rest) else {
        // Nothing meets it: any number is a bound, and none says anything.
        return Bound { cost: 0.0, guide: vec![0.0; problem.candidates.len()] };
    };
    let by_place = left.cost(&rest);
    let (rest, kept) = (left.only(&rest), left.of_those(&kept));
    let rows = Rows::of(&rest, left.must);
    let per_unit = rest.unit_price();
    let prices: Vec<f64> = UNIT_PRICES.iter().map(|p| p * per_unit).filter(|p| p.is_finite()).collect();
    let prices = if prices.is_empty() { vec![0.0] } else { prices };
    let own = |unit_price: f64| move |c: &Candidate| c.cost + unit_price * c.demand.amount();
    let leave = lent();
    let climb_at = |price: f64| {
        let (start, guide) = match relax(&rest, &rows.highest, &own(price)) {
            Some((start, guide)) => (start, Some(guide)),
            None => (Multipliers::none(&rest), None),
        };
        (price, climb(&rest, &rows, &start, &own(price)), guide)
    };
    let climbed: Vec<(f64, f64, Option<Vec<f64>>)> =
        prices.par_iter().map(|&price| leave.lend(|| climb_at(price))).collect();
    let mut guide = vec![0.0; problem.candidates.len()];
    if let Some(found) = climbed.iter().rev().find_map(|c| c.2.as_ref()) {
        kept.iter().zip(found).for_each(|(&c, x)| guide[c] = *x);
    }
    // At least so much is asked of amplification.
    let demand_only = |c: &Candidate| c.demand.amount();
    let least_demand = if rest.supplies.is_empty() {
        0.0
    } else {
        let start = relax(&rest, &rows.highest, &demand_only).map(|r| r.0);
        let start = start.unwrap_or_else(|| Multipliers::none(&rest));
        rest.fixed_demand.amount() + climb(&rest, &rows, &start, &demand_only)
    };
    // Candidates that ask for so much in all cost at least so much.
    let candidates = |demand: f64| {
        if demand < least_demand - 1e-6 * least_demand.max(1.0) {
            return f64::INFINITY;
        }
        let by_price =
            climbed.iter().map(|(price, value, _)| value + price * (rest.fixed_demand.amount() - demand));
        by_price.fold(0.0, f64::max)
    };
    let cost = with_supplies(&rest, &candidates).max(by_place);
    Bound { cost: if cost.is_finite() { cost.max(0.0) * (1.0 - ROUNDING) } else { 0.0 }, guide }
}

/// The least, over sets of supplies, of their cost and that of candidates that ask for no more than they feed.
fn with_supplies(problem: &Problem, candidates: &dyn Fn(f64) -> f64) -> f64 {
    let supplies: Vec<_> = problem.supplies.iter().filter(|s| s.feeds.amount() > 0.0).collect();
    if supplies.is_empty() {
        return candidates(problem.fixed_demand.amount());
    }
    let free = candidates(f64::INFINITY);
    fn go(
        left: &[&super::problem::Supply],
        (demand, spent): (f64, f64),
        (free, candidates): (f64, &dyn Fn(f64) -> f64),
        best: &mut f64,
    ) {
        go_on();
        // Nothing further can be cheaper than this.
        if spent + free >= *best {
            return;
        }
        *best = best.min(spent + candidates(demand));
        let Some((first, rest)) = left.split_first() else { return };
        go(rest, (demand, spent), (free, candidates), best);
        let (mut demand, mut spent) = (demand, spent);
        while first.cost > 0.0 && spent + first.cost + free < *best {
            (demand, spent) = (demand + first.feeds.amount(), spent + first.cost);
            go(rest, (demand, spent), (free, candidates), best);
        }
    }
    let mut best = f64::INFINITY;
    // Any set that is enough for sure ends the looking: a hundred of the largest.
    if let Some(largest) = supplies.iter().max_by(|a, b| a.feeds.amount().total_cmp(&b.feeds.amount())) {
        best = 100.0 * largest.cost + candidates(100.0 * largest.feeds.amount());
    }
    go(&supplies, (0.0, 0.0), (free, candidates), &mut best);
    best
}

/// The rows of a problem as the Lagrangian needs them.
struct Rows {
    /// What each point still wants to reach its floor; 0 or less where what is fixed is enough.
    wanted: Vec<f64>,
    /// The most energy any choice can give each point.
    highest: Vec<f64>,
    /// How far beyond its ceiling a point can come; 0 where it cannot.
    over: Vec<f64>,
    /// Whether each place must hold one of its candidates.
    must: Vec<bool>,
}

impl Rows {
    fn of(problem: &Problem, must: Vec<bool>) -> Self {
        let highest = highest_energy(problem);
        let (mut wanted, mut over) = (vec![0.0; problem.points()], vec![0.0; problem.points()]);
        for a in &problem.areas {
            for p in a.points.clone() {
                wanted[p] = (a.floor - problem.fixed_at_points[p]).max(0.0);
                over[p] = (highest[p] - a.ceiling).max(0.0);
            }
        }
        Self { wanted, highest, over, must }
    }
}

/// The most energy any choice can give each point.
fn highest_energy(problem: &Problem) -> Vec<f64> {
    let n = problem.points();
    let mut best = vec![0.0f64; problem.places * n];
    for c in &problem.candidates {
        for (b, &e) in best[c.place * n..][..n].iter_mut().zip(&c.at_points) {
            *b = b.max(e);
        }
    }
    let mut total = problem.fixed_at_points.clone();
    for place in 0..problem.places {
        for (t, b) in total.iter_mut().zip(&best[place * n..][..n]) {
            *t += b;
        }
    }
    total
}

/// The greatest Lagrangian found; 0 or more.
fn climb(
    problem: &Problem,
    rows: &Rows,
    start: &Multipliers,
    own: &(dyn Fn(&Candidate) -> f64 + Sync),
) -> f64 {
    let size = problem.candidates.len() * problem.points().max(1);
    let steps = (WORK / size.max(1)).clamp(STEPS.0, STEPS.1);
    let scale = problem.candidates.iter().map(own).fold(1e-9, f64::max);
    // Prices of parts put together are too high where parts overlap: the best share of them is the start.
    let none = Multipliers::none(problem);
    let shares = [1.0, 0.6, 0.35, 0.2, 0.1, 0.0].map(|t| none.moved(start, t));
    let values = shares.iter().map(|m| lagrangian(problem, rows, m, own).0);
    let (mut best, mut kept) = (f64::NEG_INFINITY, none.clone());
    for (value, m) in values.zip(&shares).filter(|v| v.0.is_finite()) {
        if value > best {
            (best, kept) = (value, m.clone());
        }
    }
    let mut at = kept.clone();
    let mut ahead = (0.3 * best.abs()).max(0.3 * scale);
    let mut since = 0;
    for _ in 0..steps {
        let (value, gradient) = lagrangian(problem, rows, &at, own);
        if value > best {
            if value > best + 0.05 * ahead {
                since = 0;
            }
            best = value;
            kept = at.clone();
        }
        since += 1;
        if since > PATIENCE {
            since = 0;
            ahead *= 0.6;
            at = kept.clone();
            if ahead < 1e-4 * scale {
                break;
            }
            continue;
        }
        let square = gradient.square();
        if square <= 1e-18 {
            break;
        }
        at = at.moved(&gradient, (best + ahead - value) / square);
    }
    best.max(0.0) * (1.0 - ROUNDING)
}

/// The least of cost plus priced violations over all choices, never above the optimum, and the violations of the
/// choice that gives it.
fn lagrangian(
    problem: &Problem,
    rows: &Rows,
    m: &Multipliers,
    own: &(dyn Fn(&Candidate) -> f64 + Sync),
) -> (f64, Multipliers) {
    let mut total = -m.count * problem.at_most as f64;
    let mut g = Multipliers::none(problem);
    for area in &problem.areas {
        let mut saved: Vec<(f64, usize)> = Vec::with_capacity(area.points.len());
        for p in area.points.clone() {
            g.floor[p] = rows.wanted[p];
            // Where nothing can overshoot there is no row.
            g.ceiling[p] = if rows.over[p] > 0.0 { problem.fixed_at_points[p] - area.ceiling } else { 0.0 };
            total += m.floor[p] * g.floor[p] + m.ceiling[p] * g.ceiling[p];
            saved.push((m.floor[p] * rows.wanted[p] + m.ceiling[p] * rows.over[p], p));
        }
        saved.sort_by(|x, y| y.0.total_cmp(&x.0).then(x.1.cmp(&y.1)));
        for &(worth, p) in saved.iter().take(area.may_miss) {
            total -= worth;
            g.floor[p] -= rows.wanted[p];
            g.ceiling[p] -= rows.over[p];
        }
    }
    for (i, cap) in problem.caps.iter().enumerate().filter(|c| c.1.must_hold()) {
        g.caps[i] = cap.used - 1.0;
        total += m.caps[i] * g.caps[i];
    }
    // Only points with a price count: most have none.
    let priced = |prices: &[f64], here: &dyn Fn(usize) -> bool| -> Vec<(usize, f64)> {
        prices.iter().copied().enumerate().filter(|(p, m)| *m > 0.0 && here(*p)).collect()
    };
    let floors = priced(&m.floor, &|p| rows.wanted[p] > 0.0);
    let ceilings = priced(&m.ceiling, &|p| rows.over[p] > 0.0);
    let leave = lent();
    let of_candidate = |c: &Candidate| {
        let e = &c.at_points;
        let floor: f64 = floors.iter().map(|&(p, m)| m * e[p].min(rows.wanted[p])).sum();
        let ceiling: f64 = ceilings.iter().map(|&(p, m)| m * e[p]).sum();
        let caps: f64 = m.caps.iter().zip(&c.at_caps).map(|(p, b)| p * b).sum();
        own(c) + m.count - floor + ceiling + caps
    };
    let of_some = |some: &[Candidate]| -> Vec<f64> { some.iter().map(of_candidate).collect() };
    let reduced: Vec<Vec<f64>> =
        problem.candidates.par_chunks(64).map(|some| leave.lend(|| of_some(some))).collect();
    let reduced = reduced.concat();
    let empty = |must: &bool| (if *must { f64::INFINITY } else { 0.0 }, None);
    let mut best: Vec<(f64, Option<usize>)> = rows.must.iter().map(empty).collect();
    for (i, (c, r)) in problem.candidates.iter().zip(&reduced).enumerate() {
        if *r < best[c.place].0 {
            best[c.place] = (*r, Some(i));
        }
    }
    let mut taken = 0.0;
    for (r, c) in best.iter().filter_map(|b| b.1.map(|c| (b.0, &problem.candidates[c]))) {
        total += r;
        taken += 1.0;
        for (p, e) in c.at_points.iter().enumerate() {
            g.floor[p] -= e.min(rows.wanted[p]);
            g.ceiling[p] += if rows.over[p] > 0.0 { *e } else { 0.0 };
        }
        let must_hold = g.caps.iter_mut().zip(&c.at_caps).zip(&problem.caps).filter(|x| x.1.must_hold());
        must_hold.for_each(|((s, b), _)| *s += b);
    }
    g.count = if problem.at_most < problem.places { taken - problem.at_most as f64 } else { 0.0 };
    // A price that is 0 and would fall stands still: it must not shorten the step of the others.
    let still = |g: &mut [f64], m: &[f64]| {
        g.iter_mut().zip(m).filter(|(g, m)| **g < 0.0 && **m <= 0.0).for_each(|(g, _)| *g = 0.0);
    };
    still(&mut g.floor, &m.floor);
    still(&mut g.ceiling, &m.ceiling);
    still(&mut g.caps, &m.caps);
    if g.count < 0.0 && m.count <= 0.0 {
        g.count = 0.0;
    }
    (total, g)
}
