//! The choice of like loudspeakers: one column for each area.
//!
//! Areas are taken in turn, each given the column that is best with what the others have, until none changes (coordinate
//! descent); from several beginnings, with what is missed priced low first and ever higher. A column's tap is the one
//! that brings its area into the band at the working gain, so that there is one tap in an area; gains are tried programme by
//! programme as for any choice. Areas of a programme that touch are wished to have one model, a job few models, and an area that
//! is mirrored a row that is.

mod descent;

use crate::choose::{Fixed, better};
use crate::columns::Columns;
use crate::error::BriefProblem;
use crate::price::Prices;
use crate::site::Site;
use crate::types::{Choice, Gains, KnownGains, LevelBand, RESERVE_DB};
use descent::Descent;
use loamline_design::Problem;

/// Lowest working gain tried and steps of it, dB.
const LOWEST_DB: f64 = -48.0;
const STEP_DB: f64 = 1.5;
/// Gains about the best of those that are looked at once more, dB from it: rows that just fill an area do so within less than a
/// whole step of the gain. Taps lie about so far apart, dB, so that with these every half decibel of level is there on some tap.
const ABOUT_BEST_DB: [f64; 4] = [-0.5, 0.5, -1.0, 1.0];
const TAPS_APART_DB: f64 = 3.0;
/// How far above gains that are known about right others are looked at, dB.
const ABOUT_DB: f64 = 3.0;
/// Gains that are worse than the best before the search for gains ends, once one was found that meets everything.
const WORSE: usize = 4;
/// Beginnings of the descent: while gains are compared, and for the choice.
const BEGINNINGS: (u64, u64) = (2, 8);
/// Areas of a programme nearer than this touch, metres.
const TOUCHING_M: f64 = 1.0;

/// Which areas of one programme touch which.
pub(crate) fn touching(site: &Site<'_>) -> Vec<Vec<usize>> {
    let near = |a: usize, b: usize| {
        let (x, y) = (&site.zones[a], &site.zones[b]);
        let corner = |o: &loamline_geometry::Polygon, of: &loamline_geometry::Polygon| {
            let away = of.corners().iter().map(|c| crate::places::nearest_in(o, *c).distance(*c));
            away.fold(f64::INFINITY, f64::min)
        };
        let gap = corner(&x.area.outline, &y.area.outline).min(corner(&y.area.outline, &x.area.outline));
        x.programme == y.programme && gap < TOUCHING_M
    };
    let n = site.zones.len();
    (0..n).map(|a| (0..n).filter(|b| *b != a && near(a, *b)).collect()).collect()
}

/// The choices of columns that are found at the gains that suit best, unless they are given: the best first.
pub(crate) fn choose_alike(
    site: &Site<'_>,
    columns: &Columns,
    fixed: &Fixed,
    prices: &Prices<'_>,
    band: &LevelBand,
    (known, seed): (KnownGains<'_>, u64),
) -> Result<Vec<Choice>, BriefProblem> {
    let touching = touching(site);
    let search = |band: &LevelBand, gains: &Gains, beginnings: u64| {
        Descent::new(site, columns, fixed, prices, band, gains, &touching).search(beginnings, seed)
    };
    let gains = match known {
        KnownGains::Exactly(known) => known.clone(),
        KnownGains::Nothing | KnownGains::About(_) => {
            let mut gains = Gains(vec![-RESERVE_DB; site.zones.len()]);
            let mut programmes: Vec<usize> = site.zones.iter().map(|z| z.programme).collect();
            programmes.sort_unstable();
            programmes.dedup();
            for programme in programmes {
                let own = |z: usize| site.zones[z].programme == programme;
                let ignored = (0..site.zones.len()).map(|z| !own(z) || band.ignored[z]).collect();
                let only = LevelBand { ignored, ..band.clone() };
                let tried = |gain_db: f64| {
                    let mut at = gains.clone();
                    (0..site.zones.len()).filter(|z| own(*z)).for_each(|z| at.0[z] = gain_db);
                    search(&only, &at, BEGINNINGS.0).into_iter().next()
                };
                let at = best_gain(highest_db(site, known, programme), tried);
                (0..site.zones.len()).filter(|z| own(*z)).for_each(|z| gains.0[z] = at);
            }
            gains
        }
    };
    let found = search(band, &gains, BEGINNINGS.1);
    if found.is_empty() { Err(BriefProblem::NothingTried) } else { Ok(found) }
}

/// The gain at which a quick search does best, dB, from the highest one down, and then about the best of these.
fn best_gain(highest_db: f64, tried: impl Fn(f64) -> Option<Choice>) -> f64 {
    let mut best: Option<(Choice, f64)> = None;
    let look = |best: &mut Option<(Choice, f64)>, gain_db: f64| -> Option<bool> {
        let found = tried(gain_db)?;
        let first = best.as_ref().is_none_or(|(b, _)| better(&found, b));
        if first {
            *best = Some((found, gain_db));
        }
        Some(first)
    };
    let (mut worse, mut gain_db) = (0, highest_db);
    while gain_db >= LOWEST_DB {
        if let Some(first) = look(&mut best, gain_db) {
            worse = if first { 0 } else { worse + 1 };
        }
        if worse >= WORSE && best.as_ref().is_some_and(|b| b.0.meets) || worse >= 3 * WORSE {
            break;
        }
        gain_db -= STEP_DB;
    }
    let coarsely_db = best.as_ref().map_or(-RESERVE_DB, |b| b.1);
    for off_db in ABOUT_BEST_DB {
        let about_db = coarsely_db + off_db;
        // What the reserve forbids is as loud on the next taps.
        let about_db = if about_db > -RESERVE_DB { about_db - TAPS_APART_DB } else { about_db };
        if about_db >= LOWEST_DB {
            look(&mut best, about_db);
        }
    }
    best.map_or(-RESERVE_DB, |b| b.1)
}

/// The highest gain of a programme to look at, dB: full drive less the reserve, or a little above what is known.
fn highest_db(site: &Site<'_>, known: KnownGains<'_>, programme: usize) -> f64 {
    let KnownGains::About(gains) = known else { return -RESERVE_DB };
    let own = site.zones.iter().zip(&gains.0).filter(|(z, _)| z.programme == programme);
    let about_db = own.map(|(_, g)| *g).fold(f64::NEG_INFINITY, f64::max) + ABOUT_DB;
    // On the steps that are looked at where nothing is known.
    let steps = ((-RESERVE_DB - about_db) / STEP_DB).floor().max(0.0);
    (-RESERVE_DB - STEP_DB * steps).max(LOWEST_DB)
}

/// What no choice of columns at these gains can cost less than, tax included: proven.
pub(crate) fn bound(
    site: &Site<'_>,
    columns: &Columns,
    fixed: &Fixed,
    prices: &Prices<'_>,
    band: &LevelBand,
    gains: &Gains,
) -> f64 {
    let touching = vec![Vec::new(); site.zones.len()];
    let all = Descent::new(site, columns, fixed, prices, band, gains, &touching).as_problem();
    loamline_design::lower_bound(&all).cost
}

/// The choice of columns at given gains as plain numbers, and the cost of the one found by money alone, where one meets them.
pub(crate) fn as_numbers(
    site: &Site<'_>,
    columns: &Columns,
    fixed: &Fixed,
    prices: &Prices<'_>,
    band: &LevelBand,
    (gains, seed): (&Gains, u64),
) -> (Problem, Option<f64>) {
    let touching = vec![Vec::new(); site.zones.len()];
    let descent = Descent::new(site, columns, fixed, prices, band, gains, &touching).without_wishes();
    let best = descent.search(BEGINNINGS.1, seed).into_iter().next();
    (descent.as_problem(), best.filter(|b| b.meets).map(|b| b.cost))
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_design::{Answer, Unmet};

    /// Four loudspeakers fill an area where a tap, 3 dB from the next, brings them to within a quarter of a decibel of one
    /// level; elsewhere it takes eight. Whatever that level is to half a decibel, four do.
    #[test]
    fn a_gain_between_the_steps_is_found() {
        for half in 0..6 {
            let wanted_db = -RESERVE_DB - 0.5 * f64::from(half);
            let few = |gain_db: f64| {
                let off_db = (gain_db - wanted_db).rem_euclid(3.0);
                off_db.min(3.0 - off_db) < 0.25
            };
            let tried = |gain_db: f64| {
                let cost = if few(gain_db) { 4.0 } else { 8.0 };
                let unmet = Unmet { areas: vec![0], caps: Vec::new(), too_many: 0 };
                let answer = Answer { taken: Vec::new(), cost, wished: 0.0, meets: true, unmet };
                let gains = Gains(vec![gain_db]);
                Some(Choice { poses: Vec::new(), rows: Vec::new(), gains, cost, meets: true, answer })
            };
            let found_db = best_gain(-RESERVE_DB, tried);
            assert!(few(found_db) && found_db <= -RESERVE_DB, "{found_db} dB where {wanted_db} dB does");
        }
        assert!((best_gain(-RESERVE_DB, |_| None) + RESERVE_DB).abs() < 1e-9, "nothing found: the reserve");
    }
}
