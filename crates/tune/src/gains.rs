//! Gains: every area on its level, the subwoofers on the bass asked, every neighbour below its limit.

use crate::each_alone::{EachAlone, equaliser_db, transfer_db, with_plans};
use crate::error::TuningError;
use crate::fed::{Fed, about_channel};
use loamline_acoustics::{
    Band, BandValues, SILENCE_DB, Weighting, area_statistics, db_from_energy, energy_from_db, field,
};
use loamline_adapt::Sound;
use loamline_model::Job;
use loamline_processing::{AreaLevels, Ceiling, GainLimits, balance_gains, hold};
use loamline_study::{Finding, Severity};
use loamline_terms::MID;

/// Gains are set in steps any equipment has, dB.
const GAIN_STEP_DB: f64 = 0.5;
const LOWEST_GAIN_DB: f64 = -60.0;
/// Bass this close to what is asked is as asked, dB: half a step of the gain.
const BASS_WITHIN_DB: f64 = 0.25;
/// Times the bass is measured and set again. Waves of mains and subwoofers add, so the first answer is not the last; each
/// time costs the field of the areas that ask for bass.
const BASS_ROUNDS: usize = 3;

/// LAeq of every source alone over an area, mean energy, with the plans' equaliser and gain.
pub(crate) fn a_levels(a: &EachAlone<'_>, fed: &[Fed<'_>], sources: usize) -> Vec<f64> {
    let mut levels = vec![SILENCE_DB; sources];
    for f in fed {
        let weights = weights(f);
        for &s in &f.sources {
            levels[s] = db_from_energy(a.mean(s, &weights));
        }
    }
    levels
}

/// Energy gain per band of a channel's equaliser and gain, A-weighted.
pub(crate) fn weights(f: &Fed<'_>) -> BandValues {
    let (weights, shape) = (Weighting::A.band_gains_db(), equaliser_db(f));
    let gain = f.tuned.plan.chain.gain_db;
    std::array::from_fn(|b| energy_from_db(weights[b] + shape[b] + gain))
}

/// What the gain of a channel may be.
fn gain_limits(f: &Fed<'_>) -> GainLimits {
    GainLimits {
        lowest_db: LOWEST_GAIN_DB,
        highest_db: (f.highest_gain_db / GAIN_STEP_DB).floor() * GAIN_STEP_DB,
        step_db: GAIN_STEP_DB,
    }
}

/// Gains of all channels, in their order.
pub(crate) fn gains_of(fed: &[Fed<'_>]) -> Vec<f64> {
    fed.iter().map(|f| f.tuned.plan.chain.gain_db).collect()
}

fn plays(sound: &Sound, f: &Fed<'_>, a: &EachAlone<'_>) -> bool {
    let own = f.view.programme_id.and_then(|p| sound.programmes.iter().position(|x| x == p));
    own.unwrap_or(0) == a.programme
}

/// Lowers gains until every neighbour is below its limit.
fn lower_to_ceilings(ceilings: &[Ceiling], fed: &mut [Fed<'_>]) {
    let limits: Vec<GainLimits> = fed.iter().map(gain_limits).collect();
    let mut gains = gains_of(fed);
    hold(&mut gains, ceilings, &limits);
    fed.iter_mut().zip(gains).for_each(|(f, gain)| f.tuned.plan.chain.gain_db = gain);
}

/// What the gains could not do.
#[derive(Debug, Default)]
pub(crate) struct Gained {
    /// A neighbour holds some of the mains down.
    pub held: bool,
    /// Subwoofer channels at their highest gain while the bass asked is not reached.
    pub short_of_bass: Vec<usize>,
}

/// Gains of the mains by level, of the subwoofers by their balance with the mains or the bass asked, all within what the
/// neighbours allow (`ceilings`, per channel).
pub(crate) fn gains(
    job: &Job,
    sound: &Sound,
    areas: &[EachAlone<'_>],
    ceilings: &[Ceiling],
    fed: &mut [Fed<'_>],
    findings: &mut Vec<Finding>,
) -> Result<Gained, TuningError> {
    let mains: Vec<usize> = (0..fed.len()).filter(|i| !fed[*i].is_bass()).collect();
    let heard = |a: &&EachAlone<'_>| mains.iter().any(|i| plays(sound, &fed[*i], a));
    let used: Vec<&EachAlone<'_>> = areas.iter().filter(|a| !a.is_empty()).filter(heard).collect();
    if used.is_empty() {
        lower_to_ceilings(ceilings, fed);
        return Ok(Gained::default());
    }
    let held = level(sound, &used, ceilings, &mains, fed, findings)?;
    for i in (0..fed.len()).filter(|i| !mains.contains(i)).collect::<Vec<_>>() {
        let with: Vec<&EachAlone<'_>> = used.iter().copied().filter(|a| plays(sound, &fed[i], a)).collect();
        let limit = gain_limits(&fed[i]);
        if let Some(gain) = balance_bass(sound, &with, fed, i, &mains) {
            let stepped = (gain / GAIN_STEP_DB).round() * GAIN_STEP_DB;
            fed[i].tuned.plan.chain.gain_db = stepped.clamp(limit.lowest_db, limit.highest_db);
        }
    }
    lower_to_ceilings(ceilings, fed);
    let short_of_bass = reach_bass(job, sound, &used, ceilings, fed)?;
    Ok(Gained { held, short_of_bass })
}

/// Gains of the mains that set the areas right within what the neighbours allow.
fn level(
    sound: &Sound,
    used: &[&EachAlone<'_>],
    ceilings: &[Ceiling],
    mains: &[usize],
    fed: &mut [Fed<'_>],
    findings: &mut Vec<Finding>,
) -> Result<bool, TuningError> {
    // The target is the mean of levels over places, the sum is one of energies: their difference is taken out first.
    let mut wanted: Vec<f64> = used.iter().map(|a| a.area.target_dba).collect();
    let from: Vec<Vec<f64>> = used
        .iter()
        .map(|a| {
            let sources = a_levels(a, fed, sound.sources.len());
            let of = |i: &usize| {
                let f = &fed[*i];
                let heard = f.sources.iter().map(|s| energy_from_db(sources[*s])).sum();
                if plays(sound, f, a) { db_from_energy(heard) } else { SILENCE_DB }
            };
            mains.iter().map(of).collect()
        })
        .collect();
    let limits: Vec<GainLimits> = mains.iter().map(|i| gain_limits(&fed[*i])).collect();
    let of_mains = |c: &Ceiling| Ceiling {
        from_channel_db: mains.iter().map(|i| c.from_channel_db[*i]).collect(),
        ..c.clone()
    };
    let own: Vec<Ceiling> = ceilings.iter().map(of_mains).collect();
    let mut held = false;
    for last in [false, true] {
        let zones: Vec<AreaLevels> = used
            .iter()
            .zip(&from)
            .zip(&wanted)
            .map(|((a, from), wanted_db)| AreaLevels {
                name: a.id.to_owned(),
                wanted_db: *wanted_db,
                weight: 1.0,
                from_channel_db: from.clone(),
            })
            .collect();
        let found = balance_gains(&zones, &own, &limits)?;
        for (i, gain) in mains.iter().zip(&found.gain_db) {
            fed[*i].tuned.plan.chain.gain_db = *gain;
        }
        for (w, a) in wanted.iter_mut().zip(used) {
            *w = a.area.target_dba + energy_over_mean_db(sound, a, fed, mains);
        }
        if last {
            let free = balance_gains(&zones, &[], &limits)?;
            held = held_back(&own, &free.gain_db, mains, fed, findings);
        }
    }
    for (i, limit) in mains.iter().zip(&limits) {
        let f = &fed[*i];
        if f.tuned.plan.chain.gain_db >= limit.highest_db {
            let what = format!(
                "Channel {} stands at the highest gain at which its limiter stays out of the way ({:+.1} dB).",
                f.view.id, limit.highest_db
            );
            findings.push(
                Finding::new(Severity::Warning, about_channel(f.view.id), what)
                    .mend("Raise taps, or add loudspeakers, where it is too quiet."),
            );
        }
    }
    Ok(held)
}

/// Says which channels stand lower than the areas alone would have them, and for whose sake.
fn held_back(
    ceilings: &[Ceiling],
    free_db: &[f64],
    mains: &[usize],
    fed: &[Fed<'_>],
    findings: &mut Vec<Finding>,
) -> bool {
    let worst = ceilings.iter().max_by(|a, b| a.over_db(free_db).total_cmp(&b.over_db(free_db)));
    let Some(worst) = worst.filter(|c| c.over_db(free_db) > 0.0) else { return false };
    let mut held = false;
    for (i, free) in mains.iter().zip(free_db) {
        let f = &fed[*i];
        let lower = free - f.tuned.plan.chain.gain_db;
        if lower < 0.5 * GAIN_STEP_DB {
            continue;
        }
        held = true;
        let what = format!(
            "Channel {} stands {lower:.1} dB below what its areas want, so that {} keeps its limit with the margin asked.",
            f.view.id, worst.name
        );
        findings.push(Finding::new(Severity::Note, about_channel(f.view.id), what).mend(
            "Turn its loudspeakers away from there, or put more of them on lower taps nearer the listeners.",
        ));
    }
    held
}

/// Moves the subwoofers until the areas that ask for a bass level have it, measured on the field of all loudspeakers
/// together, as far as limiters and neighbours allow. Gives back the channels that cannot go as high as it takes.
fn reach_bass(
    job: &Job,
    sound: &Sound,
    used: &[&EachAlone<'_>],
    ceilings: &[Ceiling],
    fed: &mut [Fed<'_>],
) -> Result<Vec<usize>, TuningError> {
    let asking: Vec<&EachAlone<'_>> = used.iter().copied().filter(|a| a.area.bass_db.is_some()).collect();
    if asking.is_empty() || !fed.iter().any(Fed::is_bass) {
        return Ok(Vec::new());
    }
    let mut short_of_bass = Vec::new();
    for _ in 0..BASS_ROUNDS {
        short_of_bass.clear();
        let scene = with_plans(job, sound, fed)?;
        let mut short: Vec<(usize, f64)> = Vec::new();
        for a in &asking {
            let heard = field(&scene, a.points());
            let bands: Vec<BandValues> = (0..heard.len()).map(|p| heard.band_levels_db(p)).collect();
            let now = area_statistics(&bands, a.area.target_dba, a.area.within_db)
                .map_err(|e| TuningError::of_area(a.id, e))?;
            short.push((a.programme, a.area.bass_db.unwrap_or(0.0) - now.bass_over_mid_db));
        }
        let before = gains_of(fed);
        for i in (0..fed.len()).filter(|i| fed[*i].is_bass()).collect::<Vec<_>>() {
            let own = asking.iter().zip(&short).filter(|(a, _)| plays(sound, &fed[i], a)).map(|(_, s)| s.1);
            let (count, sum) = own.fold((0, 0.0), |(n, sum), s| (n + 1, sum + s));
            let by = sum / f64::from(count.max(1));
            if by.abs() > BASS_WITHIN_DB {
                let limit = gain_limits(&fed[i]);
                let gain = before[i] + (by / GAIN_STEP_DB).round() * GAIN_STEP_DB;
                if gain > limit.highest_db {
                    short_of_bass.push(i);
                }
                fed[i].tuned.plan.chain.gain_db = gain.clamp(limit.lowest_db, limit.highest_db);
            }
        }
        lower_to_ceilings(ceilings, fed);
        if gains_of(fed) == before {
            break;
        }
    }
    Ok(short_of_bass)
}

/// Energy mean less arithmetic mean of the levels at an area's places, dB.
fn energy_over_mean_db(sound: &Sound, a: &EachAlone<'_>, fed: &[Fed<'_>], mains: &[usize]) -> f64 {
    let mut energies = vec![0.0; a.points().len()];
    for f in mains.iter().map(|i| &fed[*i]).filter(|f| plays(sound, f, a)) {
        let weights = weights(f);
        for s in &f.sources {
            energies.iter_mut().zip(a.weighed(*s, &weights)).for_each(|(sum, e)| *sum += e);
        }
    }
    let levels: Vec<f64> = energies.into_iter().map(db_from_energy).collect();
    let n = levels.len().max(1) as f64;
    let energy = levels.iter().map(|l| energy_from_db(*l)).sum::<f64>() / n;
    db_from_energy(energy) - levels.iter().sum::<f64>() / n
}

/// Gain at which a subwoofer channel is as loud over its range as the mains over the middle, mean over areas, dB.
fn balance_bass(
    sound: &Sound,
    with: &[&EachAlone<'_>],
    fed: &[Fed<'_>],
    bass: usize,
    mains: &[usize],
) -> Option<f64> {
    let plan = &fed[bass].tuned.plan;
    let (from, to) = (plan.high_pass_hz()?, plan.low_pass_hz()?);
    let range = Band::all().filter(|b| (from..=to).contains(&b.centre_hz()));
    let bass_bands: Vec<usize> = range.map(Band::index).collect();
    let mid_bands: Vec<usize> = MID.bands().collect();
    let level = |a: &EachAlone<'_>, f: &Fed<'_>, bands: &[usize]| {
        let (response, shape) = (transfer_db(sound, a, &f.sources), equaliser_db(f));
        let gain = f.tuned.plan.chain.gain_db;
        bands.iter().map(|b| energy_from_db(response[*b] + shape[*b] + gain)).sum::<f64>()
            / bands.len() as f64
    };
    if bass_bands.is_empty() || with.is_empty() {
        return None;
    }
    // All subwoofer channels of the programme share the work alike.
    let subs: Vec<&Fed<'_>> =
        fed.iter().filter(|f| f.is_bass() && f.view.programme_id == fed[bass].view.programme_id).collect();
    let differences: Vec<f64> = with
        .iter()
        .map(|a| {
            let own =
                mains.iter().map(|i| &fed[*i]).filter(|f| f.view.programme_id == fed[bass].view.programme_id);
            let middle: f64 = own.map(|f| level(a, f, &mid_bands)).sum();
            let low: f64 = subs
                .iter()
                .map(|f| level(a, f, &bass_bands) / energy_from_db(f.tuned.plan.chain.gain_db))
                .sum();
            db_from_energy(middle) - db_from_energy(low)
        })
        .collect();
    Some(differences.iter().sum::<f64>() / differences.len() as f64)
}
