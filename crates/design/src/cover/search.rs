//! The search: starts built greedily, then exchanges under weights that learn which constraints are hard.
//!
//! Each start is a walk of its own with its own seed; a walk makes the best of a sampled neighbourhood (take one more,
//! leave one out, change one, swap two) that it has not just undone, and raises the price of whatever is still missed.
//! Walks run on all cores; the answer depends on the seed and the effort alone, never on the number of threads.

use super::parts::parts;
use super::problem::{Problem, ProblemError};
use super::state::{Felt, Move, State, Weights};
use rayon::prelude::*;
use serde::Serialize;

/// How hard to search.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effort {
    /// Independent walks.
    pub walks: usize,
    /// Steps of each walk.
    pub steps: usize,
    /// Moves looked at in one step: fewer makes steps cheaper and blinder.
    pub moves: usize,
    /// Seed of all walks.
    pub seed: u64,
}

impl Default for Effort {
    fn default() -> Self {
        Self { walks: 8, steps: 600, moves: 3000, seed: 1 }
    }
}

/// What is told while the search runs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Progress {
    /// Which walk.
    pub walk: usize,
    /// Its step.
    pub step: usize,
    /// Cheapest choice this walk has found that meets everything, in money.
    pub best_cost: f64,
}

/// What stands in the way of a choice.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Unmet {
    /// Points outside the band beyond those that may be, by area.
    pub areas: Vec<usize>,
    /// Share by which each cap is overrun; 0 when met.
    pub caps: Vec<f64>,
    /// How many candidates too many are taken.
    pub too_many: usize,
}

/// A choice of candidates.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Answer {
    /// Candidates taken, ascending.
    pub taken: Vec<usize>,
    /// Cost with amplification, in money.
    pub cost: f64,
    /// Whether everything is met.
    pub meets: bool,
    /// What is not.
    pub unmet: Unmet,
}

/// Small, fast, good enough generator (Steele, Lea and Flood 2014, SplitMix64).
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }
    fn below(&mut self, n: usize) -> usize {
        ((u128::from(self.next()) * n as u128) >> 64) as usize
    }
}

/// Searches for the cheapest choice. `guide` is a value for each candidate (0 to 1, from a relaxation) that starts
/// some walks near it; empty for none. `told` hears of progress, from several threads, and may end the search early
/// by returning `false`, at the price of an answer that depends on when it did.
///
/// # Errors
/// [`ProblemError`] when the problem makes no sense.
pub fn solve(
    problem: &Problem,
    effort: Effort,
    guide: &[f64],
    told: &(dyn Fn(Progress) -> bool + Sync),
) -> Result<Answer, ProblemError> {
    problem.check()?;
    let start = if problem.areas.len() >= APART { by_area(problem, effort, guide, told) } else { Vec::new() };
    // What the areas have settled need not be looked for again: half the steps join them.
    let steps = if start.is_empty() { effort.steps } else { effort.steps.div_ceil(2) };
    Ok(walk(problem, Effort { steps, ..effort }, guide, &start, told))
}

/// Problems of at least this many areas are first taken apart by area.
const APART: usize = 3;

/// The best of several walks.
fn walk(
    problem: &Problem,
    effort: Effort,
    guide: &[f64],
    start: &[usize],
    told: &(dyn Fn(Progress) -> bool + Sync),
) -> Answer {
    let felt = Felt::of(problem);
    let walks: Vec<Answer> = (0..effort.walks.max(1))
        .into_par_iter()
        .map(|w| Walk::new(problem, &felt, effort, w).run(guide, start, told))
        .collect();
    let best = walks.into_iter().reduce(|a, b| if better(&b, &a) { b } else { a });
    best.unwrap_or_else(|| answer(&State::empty(problem)))
}

/// What each area alone would take; of two that want one place, the first.
fn by_area(
    problem: &Problem,
    effort: Effort,
    guide: &[f64],
    told: &(dyn Fn(Progress) -> bool + Sync),
) -> Vec<usize> {
    let quiet = |p: Progress| told(Progress { best_cost: f64::INFINITY, ..p });
    let each = Effort { walks: effort.walks.div_ceil(2), ..effort };
    let taken: Vec<Vec<usize>> = parts(problem)
        .into_par_iter()
        .map(|part| {
            let own: Vec<f64> =
                part.candidates.iter().map(|&c| guide.get(c).copied().unwrap_or(0.0)).collect();
            let found = walk(&part.problem, each, &own, &[], &quiet);
            found.taken.iter().map(|&c| part.candidates[c]).collect()
        })
        .collect();
    let mut used = vec![false; problem.places];
    taken
        .into_iter()
        .flatten()
        .filter(|&c| !std::mem::replace(&mut used[problem.candidates[c].place], true))
        .collect()
}

fn better(a: &Answer, b: &Answer) -> bool {
    let missed =
        |x: &Answer| x.unmet.areas.iter().sum::<usize>() as f64 + 10.0 * x.unmet.caps.iter().sum::<f64>();
    match (a.meets, b.meets) {
        (true, false) => true,
        (false, true) => false,
        (true, true) => a.cost < b.cost - 1e-9,
        (false, false) => missed(a) < missed(b) - 1e-12,
    }
}

fn answer(state: &State<'_>) -> Answer {
    let p = state.problem;
    let outside = |a: &super::problem::Area| {
        let out = state.energy[a.points.clone()].iter().filter(|&&e| e < a.floor || e > a.ceiling).count();
        out.saturating_sub(a.may_miss)
    };
    // The tolerances match those of the misses: a billionth of a cap or of a band is rounding, not a fault.
    let slack = |a: &super::problem::Area| super::problem::Area {
        floor: a.floor * (1.0 - 1e-9),
        ceiling: a.ceiling * (1.0 + 1e-9),
        ..a.clone()
    };
    let unmet = Unmet {
        areas: p.areas.iter().map(|a| outside(&slack(a))).collect(),
        caps: state.caps.iter().map(|u| if *u > 1.0 + 1e-9 { u - 1.0 } else { 0.0 }).collect(),
        too_many: state.count.saturating_sub(p.at_most),
    };
    let meets =
        unmet.too_many == 0 && unmet.areas.iter().all(|&n| n == 0) && unmet.caps.iter().all(|&c| c <= 0.0);
    let mut taken: Vec<usize> = state.taken.iter().flatten().copied().collect();
    taken.sort_unstable();
    let cost = state.cost();
    Answer { taken, cost, meets: meets && cost.is_finite(), unmet }
}

struct Walk<'p> {
    state: State<'p>,
    felt: &'p Felt,
    weights: Weights,
    random: Random,
    effort: Effort,
    index: usize,
    by_place: Vec<Vec<usize>>,
    supply_costs: Vec<(f64, f64)>,
}

impl<'p> Walk<'p> {
    fn new(problem: &'p Problem, felt: &'p Felt, effort: Effort, index: usize) -> Self {
        let mut by_place = vec![Vec::new(); problem.places];
        for (i, c) in problem.candidates.iter().enumerate() {
            by_place[c.place].push(i);
        }
        let mean =
            problem.candidates.iter().map(|c| c.cost).sum::<f64>() / problem.candidates.len().max(1) as f64;
        let mut random = Random(effort.seed.wrapping_mul(0x2545_F491_4F6C_DD1D) ^ index as u64);
        random.next();
        Self {
            state: State::empty(problem),
            felt,
            // A whole miss first costs about as much as a candidate; the walk learns the rest.
            weights: Weights::uniform(problem, mean.max(1e-6)),
            random,
            effort,
            index,
            by_place,
            supply_costs: Vec::new(),
        }
    }

    fn run(mut self, guide: &[f64], start: &[usize], told: &(dyn Fn(Progress) -> bool + Sync)) -> Answer {
        self.begin(guide, start);
        let problem = self.state.problem;
        let mut best = answer(&self.state);
        // A place is left alone for some steps after it has changed, so that a walk cannot turn in a circle.
        let mut quiet_until = vec![0usize; problem.places];
        let mut since_best = 0;
        for step in 0..self.effort.steps {
            let Some(change) = self.best_move(step, &quiet_until) else { break };
            self.state.make(&change);
            let tenure = 3 + self.random.below(6);
            for &(place, _) in change.iter().flatten() {
                quiet_until[place] = step + tenure;
            }
            if step % 64 == 63 {
                self.state.refresh();
            }
            let misses = self.state.misses();
            self.weights.learn(&misses, 1.15, 0.96);
            since_best += 1;
            if misses.none() || !best.meets {
                let now = answer(&self.state);
                if better(&now, &best) {
                    best = now;
                    since_best = 0;
                }
            }
            if since_best > 150 {
                self.return_and_shake(&best);
                since_best = 0;
            }
            let best_cost = if best.meets { best.cost } else { f64::INFINITY };
            if step % 16 == 0 && !told(Progress { walk: self.index, step, best_cost }) {
                break;
            }
        }
        best
    }

    /// First choice of the walk: what is given, candidates drawn as the guide likes them, or none.
    fn begin(&mut self, guide: &[f64], start: &[usize]) {
        // Every fourth walk looks for itself.
        if !start.is_empty() && self.index % 4 != 3 {
            for &c in start {
                self.state.make(&[Some((self.state.problem.candidates[c].place, Some(c))), None]);
            }
            return;
        }
        if guide.len() != self.state.problem.candidates.len() || self.index % 2 == 1 {
            return;
        }
        for place in 0..self.by_place.len() {
            let mut draw = (self.random.next() >> 11) as f64 / (1u64 << 53) as f64;
            let chosen = self.by_place[place].iter().copied().find(|&c| {
                draw -= guide[c];
                draw < 0.0
            });
            if chosen.is_some() {
                self.state.make(&[Some((place, chosen)), None]);
            }
        }
    }

    /// Goes back to the best choice and changes a few places at random, so that the walk looks elsewhere.
    fn return_and_shake(&mut self, best: &Answer) {
        let problem = self.state.problem;
        self.state = State::empty(problem);
        for &c in &best.taken {
            self.state.make(&[Some((problem.candidates[c].place, Some(c))), None]);
        }
        for _ in 0..2 + self.random.below(3) {
            if let Some(change) = self.random_move() {
                self.state.make(&change);
            }
        }
    }

    fn random_move(&mut self) -> Option<Move> {
        let candidates = &self.state.problem.candidates;
        if candidates.is_empty() {
            return None;
        }
        let c = self.random.below(candidates.len());
        let place = candidates[c].place;
        Some([Some((place, if self.state.taken[place] == Some(c) { None } else { Some(c) })), None])
    }

    /// Every move worth looking at, in a fixed order: all if they are few, else a sample.
    fn moves(&mut self) -> Vec<Move> {
        let problem = self.state.problem;
        let used: Vec<usize> = (0..problem.places).filter(|&p| self.state.taken[p].is_some()).collect();
        let mut moves: Vec<Move> = used.iter().map(|&p| [Some((p, None)), None]).collect();
        let singles = problem.candidates.len();
        let half = self.effort.moves / 2;
        let keep = |random: &mut Random, all: usize, most: usize| all <= most || random.below(all) < most;
        for (i, c) in problem.candidates.iter().enumerate() {
            if self.state.taken[c.place] != Some(i) && keep(&mut self.random, singles, half) {
                moves.push([Some((c.place, Some(i))), None]);
            }
        }
        let pairs = used.len() * singles;
        if pairs <= self.effort.moves {
            for &p in &used {
                for (i, c) in problem.candidates.iter().enumerate() {
                    if c.place != p && self.state.taken[c.place] != Some(i) {
                        moves.push([Some((p, None)), Some((c.place, Some(i)))]);
                    }
                }
            }
        } else if !used.is_empty() {
            for _ in 0..self.effort.moves {
                let p = used[self.random.below(used.len())];
                let i = self.random.below(singles);
                let place = problem.candidates[i].place;
                if place == p || self.state.taken[place] == Some(i) {
                    continue;
                }
                // Half of the sampled pairs change the first place instead of leaving it.
                let other = &self.by_place[p];
                let instead = other[self.random.below(other.len())];
                let first = if self.random.below(2) == 0 || self.state.taken[p] == Some(instead) {
                    None
                } else {
                    Some(instead)
                };
                moves.push([Some((p, first)), Some((place, Some(i)))]);
            }
        }
        moves
    }

    fn best_move(&mut self, step: usize, quiet_until: &[usize]) -> Option<Move> {
        let moves = self.moves();
        let problem = self.state.problem;
        let costs = &mut self.supply_costs;
        let mut supply_cost = |watts: f64| supply_cost_kept(problem, costs, watts);
        let mut best: Option<(f64, Move)> = None;
        for change in moves {
            if change.iter().flatten().any(|&(p, _)| quiet_until[p] > step) {
                continue;
            }
            let price = self.state.price_after(&change, &self.weights, self.felt, &mut supply_cost);
            if best.as_ref().is_none_or(|(b, _)| price < *b) {
                best = Some((price, change));
            }
        }
        // Everything is quiet: any move is better than none.
        best.map(|b| b.1).or_else(|| self.random_move())
    }
}

/// The cost of amplification for so many watts, kept for the few sums of taps that come up again and again.
fn supply_cost_kept(problem: &Problem, kept: &mut Vec<(f64, f64)>, watts: f64) -> f64 {
    if problem.supplies.is_empty() {
        return 0.0;
    }
    match kept.binary_search_by(|k| k.0.total_cmp(&watts)) {
        Ok(i) => kept[i].1,
        Err(i) => {
            let cost = problem.supply_cost(watts);
            if kept.len() < 4096 {
                kept.insert(i, (watts, cost));
            }
            cost
        }
    }
}
