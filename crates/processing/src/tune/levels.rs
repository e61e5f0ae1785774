//! Channel gains that set the areas right.
//!
//! Every channel adds to every area in energy; the gains are found by bounded least squares on the areas' levels
//! in dB against what is wanted, with a slight pull towards 0 dB so that channels nobody hears stay put, and are
//! then moved to steps that equipment offers. Areas fed by one channel alone share one gain: what is left over
//! between them is a matter of taps, and is reported.
//!
//! A ceiling is a level that must not be exceeded: at a neighbour, by day or by night. It enters the least squares as a
//! steep penalty, so that the gains give way where the areas lose least, and is then held to the letter: while one is
//! exceeded, the channel that gives most of it goes down a step.

use super::solve::least_squares;
use super::{TuneError, all_finite, range, same_length};
use loamline_limits::go_on;
use serde::{Deserialize, Serialize};

/// The level of one area by channel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AreaLevels {
    /// What the crew calls it.
    pub name: String,
    /// Level wanted, dBA or whatever the levels are in.
    pub wanted_db: f64,
    /// Importance relative to the other areas, more than zero.
    pub weight: f64,
    /// Level each channel alone gives at 0 dB gain; use -200 for a channel that is not heard here.
    pub from_channel_db: Vec<f64>,
}

/// A level that must not be exceeded, by channel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Ceiling {
    /// Where and when it holds, as the crew says it.
    pub name: String,
    /// Highest level allowed, dB of any weighting.
    pub highest_db: f64,
    /// Level each channel alone gives at 0 dB gain, of the same weighting: what adds in energy.
    pub from_channel_db: Vec<f64>,
    /// What adds in step: one row per programme and octave, the level of each channel there at 0 dB gain, -200 for one that
    /// is not in it. Amplitudes add within a row, rows in energy. It is counted besides `from_channel_db`, not in it.
    #[serde(default)]
    pub in_step_db: Vec<Vec<f64>>,
}

impl Ceiling {
    /// By how much the gains exceed it, dB; negative below it.
    pub fn over_db(&self, gain_db: &[f64]) -> f64 {
        let mut energy = energy_of(level(&self.from_channel_db, gain_db));
        for row in &self.in_step_db {
            let amplitude: f64 = row.iter().zip(gain_db).map(|(l, g)| 10_f64.powf((l + g) / 20.0)).sum();
            energy += amplitude * amplitude;
        }
        10.0 * energy.max(f64::MIN_POSITIVE).log10() - self.highest_db
    }

    /// What a channel alone gives with a gain, dB.
    fn gives_db(&self, channel: usize, gain_db: f64) -> f64 {
        let rows = self.in_step_db.iter().chain(std::iter::once(&self.from_channel_db));
        let energy: f64 = rows.filter_map(|row| row.get(channel)).map(|l| energy_of(l + gain_db)).sum();
        10.0 * energy.max(f64::MIN_POSITIVE).log10()
    }
}

fn energy_of(level_db: f64) -> f64 {
    10_f64.powf(level_db / 10.0)
}

/// What a channel's gain may be.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct GainLimits {
    /// Lowest gain, dB.
    pub lowest_db: f64,
    /// Highest gain, dB: the channel's headroom.
    pub highest_db: f64,
    /// Step of the equipment, dB.
    pub step_db: f64,
}

/// Gains found, and what they do.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ZoneGains {
    /// Gain per channel, dB.
    pub gain_db: Vec<f64>,
    /// Level per area at 0 dB gain.
    pub before_db: Vec<f64>,
    /// Level per area with these gains.
    pub after_db: Vec<f64>,
    /// Largest distance of an area from its wanted level with these gains, dB.
    pub worst_miss_db: f64,
}

/// Pull towards 0 dB: 1 dB of gain counts as much as 0.02 dB of error. Larger, and areas miss their level;
/// much smaller, and unheard channels wander.
const PULL: f64 = 0.02;

/// Weight of a decibel over a ceiling against a decibel of error in an area. Smaller, and more is left to the steps at
/// the end, which do not look at the areas; much larger, and the least squares crawl along the ceiling.
const STEEP: f64 = 10.0;
/// Exceeding a ceiling by this much is rounding, dB.
const ROUNDING_DB: f64 = 1e-6;

/// Gains, one per entry of `limits`, that bring every area as close to its wanted level as the limits and the ceilings
/// allow. A ceiling that cannot be kept even at the lowest gains is exceeded; ask it with [`Ceiling::over_db`].
///
/// # Errors
/// No areas or channels, lists of different lengths, values that are not numbers, contradicting limits.
pub fn balance_gains(
    areas: &[AreaLevels],
    ceilings: &[Ceiling],
    limits: &[GainLimits],
) -> Result<ZoneGains, TuneError> {
    check(areas, ceilings, limits)?;
    let lower: Vec<f64> = limits.iter().map(|l| l.lowest_db).collect();
    let upper: Vec<f64> = limits.iter().map(|l| l.highest_db).collect();
    // Only what the highest gains exceed can be in the way.
    let near: Vec<&Ceiling> = ceilings.iter().filter(|c| c.over_db(&upper) > 0.0).collect();
    let residuals = |g: &[f64]| {
        let off = |a: &AreaLevels| level(&a.from_channel_db, g) - a.wanted_db;
        let mut r: Vec<f64> = areas.iter().map(|a| a.weight.sqrt() * off(a)).collect();
        r.extend(near.iter().map(|c| STEEP * c.over_db(g).max(0.0)));
        r.extend(g.iter().map(|v| PULL * v));
        r
    };
    let zero = vec![0.0; limits.len()];
    let (gains, _) = least_squares(zero.clone(), &lower, &upper, &vec![1e-4; limits.len()], &residuals);
    let mut gain_db = stepped(gains, limits, &|g| residuals(g).iter().map(|v| v * v).sum());
    hold(&mut gain_db, ceilings, limits);
    let after_db: Vec<f64> = areas.iter().map(|a| level(&a.from_channel_db, &gain_db)).collect();
    let worst_miss_db = areas.iter().zip(&after_db).map(|(a, l)| (l - a.wanted_db).abs()).fold(0.0, f64::max);
    let before_db = areas.iter().map(|a| level(&a.from_channel_db, &zero)).collect();
    Ok(ZoneGains { gain_db, before_db, after_db, worst_miss_db })
}

/// Lowers gains until every ceiling holds: while one is exceeded, the channel that gives most of the worst one and can
/// still go down does so by a step.
pub fn hold(gain_db: &mut [f64], ceilings: &[Ceiling], limits: &[GainLimits]) {
    loop {
        go_on();
        let worst = ceilings.iter().max_by(|a, b| a.over_db(gain_db).total_cmp(&b.over_db(gain_db)));
        let Some(worst) = worst.filter(|c| c.over_db(gain_db) > ROUNDING_DB) else { return };
        let gives = |c: usize| worst.gives_db(c, gain_db[c]);
        let can = (0..gain_db.len().min(limits.len()))
            .filter(|c| gain_db[*c] - limits[*c].step_db >= limits[*c].lowest_db - 1e-9);
        let Some(channel) = can.max_by(|a, b| gives(*a).total_cmp(&gives(*b))) else { return };
        gain_db[channel] -= limits[channel].step_db;
    }
}

fn check(areas: &[AreaLevels], ceilings: &[Ceiling], limits: &[GainLimits]) -> Result<(), TuneError> {
    if areas.is_empty() {
        return Err(TuneError::Nothing("areas"));
    }
    if limits.is_empty() {
        return Err(TuneError::Nothing("channels"));
    }
    for a in areas {
        same_length("levels of an area by channel", a.from_channel_db.len(), limits.len())?;
        all_finite("levels of an area by channel", &a.from_channel_db)?;
        all_finite("wanted level and weight of an area", &[a.wanted_db, a.weight])?;
        range("the weight of an area", 0.0, a.weight)?;
    }
    for c in ceilings {
        same_length("levels at a ceiling by channel", c.from_channel_db.len(), limits.len())?;
        all_finite("levels at a ceiling by channel", &c.from_channel_db)?;
        for row in &c.in_step_db {
            same_length("levels in step at a ceiling by channel", row.len(), limits.len())?;
            all_finite("levels in step at a ceiling by channel", row)?;
        }
        all_finite("highest level of a ceiling", &[c.highest_db])?;
    }
    for l in limits {
        all_finite("gain limits of a channel", &[l.lowest_db, l.highest_db, l.step_db])?;
        range("the gain of a channel (dB)", l.lowest_db, l.highest_db)?;
        range("the gain step of a channel (dB)", 0.0, l.step_db)?;
    }
    Ok(())
}

fn level(from_channel_db: &[f64], gain_db: &[f64]) -> f64 {
    let energy: f64 = from_channel_db.iter().zip(gain_db).map(|(l, g)| 10_f64.powf((l + g) / 10.0)).sum();
    10.0 * energy.max(1e-30).log10()
}

/// The gains in whole steps, then moved one step at a time while that helps.
fn stepped(gains: Vec<f64>, limits: &[GainLimits], cost: &dyn Fn(&[f64]) -> f64) -> Vec<f64> {
    let on_step = |g: f64, l: &GainLimits| {
        let (first, last) =
            ((l.lowest_db / l.step_db - 1e-9).ceil(), (l.highest_db / l.step_db + 1e-9).floor());
        if first > last { g } else { (g / l.step_db).round().clamp(first, last) * l.step_db }
    };
    let mut gains: Vec<f64> = gains.iter().zip(limits).map(|(g, l)| on_step(*g, l)).collect();
    let mut best = cost(&gains);
    for _ in 0..20 {
        let mut moved = false;
        for channel in 0..gains.len() {
            for step in [-1.0, 1.0] {
                go_on();
                let mut trial = gains.clone();
                trial[channel] = on_step(trial[channel] + step * limits[channel].step_db, &limits[channel]);
                let trial_cost = cost(&trial);
                if trial_cost < best - 1e-9 {
                    (gains, best, moved) = (trial, trial_cost, true);
                }
            }
        }
        if !moved {
            break;
        }
    }
    gains
}

#[cfg(test)]
mod tests {
    use super::*;

    fn area(name: &str, wanted_db: f64, from_channel_db: &[f64]) -> AreaLevels {
        AreaLevels {
            name: name.to_owned(),
            wanted_db,
            weight: 1.0,
            from_channel_db: from_channel_db.to_vec(),
        }
    }

    const LIMITS: GainLimits = GainLimits { lowest_db: -20.0, highest_db: 6.0, step_db: 0.5 };

    #[test]
    fn separate_zones_meet_their_levels() {
        let areas = [area("terrace", 72.0, &[78.0, -200.0]), area("lawn", 70.0, &[-200.0, 66.0])];
        let found = balance_gains(&areas, &[], &[LIMITS; 2]).unwrap();
        assert_eq!(found.gain_db, [-6.0, 4.0]);
        assert!(found.worst_miss_db < 0.01);
    }

    /// Each zone hears the other 3 dB down: equal gains g give L + 10 lg(1 + 1/2) + g (energy sum, worked by hand).
    #[test]
    fn spill_between_zones_is_counted() {
        let areas = [area("a", 70.0, &[75.0, 71.989_7]), area("b", 70.0, &[71.989_7, 75.0])];
        let found = balance_gains(&areas, &[], &[GainLimits { step_db: 0.01, ..LIMITS }; 2]).unwrap();
        let by_hand = 70.0 - 75.0 - 10.0 * 1.5_f64.log10();
        for g in found.gain_db {
            assert!((g - by_hand).abs() < 0.02, "{g} {by_hand}");
        }
    }

    #[test]
    fn limits_hold_and_the_miss_is_told() {
        let found = balance_gains(&[area("far lawn", 80.0, &[66.0])], &[], &[LIMITS]).unwrap();
        assert_eq!(found.gain_db, [6.0]);
        assert!((found.worst_miss_db - 8.0).abs() < 1e-9);
        assert!(balance_gains(&[], &[], &[LIMITS]).is_err());
        assert!(balance_gains(&[area("a", 70.0, &[f64::NAN])], &[], &[LIMITS]).is_err());
    }

    /// Two areas that want 70 dB from a channel each, and a neighbour who hears the second 20 dB down: 45 dB there
    /// leaves the second 65 dB and the first its 70 dB. Levels worked by hand.
    #[test]
    fn a_ceiling_lowers_the_channel_it_is_about() {
        let areas = [area("a", 70.0, &[70.0, -200.0]), area("b", 70.0, &[-200.0, 70.0])];
        let ceiling = |highest_db| Ceiling {
            name: "neighbour by night".to_owned(),
            highest_db,
            from_channel_db: vec![-200.0, 50.0],
            in_step_db: vec![],
        };
        let found = balance_gains(&areas, &[ceiling(45.0)], &[LIMITS; 2]).unwrap();
        assert_eq!(found.gain_db, [0.0, -5.0]);
        let free = balance_gains(&areas, &[ceiling(50.0)], &[LIMITS; 2]).unwrap();
        assert_eq!(free.gain_db, [0.0, 0.0]);
        // Not even the lowest gains keep it: they are as low as they go, and the ceiling says by how much it is over.
        let low = balance_gains(&areas, &[ceiling(20.0)], &[LIMITS; 2]).unwrap();
        assert_eq!(low.gain_db[1], -20.0);
        assert!((ceiling(20.0).over_db(&low.gain_db) - 10.0).abs() < 1e-3);
    }

    /// Two channels of 44 dB in step give 44 + 20 lg 2 = 50.02 dB, beside 47 dB in energy 51.78 dB; 6 dB less each in steps
    /// of half a decibel is 50.02 - 6 = 44.02 dB.
    #[test]
    fn channels_in_step_add_in_amplitude() {
        let mut ceiling = Ceiling {
            name: "neighbour".to_owned(),
            highest_db: 0.0,
            from_channel_db: vec![-200.0; 2],
            in_step_db: vec![vec![44.0, 44.0]],
        };
        assert!((ceiling.over_db(&[0.0; 2]) - 50.0206).abs() < 1e-4);
        assert!((ceiling.over_db(&[-6.0; 2]) - 44.0206).abs() < 1e-4);
        ceiling.from_channel_db[0] = 47.0;
        assert!((ceiling.over_db(&[0.0; 2]) - 51.7781).abs() < 1e-3);
        let areas = [area("a", 70.0, &[70.0, -200.0]), area("b", 70.0, &[-200.0, 70.0])];
        ceiling.highest_db = 48.0;
        let found = balance_gains(&areas, std::slice::from_ref(&ceiling), &[LIMITS; 2]).unwrap();
        assert!(ceiling.over_db(&found.gain_db) <= 1e-6, "{found:?}");
    }

    /// Whatever is asked, a ceiling that can be kept is kept to the letter, in whole steps.
    #[test]
    fn ceilings_hold_in_whole_steps() {
        for highest_db in [40.0, 41.3, 44.9, 47.77, 52.0, 60.0] {
            let areas = [area("a", 75.0, &[70.0, 61.0, 58.0]), area("b", 72.0, &[60.0, 71.0, 64.0])];
            let ceiling = Ceiling {
                name: "n".to_owned(),
                highest_db,
                from_channel_db: vec![46.0, 49.0, 52.0],
                in_step_db: vec![],
            };
            let found = balance_gains(&areas, std::slice::from_ref(&ceiling), &[LIMITS; 3]).unwrap();
            assert!(ceiling.over_db(&found.gain_db) <= 1e-6, "{highest_db}: {found:?}");
            assert!(found.gain_db.iter().all(|g| (2.0 * g).fract().abs() < 1e-9), "{found:?}");
        }
    }
}
