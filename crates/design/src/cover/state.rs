//! A choice of candidates with its energies, kept up to date move by move, and how far it is from meeting everything.

use super::problem::{Problem, over_db};

/// How steeply a point's miss counts: a point this share (1/4) beyond its band counts as a whole miss.
/// Smaller lets the search see progress from farther away; larger follows the true count more closely.
const STEEPNESS: f64 = 4.0;

/// Weight of the true count of misses beside the smooth one. Zero leaves the search stuck just short of the band.
const COUNT_WEIGHT: f64 = 0.25;

/// A change to a choice: at each place named, the candidate to take instead (`None` leaves the place empty).
/// One or two places.
pub(super) type Move = [Option<(usize, Option<usize>)>; 2];

/// A choice of candidates.
#[derive(Debug, Clone)]
pub(super) struct State<'p> {
    pub problem: &'p Problem,
    /// Candidate taken at each place.
    pub taken: Vec<Option<usize>>,
    pub energy: Vec<f64>,
    /// The same in single precision.
    quick: Vec<f32>,
    pub caps: Vec<f64>,
    /// In the problem's unit.
    pub demand: f64,
    pub count: usize,
    pub option_cost: f64,
    /// Miss of each area as it stands.
    area_misses: Vec<f64>,
}

/// An energy below this share of an area's floor at every point cannot be told from none when moves are compared; the
/// choice itself is always added up in full. Larger is faster and compares moves less exactly.
const FELT: f64 = 2e-3;

/// What each candidate gives, in single precision and with the areas it is felt in: enough to compare moves by. The
/// choice itself is kept in double precision.
#[derive(Debug)]
pub(super) struct Rows {
    areas: usize,
    points: usize,
    felt: Vec<bool>,
    energy: Vec<f32>,
}

impl Rows {
    pub fn of(problem: &Problem) -> Self {
        let felt = |c: &super::problem::Candidate, a: &super::problem::Area| {
            c.at_points[a.points.clone()].iter().any(|e| *e > FELT * a.floor)
        };
        let each = problem.candidates.iter().flat_map(|c| problem.areas.iter().map(move |a| felt(c, a)));
        Self {
            areas: problem.areas.len(),
            points: problem.points(),
            felt: each.collect(),
            energy: problem.candidates.iter().flat_map(|c| c.at_points.iter().map(|e| *e as f32)).collect(),
        }
    }

    fn is_felt(&self, candidate: usize, area: usize) -> bool {
        self.felt[candidate * self.areas + area]
    }

    pub fn at(&self, candidate: usize, points: &std::ops::Range<usize>) -> &[f32] {
        &self.energy[candidate * self.points..][points.clone()]
    }
}

/// Points added up side by side, so that a processor can work on several at once.
const LANES: usize = 8;

/// [`area_miss`] of energies with some rows added or taken away, in single precision.
fn area_miss_with<const N: usize>(
    base: &[f32],
    rows: [(&[f32], f32); N],
    area: &super::problem::Area,
) -> f64 {
    let (low, high) = ((1.0 / area.floor.max(1e-30)) as f32, (1.0 / area.ceiling.max(1e-30)) as f32);
    let (mut smooth, mut count) = ([0f32; LANES], [0f32; LANES]);
    let mut one = |lane: usize, e: f32| {
        let miss = (1.0 - e * low).max(e * high - 1.0).max(0.0);
        smooth[lane] += (STEEPNESS as f32 * miss).min(1.0);
        count[lane] += if miss > 1e-6 { 1.0 } else { 0.0 };
    };
    let whole = base.len() / LANES * LANES;
    let mut at = 0;
    while at < whole {
        let mut e: [f32; LANES] = std::array::from_fn(|l| base[at + l]);
        for (row, sign) in rows {
            let x = &row[at..at + LANES];
            e.iter_mut().zip(x).for_each(|(e, x)| *e += sign * x);
        }
        e.into_iter().enumerate().for_each(|(l, e)| one(l, e));
        at += LANES;
    }
    for p in whole..base.len() {
        one(p - whole, rows.iter().fold(base[p], |e, (row, sign)| e + sign * row[p]));
    }
    let sum = |v: [f32; LANES]| f64::from(v.iter().sum::<f32>());
    total(sum(smooth), sum(count), area.may_miss)
}

/// How far a choice is from meeting everything: 0 in each part when met.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Misses {
    pub areas: Vec<f64>,
    pub caps: Vec<f64>,
    pub too_many: f64,
}

/// Weights of the parts of [`Misses`] in money.
#[derive(Debug, Clone)]
pub(super) struct Weights {
    pub areas: Vec<f64>,
    pub caps: Vec<f64>,
    pub too_many: f64,
}

impl Weights {
    pub fn uniform(problem: &Problem, weight: f64) -> Self {
        Self {
            areas: vec![weight; problem.areas.len()],
            caps: vec![weight; problem.caps.len()],
            too_many: weight,
        }
    }

    /// Makes what is missed dearer and what is met cheaper.
    pub fn learn(&mut self, misses: &Misses, up: f64, down: f64) {
        let step = |w: &mut f64, miss: f64| *w *= if miss > 0.0 { up } else { down };
        self.areas.iter_mut().zip(&misses.areas).for_each(|(w, &m)| step(w, m));
        self.caps.iter_mut().zip(&misses.caps).for_each(|(w, &m)| step(w, m));
        step(&mut self.too_many, misses.too_many);
    }

    fn price(&self, misses: impl Iterator<Item = (usize, f64)>) -> f64 {
        misses.map(|(i, m)| self.areas[i] * m).sum::<f64>()
    }
}

fn area_miss(energies: impl Iterator<Item = f64>, floor: f64, ceiling: f64, may_miss: usize) -> f64 {
    let (low, high) = (1.0 / floor.max(1e-300), 1.0 / ceiling.max(1e-300));
    let (mut smooth, mut count) = (0.0, 0.0);
    for e in energies {
        let miss = (1.0 - e * low).max(e * high - 1.0).max(0.0);
        smooth += (STEEPNESS * miss).min(1.0);
        count += if miss > 1e-12 { 1.0 } else { 0.0 };
    }
    total(smooth, count, may_miss)
}

fn total(smooth: f64, count: f64, may_miss: usize) -> f64 {
    let allowed = may_miss as f64;
    (smooth - allowed).max(0.0) + COUNT_WEIGHT * (count - allowed).max(0.0)
}

fn cap_miss(used: f64) -> f64 {
    // In steps of about a decibel, so that caps and areas have like sizes.
    if used > 1.0 + 1e-12 { 0.25 + over_db(used) } else { 0.0 }
}

impl<'p> State<'p> {
    pub fn empty(problem: &'p Problem) -> Self {
        let mut state = Self {
            problem,
            area_misses: vec![0.0; problem.areas.len()],
            taken: vec![None; problem.places],
            energy: problem.fixed_at_points.clone(),
            quick: vec![0.0; problem.points()],
            caps: problem.caps.iter().map(|c| c.used).collect(),
            demand: problem.fixed_demand.amount(),
            count: 0,
            option_cost: 0.0,
        };
        state.look();
        state
    }

    fn look(&mut self) {
        self.quick.iter_mut().zip(&self.energy).for_each(|(q, e)| *q = *e as f32);
        for (m, a) in self.area_misses.iter_mut().zip(&self.problem.areas) {
            let e = self.energy[a.points.clone()].iter().copied();
            *m = area_miss(e, a.floor, a.ceiling, a.may_miss);
        }
    }

    pub fn cost(&self) -> f64 {
        self.option_cost + self.problem.supply_cost(self.demand)
    }

    pub fn misses(&self) -> Misses {
        let p = self.problem;
        Misses {
            areas: self.area_misses.clone(),
            caps: self.must_hold().map(|u| u.map_or(0.0, cap_miss)).collect(),
            too_many: self.count.saturating_sub(p.at_most) as f64,
        }
    }

    /// How much of each cap that must hold is used; `None` for wishes.
    fn must_hold(&self) -> impl Iterator<Item = Option<f64>> {
        self.caps.iter().zip(&self.problem.caps).map(|(u, cap)| cap.must_hold().then_some(*u))
    }

    /// Share by which each cap is overrun; 0 when met, and for wishes.
    pub fn overruns(&self) -> Vec<f64> {
        self.must_hold().map(|u| u.filter(|u| *u > 1.0 + 1e-9).map_or(0.0, |u| u - 1.0)).collect()
    }

    /// What wishes that are not met are worth, in money.
    pub fn wished(&self) -> f64 {
        self.problem.wished(&self.caps)
    }

    /// Whether everything is met.
    pub fn met(&self) -> bool {
        self.count <= self.problem.at_most
            && self.area_misses.iter().all(|m| *m <= 0.0)
            && self.must_hold().flatten().all(|u| cap_miss(u) <= 0.0)
    }

    /// Cost with misses priced in, after a move that is not made.
    pub fn price_after(
        &self,
        change: &Move,
        weights: &Weights,
        rows: &Rows,
        supply_cost: &mut impl FnMut(f64) -> f64,
    ) -> f64 {
        let p = self.problem;
        let (mut cost, mut demand, mut count) = (self.option_cost, self.demand, self.count as i64);
        // Up to four rows: two taken away, two put in.
        let mut changed = [(usize::MAX, 0.0f32); 4];
        let mut n = 0;
        for &(place, new) in change.iter().flatten() {
            for (option, sign) in [(self.taken[place], -1.0), (new, 1.0)] {
                let Some(candidate) = option else { continue };
                let o = &p.candidates[candidate];
                cost += sign * o.cost;
                demand += sign * o.demand.amount();
                count += sign as i64;
                changed[n] = (candidate, sign as f32);
                n += 1;
            }
        }
        let changed = &changed[..n];
        let areas = p.areas.iter().enumerate().map(|(i, a)| {
            let row = |k: usize| (rows.at(changed[k].0, &a.points), changed[k].1);
            let base = &self.quick[a.points.clone()];
            let m = match n {
                _ if !changed.iter().any(|c| rows.is_felt(c.0, i)) => self.area_misses[i],
                0 => self.area_misses[i],
                1 => area_miss_with(base, [row(0)], a),
                2 => area_miss_with(base, [row(0), row(1)], a),
                3 => area_miss_with(base, [row(0), row(1), row(2)], a),
                _ => area_miss_with(base, [row(0), row(1), row(2), row(3)], a),
            };
            (i, m)
        });
        let mut caps = 0.0;
        for (i, (u, cap)) in self.caps.iter().zip(&p.caps).enumerate() {
            let change = changed.iter().map(|&(c, s)| f64::from(s) * p.candidates[c].at_caps[i]).sum::<f64>();
            caps += match cap.per_db {
                None => weights.caps[i] * cap_miss(u + change),
                Some(per_db) => per_db * over_db(u + change),
            };
        }
        let too_many = (count - p.at_most as i64).max(0) as f64;
        cost + supply_cost(demand) + weights.price(areas) + caps + weights.too_many * too_many
    }

    pub fn make(&mut self, change: &Move) {
        let p = self.problem;
        for &(place, new) in change.iter().flatten() {
            for (option, sign) in [(self.taken[place], -1.0), (new, 1.0)] {
                let Some(o) = option.map(|o| &p.candidates[o]) else { continue };
                self.option_cost += sign * o.cost;
                self.demand += sign * o.demand.amount();
                for (e, x) in self.energy.iter_mut().zip(&o.at_points) {
                    *e += sign * x;
                }
                for (u, x) in self.caps.iter_mut().zip(&o.at_caps) {
                    *u += sign * x;
                }
            }
            self.count = self.count + usize::from(new.is_some()) - usize::from(self.taken[place].is_some());
            self.taken[place] = new;
        }
        self.look();
    }

    /// Adds everything up afresh, so that rounding from many moves does not build up.
    pub fn refresh(&mut self) {
        let taken = std::mem::take(&mut self.taken);
        *self = Self::empty(self.problem);
        for (place, option) in taken.into_iter().enumerate() {
            if option.is_some() {
                self.make(&[Some((place, option)), None]);
            }
        }
    }
}
