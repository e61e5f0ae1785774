//! A lower bound on the cost of any choice that meets everything.
//!
//! Lagrangian of the programme in the module's head: with multipliers 0 or more on the rows, the least of the
//! cost plus the priced violations over all binary choices is at most the optimum, whatever the multipliers. It splits
//! by place (take the best candidate or none), by area (the few points that may miss are those that pay most) and by
//! supply. Good multipliers come from an interior-point solution of the relaxation (Clarabel); its precision decides
//! how good the bound is, never whether it holds.

use super::problem::Problem;
use clarabel::algebra::CscMatrix;
use clarabel::solver::{DefaultSettingsBuilder, DefaultSolver, IPSolver, SupportedConeT};

/// A proven lower bound and the relaxation's values.
#[derive(Debug, Clone, PartialEq)]
pub struct Bound {
    /// No choice that meets everything costs less, in money.
    pub cost: f64,
    /// Share of each candidate the relaxation takes, 0 to 1: a guide for the search.
    pub guide: Vec<f64>,
}

/// Points of an area whose rows the relaxation keeps. More tightens the bound and costs time; leaving rows out only
/// loosens it.
const ROWS_PER_AREA: usize = 150;

struct Multipliers {
    floor: Vec<(usize, f64)>,
    ceiling: Vec<(usize, f64)>,
    caps: Vec<f64>,
    watts: f64,
    count: f64,
}

/// A lower bound on the cost of any choice that meets everything, and the relaxation's values as a guide.
/// The bound is 0 when the relaxation cannot be solved; infinite never.
pub fn lower_bound(problem: &Problem) -> Bound {
    let rows = kept_points(problem);
    let highest = highest_energy(problem);
    let Some((multipliers, guide)) = relax(problem, &rows, &highest) else {
        return Bound { cost: 0.0, guide: vec![0.0; problem.candidates.len()] };
    };
    let cost = lagrangian(problem, &multipliers, &highest).max(0.0);
    Bound { cost: if cost.is_finite() { cost } else { 0.0 }, guide }
}

fn kept_points(problem: &Problem) -> Vec<usize> {
    let mut rows = Vec::new();
    for a in &problem.areas {
        let n = a.points.len();
        let k = n.min(ROWS_PER_AREA);
        rows.extend((0..k).map(|i| a.points.start + i * n / k.max(1)));
    }
    rows
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

fn relax(problem: &Problem, rows: &[usize], highest: &[f64]) -> Option<(Multipliers, Vec<f64>)> {
    let (n, k) = (problem.candidates.len(), problem.supplies.len());
    if n == 0 {
        return None;
    }
    let scale = problem.candidates.iter().map(|c| c.cost).fold(1e-9, f64::max);
    let z = |i: usize| n + i;
    let y = |i: usize| n + rows.len() + i;
    let variables = n + rows.len() + k;
    let mut a = Rows { columns: vec![Vec::new(); variables], b: Vec::new() };
    let area_of = |p: usize| problem.areas.iter().find(|a| a.points.contains(&p));
    let mut floors = Vec::new();
    let mut ceilings = Vec::new();
    for (i, &p) in rows.iter().enumerate() {
        let area = area_of(p)?;
        let fixed = problem.fixed_at_points[p];
        let energies =
            |sign: f64| problem.candidates.iter().enumerate().map(move |(j, c)| (j, sign * c.at_points[p]));
        // Rows are scaled so that the floor or the ceiling is 1.
        let (f, c) = (area.floor.max(1e-300), area.ceiling.max(1e-300));
        let row = energies(-1.0 / f).chain([(z(i), -1.0)]);
        floors.push((p, a.row(row, fixed / f - 1.0), f));
        let over = (highest[p] - area.ceiling).max(0.0);
        if over > 0.0 {
            let row = energies(1.0 / c).chain([(z(i), -over / c)]);
            ceilings.push((p, a.row(row, 1.0 - fixed / c), c));
        }
    }
    for area in &problem.areas {
        let entries =
            rows.iter().enumerate().filter(|(_, p)| area.points.contains(p)).map(|(i, _)| (z(i), 1.0));
        a.row(entries, area.may_miss as f64);
    }
    let caps: Vec<usize> = (0..problem.caps.len())
        .map(|i| {
            let entries = problem.candidates.iter().enumerate().map(move |(j, c)| (j, c.at_caps[i]));
            a.row(entries, 1.0 - problem.caps[i].used)
        })
        .collect();
    let largest_supply = problem.supplies.iter().map(|s| s.watts).fold(1.0, f64::max);
    let watts = (k > 0).then(|| {
        let taps = problem.candidates.iter().enumerate().map(|(j, c)| (j, c.watts / largest_supply));
        let bought = problem.supplies.iter().enumerate().map(|(i, s)| (y(i), -s.watts / largest_supply));
        a.row(taps.chain(bought), -problem.fixed_watts / largest_supply)
    });
    let count =
        (problem.at_most < problem.places).then(|| a.row((0..n).map(|j| (j, 1.0)), problem.at_most as f64));
    let mut by_place = vec![Vec::new(); problem.places];
    for (j, c) in problem.candidates.iter().enumerate() {
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
    let q: Vec<f64> = problem
        .candidates
        .iter()
        .map(|c| c.cost / scale)
        .chain(rows.iter().map(|_| 0.0))
        .chain(problem.supplies.iter().map(|s| s.cost / scale))
        .collect();
    let settings = DefaultSettingsBuilder::default().verbose(false).max_iter(100).build().ok()?;
    let cones = [SupportedConeT::NonnegativeConeT(a.b.len())];
    let quadratic = CscMatrix::zeros((variables, variables));
    let mut solver = DefaultSolver::new(&quadratic, &q, &a.matrix(), &a.b, &cones, settings).ok()?;
    solver.solve();
    let dual = |r: usize| (solver.solution.z[r] * scale).max(0.0);
    let multipliers = Multipliers {
        floor: floors.iter().map(|&(p, r, s)| (p, dual(r) / s)).collect(),
        ceiling: ceilings.iter().map(|&(p, r, s)| (p, dual(r) / s)).collect(),
        caps: caps.iter().map(|&r| dual(r)).collect(),
        watts: watts.map_or(0.0, |r| dual(r) / largest_supply),
        count: count.map_or(0.0, dual),
    };
    let guide =
        solver.solution.x[..n].iter().map(|x| if x.is_finite() { x.clamp(0.0, 1.0) } else { 0.0 }).collect();
    Some((multipliers, guide))
}

/// The least of cost plus priced violations over all choices: never above the optimum.
fn lagrangian(problem: &Problem, m: &Multipliers, highest: &[f64]) -> f64 {
    let area_of = |p: usize| problem.areas.iter().position(|a| a.points.contains(&p));
    // A price on watts above the cheapest supply's would make buying endlessly pay.
    let watts =
        problem.supplies.iter().filter(|s| s.watts > 0.0).map(|s| s.cost / s.watts).fold(m.watts, f64::min);
    let mut total = watts * problem.fixed_watts - m.count * problem.at_most as f64;
    let mut saved_by_missing: Vec<std::collections::BTreeMap<usize, f64>> =
        vec![Default::default(); problem.areas.len()];
    for &(p, price) in &m.floor {
        let Some(a) = area_of(p) else { continue };
        total += price * (problem.areas[a].floor - problem.fixed_at_points[p]);
        *saved_by_missing[a].entry(p).or_insert(0.0) += price * problem.areas[a].floor;
    }
    for &(p, price) in &m.ceiling {
        let Some(a) = area_of(p) else { continue };
        let over = (highest[p] - problem.areas[a].ceiling).max(0.0);
        total += price * (problem.fixed_at_points[p] - problem.areas[a].ceiling);
        *saved_by_missing[a].entry(p).or_insert(0.0) += price * over;
    }
    for (area, saved) in problem.areas.iter().zip(saved_by_missing) {
        let mut saved: Vec<f64> = saved.into_values().collect();
        saved.sort_by(|x, y| y.total_cmp(x));
        total -= saved.iter().take(area.may_miss).sum::<f64>();
    }
    for (cap, price) in problem.caps.iter().zip(&m.caps) {
        total += price * (cap.used - 1.0);
    }
    let mut best = vec![0.0f64; problem.places];
    for c in &problem.candidates {
        let mut reduced = c.cost + watts * c.watts + m.count;
        reduced -= m.floor.iter().map(|&(p, price)| price * c.at_points[p]).sum::<f64>();
        reduced += m.ceiling.iter().map(|&(p, price)| price * c.at_points[p]).sum::<f64>();
        reduced += m.caps.iter().zip(&c.at_caps).map(|(price, b)| price * b).sum::<f64>();
        best[c.place] = best[c.place].min(reduced);
    }
    total + best.iter().sum::<f64>()
}
