//! One walk of the search: annealing (Kirkpatrick, Gelatt and Vecchi 1983). Small changes drawn at random are made when
//! they are cheaper, and now and then when they are not, ever more seldom as the walk cools; what is missed has a price
//! that rises while it is missed.

use super::answer::{Answer, answer, better};
use super::effort::{Effort, Progress};
use super::problem::Problem;
use super::state::{Move, Rows, State, Weights};
use loamline_chance::Draws;
use loamline_limits::{go_on, lent};
use rayon::prelude::*;

/// Temperatures at the start and at the end, as parts of the mean cost of a candidate. Hotter wanders, colder is stuck
/// in the first valley.
const HOT: f64 = 0.3;
const COLD: f64 = 0.004;
/// Draws between two looks at the weights.
const LOOK: usize = 64;
/// Prices of what is missed go up and down by these factors.
const UP: f64 = 1.02;
const DOWN: f64 = 0.99;
/// Places nearest to each that a loudspeaker is shifted to, and points that places are compared at: every place is compared with
/// every other, and more points hardly change who is near.
const NEIGHBOURS: usize = 8;
const COMPARED_AT: usize = 96;
/// How many candidates of each place a walk first looks at, walk by walk, and for what part of its draws: those that lie
/// within the band at most points for their cost.
const PROMISING: [usize; 2] = [6, 12];
const FIRST_PART: f64 = 0.7;

/// Candidates by place, and which places are near each other: those whose candidates give the same points most.
pub(super) struct Near {
    by_place: Vec<Vec<usize>>,
    near: Vec<Vec<usize>>,
    /// Places of which none is taken beside each.
    too_near: Vec<Vec<usize>>,
}

impl Near {
    pub fn of(problem: &Problem, rows: &Rows) -> Self {
        let mut by_place = vec![Vec::new(); problem.places];
        for (i, c) in problem.candidates.iter().enumerate() {
            by_place[c.place].push(i);
        }
        let n = problem.points();
        let sample: Vec<usize> = (0..n).step_by(n.div_ceil(COMPARED_AT).max(1)).collect();
        // Loudness of the loudest candidate of each place, in decibels: near places have like ones.
        let profile = |here: &Vec<usize>| {
            let mut most = vec![1e-6f32; sample.len()];
            for &c in here {
                let all = rows.at(c, &(0..n));
                most.iter_mut().zip(&sample).for_each(|(m, p)| *m = m.max(all[*p]));
            }
            most.iter_mut().for_each(|m| *m = m.log10());
            most
        };
        let profiles: Vec<Vec<f32>> = by_place.iter().map(profile).collect();
        let leave = lent();
        let nearest = |p: usize| -> Vec<usize> {
            // Nothing is ever taken at a place without candidates.
            if by_place[p].is_empty() {
                return Vec::new();
            }
            let apart = |q: usize| -> f32 {
                go_on();
                profiles[p].iter().zip(&profiles[q]).map(|(a, b)| (a - b).abs()).sum()
            };
            let mut all: Vec<(f32, usize)> = (0..problem.places)
                .filter(|&q| q != p && !by_place[q].is_empty())
                .map(|q| (apart(q), q))
                .collect();
            let order = |a: &(f32, usize), b: &(f32, usize)| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1));
            if all.len() > NEIGHBOURS {
                all.select_nth_unstable_by(NEIGHBOURS, order);
                all.truncate(NEIGHBOURS);
            }
            all.sort_unstable_by(order);
            all.into_iter().map(|x| x.1).collect()
        };
        let near = (0..problem.places).into_par_iter().map(|p| leave.lend(|| nearest(p))).collect();
        let mut too_near = vec![Vec::new(); problem.places];
        for &(one, other) in problem.too_near.iter().filter(|(a, b)| a != b) {
            too_near[one].push(other);
            too_near[other].push(one);
        }
        Self { by_place, near, too_near }
    }

    /// The candidates of each place that alone bring most points near their band for their cost.
    fn promising(&self, problem: &Problem, each: usize) -> Vec<Vec<usize>> {
        let worth = |&c: &usize| {
            go_on();
            let c = &problem.candidates[c];
            let useful = |a: &super::problem::Area| {
                let all = c.at_points[a.points.clone()].iter();
                all.filter(|e| **e >= 0.5 * a.floor && **e <= a.ceiling).count()
            };
            problem.areas.iter().map(useful).sum::<usize>() as f64 / c.cost.max(1e-9)
        };
        let best = |here: &Vec<usize>| {
            let mut ranked: Vec<(f64, usize)> = here.iter().map(|c| (worth(c), *c)).collect();
            ranked.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
            ranked.into_iter().take(each).map(|r| r.1).collect()
        };
        self.by_place.iter().map(best).collect()
    }
}

pub(super) struct Walk<'p> {
    state: State<'p>,
    rows: &'p Rows,
    near: &'p Near,
    weights: Weights,
    random: Draws,
    effort: Effort,
    index: usize,
    /// Candidates that moves put in, by place, and the places that have any.
    tried: Vec<Vec<usize>>,
    open: Vec<usize>,
    /// Places taken.
    used: Vec<usize>,
    supply_costs: Vec<(f64, f64)>,
    mean_cost: f64,
}

impl<'p> Walk<'p> {
    pub fn new(problem: &'p Problem, rows: &'p Rows, near: &'p Near, effort: Effort, index: usize) -> Self {
        let mean_cost =
            problem.candidates.iter().map(|c| c.cost).sum::<f64>() / problem.candidates.len().max(1) as f64;
        let mut random = Draws::new(effort.seed.wrapping_mul(0x2545_F491_4F6C_DD1D) ^ index as u64);
        random.bits();
        Self {
            state: State::empty(problem),
            rows,
            near,
            // A whole miss first costs about as much as a candidate; the walk learns the rest.
            weights: Weights::uniform(problem, mean_cost.max(1e-6)),
            random,
            effort,
            index,
            tried: Vec::new(),
            open: Vec::new(),
            used: Vec::new(),
            supply_costs: Vec::new(),
            mean_cost: mean_cost.max(1e-6),
        }
    }

    pub fn run(mut self, guide: &[f64], start: &[usize], told: &(dyn Fn(Progress) -> bool + Sync)) -> Answer {
        self.begin(guide, start);
        let problem = self.state.problem;
        let draws = self.effort.draws;
        let first = (FIRST_PART * draws as f64) as usize;
        self.look_at(self.near.promising(problem, PROMISING[self.index % PROMISING.len()]));
        let mut best = answer(&self.state);
        let mut now = self.price();
        for draw in 0..draws {
            if draw.is_multiple_of(64) {
                go_on();
            }
            if draw == first {
                self.look_at(self.near.by_place.clone());
            }
            let cooled = draw as f64 / draws as f64;
            let heat = self.mean_cost * HOT * (COLD / HOT).powf(cooled);
            if let Some(change) = self.drawn() {
                let costs = &mut self.supply_costs;
                let mut supply = |demand: f64| supply_cost_kept(problem, costs, demand);
                let then = self.state.price_after(&change, &self.weights, self.rows, &mut supply);
                if then <= now || self.random.unit() < ((now - then) / heat).exp() {
                    self.make(&change);
                    now = then;
                    if self.state.met() {
                        let found = answer(&self.state);
                        if better(&found, &best) {
                            best = found;
                        }
                    }
                }
            }
            if draw % LOOK == LOOK - 1 {
                self.weights.learn(&self.state.misses(), UP, DOWN);
                now = self.price();
                if !best.meets {
                    let found = answer(&self.state);
                    if better(&found, &best) {
                        best = found;
                    }
                }
            }
            if draw % 4096 == 4095 {
                self.state.refresh();
                now = self.price();
                let best_cost = if best.meets { best.cost } else { f64::INFINITY };
                if !told(Progress { walk: self.index, draws: draw, best_cost }) {
                    break;
                }
            }
        }
        best
    }

    fn look_at(&mut self, candidates: Vec<Vec<usize>>) {
        self.open = (0..candidates.len()).filter(|&p| !candidates[p].is_empty()).collect();
        self.tried = candidates;
    }

    fn price(&mut self) -> f64 {
        let problem = self.state.problem;
        let costs = &mut self.supply_costs;
        let mut supply = |demand: f64| supply_cost_kept(problem, costs, demand);
        self.state.price_after(&[None, None], &self.weights, self.rows, &mut supply)
    }

    fn make(&mut self, change: &Move) {
        self.state.make(change);
        for &(place, _) in change.iter().flatten() {
            let is = self.state.taken[place].is_some();
            match self.used.iter().position(|&p| p == place) {
                Some(i) if !is => {
                    self.used.swap_remove(i);
                }
                None if is => self.used.push(place),
                _ => {}
            }
        }
    }

    /// First choice of the walk: what is given, candidates drawn as the guide likes them, or none.
    fn begin(&mut self, guide: &[f64], start: &[usize]) {
        // Every fourth walk looks for itself.
        if !start.is_empty() && self.index % 4 != 3 {
            for &c in start {
                let place = self.state.problem.candidates[c].place;
                if self.beside(place).next().is_none() {
                    self.make(&[Some((place, Some(c))), None]);
                }
            }
            return;
        }
        if guide.len() != self.state.problem.candidates.len() || self.index % 2 == 1 {
            return;
        }
        for place in 0..self.near.by_place.len() {
            let mut draw = self.random.unit();
            let chosen = self.near.by_place[place].iter().copied().find(|&c| {
                draw -= guide[c];
                draw < 0.0
            });
            if chosen.is_some() && self.beside(place).next().is_none() {
                self.make(&[Some((place, chosen)), None]);
            }
        }
    }

    /// The places taken that are too near to one.
    fn beside(&self, place: usize) -> impl Iterator<Item = usize> {
        self.near.too_near[place].iter().copied().filter(|&q| self.state.taken[q].is_some())
    }

    fn any(&mut self, place: usize) -> Option<usize> {
        let here = &self.tried[place];
        if here.is_empty() { None } else { Some(here[self.random.below(here.len())]) }
    }

    /// A change drawn at random; `None` when the draw changes nothing.
    fn drawn(&mut self) -> Option<Move> {
        if self.open.is_empty() {
            return None;
        }
        let kind = self.random.below(20);
        let used =
            if self.used.is_empty() { None } else { Some(self.used[self.random.below(self.used.len())]) };
        let anywhere = self.open[self.random.below(self.open.len())];
        let (from, to) = match (kind, used) {
            // Another way of using a place.
            (0..6, Some(p)) => (None, p),
            // To a place near by.
            (6..14, Some(p)) => {
                let near = &self.near.near[p];
                let q = *near.get(self.random.below(near.len().max(1)))?;
                (Some(p), q)
            }
            // One less.
            (14..16, Some(p)) => return Some([Some((p, None)), None]),
            // Anywhere else.
            (16..17, Some(p)) => (Some(p), anywhere),
            // One more; anything, where there is nothing yet.
            _ => (None, anywhere),
        };
        let new = self.any(to)?;
        if self.state.taken[to] == Some(new) || from == Some(to) {
            return None;
        }
        let mut beside = self.beside(to).filter(|q| Some(*q) != from);
        let from = match (beside.next(), beside.next(), from) {
            (None, _, from) => from,
            // What stands too near goes, where it is one.
            (Some(one), None, None) => Some(one),
            _ => return None,
        };
        Some([from.map(|p| (p, None)), Some((to, Some(new)))])
    }
}

/// The cost of amplification for a demand, kept for the few sums that come up again and again.
fn supply_cost_kept(problem: &Problem, kept: &mut Vec<(f64, f64)>, demand: f64) -> f64 {
    if problem.supplies.is_empty() {
        return 0.0;
    }
    match kept.binary_search_by(|k| k.0.total_cmp(&demand)) {
        Ok(i) => kept[i].1,
        Err(i) => {
            let cost = problem.supply_cost(demand);
            if kept.len() < 4096 {
                kept.insert(i, (demand, cost));
            }
            cost
        }
    }
}
