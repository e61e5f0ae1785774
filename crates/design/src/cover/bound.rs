//! A lower bound on the cost of any choice that meets everything.
//!
//! Lagrangian of the programme in the module's head: with multipliers 0 or more on the rows, the least of the
//! cost plus the priced violations over all binary choices is at most the optimum, whatever the multipliers. It splits
//! by place (take the best candidate or none), by area (the few points that may miss are those that pay most) and by
//! supply. Multipliers start from the relaxation of a sample (`relax`) and climb on the whole problem along
//! subgradients (Polyak's step towards a level that falls when progress does); their quality decides how good the
//! bound is, never whether it holds.
//!
//! Amplifiers come in whole pieces. Beside the bound with a price on watts there is therefore another: the least cost
//! without amplifiers, plus what amplifiers for the least watts cost. Each holds; the greater is given.

use super::problem::Problem;
use super::relax::relax;
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
const WORK: usize = 150_000_000;
/// Steps of the climb, at least and at most.
const STEPS: (usize, usize) = (40, 400);
/// Steps without a gain after which the level aimed at comes nearer.
const PATIENCE: usize = 8;
/// Rounding taken off every bound, as a share: sums of thousands of doubles.
const ROUNDING: f64 = 1e-9;

/// Prices on the rows; 0 or more.
#[derive(Debug, Clone)]
pub(super) struct Multipliers {
    /// By point.
    pub floor: Vec<f64>,
    /// By point.
    pub ceiling: Vec<f64>,
    pub caps: Vec<f64>,
    pub watts: f64,
    pub count: f64,
}

impl Multipliers {
    /// Nothing has a price.
    pub fn none(problem: &Problem) -> Self {
        let n = problem.points();
        Self {
            floor: vec![0.0; n],
            ceiling: vec![0.0; n],
            caps: vec![0.0; problem.caps.len()],
            watts: 0.0,
            count: 0.0,
        }
    }

    fn moved(&self, along: &Self, by: f64) -> Self {
        let v = |a: &[f64], d: &[f64]| a.iter().zip(d).map(|(a, d)| (a + by * d).max(0.0)).collect();
        Self {
            floor: v(&self.floor, &along.floor),
            ceiling: v(&self.ceiling, &along.ceiling),
            caps: v(&self.caps, &along.caps),
            watts: (self.watts + by * along.watts).max(0.0),
            count: (self.count + by * along.count).max(0.0),
        }
    }

    fn square(&self) -> f64 {
        let s = |v: &[f64]| v.iter().map(|x| x * x).sum::<f64>();
        s(&self.floor) + s(&self.ceiling) + s(&self.caps) + self.watts * self.watts + self.count * self.count
    }
}

/// What the prices are on: cost with amplification by the watt, cost alone, or watts alone.
#[derive(Clone, Copy, PartialEq)]
enum What {
    CostWithWatts,
    Cost,
    Watts,
}

/// A lower bound on the cost of any choice that meets everything, and the relaxation's values as a guide.
/// The bound is 0 when the relaxation cannot be solved; infinite never.
pub fn lower_bound(problem: &Problem) -> Bound {
    let highest = highest_energy(problem);
    let (start, guide) = relax(problem, &highest)
        .unwrap_or_else(|| (Multipliers::none(problem), vec![0.0; problem.candidates.len()]));
    let with_watts = climb(problem, &highest, &start, What::CostWithWatts);
    let mut cost = with_watts;
    if !problem.supplies.is_empty() {
        let alone = climb(problem, &highest, &Multipliers { watts: 0.0, ..start.clone() }, What::Cost);
        // Prices in money say little about watts: those of the mean candidate put them in proportion.
        let mean = |of: &dyn Fn(&super::problem::Candidate) -> f64| {
            problem.candidates.iter().map(of).sum::<f64>() / problem.candidates.len().max(1) as f64
        };
        let by = mean(&|c| c.watts) / mean(&|c| c.cost).max(1e-9);
        let zero = Multipliers::none(problem);
        let scaled = zero.moved(&Multipliers { watts: 0.0, ..start }, by);
        let watts = climb(problem, &highest, &scaled, What::Watts);
        // Just below, so that rounding cannot buy an amplifier too many.
        let amplifiers = problem.supply_cost((watts - 1e-6).max(0.0));
        if amplifiers.is_finite() {
            cost = cost.max(alone + amplifiers);
        }
    }
    Bound { cost: if cost.is_finite() { cost.max(0.0) } else { 0.0 }, guide }
}

/// The most energy any choice can give each point.
fn highest_energy(problem: &Problem) -> Vec<f64> {
    let mut best = vec![0.0f64; problem.places * problem.points()];
    let n = problem.points();
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
fn climb(problem: &Problem, highest: &[f64], start: &Multipliers, what: What) -> f64 {
    let size = problem.candidates.len() * problem.points().max(1);
    let steps = (WORK / size.max(1)).clamp(STEPS.0, STEPS.1);
    let scale = problem.candidates.iter().map(|c| if what == What::Watts { c.watts } else { c.cost });
    let scale = scale.fold(1e-9, f64::max);
    let (mut at, mut best) = (start.clone(), 0.0f64);
    let mut kept = at.clone();
    let mut ahead = scale.max(0.05 * best);
    let mut since = 0;
    for step in 0..steps {
        let (value, gradient) = lagrangian(problem, &at, highest, what);
        if value > best {
            if step == 0 {
                ahead = scale.max(0.1 * value);
            }
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
    best * (1.0 - ROUNDING)
}

/// The least of cost plus priced violations over all choices, never above the optimum, and the violations of the
/// choice that gives it.
fn lagrangian(problem: &Problem, m: &Multipliers, highest: &[f64], what: What) -> (f64, Multipliers) {
    let n = problem.points();
    let has_ceiling = ceilings(problem, highest);
    let per_watt = match what {
        // A price on watts above the cheapest supply's would make buying endlessly pay.
        What::CostWithWatts => {
            let each = problem.supplies.iter().filter(|s| s.watts > 0.0).map(|s| s.cost / s.watts);
            each.fold(m.watts, f64::min)
        }
        What::Cost | What::Watts => 0.0,
    };
    let fixed_watts = if what == What::Watts { problem.fixed_watts } else { per_watt * problem.fixed_watts };
    let mut total = fixed_watts - m.count * problem.at_most as f64;
    let mut g = Multipliers::none(problem);
    for area in &problem.areas {
        let mut saved: Vec<(f64, usize, f64)> = Vec::with_capacity(area.points.len());
        for p in area.points.clone() {
            let over = (highest[p] - area.ceiling).max(0.0);
            g.floor[p] = area.floor - problem.fixed_at_points[p];
            // Where nothing can overshoot there is no row.
            g.ceiling[p] = if over > 0.0 { problem.fixed_at_points[p] - area.ceiling } else { 0.0 };
            total += m.floor[p] * g.floor[p] + m.ceiling[p] * g.ceiling[p];
            saved.push((m.floor[p] * area.floor + m.ceiling[p] * over, p, over));
        }
        saved.sort_by(|x, y| y.0.total_cmp(&x.0).then(x.1.cmp(&y.1)));
        for &(worth, p, over) in saved.iter().take(area.may_miss) {
            total -= worth;
            g.floor[p] -= area.floor;
            g.ceiling[p] -= over;
        }
    }
    for (i, cap) in problem.caps.iter().enumerate() {
        g.caps[i] = cap.used - 1.0;
        total += m.caps[i] * g.caps[i];
    }
    let price: Vec<f64> =
        (0..n).map(|p| m.floor[p] - if has_ceiling[p] { m.ceiling[p] } else { 0.0 }).collect();
    let reduced: Vec<f64> = problem
        .candidates
        .par_iter()
        .with_min_len(64)
        .map(|c| {
            let own = if what == What::Watts { c.watts } else { c.cost };
            let energy: f64 = price.iter().zip(&c.at_points).map(|(p, e)| p * e).sum();
            let caps: f64 = m.caps.iter().zip(&c.at_caps).map(|(p, b)| p * b).sum();
            own + per_watt * c.watts + m.count - energy + caps
        })
        .collect();
    let mut best: Vec<(f64, Option<usize>)> = vec![(0.0, None); problem.places];
    for (i, (c, r)) in problem.candidates.iter().zip(&reduced).enumerate() {
        if *r < best[c.place].0 {
            best[c.place] = (*r, Some(i));
        }
    }
    let mut taken = 0.0;
    let mut watts = problem.fixed_watts;
    for (r, c) in best.iter().filter_map(|b| b.1.map(|c| (b.0, &problem.candidates[c]))) {
        total += r;
        taken += 1.0;
        watts += c.watts;
        for (p, e) in c.at_points.iter().enumerate() {
            g.floor[p] -= e;
            g.ceiling[p] += e;
        }
        g.caps.iter_mut().zip(&c.at_caps).for_each(|(s, b)| *s += b);
    }
    for (price, _) in g.ceiling.iter_mut().zip(has_ceiling).filter(|(_, has)| !has) {
        *price = 0.0;
    }
    g.count = if problem.at_most < problem.places { taken - problem.at_most as f64 } else { 0.0 };
    g.watts = if what == What::CostWithWatts && !problem.supplies.is_empty() { watts } else { 0.0 };
    // A price that is 0 and would fall stands still: it must not shorten the step of the others.
    let still = |g: &mut [f64], m: &[f64]| {
        g.iter_mut().zip(m).filter(|(g, m)| **g < 0.0 && **m <= 0.0).for_each(|(g, _)| *g = 0.0);
    };
    still(&mut g.floor, &m.floor);
    still(&mut g.ceiling, &m.ceiling);
    still(&mut g.caps, &m.caps);
    if per_watt < m.watts || (g.watts < 0.0 && m.watts <= 0.0) {
        g.watts = 0.0;
    }
    if g.count < 0.0 && m.count <= 0.0 {
        g.count = 0.0;
    }
    (total, g)
}

/// Whether each point can be too loud at all.
fn ceilings(problem: &Problem, highest: &[f64]) -> Vec<bool> {
    let mut can = vec![false; problem.points()];
    for a in &problem.areas {
        a.points.clone().for_each(|p| can[p] = highest[p] > a.ceiling);
    }
    can
}
