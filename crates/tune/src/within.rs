//! Gains of the full-range loudspeakers so that as much of every area as can be lies within its band.
//!
//! The means of the areas are on their targets by then, as far as ceilings let them; what is left is that the loud side of
//! one area and the soft side of another share a channel, or that two channels meet in one. Gains are moved one at a time,
//! in steps any equipment has, while the whole gets better: places outside the band count, beside the mean square of all
//! deviations.

use crate::each_alone::EachAlone;
use crate::fed::Fed;
use crate::weights::weights;
use loamline_acoustics::{db_from_energy, energy_from_db};
use loamline_processing::{Ceiling, GainLimits};

/// Share of an area that is to lie within its band, and a little more, so that rounding does not miss it.
const WANTED: f64 = 0.955;
/// Weight of the share outside the band beside the mean square deviation, and of what of it is more than is allowed, dB2.
const OUTSIDE: f64 = 60.0;
const SHORT: f64 = 600.0;
/// Weight of a ceiling that is overrun, per dB.
const OVER: f64 = 3000.0;
/// Over how much a place leaves the band, dB: places within a fifth of a decibel of its edge count in part.
const EDGE_DB: f64 = 0.2;
/// A gain is moved no farther than this, dB, in steps of these, dB; so many rounds for each.
const FARTHEST_DB: f64 = 6.0;
const STEPS_DB: [f64; 4] = [2.0, 1.0, 0.5, 0.5];
const ROUNDS: usize = 6;
/// Places of an area that are looked at, at most.
const PLACES: usize = 160;

/// One area: energy of each channel re the target, `[channel][place]`.
pub(crate) struct Filled {
    pub within_db: f64,
    pub energy: Vec<Vec<f64>>,
}

/// What an area gets from each of some channels as their plans stand.
pub(crate) fn filled(a: &EachAlone<'_>, fed: &[&Fed<'_>]) -> Filled {
    let step = a.points().len().div_ceil(PLACES).max(1);
    let target = energy_from_db(a.area.target_dba);
    let of = |f: &&Fed<'_>| {
        let weights = weights(f);
        let mut energy = vec![0.0; a.points().len().div_ceil(step)];
        for s in &f.sources {
            let at = a.weighed(*s, &weights).step_by(step);
            energy.iter_mut().zip(at).for_each(|(sum, e)| *sum += e / target);
        }
        energy
    };
    Filled { within_db: a.area.within_db, energy: fed.iter().map(of).collect() }
}

/// How far each gain is to be moved, dB.
pub(crate) fn fill_bands(
    areas: &[Filled],
    ceilings: &[Ceiling],
    limits: &[GainLimits],
    gains_db: &[f64],
) -> Vec<f64> {
    let mut change = vec![0.0; gains_db.len()];
    let worth = |change: &[f64]| penalty(areas, ceilings, gains_db, change);
    let mut now = worth(&change);
    for step_db in STEPS_DB {
        for _ in 0..ROUNDS {
            let before = now;
            for c in 0..change.len() {
                for by in [step_db, -step_db] {
                    let old = change[c];
                    let gain_db = gains_db[c] + old + by;
                    let far = (old + by).abs() > FARTHEST_DB + 1e-9;
                    if far || gain_db > limits[c].highest_db + 1e-9 || gain_db < limits[c].lowest_db {
                        continue;
                    }
                    change[c] = old + by;
                    let then = worth(&change);
                    if then < now - 1e-9 { now = then } else { change[c] = old }
                }
            }
            if now >= before - 1e-9 {
                break;
            }
        }
    }
    change
}

fn penalty(areas: &[Filled], ceilings: &[Ceiling], gains_db: &[f64], change: &[f64]) -> f64 {
    let factors: Vec<f64> = change.iter().map(|c| energy_from_db(*c)).collect();
    let mut total = 0.0;
    for a in areas {
        let n = a.energy.first().map_or(0, Vec::len);
        let (mut square, mut outside) = (0.0, 0.0);
        for p in 0..n {
            let e: f64 = a.energy.iter().zip(&factors).map(|(row, g)| row[p] * g).sum();
            let off = db_from_energy(e.max(1e-12)).abs();
            square += off * off;
            outside += ((off - a.within_db + EDGE_DB) / (2.0 * EDGE_DB)).clamp(0.0, 1.0);
        }
        let n = n.max(1) as f64;
        total += square / n + OUTSIDE * outside / n + SHORT * (outside / n - 1.0 + WANTED).max(0.0);
    }
    let moved: Vec<f64> = gains_db.iter().zip(change).map(|(g, c)| g + c).collect();
    total + ceilings.iter().map(|c| OVER * c.over_db(&moved).max(0.0)).sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn limits(n: usize) -> Vec<GainLimits> {
        vec![GainLimits { lowest_db: -60.0, highest_db: 0.0, step_db: 0.5 }; n]
    }

    #[test]
    fn a_lone_channel_is_moved_to_the_middle_of_the_band() {
        // Places 4 and 1 dB below the target within 2 dB: raised by 2.5 dB both lie 1.5 dB from it.
        let energy = vec![vec![energy_from_db(-4.0), energy_from_db(-1.0)]];
        let areas = [Filled { within_db: 2.0, energy }];
        assert_eq!(fill_bands(&areas, &[], &limits(1), &[-10.0]), vec![2.5]);
    }

    #[test]
    fn no_gain_goes_above_its_highest() {
        let areas = [Filled { within_db: 2.0, energy: vec![vec![energy_from_db(-9.0)]] }];
        assert_eq!(fill_bands(&areas, &[], &limits(1), &[-1.0]), vec![1.0]);
    }
}
