//! The choice among candidates: a covering problem at given working gains, searched with a proven bound.

use crate::candidates::Pool;
use crate::error::BriefProblem;
use crate::grid::Grid;
use crate::models::{room, supplies_of};
use crate::price::Prices;
use crate::site::Site;
use crate::types::{AmplificationUnit, Choice, Gains, LevelBand, Limit, Pose, Row};
use loamline_acoustics::{WHO_VENUE_LIMIT_DBA, energy_from_db};
use loamline_design::{
    Answer, Area, Candidate, Cap, Demand, Effort, Problem, Progress, lower_bound, solve_several,
};
use loamline_limits::go_on;
use loamline_model::catalogue::AmplifierModel;
use loamline_terms::{Siemens, Watts};

/// What a decibel by which other programmes are heard too loud in an area is worth, in loudspeakers of usual price: no
/// brief asks for it, and terraces above each other cannot always have it (common practice, no source). A quarter of
/// it lets programmes be heard as loud as each other; four times as much hardly brings them farther apart.
const OTHERS_PER_DB: f64 = 2.0;
/// A candidate that gives less than this share of the floor everywhere in its area is left out.
const TOO_WEAK: f64 = 0.05;

/// What stays as it is: loudspeakers that are pinned.
#[derive(Debug, Clone, Default)]
pub(crate) struct Fixed {
    /// With their taps.
    pub poses: Vec<Pose>,
    /// What they give, on the coarse and on the fine grid.
    pub coarse: Vec<Row>,
    pub fine: Vec<Row>,
    /// What subwoofers ask of amplification, pinned or proposed, in the unit of [`demand`].
    pub demand: f64,
    /// How many subwoofers are proposed.
    pub subwoofers: usize,
    /// Shares of the limits that subwoofers use as they are driven.
    pub limits: Vec<f64>,
}

impl Fixed {
    /// What they give on a grid.
    pub fn rows(&self, site: &Site<'_>, grid: &Grid) -> &[Row] {
        if std::ptr::eq(grid, &site.coarse) { &self.coarse } else { &self.fine }
    }

    /// Takes these subwoofers for those proposed.
    pub fn set_subwoofers(&mut self, site: &Site<'_>, subs: &crate::types::Subwoofers) {
        self.demand = subs.poses.iter().map(|p| demand(site, p).amount()).sum();
        self.subwoofers = subs.poses.len();
        self.limits = subs.limits.clone();
    }
}

/// A covering problem with what its candidates stand for.
pub(crate) struct Covering {
    pub problem: Problem,
    pub meaning: Vec<(usize, f64)>,
    pub gains: Gains,
}

/// The problem of a site on a grid without any candidate: what is fixed, what is wanted, what amplification costs. `usual`
/// is what a loudspeaker costs.
pub(crate) fn without_candidates(
    (site, grid): (&Site<'_>, &Grid),
    fixed: &Fixed,
    prices: &Prices<'_>,
    band: &LevelBand,
    gains: &Gains,
    usual: f64,
) -> Problem {
    let areas: Vec<Area> = site
        .zones
        .iter()
        .zip(&grid.ranges)
        .zip(band.half_db.iter().zip(&band.lower_db))
        .zip(band.ignored.iter().zip(&band.finished_db))
        .map(|(((_, range), (half, lower)), (ignored, finished))| Area {
            points: range.clone(),
            floor: energy_from_db(-half - lower - finished),
            ceiling: energy_from_db(half - lower - finished),
            may_miss: if *ignored {
                range.len()
            } else {
                (band.outside * range.len() as f64).floor() as usize
            },
        })
        .collect();
    let kept = energy_from_db(band.limits_db);
    let mut caps = fixed.limits.clone();
    caps.resize(site.limits.len(), 0.0);
    let mut fixed_at_points = vec![0.0; grid.len()];
    let mut fixed_demand = fixed.demand;
    for (pose, row) in fixed.poses.iter().zip(fixed.rows(site, grid)) {
        let drive = pose.tap_w * gains.of(pose);
        fixed_at_points.iter_mut().zip(&row.points).for_each(|(s, e)| *s += drive * f64::from(*e));
        caps.iter_mut().zip(&row.limits).for_each(|(s, e)| *s += drive * f64::from(*e));
        fixed_demand += demand(site, pose).amount();
    }
    Problem {
        places: 0,
        candidates: Vec::new(),
        fixed_at_points,
        areas,
        caps: site
            .limits
            .iter()
            .zip(caps)
            .map(|(l, used)| {
                let per_db = (!l.neighbour).then_some(OTHERS_PER_DB * usual);
                Cap { name: l.id.clone(), used: used * kept, per_db }
            })
            .collect(),
        supplies: supplies(site, prices),
        fixed_demand: of_supply(site, fixed_demand),
        at_most: band.at_most.saturating_sub(fixed.poses.len() + fixed.subwoofers),
        too_near: Vec::new(),
    }
}

/// Whether a loudspeaker on a tap would be too loud for whoever comes nearest to it.
pub(crate) fn too_loud_near(site: &Site<'_>, pose: &Pose, gain_db: f64, tap_w: f64) -> bool {
    let near_m = site.job.document().brief.nearest_listener_m;
    site.near_dba(pose, near_m) + gain_db + 10.0 * tap_w.log10() > WHO_VENUE_LIMIT_DBA - 1.0
}

/// Puts a pool into numbers at working gains.
pub(crate) fn covering(
    (site, grid): (&Site<'_>, &Grid),
    pool: &Pool,
    fixed: &Fixed,
    prices: &Prices<'_>,
    band: &LevelBand,
    gains: &Gains,
    taps: impl Fn(&Pose) -> Vec<f64>,
) -> Covering {
    let usual = pool.cost.iter().sum::<f64>() / pool.cost.len().max(1) as f64;
    let empty = without_candidates((site, grid), fixed, prices, band, gains, usual);
    let areas = &empty.areas;
    let looked_at = LookedAt::of(areas, &band.ignored);
    let kept = energy_from_db(band.limits_db);
    let apart_m = site.job.document().brief.wishes.apart_m;
    let stands = |pose: &Pose| fixed.poses.iter().any(|f| f.at.distance(pose.at) < apart_m - 1e-9);
    let mut candidates = Vec::new();
    let mut meaning = Vec::new();
    for (i, (pose, row)) in
        pool.poses.iter().zip(&pool.rows).enumerate().filter(|(_, p)| !band.ignored[p.0.zone])
    {
        if band.model[pose.zone].is_some_and(|only| only != pose.model) || stands(pose) {
            continue;
        }
        go_on();
        let gain = gains.of(pose);
        let own = grid.ranges[pose.zone].clone();
        let strongest = row.points[own].iter().copied().fold(0.0, f32::max);
        for tap_w in taps(pose) {
            let drive = tap_w * gain;
            let loud = too_loud_near(site, pose, gains.of_db(pose), tap_w);
            let weak = f64::from(strongest) * drive < TOO_WEAK * areas[pose.zone].floor;
            let over = |(l, x): (&Limit, &f32)| l.neighbour && f64::from(*x) * drive * kept > 1.0;
            if loud || weak || site.limits.iter().zip(&row.limits).any(over) {
                continue;
            }
            // Energies only add: what overshoots alone can be in no choice that meets the band.
            let alone = areas.iter().any(|a| {
                let over = row.points[a.points.clone()].iter().filter(|e| f64::from(**e) * drive > a.ceiling);
                over.count() > a.may_miss
            });
            if alone {
                continue;
            }
            candidates.push(Candidate {
                place: pool.place[i],
                cost: pool.cost[i],
                demand: demand(site, &Pose { tap_w, ..*pose }),
                at_points: looked_at.of_points(&row.points, |e| f64::from(*e) * drive),
                at_caps: row.limits.iter().map(|e| f64::from(*e) * drive * kept).collect(),
            });
            meaning.push((i, tap_w));
        }
    }
    let at_most = empty.at_most.min(pool.places);
    let too_near = pool.too_near.clone();
    let (areas, fixed_at_points) = (looked_at.areas(), looked_at.of_points(&empty.fixed_at_points, |e| *e));
    let problem =
        Problem { places: pool.places, candidates, areas, fixed_at_points, at_most, too_near, ..empty };
    Covering { problem, meaning, gains: gains.clone() }
}

/// The points of areas that are looked at, and these areas: those that are not have no points, and cost nothing.
struct LookedAt<'a> {
    areas: &'a [Area],
    ignored: &'a [bool],
}

impl<'a> LookedAt<'a> {
    const fn of(areas: &'a [Area], ignored: &'a [bool]) -> Self {
        Self { areas, ignored }
    }

    /// What is known at the points of all areas, at those that are looked at.
    fn of_points<T>(&self, all: &[T], value: impl Fn(&T) -> f64) -> Vec<f64> {
        let own = self.areas.iter().zip(self.ignored).filter(|(_, ignored)| !**ignored);
        own.flat_map(|(a, _)| &all[a.points.clone()]).map(value).collect()
    }

    /// The areas, each with its points among those that are looked at.
    fn areas(&self) -> Vec<Area> {
        let mut start = 0;
        let one = |(a, ignored): (&Area, &bool)| {
            let (n, may_miss) = if *ignored { (0, 0) } else { (a.points.len(), a.may_miss) };
            start += n;
            Area { points: start - n..start, may_miss, ..a.clone() }
        };
        self.areas.iter().zip(self.ignored).map(one).collect()
    }
}

/// What a loudspeaker asks of its channel: its tap in watts, or its conductance in siemens on low impedance.
pub(crate) fn asked(site: &Site<'_>, pose: &Pose) -> f64 {
    site.models[pose.model].conductance.map_or(pose.tap_w, |c| c.0)
}

/// The same in the unit in which all of a site count.
pub(crate) fn demand(site: &Site<'_>, pose: &Pose) -> Demand {
    let low = site.models[pose.model].conductance.is_some();
    of_supply(site, in_unit(site, asked(site, pose), low))
}

/// An amount of what lines of one kind ask, counted in the unit of the site.
fn in_unit(site: &Site<'_>, amount: f64, low_impedance: bool) -> f64 {
    match site.amplification {
        AmplificationUnit::Both { watts_per_siemens } if low_impedance => watts_per_siemens * amount,
        _ => amount,
    }
}

/// So much, in the unit in which a site's loudspeakers ask.
fn of_supply(site: &Site<'_>, amount: f64) -> Demand {
    match site.amplification {
        AmplificationUnit::Siemens => Demand::Siemens(Siemens(amount)),
        AmplificationUnit::Watts | AmplificationUnit::Both { .. } => Demand::Watts(Watts(amount)),
    }
}

/// The amplifiers that can be bought. One that feeds lines of both kinds counts for the kind of which it feeds more: no mix
/// of the two is ever more than that.
fn supplies(site: &Site<'_>, prices: &Prices<'_>) -> Vec<loamline_design::Supply> {
    let ways = supplies_of(site.job);
    let all = site.job.catalogue().amplifiers.iter().filter(|(_, a)| a.processing);
    let one = |(id, a): (&String, &AmplifierModel)| {
        let each = ways.iter().map(|s| in_unit(site, room(site.job, a, *s), s.line_v().is_none()));
        let most = each.fold(0.0, f64::max);
        let feeds = of_supply(site, f64::from(a.channels) * most);
        (most > 0.0).then(|| loamline_design::Supply { cost: prices.amplifier(id), feeds })
    };
    all.filter_map(one).collect()
}

impl Covering {
    /// Searches; `guide` as for [`loamline_design::solve`].
    pub fn search(
        &self,
        pool: &Pool,
        effort: Effort,
        guide: &[f64],
        told: &(dyn Fn(Progress) -> bool + Sync),
    ) -> Result<Choice, BriefProblem> {
        let found = self.search_several(pool, effort, guide, told)?;
        found.into_iter().next().ok_or(BriefProblem::NothingTried)
    }

    /// The best choice found first, then others that meet everything.
    pub fn search_several(
        &self,
        pool: &Pool,
        effort: Effort,
        guide: &[f64],
        told: &(dyn Fn(Progress) -> bool + Sync),
    ) -> Result<Vec<Choice>, BriefProblem> {
        let found = solve_several(&self.problem, effort, guide, told)?;
        Ok(found.into_iter().map(|answer| self.choice(pool, answer)).collect())
    }

    fn choice(&self, pool: &Pool, answer: Answer) -> Choice {
        let poses = answer.taken.iter().map(|&c| {
            let (base, tap_w) = self.meaning[c];
            Pose { tap_w, ..pool.poses[base] }
        });
        let poses = poses.collect();
        let (cost, meets) = (answer.cost, answer.meets);
        Choice { poses, rows: Vec::new(), gains: self.gains.clone(), cost, meets, answer }
    }

    /// Proven lower bound and the relaxation's values.
    pub fn bound(&self) -> loamline_design::Bound {
        lower_bound(&self.problem)
    }
}

/// Taps a loudspeaker offers.
pub(crate) fn all_taps(site: &Site<'_>) -> impl Fn(&Pose) -> Vec<f64> {
    |pose: &Pose| site.models[pose.model].taps_w.clone()
}

/// How far a choice is from meeting everything, for comparing two that do not.
fn distance(c: &Choice) -> f64 {
    let u = &c.answer.unmet;
    u.areas.iter().sum::<usize>() as f64 + 30.0 * u.caps.iter().sum::<f64>() + 50.0 * u.too_many as f64
}

/// Whether one choice is better than another.
pub(crate) fn better(a: &Choice, b: &Choice) -> bool {
    match (a.meets, b.meets) {
        (true, false) => true,
        (false, true) => false,
        (true, true) => a.cost + a.answer.wished < b.cost + b.answer.wished - 1e-6,
        (false, false) => distance(a) < distance(b) - 1e-9,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn areas_that_are_not_looked_at_have_no_points() {
        let area = |points| Area { points, floor: 0.5, ceiling: 2.0, may_miss: 1 };
        let areas = [area(0..2), area(2..5), area(5..7)];
        let looked_at = LookedAt::of(&areas, &[false, true, false]);
        let ranges: Vec<_> = looked_at.areas().into_iter().map(|a| (a.points, a.may_miss)).collect();
        assert_eq!(ranges, [(0..2, 1), (2..2, 0), (2..4, 1)]);
        let all = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0];
        assert_eq!(looked_at.of_points(&all, |e| 2.0 * e), [0.0, 2.0, 10.0, 12.0]);
    }
}
