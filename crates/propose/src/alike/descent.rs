//! The descent: columns of areas taken in turn, each the best with what the others have.

use crate::choose::{Fixed, better, demand, too_loud_near, without_candidates};
use crate::columns::{Column, Columns};
use crate::mirror;
use crate::price::Prices;
use crate::site::Site;
use crate::spacing::{WRITTEN_M, crowded};
use crate::types::{Choice, Gains, LevelBand, Pose};
use loamline_acoustics::energy_from_db;
use loamline_chance::Draws;
use loamline_design::{Answer, Candidate, Problem, Unmet};
use loamline_limits::{go_on, lent};
use rayon::prelude::*;
use std::collections::BTreeSet;

/// Prices of what is missed, one after another: of a hundredth of an area, and of a decibel over a limit, in loudspeakers of
/// usual price.
const MISSED: [f64; 3] = [0.1, 0.5, 3.0];
const OVER_PER_DB: f64 = 6.0;
/// Rounds over all areas at one price, at most.
const ROUNDS: usize = 8;
/// A column is driven no lower and no higher than this against the level at which it alone fills its area, dB: neighbouring
/// areas are heard too.
const BELOW_DB: f64 = 4.0;
const ABOVE_DB: f64 = 2.0;
/// Costs are varied by this much from beginning to beginning, so that they end differently.
const VARIED: f64 = 0.15;
/// What it is worth that areas that touch have one model, and what each further model of a job costs, in loudspeakers of
/// usual price: crews stock and replace them (common practice, no source).
const ONE_MODEL: f64 = 3.0;
const FURTHER_MODEL: f64 = 0.15;
/// A column that gives an area less than this share of its floor leaves who is outside the band there as it is: more is quicker
/// and compares columns less exactly. What is chosen is added up in full.
const FELT: f32 = 1e-3;
/// Choices given back, at most.
const MOST: usize = 4;

/// A column on a tap.
struct Driven {
    /// Place among the columns.
    column: usize,
    tap_w: f64,
    /// Tap times gain.
    drive: f32,
    /// With amplification by the unit.
    cost: f64,
    /// What it asks of amplification.
    demand: f64,
    count: usize,
    /// What it is worth that it is not mirrored though its area could be, in money.
    unmirrored: f64,
}

/// The choice of columns at given gains.
pub(super) struct Descent<'a> {
    site: &'a Site<'a>,
    columns: &'a Columns,
    /// What is fixed and wanted.
    problem: Problem,
    gains: &'a Gains,
    /// By area; the first is none at all.
    driven: Vec<Vec<Driven>>,
    /// Areas that touch each area.
    touching: &'a [Vec<usize>],
    /// What a loudspeaker costs.
    usual: f64,
    /// Margin kept below limits, as energy.
    kept: f32,
    /// Whether wishes count beside money: few models, mirrored rows, nothing crowded, programmes apart.
    wishes: bool,
}

/// Where a descent stands.
struct Standing {
    taken: Vec<usize>,
    points: Vec<f32>,
    limits: Vec<f32>,
}

impl<'a> Descent<'a> {
    pub(super) fn new(
        site: &'a Site<'a>,
        columns: &'a Columns,
        fixed: &Fixed,
        prices: &Prices<'_>,
        band: &LevelBand,
        gains: &'a Gains,
        touching: &'a [Vec<usize>],
    ) -> Self {
        let usual = columns.pool.cost.iter().sum::<f64>() / columns.pool.cost.len().max(1) as f64;
        let problem = without_candidates((site, &site.coarse), fixed, prices, band, gains, usual);
        let unit = problem.supplies_by_the_unit().first().map_or(0.0, |s| s.cost);
        let kept = energy_from_db(band.limits_db) as f32;
        let none = || Driven {
            column: usize::MAX,
            tap_w: 0.0,
            drive: 0.0,
            cost: 0.0,
            demand: 0.0,
            count: 0,
            unmirrored: 0.0,
        };
        let mut driven: Vec<Vec<Driven>> = site.zones.iter().map(|_| vec![none()]).collect();
        for (k, c) in columns.all.iter().enumerate().filter(|(_, c)| !band.ignored[c.zone]) {
            let lower = band.lower_db[c.zone] + band.finished_db[c.zone];
            let gain_db = gains.0[c.zone];
            let Some(first) = c.poses.first().map(|i| columns.pool.poses[*i]) else { continue };
            for &tap_w in &site.models[c.model].taps_w {
                let off_db = 10.0 * tap_w.log10() + gain_db - (c.raise_db - lower);
                let loud =
                    c.poses.iter().any(|i| too_loud_near(site, &columns.pool.poses[*i], gain_db, tap_w));
                if !(-BELOW_DB..=ABOVE_DB).contains(&off_db) || loud {
                    continue;
                }
                let each = demand(site, &Pose { tap_w, ..first }).amount();
                let asked = each * c.poses.len() as f64;
                driven[c.zone].push(Driven {
                    column: k,
                    tap_w,
                    drive: (tap_w * energy_from_db(gain_db)) as f32,
                    cost: c.cost + unit * asked,
                    demand: asked,
                    count: c.poses.len(),
                    unmirrored: if c.mirrored { 0.0 } else { mirror::worth(site, c.model) },
                });
            }
        }
        Self { site, columns, problem, gains, driven, touching, usual, kept, wishes: true }
    }

    /// The same by money alone.
    pub(super) fn without_wishes(self) -> Self {
        Self { wishes: false, ..self }
    }

    /// Descends from several beginnings; the best first, each different.
    pub(super) fn search(&self, beginnings: u64, seed: u64) -> Vec<Choice> {
        let leave = lent();
        let from = |k: u64| (seed.wrapping_add(k), k > 0, None);
        let of_model = |m: usize| (seed.wrapping_add(m as u64), false, Some(m));
        let models: BTreeSet<usize> = self.columns.all.iter().map(|c| c.model).collect();
        let all: Vec<_> = (0..beginnings).map(from).chain(models.into_iter().map(of_model)).collect();
        let ends: Vec<Vec<usize>> =
            all.into_par_iter().map(|begin| leave.lend(|| self.descend(begin))).collect();
        let mut choices: Vec<(Vec<usize>, Choice)> = Vec::new();
        for taken in ends {
            if choices.iter().any(|(t, _)| *t == taken) {
                continue;
            }
            let choice = self.choice(&taken);
            let at = choices.iter().position(|(_, c)| better(&choice, c)).unwrap_or(choices.len());
            choices.insert(at, (taken, choice));
        }
        choices.truncate(MOST);
        choices.into_iter().map(|c| c.1).collect()
    }

    /// One descent: with costs that are varied at first, or with a model that all areas have at first, since areas that
    /// touch and have one model do not change it one by one.
    fn descend(&self, (seed, varied, model): (u64, bool, Option<usize>)) -> Vec<usize> {
        let zones = self.driven.len();
        let mut s = Standing {
            taken: vec![0; zones],
            points: self.problem.fixed_at_points.iter().map(|e| *e as f32).collect(),
            limits: self.problem.caps.iter().map(|c| c.used as f32).collect(),
        };
        let has = |z: usize, i: usize, m: usize| {
            self.columns.all.get(self.driven[z][i].column).is_none_or(|c| c.model == m)
        };
        for missed in MISSED {
            let only = model.filter(|_| missed < MISSED[2]);
            for round in 0..ROUNDS {
                let mut changed = false;
                for k in 0..zones {
                    go_on();
                    // Another area first for each beginning.
                    let z = (k + seed as usize % zones) % zones;
                    self.add(&mut s, z, -1.0);
                    let base = self.outside(&s);
                    let vary = varied && missed < MISSED[2] && round == 0;
                    let worth = |i: usize, most: f64| {
                        let noise = if vary { 1.0 + VARIED * noise(seed, z, i) } else { 1.0 };
                        self.worth((&s, &base), (z, i), (missed, noise), most)
                    };
                    let now = (s.taken[z], worth(s.taken[z], f64::INFINITY));
                    let open = (0..self.driven[z].len()).filter(|i| only.is_none_or(|m| has(z, *i, m)));
                    let best = open.fold(now, |a, i| {
                        let least = a.1 - 1e-6;
                        let b = worth(i, least);
                        if b < least { (i, b) } else { a }
                    });
                    changed |= best.0 != s.taken[z];
                    s.taken[z] = best.0;
                    self.add(&mut s, z, 1.0);
                }
                if !changed {
                    break;
                }
            }
        }
        s.taken
    }

    /// How many points of each area lie outside its band.
    fn outside(&self, s: &Standing) -> Vec<u32> {
        let of = |a: &loamline_design::Area| -> u32 {
            let band = a.floor as f32..=a.ceiling as f32;
            s.points[a.points.clone()].iter().map(|e| u32::from(!band.contains(e))).sum()
        };
        self.problem.areas.iter().map(of).collect()
    }

    /// Adds what an area has, or takes it away.
    fn add(&self, s: &mut Standing, z: usize, sign: f32) {
        let d = &self.driven[z][s.taken[z]];
        let Some(c) = self.columns.all.get(d.column) else { return };
        let by = sign * d.drive;
        s.points.iter_mut().zip(&c.points).for_each(|(s, e)| *s += by * e);
        s.limits.iter_mut().zip(&c.limits).for_each(|(s, e)| *s += by * self.kept * e);
    }

    /// What a column of an area is worth beside what the others have: less is better. Everything in it adds to it, so that
    /// it is left off where it has passed the most that is of interest.
    fn worth(
        &self,
        (s, base): (&Standing, &[u32]),
        (z, i): (usize, usize),
        (missed, noise): (f64, f64),
        most: f64,
    ) -> f64 {
        let d = &self.driven[z][i];
        let column = self.columns.all.get(d.column);
        let mut total = noise * d.cost + if self.wishes { d.unmirrored } else { 0.0 };
        let model = |z: usize| self.columns.all.get(self.driven[z][s.taken[z]].column).map(|c| c.model);
        if let Some(c) = column.filter(|_| self.wishes) {
            let others = (0..s.taken.len()).filter(|o| *o != z).map(|o| self.driven[o][s.taken[o]].column);
            total += others.map(|o| self.crowded(c, o)).sum::<f64>();
            let unlike = self.touching[z].iter().filter(|o| model(**o).is_some_and(|m| m != c.model)).count();
            let known = (0..s.taken.len()).any(|o| o != z && model(o) == Some(c.model));
            total += self.usual * ONE_MODEL * unlike as f64;
            total += if known { 0.0 } else { self.usual * FURTHER_MODEL };
        }
        let others = (0..s.taken.len()).filter(|o| *o != z).map(|o| self.driven[o][s.taken[o]].count);
        let many = (others.sum::<usize>() + d.count).saturating_sub(self.problem.at_most);
        total += self.usual * 5.0 * missed.max(1.0) * many as f64;
        for (k, cap) in self.problem.caps.iter().enumerate().filter(|c| self.wishes || c.1.per_db.is_none()) {
            let used = s.limits[k] + column.map_or(0.0, |c| d.drive * self.kept * c.limits[k]);
            if used > 1.0 {
                let each = cap.per_db.unwrap_or(OVER_PER_DB * self.usual * missed.max(1.0));
                total += each * 10.0 * f64::from(used.log10());
            }
        }
        // Its own area first: that is where it counts most.
        let areas = &self.problem.areas;
        for k in (z..areas.len()).chain(0..z) {
            let a = &areas[k];
            let n = a.points.len();
            if n == 0 || a.may_miss >= n {
                continue;
            }
            if total >= most {
                return total;
            }
            let (floor, ceiling) = (a.floor as f32, a.ceiling as f32);
            let at = &s.points[a.points.clone()];
            let out = |e: f32| u32::from(!(floor..=ceiling).contains(&e));
            let outside: u32 = match column.filter(|c| d.drive * c.peaks[k] > FELT * floor) {
                Some(c) => {
                    let own = &c.points[a.points.clone()];
                    at.iter().zip(own).map(|(s, e)| out(s + d.drive * e)).sum()
                }
                None => base[k],
            };
            let over = (outside as usize).saturating_sub(a.may_miss);
            total += missed * self.usual * 100.0 * over as f64 / n as f64;
        }
        total
    }

    /// What it costs that a column crowds that of another area, in money.
    fn crowded(&self, c: &Column, other: usize) -> f64 {
        let apart_m = self.site.job.document().brief.wishes.apart_m;
        let Some(o) = self.columns.all.get(other) else { return 0.0 };
        let away = |low: f64, high: f64| low - high >= apart_m + WRITTEN_M;
        let ((a, b), (p, q)) = (c.bounds, o.bounds);
        if away(a.x, q.x) || away(p.x, b.x) || away(a.y, q.y) || away(p.y, b.y) {
            return 0.0;
        }
        let at = |i: &usize| self.columns.pool.poses[*i].at;
        let near = c.poses.iter().flat_map(|i| o.poses.iter().map(move |k| (at(i), at(k))));
        self.usual * near.map(|(x, y)| crowded(x, y, apart_m)).sum::<f64>()
    }

    /// What has been taken, as a choice.
    fn choice(&self, taken: &[usize]) -> Choice {
        let p = &self.problem;
        let mut s = Standing {
            taken: taken.to_vec(),
            points: p.fixed_at_points.iter().map(|e| *e as f32).collect(),
            limits: p.caps.iter().map(|c| c.used as f32).collect(),
        };
        (0..taken.len()).for_each(|z| self.add(&mut s, z, 1.0));
        let (mut poses, mut rows, mut columns) = (Vec::new(), Vec::new(), Vec::new());
        let (mut installed, mut asked, mut unmirrored) = (0.0, 0.0, 0.0);
        for d in taken.iter().enumerate().map(|(z, i)| &self.driven[z][*i]) {
            let Some(c) = self.columns.all.get(d.column) else { continue };
            let first = poses.len();
            poses.extend(c.poses.iter().map(|i| Pose { tap_w: d.tap_w, ..self.columns.pool.poses[*i] }));
            rows.extend(c.rows.iter().map(|r| first + r.start..first + r.end));
            installed += c.cost;
            asked += d.demand;
            unmirrored += d.unmirrored;
            columns.push(d.column);
        }
        let outside = |a: &loamline_design::Area| {
            let band = (a.floor * (1.0 - 1e-6)) as f32..=(a.ceiling * (1.0 + 1e-6)) as f32;
            let out = s.points[a.points.clone()].iter().filter(|e| !band.contains(*e)).count();
            out.saturating_sub(a.may_miss)
        };
        let over = |(cap, used): (&loamline_design::Cap, &f32)| {
            if cap.per_db.is_some() { 0.0 } else { f64::from(*used - 1.0).max(0.0) }
        };
        let unmet = Unmet {
            areas: p.areas.iter().map(outside).collect(),
            caps: p.caps.iter().zip(&s.limits).map(over).collect(),
            too_many: poses.len().saturating_sub(p.at_most),
        };
        let cost = installed + p.supply_cost(p.fixed_demand.amount() + asked);
        let met = unmet.too_many == 0
            && unmet.areas.iter().all(|n| *n == 0)
            && unmet.caps.iter().all(|c| *c <= 0.0)
            && cost.is_finite();
        let used: Vec<f64> = s.limits.iter().map(|l| f64::from(*l)).collect();
        let own = |k: usize| columns.get(k).and_then(|c| self.columns.all.get(*c));
        let crowded =
            |k: usize| columns[..k].iter().filter_map(|o| Some(self.crowded(own(k)?, *o))).sum::<f64>();
        let wished = p.wished(&used) + unmirrored + (0..columns.len()).map(crowded).sum::<f64>();
        let wished = if self.wishes { wished } else { 0.0 };
        let answer = Answer { taken: columns, cost, wished, meets: met, unmet };
        Choice { poses, rows, gains: self.gains.clone(), cost, meets: met, answer }
    }

    /// The choice of columns as a covering problem: one place for each area, one candidate for each column on each tap.
    pub(super) fn as_problem(&self) -> Problem {
        let one = |(z, d): (usize, &Driven)| {
            let c = self.columns.all.get(d.column)?;
            let first = self.columns.pool.poses[*c.poses.first()?];
            Some(Candidate {
                place: z,
                cost: c.cost,
                demand: demand(self.site, &first).with_amount(d.demand),
                at_points: c.points.iter().map(|e| f64::from(e * d.drive)).collect(),
                at_caps: c.limits.iter().map(|e| f64::from(e * d.drive * self.kept)).collect(),
            })
        };
        let all = self.driven.iter().enumerate().flat_map(|(z, all)| all.iter().map(move |d| (z, d)));
        let places = self.driven.len();
        Problem { places, candidates: all.filter_map(one).collect(), at_most: places, ..self.problem.clone() }
    }
}

/// A number between -1 and 1 for each column and seed.
fn noise(seed: u64, zone: usize, i: usize) -> f64 {
    Draws::of_one(seed, (zone as u64) << 32 | i as u64).between(-1.0, 1.0)
}
