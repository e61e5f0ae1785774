//! One model for each area, the loudspeakers each for themselves: what is between even rows and any models side by side.
//!
//! Models are compared area by area, areas of a programme that touch as one, by a short search of each at the gain that suits
//! that model best there.

use crate::alike::touching;
use crate::candidates::Pool;
use crate::choose::{Fixed, all_taps, better, covering};
use crate::error::BriefProblem;
use crate::price::Prices;
use crate::site::Site;
use crate::types::{Choice, Gains, LevelBand, RESERVE_DB};
use loamline_design::Effort;
use loamline_limits::lent;
use rayon::prelude::*;

/// Effort of one comparison.
const WALKS: usize = 2;
const DRAWS: usize = 8_000;
/// Gains tried for each model, dB: from the highest down in such steps, as long as it gets better.
const STEP_DB: f64 = 3.0;
const STEPS: usize = 12;
const WORSE: usize = 3;
/// A model that other areas have is taken where it costs no more than this times the cheapest: crews stock few models (common
/// practice, no source).
const KNOWN: f64 = 1.1;

/// The model that suits each area best; none where no model can stand near it.
pub(crate) fn one_model(
    site: &Site<'_>,
    pool: &Pool,
    fixed: &Fixed,
    prices: &Prices<'_>,
    band: &LevelBand,
    seed: u64,
) -> Result<Vec<Option<usize>>, BriefProblem> {
    let groups = groups(&touching(site));
    let stands = |group: &[usize], m: usize| {
        group.iter().all(|z| pool.poses.iter().any(|p| p.zone == *z && p.model == m))
    };
    let tries: Vec<(usize, usize)> = groups
        .iter()
        .enumerate()
        .flat_map(|(g, group)| (0..site.models.len()).filter(move |m| stands(group, *m)).map(move |m| (g, m)))
        .collect();
    let of = |(g, m): (usize, usize)| -> Result<Option<Choice>, BriefProblem> {
        let mut only = band.clone();
        only.ignored = (0..site.zones.len()).map(|z| !groups[g].contains(&z) || band.ignored[z]).collect();
        only.model.fill(Some(m));
        let mut best: Option<Choice> = None;
        let mut worse = 0;
        for step in 0..STEPS {
            let gains = Gains(vec![-RESERVE_DB - STEP_DB * step as f64; site.zones.len()]);
            let mut c = covering((site, &site.coarse), pool, fixed, prices, &only, &gains, all_taps(site));
            c.problem.supplies = c.problem.supplies_by_the_unit();
            if c.problem.candidates.is_empty() {
                continue;
            }
            let found = c.search(pool, Effort { walks: WALKS, draws: DRAWS, seed }, &[], &|_| true)?;
            worse = if best.as_ref().is_none_or(|b| better(&found, b)) { 0 } else { worse + 1 };
            if worse == 0 {
                best = Some(found);
            } else if worse >= WORSE {
                break;
            }
        }
        Ok(best)
    };
    let leave = lent();
    let found: Vec<Option<Choice>> =
        tries.par_iter().map(|t| leave.lend(|| of(*t))).collect::<Result<_, _>>()?;
    Ok(taken(site.zones.len(), &groups, &tries, &found))
}

/// Which model each area takes of those tried for its group.
fn taken(
    zones: usize,
    groups: &[Vec<usize>],
    tries: &[(usize, usize)],
    found: &[Option<Choice>],
) -> Vec<Option<usize>> {
    let mut out = vec![None; zones];
    let mut known: Vec<usize> = Vec::new();
    for (g, group) in groups.iter().enumerate() {
        let own = || {
            tries.iter().zip(found).filter(|(t, _)| t.0 == g).filter_map(|(t, c)| Some((t.1, c.as_ref()?)))
        };
        let best = own().reduce(|a, b| if better(b.1, a.1) { b } else { a });
        let Some((mut model, best)) = best else { continue };
        let like =
            own().filter(|(m, c)| known.contains(m) && c.meets && best.meets && c.cost <= KNOWN * best.cost);
        if let Some((m, _)) = like.reduce(|a, b| if better(b.1, a.1) { b } else { a }) {
            model = m;
        }
        known.push(model);
        group.iter().for_each(|z| out[*z] = Some(model));
    }
    out
}

/// Areas that touch, directly or by others between, together.
fn groups(touching: &[Vec<usize>]) -> Vec<Vec<usize>> {
    let mut seen = vec![false; touching.len()];
    let mut all = Vec::new();
    for first in 0..touching.len() {
        let (mut group, mut next) = (Vec::new(), vec![first]);
        while let Some(z) = next.pop() {
            if !std::mem::replace(&mut seen[z], true) {
                group.push(z);
                next.extend(&touching[z]);
            }
        }
        if !group.is_empty() {
            group.sort_unstable();
            all.push(group);
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn areas_that_touch_by_others_are_one_group() {
        assert_eq!(groups(&[vec![2], vec![], vec![0, 3], vec![2]]), vec![vec![0, 2, 3], vec![1]]);
        assert!(groups(&[]).is_empty());
    }

    fn choice(cost: f64, meets: bool) -> Option<Choice> {
        let unmet =
            loamline_design::Unmet { areas: vec![usize::from(!meets)], caps: Vec::new(), too_many: 0 };
        let answer = loamline_design::Answer { taken: Vec::new(), cost, wished: 0.0, meets, unmet };
        Some(Choice { poses: Vec::new(), rows: Vec::new(), gains: Gains(Vec::new()), cost, meets, answer })
    }

    #[test]
    fn an_area_takes_a_model_others_have_where_that_is_hardly_dearer() {
        let groups = [vec![0, 1], vec![2], vec![3]];
        let tries = [(0, 7), (0, 8), (1, 7), (1, 8), (2, 7), (2, 8)];
        // The first group takes 8; the second too, for a tenth more; the third not, for twice as much.
        let costs = [200.0, 100.0, 100.0, 109.0, 100.0, 200.0];
        let found = costs.map(|c| choice(c, true));
        assert_eq!(taken(4, &groups, &tries, &found), vec![Some(8), Some(8), Some(8), Some(7)]);
        // What meets the brief comes before what does not, and an area that no model reaches has none.
        let found = [choice(100.0, false), choice(900.0, true), None, None, None, None];
        assert_eq!(taken(4, &groups, &tries, &found), vec![Some(8), Some(8), None, None]);
    }
}
