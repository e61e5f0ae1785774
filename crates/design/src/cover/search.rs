//! The search: several walks, each with a seed of its own (see `walk`), the best of which stands. Walks run on all cores;
//! the answer depends on the seed and the effort alone, never on the number of threads.

use super::answer::{Answer, answer, better};
use super::effort::{Effort, Progress};
use super::parts::{Part, parts};
use super::presolve::without_hopeless;
use super::problem::{Problem, ProblemError};
use super::state::{Rows, State};
use super::walk::{Near, Walk};
use loamline_limits::lent;
use rayon::prelude::*;

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
    let found = solve_several(problem, effort, guide, told)?;
    Ok(found.into_iter().next().unwrap_or_else(|| answer(&State::empty(problem))))
}

/// As [`solve`], with what every walk found: the best first, then other choices that meet everything, each unlike those
/// before it. Never empty. For choosing among them by what the problem leaves out.
///
/// # Errors
/// [`ProblemError`] when the problem makes no sense.
pub fn solve_several(
    problem: &Problem,
    effort: Effort,
    guide: &[f64],
    told: &(dyn Fn(Progress) -> bool + Sync),
) -> Result<Vec<Answer>, ProblemError> {
    problem.check()?;
    let (rest, kept) = without_hopeless(problem);
    if kept.len() < problem.candidates.len() && !kept.is_empty() {
        let guide: Vec<f64> = kept.iter().filter_map(|&c| guide.get(c).copied()).collect();
        let mut found = search(&rest, effort, &guide, told);
        found.iter_mut().flat_map(|f| &mut f.taken).for_each(|c| *c = kept[*c]);
        return Ok(found);
    }
    Ok(search(problem, effort, guide, told))
}

fn search(
    problem: &Problem,
    effort: Effort,
    guide: &[f64],
    told: &(dyn Fn(Progress) -> bool + Sync),
) -> Vec<Answer> {
    let start = if problem.areas.len() >= APART { by_area(problem, effort, guide, told) } else { Vec::new() };
    walk(problem, effort, guide, &start, told)
}

/// Problems of at least this many areas are first taken apart by area.
const APART: usize = 3;

/// What several walks found, the best first, then others that meet everything.
fn walk(
    problem: &Problem,
    effort: Effort,
    guide: &[f64],
    start: &[usize],
    told: &(dyn Fn(Progress) -> bool + Sync),
) -> Vec<Answer> {
    let rows = Rows::of(problem);
    let near = Near::of(problem, &rows);
    let leave = lent();
    let walk = |w| leave.lend(|| Walk::new(problem, &rows, &near, effort, w).run(guide, start, told));
    let mut walks: Vec<Answer> = (0..effort.walks.max(1)).into_par_iter().map(walk).collect();
    // A stable sort: of equals the first walk stands first.
    walks.sort_by(|a, b| better(b, a).cmp(&better(a, b)));
    let mut kept: Vec<Answer> = Vec::new();
    for found in walks {
        if kept.is_empty() || found.meets && kept.iter().all(|k| k.taken != found.taken) {
            kept.push(found);
        }
    }
    kept
}

/// What each area alone would take; of two that want one place, the first.
fn by_area(
    problem: &Problem,
    effort: Effort,
    guide: &[f64],
    told: &(dyn Fn(Progress) -> bool + Sync),
) -> Vec<usize> {
    let quiet = |p: Progress| told(Progress { best_cost: f64::INFINITY, ..p });
    let each = Effort {
        walks: effort.walks.div_ceil(2),
        draws: effort.draws / problem.areas.len().max(1),
        ..effort
    };
    let leave = lent();
    let of_part = |part: Part| -> Vec<usize> {
        let own: Vec<f64> = part.candidates.iter().map(|&c| guide.get(c).copied().unwrap_or(0.0)).collect();
        let found = walk(&part.problem, each, &own, &[], &quiet);
        found.first().map(|f| f.taken.iter().map(|&c| part.candidates[c]).collect()).unwrap_or_default()
    };
    let taken: Vec<Vec<usize>> =
        parts(problem).into_par_iter().map(|part| leave.lend(|| of_part(part))).collect();
    // A walk leaves out what stands too near to what it has taken.
    let mut used = vec![false; problem.places];
    taken
        .into_iter()
        .flatten()
        .filter(|&c| !std::mem::replace(&mut used[problem.candidates[c].place], true))
        .collect()
}
