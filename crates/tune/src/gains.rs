//! Gains: every area on its level, the subwoofers on the bass asked, every neighbour below its limit.

use crate::each_alone::{EachAlone, equaliser_db, transfer_db, with_plans};
use crate::error::TuningError;
use crate::fed::{Fed, about_channel};
use crate::weights::weights;
use crate::within::{Filled, fill_bands, filled};
use loamline_acoustics::{
    Band, BandValues, SILENCE_DB, area_statistics, db_from_energy, energy_from_db, field,
};
use loamline_adapt::Sound;
use loamline_model::Job;
use loamline_processing::{AreaLevels, Ceiling, GainLimits, balance_gains, hold};
use loamline_study::{Finding, Severity};
use loamline_terms::{MID, say};

/// Gains are set in steps any equipment has, dB.
const GAIN_STEP_DB: f64 = 0.5;
const LOWEST_GAIN_DB: f64 = -60.0;
/// Times the full-range loudspeakers are set: first for the means of energies, then with what those are above the means of levels.
const LEVEL_ROUNDS: usize = 2;
/// Bass this close to what is asked is as asked, dB: half a step of the gain.
const BASS_WITHIN_DB: f64 = 0.25;
/// Times the bass is measured and set again. Waves of subwoofers and of the rest add, so the first answer is not the last; each
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

/// What the gain of a channel may be.
fn gain_limits(f: &Fed<'_>) -> GainLimits {
    GainLimits {
        lowest_db: LOWEST_GAIN_DB,
        highest_db: (f.tuned.highest_gain_db / GAIN_STEP_DB).floor() * GAIN_STEP_DB,
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
    let mut gains: Vec<f64> =
        gains_of(fed).iter().zip(&limits).map(|(gain, limit)| gain.min(limit.highest_db)).collect();
    hold(&mut gains, ceilings, &limits);
    fed.iter_mut().zip(gains).for_each(|(f, gain)| f.tuned.plan.chain.gain_db = gain);
}

/// What the gains could not do.
#[derive(Debug, Default)]
pub(crate) struct Gained {
    /// A neighbour holds some of the full-range loudspeakers down.
    pub held: bool,
    /// Subwoofer channels at their highest gain while the bass asked is not reached.
    pub short_of_bass: Vec<usize>,
}

/// Gains of the full-range loudspeakers by level, of the subwoofers by their balance with those or the bass asked, all within what the
/// neighbours allow (`ceilings`, per channel).
pub(crate) fn gains(
    job: &Job,
    sound: &Sound,
    areas: &[EachAlone<'_>],
    ceilings: &[Ceiling],
    fed: &mut [Fed<'_>],
    findings: &mut Vec<Finding>,
) -> Result<Gained, TuningError> {
    let full_range: Vec<usize> = (0..fed.len()).filter(|i| !fed[*i].is_bass()).collect();
    let heard = |a: &&EachAlone<'_>| full_range.iter().any(|i| plays(sound, &fed[*i], a));
    let used: Vec<&EachAlone<'_>> = areas.iter().filter(|a| !a.is_empty()).filter(heard).collect();
    if used.is_empty() {
        lower_to_ceilings(ceilings, fed);
        return Ok(Gained::default());
    }
    let mut filling = Filling::Free;
    let mut levelled = level(sound, &used, ceilings, &full_range, filling, fed)?;
    let mut short_of_bass = bass(job, sound, &used, ceilings, &full_range, fed)?;
    if levelled.raised && !short_of_bass.is_empty() {
        // Full-range loudspeakers that went up to fill a band have left behind subwoofers that cannot follow.
        fed.iter_mut().for_each(|f| f.tuned.plan.chain.gain_db = 0.0);
        filling = Filling::Downwards;
        levelled = level(sound, &used, ceilings, &full_range, filling, fed)?;
        short_of_bass = bass(job, sound, &used, ceilings, &full_range, fed)?;
    }
    // Told of the gains as they stand in the end.
    at_highest(&full_range, fed, findings);
    let own = of_full_range(ceilings, &full_range);
    if own.iter().any(|c| c.over_db(&levelled.free_db) > 0.0) {
        levelled.free_db = unheld(sound, &used, &full_range, filling, fed)?;
    }
    let held = held_back(&own, &levelled.free_db, &full_range, fed, findings);
    Ok(Gained { held, short_of_bass })
}

/// The gains the full-range loudspeakers would have if no neighbour held them down; those they have stay.
fn unheld(
    sound: &Sound,
    used: &[&EachAlone<'_>],
    full_range: &[usize],
    filling: Filling,
    fed: &mut [Fed<'_>],
) -> Result<Vec<f64>, TuningError> {
    let kept = gains_of(fed);
    fed.iter_mut().for_each(|f| f.tuned.plan.chain.gain_db = 0.0);
    let levelled = level(sound, used, &[], full_range, filling, fed);
    let free_db = full_range.iter().map(|i| fed[*i].tuned.plan.chain.gain_db).collect();
    fed.iter_mut().zip(kept).for_each(|(f, gain)| f.tuned.plan.chain.gain_db = gain);
    levelled.map(|_| free_db)
}

/// Gains of the subwoofers, by their balance with the rest or the bass asked, with all channels below the ceilings. Gives back
/// the channels that cannot go as high as the bass asked takes.
fn bass(
    job: &Job,
    sound: &Sound,
    used: &[&EachAlone<'_>],
    ceilings: &[Ceiling],
    full_range: &[usize],
    fed: &mut [Fed<'_>],
) -> Result<Vec<usize>, TuningError> {
    for i in (0..fed.len()).filter(|i| !full_range.contains(i)).collect::<Vec<_>>() {
        let with: Vec<&EachAlone<'_>> = used.iter().copied().filter(|a| plays(sound, &fed[i], a)).collect();
        let limit = gain_limits(&fed[i]);
        if let Some(gain) = balance_bass(sound, &with, fed, i, full_range) {
            let stepped = (gain / GAIN_STEP_DB).round() * GAIN_STEP_DB;
            fed[i].tuned.plan.chain.gain_db = stepped.clamp(limit.lowest_db, limit.highest_db);
        }
    }
    lower_to_ceilings(ceilings, fed);
    reach_bass(job, sound, used, ceilings, fed)
}

/// What the full-range loudspeakers may do, of what all channels may.
fn of_full_range(ceilings: &[Ceiling], full_range: &[usize]) -> Vec<Ceiling> {
    let of = |row: &Vec<f64>| full_range.iter().map(|i| row[*i]).collect();
    let one = |c: &Ceiling| Ceiling {
        from_channel_db: of(&c.from_channel_db),
        in_step_db: c.in_step_db.iter().map(of).collect(),
        ..c.clone()
    };
    ceilings.iter().map(one).collect()
}

/// Which way gains are moved to fill the bands of areas.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Filling {
    /// Up and down.
    Free,
    /// None above what the means of the areas ask for.
    Downwards,
}

/// Full-range loudspeakers that are set.
struct Levelled {
    /// The gains that the areas alone would ask for.
    free_db: Vec<f64>,
    /// Whether one went above what the means of the areas ask for.
    raised: bool,
}

/// Sets the gains of the full-range loudspeakers so that the areas are right within what the neighbours allow.
fn level(
    sound: &Sound,
    used: &[&EachAlone<'_>],
    ceilings: &[Ceiling],
    full_range: &[usize],
    filling: Filling,
    fed: &mut [Fed<'_>],
) -> Result<Levelled, TuningError> {
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
            full_range.iter().map(of).collect()
        })
        .collect();
    let limits: Vec<GainLimits> = full_range.iter().map(|i| gain_limits(&fed[*i])).collect();
    let own = of_full_range(ceilings, full_range);
    let mut free_db = Vec::new();
    for _ in 0..LEVEL_ROUNDS {
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
        for (i, gain) in full_range.iter().zip(&found.gain_db) {
            fed[*i].tuned.plan.chain.gain_db = *gain;
        }
        for (w, a) in wanted.iter_mut().zip(used) {
            *w = a.area.target_dba + energy_over_mean_db(sound, a, fed, full_range);
        }
        free_db = balance_gains(&zones, &[], &limits)?.gain_db;
    }
    // The means are set; now as much of each area within its band as the gains can do.
    let gains: Vec<f64> = full_range.iter().map(|i| fed[*i].tuned.plan.chain.gain_db).collect();
    let playing: Vec<&Fed<'_>> = full_range.iter().map(|i| &fed[*i]).collect();
    let areas: Vec<Filled> = used.iter().map(|a| filled(a, &playing)).collect();
    let limits = match filling {
        Filling::Free => limits,
        Filling::Downwards => {
            limits.iter().zip(&gains).map(|(l, gain)| GainLimits { highest_db: *gain, ..*l }).collect()
        }
    };
    let change = fill_bands(&areas, &own, &limits, &gains);
    let raised = change.iter().any(|by| *by > 0.0);
    for ((i, by), free) in full_range.iter().zip(change).zip(&mut free_db) {
        fed[*i].tuned.plan.chain.gain_db += by;
        *free += by;
    }
    Ok(Levelled { free_db, raised })
}

/// Says which of the full-range loudspeakers stand at their highest gain.
fn at_highest(full_range: &[usize], fed: &[Fed<'_>], findings: &mut Vec<Finding>) {
    for f in full_range.iter().map(|i| &fed[*i]) {
        let limit = gain_limits(f);
        if f.tuned.plan.chain.gain_db >= limit.highest_db {
            let what = say!(
                "Channel {channel} is as high as it may go, {gain} dB re full scale: any higher, and its limiter acts all the time or \
                 its amplifier is overdriven.",
                channel = f.view.id,
                gain = format!("{:+.1}", limit.highest_db)
            );
            findings.push(
                Finding::new(Severity::Warning, about_channel(f.view.id), what)
                    .mend(say!("Raise taps, or add loudspeakers, where it is too quiet.")),
            );
        }
    }
}

/// Says which channels are set lower than the areas alone would have them, and for whose sake.
fn held_back(
    ceilings: &[Ceiling],
    free_db: &[f64],
    full_range: &[usize],
    fed: &[Fed<'_>],
    findings: &mut Vec<Finding>,
) -> bool {
    let worst = ceilings.iter().max_by(|a, b| a.over_db(free_db).total_cmp(&b.over_db(free_db)));
    let Some(worst) = worst.filter(|c| c.over_db(free_db) > 0.0) else { return false };
    let mut held = false;
    for (i, free) in full_range.iter().zip(free_db) {
        let f = &fed[*i];
        // What the amplifier cannot do is not the neighbours' doing.
        let lower = free.min(gain_limits(f).highest_db) - f.tuned.plan.chain.gain_db;
        if lower < 0.5 * GAIN_STEP_DB {
            continue;
        }
        held = true;
        let what = say!(
            "The gain of channel {channel} is {lower} dB lower than its areas alone would set it, so that {place} keeps its limit with \
             the margin asked.",
            channel = f.view.id,
            lower = loamline_terms::fixed(lower, 1),
            place = &worst.name
        );
        findings.push(Finding::new(Severity::Note, about_channel(f.view.id), what).mend(say!(
            "Turn its loudspeakers away from there, or put more of them on lower taps nearer the listeners."
        )));
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
    let asks = |a: &&EachAlone<'_>| a.area.bass_db.or(a.area.bass_at_most_db).is_some();
    let asking: Vec<&EachAlone<'_>> = used.iter().copied().filter(asks).collect();
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
            let has_db = now.bass_over_mid_db;
            let short_db = match (a.area.bass_db, a.area.bass_at_most_db) {
                (Some(wanted_db), _) => wanted_db - has_db,
                (None, Some(most_db)) => (most_db - has_db).min(0.0),
                (None, None) => 0.0,
            };
            short.push((a.programme, short_db));
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
fn energy_over_mean_db(sound: &Sound, a: &EachAlone<'_>, fed: &[Fed<'_>], full_range: &[usize]) -> f64 {
    let mut energies = vec![0.0; a.points().len()];
    for f in full_range.iter().map(|i| &fed[*i]).filter(|f| plays(sound, f, a)) {
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

/// Gain at which a subwoofer channel is as loud over its range as the others over the middle, mean over areas, dB.
fn balance_bass(
    sound: &Sound,
    with: &[&EachAlone<'_>],
    fed: &[Fed<'_>],
    bass: usize,
    full_range: &[usize],
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
            let own = full_range
                .iter()
                .map(|i| &fed[*i])
                .filter(|f| f.view.programme_id == fed[bass].view.programme_id);
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
