//! The relaxation of a covering problem by an interior-point solver (Clarabel), on a sample of its points and candidates
//! small enough to solve in a fraction of a second. It only gives multipliers to start from and a guide for the search:
//! whatever it leaves out, the bound is worked out on the whole problem.

use super::multipliers::Multipliers;
use super::parts::parts;
use super::problem::{Candidate, Problem};
use clarabel::algebra::CscMatrix;
use clarabel::solver::{DefaultInfo, DefaultSettingsBuilder, DefaultSolver, IPSolver, SupportedConeT};
use loamline_limits::{go_on, lent};
use rayon::prelude::*;

/// Entries of the sample's matrix, at most. Time grows faster than in proportion: 20 000 take about a tenth of a
/// second; more start nearer to the best multipliers.
const MOST_ENTRIES: usize = 20_000;
/// Fewest points of an area in the sample, where it has them.
const FEWEST_POINTS: usize = 12;
/// Energies below this share of the floor are left out of the sample.
const NEGLIGIBLE: f64 = 0.02;

/// Points and candidates of the sample.
pub(super) struct Sample {
    pub points: Vec<usize>,
    pub candidates: Vec<usize>,
}

impl Sample {
    /// An even sample of the points, and the candidates that give most for their cost at each place.
    pub fn of(problem: &Problem) -> Self {
        let n = problem.candidates.len().max(1);
        let per_point = n.min(400) * 2;
        let areas = problem.areas.len().max(1);
        let each = (MOST_ENTRIES / per_point / areas).max(FEWEST_POINTS);
        let mut points = Vec::new();
        for a in &problem.areas {
            let n = a.points.len();
            let k = n.min(each);
            points.extend((0..k).map(|i| a.points.start + i * n / k.max(1)));
        }
        let most = (MOST_ENTRIES / points.len().max(1)).max(60).min(n);
        let worth = |i: usize| {
            let c = &problem.candidates[i];
            let of = |a: &super::problem::Area| {
                c.at_points[a.points.clone()]
                    .iter()
                    .map(|e| e.min(a.floor) / a.floor.max(1e-300))
                    .sum::<f64>()
            };
            problem.areas.iter().map(of).sum::<f64>() / c.cost.max(1e-9)
        };
        let mut order: Vec<usize> = (0..problem.candidates.len()).collect();
        let worths: Vec<f64> = order.iter().map(|&i| worth(i)).collect();
        order.sort_by(|&a, &b| worths[b].total_cmp(&worths[a]).then(a.cmp(&b)));
        // The best of each place first, then the second best, and so on.
        let mut rank = vec![0usize; problem.places];
        let mut ranked: Vec<(usize, usize)> = order
            .iter()
            .map(|&i| {
                let place = problem.candidates[i].place;
                rank[place] += 1;
                (rank[place], i)
            })
            .collect();
        ranked.sort_by_key(|r| r.0);
        let mut candidates: Vec<usize> = ranked.into_iter().take(most).map(|r| r.1).collect();
        candidates.sort_unstable();
        Self { points, candidates }
    }
}

/// Columns of a sparse matrix written entry by entry, `A x + s = b` with `s` 0 or more.
struct Rows {
    columns: Vec<Vec<(usize, f64)>>,
    b: Vec<f64>,
}

impl Rows {
    fn row(&mut self, entries: impl Iterator<Item = (usize, f64)>, at_most: f64) -> usize {
        let r = self.b.len();
        for (c, v) in entries.filter(|e| e.1 != 0.0) {
            self.columns[c].push((r, v));
        }
        self.b.push(at_most);
        r
    }

    fn matrix(&self) -> CscMatrix<f64> {
        let mut colptr = vec![0];
        let (mut rowval, mut nzval) = (Vec::new(), Vec::new());
        for c in &self.columns {
            for &(r, v) in c {
                rowval.push(r);
                nzval.push(v);
            }
            colptr.push(rowval.len());
        }
        CscMatrix::new(self.b.len(), self.columns.len(), colptr, rowval, nzval)
    }
}

/// Multipliers, and the share of every candidate that is taken: of the whole where it is small or has one area, else
/// put together from the areas, each with its own candidates.
pub(super) fn relax(problem: &Problem, highest: &[f64], own: &Own<'_>) -> Option<(Multipliers, Vec<f64>)> {
    if problem.areas.len() < 2 || problem.candidates.len() * problem.points() <= 4 * MOST_ENTRIES {
        return relax_whole(problem, highest, own);
    }
    let parts = parts(problem);
    let leave = lent();
    let relaxed: Vec<_> = parts
        .par_iter()
        .zip(&problem.areas)
        .map(|(p, a)| leave.lend(|| relax_whole(&p.problem, &highest[a.points.clone()], own)))
        .collect();
    let mut m = Multipliers::none(problem);
    let mut guide = vec![0.0; problem.candidates.len()];
    for ((part, area), (found, share)) in
        parts.iter().zip(&problem.areas).zip(relaxed).filter_map(|(p, r)| Some((p, r?)))
    {
        m.floor[area.points.clone()].copy_from_slice(&found.floor);
        m.ceiling[area.points.clone()].copy_from_slice(&found.ceiling);
        m.caps.iter_mut().zip(&found.caps).for_each(|(a, b)| *a = f64::max(*a, *b));
        part.candidates.iter().zip(share).for_each(|(&c, x)| guide[c] = x);
    }
    Some((m, guide))
}

/// What a candidate costs by itself.
pub(super) type Own<'a> = dyn Fn(&Candidate) -> f64 + Sync + 'a;

fn relax_whole(problem: &Problem, highest: &[f64], own: &Own<'_>) -> Option<(Multipliers, Vec<f64>)> {
    let sample = Sample::of(problem);
    let rows = &sample.points;
    let candidates: Vec<&Candidate> = sample.candidates.iter().map(|&c| &problem.candidates[c]).collect();
    let n = candidates.len();
    if n == 0 {
        return None;
    }
    let scale = candidates.iter().map(|c| own(c)).fold(1e-9, f64::max);
    let z = |i: usize| n + i;
    let variables = n + rows.len();
    let mut a = Rows { columns: vec![Vec::new(); variables], b: Vec::new() };
    let area_of = |p: usize| problem.areas.iter().find(|a| a.points.contains(&p));
    let mut floors = Vec::new();
    let mut ceilings = Vec::new();
    for (i, &p) in rows.iter().enumerate() {
        go_on();
        let area = area_of(p)?;
        let fixed = problem.fixed_at_points[p];
        let least = NEGLIGIBLE * area.floor;
        let all = &candidates;
        let energies = || all.iter().enumerate().filter(|(_, c)| c.at_points[p] >= least);
        // Rows are scaled so that what is wanted, or the ceiling, is 1.
        let (wanted, c) = ((area.floor - fixed).max(0.0), area.ceiling.max(1e-300));
        if wanted > 0.0 {
            let row = energies().map(|(j, c)| (j, -c.at_points[p].min(wanted) / wanted));
            floors.push((p, a.row(row.chain([(z(i), -1.0)]), -1.0), wanted));
        }
        let over = (highest[p] - area.ceiling).max(0.0);
        if over > 0.0 {
            let row = energies().map(|(j, x)| (j, x.at_points[p] / c)).chain([(z(i), -over / c)]);
            ceilings.push((p, a.row(row, 1.0 - fixed / c), c));
        }
    }
    for area in &problem.areas {
        let entries =
            rows.iter().enumerate().filter(|(_, p)| area.points.contains(p)).map(|(i, _)| (z(i), 1.0));
        let sampled = rows.iter().filter(|p| area.points.contains(p)).count() as f64;
        a.row(entries, area.may_miss as f64 * sampled / area.points.len().max(1) as f64);
    }
    let caps: Vec<Option<usize>> = (0..problem.caps.len())
        .map(|i| {
            if !problem.caps[i].must_hold() {
                return None;
            }
            let entries = candidates.iter().enumerate().map(move |(j, c)| (j, c.at_caps[i]));
            Some(a.row(entries, 1.0 - problem.caps[i].used))
        })
        .collect();
    let count =
        (problem.at_most < problem.places).then(|| a.row((0..n).map(|j| (j, 1.0)), problem.at_most as f64));
    let mut by_place = vec![Vec::new(); problem.places];
    for (j, c) in candidates.iter().enumerate() {
        by_place[c.place].push((j, 1.0));
    }
    for place in by_place.into_iter().filter(|p| !p.is_empty()) {
        a.row(place.into_iter(), 1.0);
    }
    for i in 0..rows.len() {
        a.row([(z(i), 1.0)].into_iter(), 1.0);
    }
    for v in 0..variables {
        a.row([(v, -1.0)].into_iter(), 0.0);
    }
    let q: Vec<f64> = candidates.iter().map(|c| own(c) / scale).chain(rows.iter().map(|_| 0.0)).collect();
    let settings = DefaultSettingsBuilder::default().verbose(false).max_iter(100).build().ok()?;
    let cones = [SupportedConeT::NonnegativeConeT(a.b.len())];
    let quadratic = CscMatrix::zeros((variables, variables));
    let mut solver = DefaultSolver::new(&quadratic, &q, &a.matrix(), &a.b, &cones, settings).ok()?;
    // Leaves off in the middle rather than stop with half an answer.
    solver.set_termination_callback(|_: &DefaultInfo<f64>| {
        go_on();
        false
    });
    solver.solve();
    let dual = |r: usize| (solver.solution.z[r] * scale).max(0.0);
    let mut m = Multipliers::none(problem);
    for (p, r, s) in floors {
        m.floor[p] = dual(r) / s;
    }
    for (p, r, s) in ceilings {
        m.ceiling[p] = dual(r) / s;
    }
    m.caps = caps.iter().map(|r| r.map_or(0.0, dual)).collect();
    m.count = count.map_or(0.0, dual);
    let mut guide = vec![0.0; problem.candidates.len()];
    for (&c, x) in sample.candidates.iter().zip(&solver.solution.x) {
        guide[c] = if x.is_finite() { x.clamp(0.0, 1.0) } else { 0.0 };
    }
    Some((m, guide))
}
