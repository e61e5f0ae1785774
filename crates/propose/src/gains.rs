//! Working gains: how far below full drive the channels play.
//!
//! Programmes have channels of their own, so each has a gain of its own: areas of one that lie in the open then do not
//! ask large taps because those of another are heard from close by. Areas of one programme share theirs.

use crate::candidates::Pool;
use crate::choose::{Fixed, all_taps, better, covering};
use crate::error::BriefProblem;
use crate::price::Prices;
use crate::site::Site;
use crate::types::{Choice, Gains, LevelBand, RESERVE_DB};
use loamline_design::Effort;

/// Lowest working gain tried, dB.
const LOWEST_DB: f64 = -48.0;
/// Steps of the working gain: half a step of the usual taps, dB.
const STEP_DB: f64 = 1.5;

/// How many of the best gains are searched once more.
const AGAIN: usize = 3;

/// Areas that gains are compared on, at most.
const COMPARED: usize = 4;

/// The band with few areas to look at: those that differ most in level, size and shape stand for the rest.
fn few_areas(site: &Site<'_>, band: &LevelBand) -> LevelBand {
    let mut kept: Vec<usize> = Vec::new();
    let unlike = |a: usize, b: usize| {
        let (x, y) = (site.zones[a].area, site.zones[b].area);
        let ratio = |x: f64, y: f64| (x / y).ln().abs();
        (x.target_dba - y.target_dba).abs() / 3.0
            + ratio(x.outline.area(), y.outline.area())
            + ratio(x.outline.perimeter(), y.outline.perimeter())
    };
    while kept.len() < COMPARED {
        let next = (0..site.zones.len()).filter(|z| !band.ignored[*z] && !kept.contains(z));
        let gap = |z: usize| kept.iter().map(|k| unlike(z, *k)).fold(f64::INFINITY, f64::min);
        let Some(z) = next.reduce(|a, b| if gap(b) > gap(a) { b } else { a }) else { break };
        // Areas all alike need only one to stand for them.
        if !kept.is_empty() && gap(z) < 0.02 {
            break;
        }
        kept.push(z);
    }
    let ignored = (0..site.zones.len()).map(|z| !kept.contains(&z)).collect();
    LevelBand { ignored, ..band.clone() }
}

/// The working gains at which a quick search does best, programme by programme: taps are coarse, so that the same
/// loudspeakers at half a step more or less may do with fewer of them.
pub(crate) fn best_gains(
    site: &Site<'_>,
    pool: &Pool,
    fixed: &Fixed,
    prices: &Prices<'_>,
    band: &LevelBand,
    seed: u64,
) -> Result<Gains, BriefProblem> {
    let mut gains = Gains(vec![-RESERVE_DB; site.zones.len()]);
    let mut programmes: Vec<usize> = site.zones.iter().map(|z| z.programme).collect();
    programmes.sort_unstable();
    programmes.dedup();
    for programme in programmes {
        let own: Vec<bool> = site.zones.iter().map(|z| z.programme == programme).collect();
        let ignored = own.iter().zip(&band.ignored).map(|(own, ignored)| !own || *ignored).collect();
        let few = few_areas(site, &LevelBand { ignored, ..band.clone() });
        let gain_db = best_gain(site, pool, fixed, prices, &few, seed)?;
        gains.0.iter_mut().zip(&own).filter(|g| *g.1).for_each(|(g, _)| *g = gain_db);
    }
    Ok(gains)
}

/// The best gain for the areas that are not ignored, all on one.
fn best_gain(
    site: &Site<'_>,
    pool: &Pool,
    fixed: &Fixed,
    prices: &Prices<'_>,
    band: &LevelBand,
    seed: u64,
) -> Result<f64, BriefProblem> {
    let partial = band.ignored.iter().any(|i| *i);
    let tried = |gain_db: f64, effort: Effort| -> Result<Option<Choice>, BriefProblem> {
        let gains = Gains(vec![gain_db; site.zones.len()]);
        let mut c = covering((site, &site.coarse), pool, fixed, prices, band, &gains, all_taps(site));
        if partial {
            c.problem.supplies = c.problem.supplies_by_the_unit();
        }
        if c.problem.candidates.is_empty() {
            Ok(None)
        } else {
            c.search(pool, effort, &[], &|_| true).map(Some)
        }
    };
    // The best first.
    let mut all: Vec<(Choice, f64)> = Vec::new();
    let mut worse = 0;
    let mut gain_db = -RESERVE_DB;
    while gain_db >= LOWEST_DB {
        if let Some(found) = tried(gain_db, Effort { walks: 2, draws: 12_000, seed })? {
            let at = all.iter().position(|(b, _)| better(&found, b)).unwrap_or(all.len());
            worse = if at == 0 { 0 } else { worse + 1 };
            all.insert(at, (found, gain_db));
        }
        // Lower gains only help where the smallest tap is too loud.
        if worse >= 3 && all.first().is_some_and(|b| b.0.meets) || worse >= 8 {
            break;
        }
        gain_db -= STEP_DB;
    }
    // A short search tells little between the best of them.
    let mut best: Option<(Choice, f64)> = None;
    for (_, gain_db) in all.into_iter().take(AGAIN) {
        if let Some(found) = tried(gain_db, Effort { walks: 4, draws: 15_000, seed })?
            && best.as_ref().is_none_or(|(b, _)| better(&found, b))
        {
            best = Some((found, gain_db));
        }
    }
    Ok(best.map_or(-RESERVE_DB, |b| b.1))
}
