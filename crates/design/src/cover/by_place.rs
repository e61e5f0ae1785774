//! What a place can hold at all, beside the most and the least that all others can give: candidates that leave an area short
//! however the rest is chosen, or too loud, go; a place that cannot stay empty must be taken. Where candidates are whole rows and
//! a place is a whole area, hardly any are left that do not fill it, and the cheapest of each place add up to a bound near the
//! optimum; where they are single loudspeakers it says little, and the Lagrangian more.

use super::problem::{Candidate, Problem};
use loamline_limits::go_on;

/// Rounds of taking candidates out: each is beside what the round before left.
const ROUNDS: usize = 4;
/// Slack of floors, ceilings and caps, as a share: searches add up in single precision.
const SLACK: f64 = 1e-4;

/// What is left of every place.
pub(super) struct Left {
    /// Whether each candidate can be in a choice that meets everything.
    pub possible: Vec<bool>,
    /// Whether each place has to hold one of its candidates.
    pub must: Vec<bool>,
}

/// The most and the least that what is left of a place gives at every point, and the least of every cap.
struct Range {
    most: Vec<f64>,
    least: Vec<f64>,
    caps: Vec<f64>,
}

impl Left {
    /// What is left of a problem; `None` where nothing meets it.
    pub fn of(problem: &Problem) -> Option<Self> {
        let mut by_place: Vec<Vec<usize>> = vec![Vec::new(); problem.places];
        for (i, c) in problem.candidates.iter().enumerate() {
            by_place[c.place].push(i);
        }
        let mut left =
            Self { possible: vec![true; problem.candidates.len()], must: vec![false; problem.places] };
        for _ in 0..ROUNDS {
            if !left.narrow(problem, &by_place)? {
                break;
            }
        }
        Some(left)
    }

    /// One round; whether anything went.
    fn narrow(&mut self, problem: &Problem, by_place: &[Vec<usize>]) -> Option<bool> {
        let ranges: Vec<Range> = (0..problem.places).map(|q| self.range(problem, &by_place[q], q)).collect();
        let mut all = Range {
            most: problem.fixed_at_points.clone(),
            least: problem.fixed_at_points.clone(),
            caps: problem.caps.iter().map(|c| c.used).collect(),
        };
        for r in &ranges {
            add(&mut all.most, &r.most, 1.0);
            add(&mut all.least, &r.least, 1.0);
            add(&mut all.caps, &r.caps, 1.0);
        }
        let mut changed = false;
        for (q, own) in ranges.iter().enumerate().filter(|(q, _)| !by_place[*q].is_empty()) {
            go_on();
            let mut others =
                Range { most: all.most.clone(), least: all.least.clone(), caps: all.caps.clone() };
            add(&mut others.most, &own.most, -1.0);
            add(&mut others.least, &own.least, -1.0);
            add(&mut others.caps, &own.caps, -1.0);
            for &i in &by_place[q] {
                if self.possible[i] && !can(problem, &others, Some(&problem.candidates[i])) {
                    (self.possible[i], changed) = (false, true);
                }
            }
            if !self.must[q] && !can(problem, &others, None) {
                (self.must[q], changed) = (true, true);
            }
            if self.must[q] && by_place[q].iter().all(|i| !self.possible[*i]) {
                return None;
            }
        }
        Some(changed)
    }

    fn range(&self, problem: &Problem, of: &[usize], place: usize) -> Range {
        let (n, caps) = (problem.points(), problem.caps.len());
        let first = if self.must[place] { f64::INFINITY } else { 0.0 };
        let mut r = Range { most: vec![0.0; n], least: vec![first; n], caps: vec![first; caps] };
        for c in of.iter().filter(|i| self.possible[**i]).map(|i| &problem.candidates[*i]) {
            r.most.iter_mut().zip(&c.at_points).for_each(|(m, e)| *m = m.max(*e));
            if self.must[place] {
                r.least.iter_mut().zip(&c.at_points).for_each(|(m, e)| *m = m.min(*e));
                r.caps.iter_mut().zip(&c.at_caps).for_each(|(m, e)| *m = m.min(*e));
            }
        }
        r
    }

    /// The problem with only what is possible, and of some numbers, one for each candidate, those of what is.
    pub fn only(&self, problem: &Problem) -> Problem {
        let candidates = problem.candidates.iter().zip(&self.possible).filter(|(_, p)| **p);
        Problem { candidates: candidates.map(|(c, _)| c.clone()).collect(), ..problem.without_candidates() }
    }

    pub fn of_those(&self, numbers: &[usize]) -> Vec<usize> {
        numbers.iter().zip(&self.possible).filter(|(_, p)| **p).map(|(n, _)| *n).collect()
    }

    /// No choice that meets everything costs less than this: the cheapest that is left of every place that must be taken, with
    /// amplification for what is asked, in money.
    pub fn cost(&self, problem: &Problem) -> f64 {
        // What is asked and what it costs, place by place: only what costs less than all that ask no more.
        let mut front: Vec<(f64, f64)> = vec![(problem.fixed_demand.amount(), 0.0)];
        for q in (0..problem.places).filter(|q| self.must[*q]) {
            go_on();
            let own = problem.candidates.iter().zip(&self.possible).filter(|(c, p)| c.place == q && **p);
            let own = undominated(own.map(|(c, _)| (c.demand.amount(), c.cost)).collect());
            let both = front.iter().flat_map(|f| own.iter().map(move |o| (f.0 + o.0, f.1 + o.1)));
            front = coarser(undominated(both.collect()));
        }
        front.iter().map(|(demand, cost)| cost + problem.supply_cost(*demand)).fold(f64::INFINITY, f64::min)
    }
}

fn add(to: &mut [f64], what: &[f64], sign: f64) {
    to.iter_mut().zip(what).for_each(|(t, w)| *t += sign * w);
}

/// Whether a candidate, or none, can be taken beside the most and the least that others give.
fn can(problem: &Problem, others: &Range, candidate: Option<&Candidate>) -> bool {
    let energy = |p: usize| candidate.map_or(0.0, |c| c.at_points[p]);
    let areas = problem.areas.iter().all(|a| {
        let (floor, ceiling) = (a.floor * (1.0 - SLACK), a.ceiling * (1.0 + SLACK));
        let outside = a.points.clone().filter(|&p| {
            let e = energy(p);
            e + others.most[p] < floor || e + others.least[p] > ceiling
        });
        outside.take(a.may_miss + 1).count() <= a.may_miss
    });
    let cap = |(i, cap): (usize, &super::problem::Cap)| {
        !cap.must_hold() || others.caps[i] + candidate.map_or(0.0, |c| c.at_caps[i]) <= 1.0 + SLACK
    };
    areas && problem.caps.iter().enumerate().all(cap)
}

/// Pairs (asked, cost) of which none asks and costs as much as another, by rising demand.
fn undominated(mut all: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
    all.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let mut least = f64::INFINITY;
    all.retain(|(_, cost)| {
        let cheaper = *cost < least;
        least = least.min(*cost);
        cheaper
    });
    all
}

/// Most pairs kept.
const MOST: usize = 4000;

/// A front that is too long with neighbours made one that asks and costs no more than either: lower, so that it stays a bound.
fn coarser(mut front: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
    while front.len() > MOST {
        front = front.chunks(2).map(|two| (two[0].0, two[two.len() - 1].1)).collect();
    }
    front
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_asks_less_or_costs_less_is_kept() {
        let all = vec![(30.0, 100.0), (10.0, 300.0), (20.0, 300.0), (10.0, 400.0), (40.0, 90.0)];
        assert_eq!(undominated(all), [(10.0, 300.0), (30.0, 100.0), (40.0, 90.0)]);
    }

    #[test]
    fn a_coarser_front_lies_below_the_finer() {
        let fine: Vec<(f64, f64)> = (0..3 * MOST).map(|k| (k as f64, (3 * MOST - k) as f64)).collect();
        let coarse = coarser(fine.clone());
        assert!(coarse.len() <= MOST);
        assert!(fine.iter().all(|f| coarse.iter().any(|c| c.0 <= f.0 && c.1 <= f.1)));
    }
}
