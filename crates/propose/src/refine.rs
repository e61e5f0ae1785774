//! Positions, aims and taps settled on the full field: what each loudspeaker gives follows every path.
//!
//! Energies of loudspeakers add, so what a variant of one gives does not depend on the others: a round works out
//! all variants of all loudspeakers in one go, then takes them up one after another while the whole gets better, then
//! looks for a cheaper choice among the same variants (a covering problem again, now on the real energies).

use crate::back_to_back::on_one_stake;
use crate::candidates::{Pool, variants};
use crate::choose::{Fixed, covering, demand};
use crate::error::BriefProblem;
use crate::places::Rules;
use crate::price::Prices;
use crate::site::Site;
use crate::types::{Gains, LevelBand, Pose, Row};
use loamline_acoustics::energy_from_db;
use loamline_design::Effort;
use loamline_geometry::Point2;
use loamline_limits::go_on;

/// How far loudspeakers are moved and turned in each round: metres, degrees.
const ROUNDS: [(f64, f64); 4] = [(0.8, 20.0), (0.45, 12.0), (0.25, 8.0), (0.15, 5.0)];
/// Weight of a place outside the band beside the mean square of all deviations in dB.
const OUTSIDE: f64 = 40.0;
/// Weight of a limit overrun, per dB.
const OVERRUN: f64 = 300.0;
/// The same for other programmes heard in an area: a wish of ours that no brief asks for, so that levels come first.
const OTHERS: f64 = 4.0;
/// Weight of loudspeakers that stand too near each other and not on one stake, per metre and pair: people see clusters.
const NEAR: f64 = 30.0;

/// A set of loudspeakers with what they give.
#[derive(Debug, Clone)]
pub(crate) struct Plan {
    pub poses: Vec<Pose>,
    pub rows: Vec<Row>,
    pub gains: Gains,
}

/// Energies of a plan added up.
pub(crate) struct Sums {
    points: Vec<f64>,
    limits: Vec<f64>,
}

impl Sums {
    /// Those of a plan and of what stays.
    pub fn of(site: &Site<'_>, plan: &Plan, fixed: &Fixed) -> Self {
        let mut limits = fixed.limits.clone();
        limits.resize(site.limits.len(), 0.0);
        let mut s = Self { points: vec![0.0; site.fine.len()], limits };
        for (p, r) in plan.poses.iter().zip(&plan.rows).chain(fixed.poses.iter().zip(&fixed.fine)) {
            s.add(r, plan.gains.of(p) * p.tap_w);
        }
        s
    }

    /// Adds a loudspeaker that is driven so, re 1 W.
    pub fn add(&mut self, row: &Row, drive: f64) {
        self.points.iter_mut().zip(&row.points).for_each(|(s, e)| *s += drive * f64::from(*e));
        self.limits.iter_mut().zip(&row.limits).for_each(|(s, e)| *s += drive * f64::from(*e));
    }

    /// How far from what is wanted: 0 at best.
    pub fn penalty(&self, site: &Site<'_>, band: &LevelBand) -> f64 {
        let mut total = 0.0;
        for (z, (range, half)) in site.fine.ranges.iter().zip(&band.half_db).enumerate() {
            let n = range.len().max(1) as f64;
            let (mut square, mut outside) = (0.0, 0.0);
            for p in range.clone() {
                let off = (10.0 * self.points[p].max(1e-9).log10() + band.finished_at(z, p)).abs();
                square += off * off;
                // Counts softly from a little inside the band on, so that there is something to gain on the way.
                outside += ((off - half + 0.3) / 0.6).clamp(0.0, 1.0 + 0.2 * (off - half).max(0.0));
            }
            total += square / n + OUTSIDE * (outside / n - band.outside).max(0.0);
        }
        let over = |l: f64| (10.0 * l.max(1e-9).log10() + band.limits_db).max(0.0);
        let weight = |l: &crate::types::Limit| if l.neighbour { OVERRUN } else { OTHERS };
        total + site.limits.iter().zip(&self.limits).map(|(l, u)| weight(l) * over(*u)).sum::<f64>()
    }
}

/// Share of each area's points within its band, energies added up.
pub(crate) fn shares(site: &Site<'_>, plan: &Plan, fixed: &Fixed, band: &LevelBand) -> Vec<f64> {
    let s = Sums::of(site, plan, fixed);
    let inside = |z: usize| {
        let points = site.fine.ranges[z].clone();
        let n = points.len().max(1) as f64;
        let off = |p: &usize| (10.0 * s.points[*p].max(1e-9).log10() + band.finished_at(z, *p)).abs();
        points.filter(|p| off(p) <= band.half_db[z]).count() as f64 / n
    };
    (0..site.zones.len()).map(inside).collect()
}

/// Energy at every point of the fine grid over its target.
pub(crate) fn energies(site: &Site<'_>, plan: &Plan, fixed: &Fixed) -> Vec<f64> {
    Sums::of(site, plan, fixed).points
}

/// What each limit is used to.
pub(crate) fn used(site: &Site<'_>, plan: &Plan, fixed: &Fixed) -> Vec<f64> {
    Sums::of(site, plan, fixed).limits
}

/// Settles the loudspeakers of some areas on the full field; those of the others stay as they are. `rounds` at most 4;
/// `cheapen` also looks for a cheaper choice after each.
pub(crate) fn refine(
    site: &Site<'_>,
    rules: &Rules<'_>,
    prices: &Prices<'_>,
    fixed: &Fixed,
    (poses, gains): (&[Pose], &Gains),
    (band, moving): (&LevelBand, &[bool]),
    (rounds, seed, cheapen): (usize, u64, bool),
) -> Result<Plan, BriefProblem> {
    let rows = site.exact(&site.fine, poses, None)?;
    let mut plan = Plan { rows, poses: poses.to_vec(), gains: gains.clone() };
    for (round, step) in ROUNDS.into_iter().take(rounds).enumerate() {
        let all = Variants::of(site, rules, &plan, moving, step)?;
        settle(site, &mut plan, fixed, band, &all.each, &all.rows, &all.start);
        if cheapen && (round + 1 < rounds || rounds == 1) {
            cheaper(site, prices, fixed, band, &mut plan, (&all, moving), seed)?;
        }
    }
    Ok(plan)
}

/// Small variations of every loudspeaker of a plan, with what they give.
struct Variants {
    each: Vec<Vec<Pose>>,
    /// What all give, those of the first loudspeaker first.
    rows: Vec<Row>,
    /// Where in them each loudspeaker's begin.
    start: Vec<usize>,
}

impl Variants {
    fn of(
        site: &Site<'_>,
        rules: &Rules<'_>,
        plan: &Plan,
        moving: &[bool],
        (step_m, step_deg): (f64, f64),
    ) -> Result<Self, BriefProblem> {
        let of = |p: &Pose| {
            if moving[p.zone] { variants(site, rules, p, step_m, step_deg) } else { Vec::new() }
        };
        let each: Vec<Vec<Pose>> = plan.poses.iter().map(of).collect();
        let all: Vec<Pose> = each.iter().flatten().copied().collect();
        let like: Vec<usize> = each.iter().enumerate().flat_map(|(i, v)| v.iter().map(move |_| i)).collect();
        let rows = site.exact(&site.fine, &all, Some((&like, &plan.rows)))?;
        let mut next = 0;
        let start = each
            .iter()
            .map(|v| {
                next += v.len();
                next - v.len()
            })
            .collect();
        Ok(Self { each, rows, start })
    }
}

/// Whether a plan is within its band and every limit by the sum of energies.
fn meets(site: &Site<'_>, plan: &Plan, fixed: &Fixed, band: &LevelBand) -> bool {
    shares(site, plan, fixed, band).iter().all(|s| *s >= 1.0 - band.outside)
        && used(site, plan, fixed)
            .iter()
            .zip(&site.limits)
            .all(|(u, l)| !l.neighbour || *u <= energy_from_db(-band.limits_db))
}

/// Takes up variants and taps one loudspeaker at a time while the whole gets better.
fn settle(
    site: &Site<'_>,
    plan: &mut Plan,
    fixed: &Fixed,
    band: &LevelBand,
    each: &[Vec<Pose>],
    rows: &[Row],
    start: &[usize],
) {
    let apart_m = site.job.document().brief.wishes.apart_m;
    let near = |plan: &Plan, i: usize, at: Point2| -> f64 {
        let others = plan.poses.iter().enumerate().filter(|o| o.0 != i).map(|o| o.1).chain(&fixed.poses);
        let others = others.filter(|o| !on_one_stake(o.at, at));
        NEAR * others.map(|o| (apart_m - o.at.distance(at)).max(0.0)).sum::<f64>()
    };
    let mut sums = Sums::of(site, plan, fixed);
    let mut close = crowding(&plan.poses, fixed, apart_m);
    let mut now = sums.penalty(site, band) + close;
    for _ in 0..3 {
        let before = now;
        for i in 0..plan.poses.len() {
            let others = close - near(plan, i, plan.poses[i].at);
            // Variants serve the same area.
            let gain = plan.gains.of(&plan.poses[i]);
            sums.add(&plan.rows[i], -gain * plan.poses[i].tap_w);
            let taps = near_taps(site, &plan.poses[i]);
            let mut best: Option<(f64, usize, f64)> = None;
            for (v, variant) in each[i].iter().enumerate() {
                go_on();
                let close = others + near(plan, i, variant.at);
                for &tap_w in &taps {
                    let row = &rows[start[i] + v];
                    sums.add(row, gain * tap_w);
                    let penalty = sums.penalty(site, band) + close;
                    sums.add(row, -gain * tap_w);
                    if best.is_none_or(|b| penalty < b.0 - 1e-9) {
                        best = Some((penalty, v, tap_w));
                    }
                }
            }
            let taken = best.filter(|b| b.0 < now - 1e-6);
            if let Some((_, v, tap_w)) = taken {
                plan.poses[i] = Pose { tap_w, ..each[i][v] };
                plan.rows[i] = rows[start[i] + v].clone();
            }
            sums.add(&plan.rows[i], gain * plan.poses[i].tap_w);
            if taken.is_some() {
                close = others + near(plan, i, plan.poses[i].at);
                now = sums.penalty(site, band) + close;
            }
        }
        if now > before - 0.02 {
            break;
        }
    }
}

/// What it counts that loudspeakers stand too near each other, each pair once.
fn crowding(poses: &[Pose], fixed: &Fixed, apart_m: f64) -> f64 {
    let of = |i: usize| {
        let others = poses[..i].iter().chain(&fixed.poses).filter(|o| !on_one_stake(o.at, poses[i].at));
        others.map(|o| (apart_m - o.at.distance(poses[i].at)).max(0.0)).sum::<f64>()
    };
    NEAR * (0..poses.len()).map(of).sum::<f64>()
}

/// The tap in use and those next to it.
pub(crate) fn near_taps(site: &Site<'_>, pose: &Pose) -> Vec<f64> {
    let taps = &site.models[pose.model].taps_w;
    let at = taps.iter().position(|t| (t - pose.tap_w).abs() < 1e-9).unwrap_or(0);
    taps[at.saturating_sub(1)..(at + 2).min(taps.len())].to_vec()
}

/// Looks for a cheaper set among the variants, on their real energies.
fn cheaper(
    site: &Site<'_>,
    prices: &Prices<'_>,
    fixed: &Fixed,
    band: &LevelBand,
    plan: &mut Plan,
    (variants, moving): (&Variants, &[bool]),
    seed: u64,
) -> Result<(), BriefProblem> {
    let (each, rows) = (&variants.each, &variants.rows);
    let all: Vec<Pose> = each.iter().flatten().copied().collect();
    let place: Vec<usize> = each.iter().enumerate().flat_map(|(i, v)| v.iter().map(move |_| i)).collect();
    let mut pool = Pool {
        cost: all.iter().map(|p| site.models[p.model].installed).collect(),
        poses: all,
        rows: rows.clone(),
        place,
        places: each.len(),
        too_near: Vec::new(),
    };
    // What has just been settled stands among the variants.
    for (i, (p, r)) in plan.poses.iter().zip(&plan.rows).enumerate() {
        pool.poses.push(*p);
        pool.rows.push(r.clone());
        pool.place.push(i);
        pool.cost.push(site.models[p.model].installed);
    }
    let taps = |p: &Pose| if moving[p.zone] { near_taps(site, p) } else { vec![p.tap_w] };
    let c = covering((site, &site.fine), &pool, fixed, prices, band, &plan.gains, taps);
    let first_kept = rows.len();
    let guide: Vec<f64> = c
        .meaning
        .iter()
        .map(|(i, tap)| if *i >= first_kept && (tap - pool.poses[*i].tap_w).abs() < 1e-9 { 1.0 } else { 0.0 })
        .collect();
    let found = c.search(&pool, Effort { walks: 4, draws: 25_000, seed }, &guide, &|_| true)?;
    let installed: f64 = plan.poses.iter().map(|p| site.models[p.model].installed).sum();
    let asked: f64 = plan.poses.iter().map(|p| demand(site, p).amount()).sum();
    let now = installed + c.problem.supply_cost(c.problem.fixed_demand.amount() + asked);
    let kept = energy_from_db(band.limits_db);
    let limits: Vec<f64> = used(site, plan, fixed).iter().map(|u| kept * u).collect();
    let worth = now + c.problem.wished(&limits);
    let met = meets(site, plan, fixed, band);
    let apart_m = site.job.document().brief.wishes.apart_m;
    let crowds = crowding(&found.poses, fixed, apart_m) > crowding(&plan.poses, fixed, apart_m) + 1e-9;
    if found.meets && !crowds && (!met || found.cost + found.answer.wished < worth - 1.0) {
        plan.rows = found.answer.taken.iter().map(|&t| pool.rows[c.meaning[t].0].clone()).collect();
        plan.poses = found.poses;
    }
    Ok(())
}
