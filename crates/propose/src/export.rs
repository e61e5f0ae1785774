//! The covering problems of a job as plain numbers, for exact solvers in checks and benchmarks: of single loudspeakers, made small
//! enough, and of whole rows as they are.

use crate::alike::{as_numbers, choose_alike};
use crate::build::without_unpinned;
use crate::choose::{all_taps, covering};
use crate::error::{BriefProblem, ProposeError};
use crate::gains::best_gains;
use crate::make::Maker;
use crate::types::KnownGains;
use loamline_design::Problem;
use loamline_model::JobFile;
use loamline_quotation::PriceBook;

/// The covering problem that a proposal for a job starts from, with at most so many places and ways of using them:
/// places evenly spread over those found, and at each the ways that cost least for what they give. With `area`, only of
/// that area, by its place in the job.
///
/// # Errors
/// [`ProposeError::Brief`] as for a proposal.
pub fn covering_problem(
    file: &JobFile,
    (most_places, most_candidates): (usize, usize),
    area: Option<usize>,
) -> Result<Problem, ProposeError> {
    let (pinned_only, clear) = without_unpinned(file)?;
    let book = PriceBook::default();
    let maker = Maker::new(&pinned_only, clear, &book)?;
    let band = maker.band(1.0);
    let (site, fixed) = (&maker.site, &maker.fixed);
    let pool = maker.pool()?;
    let gains = best_gains(site, pool, fixed, &maker.prices, &band, 1)?;
    let made = covering((site, &site.coarse), pool, fixed, &maker.prices, &band, &gains, all_taps(site));
    let whole = area.map_or_else(|| made.problem.clone(), |a| of_area(&made.problem, a));
    Ok(thinned(whole, most_places, most_candidates))
}

/// The covering problem of whole rows that a proposal for a job starts from, one place for each area, at the gains that it takes;
/// and what the choice found for it by money alone costs, where one meets it.
///
/// # Errors
/// [`ProposeError::Brief`] as for a proposal.
pub fn rows_problem(file: &JobFile) -> Result<(Problem, Option<f64>), ProposeError> {
    let (pinned_only, clear) = without_unpinned(file)?;
    let book = PriceBook::default();
    let maker = Maker::new(&pinned_only, clear, &book)?;
    let (site, fixed, prices, band) = (&maker.site, &maker.fixed, &maker.prices, maker.band(1.0));
    let columns = maker.columns()?;
    let found = choose_alike(site, columns, fixed, prices, &band, (KnownGains::Nothing, 1))?;
    let gains = found.into_iter().next().ok_or(BriefProblem::NothingTried)?.gains;
    let (mut problem, cost) = as_numbers(site, columns, fixed, prices, &band, (&gains, 1));
    without_wishes(&mut problem);
    Ok((problem, cost))
}

/// Wishes have no place in a programme.
fn without_wishes(p: &mut Problem) {
    let must_hold: Vec<bool> = p.caps.iter().map(|c| c.per_db.is_none()).collect();
    let of = |all: &[f64]| all.iter().zip(&must_hold).filter(|x| *x.1).map(|x| *x.0).collect();
    p.candidates.iter_mut().for_each(|c| c.at_caps = of(&c.at_caps));
    p.caps.retain(|c| c.per_db.is_none());
}

/// The problem of one area, with the candidates that alone reach half of its floor somewhere.
fn of_area(p: &Problem, area: usize) -> Problem {
    let Some(own) = p.areas.get(area) else { return p.clone() };
    let points = own.points.clone();
    let felt =
        |c: &&loamline_design::Candidate| c.at_points[points.clone()].iter().any(|e| *e >= 0.5 * own.floor);
    let mut candidates: Vec<loamline_design::Candidate> = p.candidates.iter().filter(felt).cloned().collect();
    candidates.iter_mut().for_each(|c| c.at_points = c.at_points[points.clone()].to_vec());
    // Places without any candidate go.
    let mut place = vec![None; p.places];
    let mut places = 0;
    for c in &mut candidates {
        c.place = *place[c.place].get_or_insert_with(|| {
            places += 1;
            places - 1
        });
    }
    Problem {
        places,
        candidates,
        fixed_at_points: p.fixed_at_points[points.clone()].to_vec(),
        areas: vec![loamline_design::Area { points: 0..points.len(), ..own.clone() }],
        at_most: p.at_most.min(places),
        too_near: pairs(p, |old| place[old]),
        ..p.clone()
    }
}

/// The pairs too near each other of the places that are left, by their new numbers.
fn pairs(p: &Problem, new: impl Fn(usize) -> Option<usize>) -> Vec<(usize, usize)> {
    p.too_near.iter().filter_map(|(a, b)| Some((new(*a)?, new(*b)?))).collect()
}

/// The problem with fewer places and candidates.
fn thinned(mut p: Problem, most_places: usize, most_candidates: usize) -> Problem {
    let places = p.places.min(most_places.max(1));
    let kept: Vec<usize> = (0..places).map(|k| (2 * k + 1) * p.places / (2 * places)).collect();
    let each = most_candidates.div_ceil(places).max(1);
    let too_near = pairs(&p, |old| kept.iter().position(|k| *k == old));
    let mut candidates = Vec::new();
    for (place, old) in kept.into_iter().enumerate() {
        let useful = |c: &loamline_design::Candidate| {
            let areas = p.areas.iter().map(|a| {
                c.at_points[a.points.clone()]
                    .iter()
                    .filter(|e| **e >= 0.5 * a.floor && **e <= a.ceiling)
                    .count()
            });
            areas.sum::<usize>() as f64 / c.cost.max(1e-9)
        };
        let mut here: Vec<_> = p.candidates.iter().filter(|c| c.place == old).collect();
        here.sort_by(|a, b| useful(b).total_cmp(&useful(a)));
        candidates
            .extend(here.into_iter().take(each).map(|c| loamline_design::Candidate { place, ..c.clone() }));
    }
    p.at_most = p.at_most.min(places);
    (p.places, p.candidates, p.too_near) = (places, candidates, too_near);
    without_wishes(&mut p);
    p
}
