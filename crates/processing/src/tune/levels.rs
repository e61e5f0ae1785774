//! Channel gains that set the areas right.
//!
//! Every channel adds to every area in energy; the gains are found by bounded least squares on the areas' levels
//! in dB against what is wanted, with a slight pull towards 0 dB so that channels nobody hears stay put, and are
//! then moved to steps that equipment offers. Areas fed by one channel alone share one gain: what is left over
//! between them is a matter of taps, and is reported.

use super::solve::least_squares;
use super::{TuneError, all_finite, range, same_length};
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

/// Gains, one per entry of `limits`, that bring every area as close to its wanted level as the limits allow.
///
/// # Errors
/// No areas or channels, lists of different lengths, values that are not numbers, contradicting limits.
pub fn balance_gains(areas: &[AreaLevels], limits: &[GainLimits]) -> Result<ZoneGains, TuneError> {
    check(areas, limits)?;
    let lower: Vec<f64> = limits.iter().map(|l| l.lowest_db).collect();
    let upper: Vec<f64> = limits.iter().map(|l| l.highest_db).collect();
    let residuals = |g: &[f64]| {
        let mut r: Vec<f64> = areas.iter().map(|a| a.weight.sqrt() * (level(a, g) - a.wanted_db)).collect();
        r.extend(g.iter().map(|v| PULL * v));
        r
    };
    let zero = vec![0.0; limits.len()];
    let (gains, _) = least_squares(zero.clone(), &lower, &upper, &vec![1e-4; limits.len()], &residuals);
    let gain_db = stepped(gains, limits, &|g| residuals(g).iter().map(|v| v * v).sum());
    let after_db: Vec<f64> = areas.iter().map(|a| level(a, &gain_db)).collect();
    let worst_miss_db = areas.iter().zip(&after_db).map(|(a, l)| (l - a.wanted_db).abs()).fold(0.0, f64::max);
    let before_db = areas.iter().map(|a| level(a, &zero)).collect();
    Ok(ZoneGains { gain_db, before_db, after_db, worst_miss_db })
}

fn check(areas: &[AreaLevels], limits: &[GainLimits]) -> Result<(), TuneError> {
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
    for l in limits {
        all_finite("gain limits of a channel", &[l.lowest_db, l.highest_db, l.step_db])?;
        range("the gain of a channel (dB)", l.lowest_db, l.highest_db)?;
        range("the gain step of a channel (dB)", 0.0, l.step_db)?;
    }
    Ok(())
}

fn level(area: &AreaLevels, gain_db: &[f64]) -> f64 {
    let energy: f64 =
        area.from_channel_db.iter().zip(gain_db).map(|(l, g)| 10_f64.powf((l + g) / 10.0)).sum();
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
        let found = balance_gains(&areas, &[LIMITS; 2]).unwrap();
        assert_eq!(found.gain_db, [-6.0, 4.0]);
        assert!(found.worst_miss_db < 0.01);
    }

    /// Each zone hears the other 3 dB down: equal gains g give L + 10 lg(1 + 1/2) + g (energy sum, worked by hand).
    #[test]
    fn spill_between_zones_is_counted() {
        let areas = [area("a", 70.0, &[75.0, 71.989_7]), area("b", 70.0, &[71.989_7, 75.0])];
        let found = balance_gains(&areas, &[GainLimits { step_db: 0.01, ..LIMITS }; 2]).unwrap();
        let by_hand = 70.0 - 75.0 - 10.0 * 1.5_f64.log10();
        for g in found.gain_db {
            assert!((g - by_hand).abs() < 0.02, "{g} {by_hand}");
        }
    }

    #[test]
    fn limits_hold_and_the_miss_is_told() {
        let found = balance_gains(&[area("far lawn", 80.0, &[66.0])], &[LIMITS]).unwrap();
        assert_eq!(found.gain_db, [6.0]);
        assert!((found.worst_miss_db - 8.0).abs() < 1e-9);
        assert!(balance_gains(&[], &[LIMITS]).is_err());
        assert!(balance_gains(&[area("a", 70.0, &[f64::NAN])], &[LIMITS]).is_err());
    }
}
