//! Equaliser, gains and delays from the predicted sound, and the prediction again with them.

use super::{AreaTuned, Fed, channel, is_bass};
use crate::finding::{Finding, Severity, Subject};
use crate::levels::{LevelsReport, spacing_m};
use crate::sound::{Sound, table_of};
use indexmap::IndexMap;
use loamline_acoustics::{
    BAND_COUNT, Band, BandValues, Points, SILENCE_DB, Scene, Source, Weighting, area_statistics, arrivals,
    db_from_energy, energy_from_db, energy_matrix, field,
};
use loamline_model::Job;
use loamline_model::document::{Area, Polarity as Wired};
use loamline_processing::{
    AreaArrivals, AreaDelayReport, AreaLevels, Arrival, Chain, DelayLimits, FitLimits, FitTarget, GainLimits,
    Polarity, SampleRate, TuneError, area_average_db, balance_gains, fit_equaliser, suggest_delays,
};

/// What came of the shaping, beside the plans themselves.
pub(super) struct Shaped {
    pub areas: IndexMap<String, AreaTuned>,
    pub delays: Vec<AreaDelayReport>,
    /// Per area: its id, the level wanted, and the level of every source and of every channel alone, dBA.
    alone: Vec<(String, f64, Vec<f64>, Vec<f64>)>,
}

impl Shaped {
    /// Areas in which the sources are within `within_db` of the loudest level they give in any.
    pub fn heard_in(&self, sources: &[usize], within_db: f64) -> Vec<String> {
        let sum = |levels: &[f64]| {
            db_from_energy(sources.iter().filter_map(|s| levels.get(*s)).map(|l| energy_from_db(*l)).sum())
        };
        let levels: Vec<f64> = self.alone.iter().map(|a| sum(&a.2)).collect();
        let top = levels.iter().copied().fold(SILENCE_DB, f64::max);
        let near = |l: &f64| *l > SILENCE_DB && *l > top - within_db;
        self.alone.iter().zip(&levels).filter(|(_, l)| near(l)).map(|(a, _)| a.0.clone()).collect()
    }

    /// Areas in which a channel is the loudest of all, with the level wanted there.
    pub fn led_by(&self, index: usize) -> Vec<(String, f64)> {
        let leads = |levels: &[f64]| levels.iter().all(|l| *l <= levels[index]) && levels[index] > SILENCE_DB;
        self.alone.iter().filter(|a| leads(&a.3)).map(|a| (a.0.clone(), a.1)).collect()
    }
}

/// Spacing of the points the settings are worked out on, as a multiple of that of the prediction: a quarter of them.
const COARSER: f64 = 2.0;
/// An area counts for a channel's equaliser when the channel gives this much of its loudest there, dB.
const SERVES_WITHIN_DB: f64 = 10.0;
/// Highest band held against the programme's spectrum, Hz. Above, air and grazing incidence take what no gain can give.
const EVEN_TO_HZ: f64 = 10_000.0;
/// Bands in which mains and subwoofers are weighed against each other, Hz.
const MID_HZ: (f64, f64) = (200.0, 2000.0);
/// Gains are set in steps any equipment has, dB.
const GAIN_STEP_DB: f64 = 0.5;
const LOWEST_GAIN_DB: f64 = -60.0;

/// One area as predicted with filters only: gains and delays at zero, every source alone.
struct Alone<'j> {
    id: &'j str,
    area: &'j Area,
    programme: usize,
    points: Points,
    /// Energy per point, per source, per band.
    energy: Vec<Vec<BandValues>>,
}

pub(super) fn shape(
    job: &Job,
    sound: &Sound,
    levels: &LevelsReport,
    fed: &mut [Fed<'_>],
    findings: &mut Vec<Finding>,
) -> Result<Shaped, String> {
    let bare = with_plans(job, sound, fed)?;
    let mut areas = Vec::new();
    for (id, area) in &job.document().areas {
        let points = Points::grid(&bare, &area.outline, area.ear_m(), COARSER * spacing_m(area))
            .map_err(|e| format!("Area {id}: {e}"))?;
        let matrix = energy_matrix(&bare, &points);
        let energy = (0..matrix.points())
            .map(|p| {
                (0..matrix.sources())
                    .map(|s| {
                        let row = matrix.band_energies(p, s);
                        std::array::from_fn(|b| f64::from(row[b]))
                    })
                    .collect()
            })
            .collect();
        let wanted = job.programme_of_area(area).and_then(|p| sound.programmes.iter().position(|x| x == p));
        areas.push(Alone { id, area, programme: wanted.unwrap_or(0), points, energy });
    }
    for f in fed.iter_mut() {
        equalise(sound, &areas, f, findings);
    }
    gains(sound, &areas, fed, findings).map_err(|e| e.to_string())?;
    let levelled = with_plans(job, sound, fed)?;
    let delays = delays(sound, &areas, &levelled, fed).map_err(|e| e.to_string())?;
    let tuned = with_plans(job, sound, fed)?;
    let alone = areas
        .iter()
        .map(|a| {
            let sources = a_levels(a, fed, sound.sources.len());
            let of =
                |f: &Fed<'_>| db_from_energy(f.sources.iter().map(|s| energy_from_db(sources[*s])).sum());
            (a.id.to_owned(), a.area.target_dba, sources.clone(), fed.iter().map(of).collect())
        })
        .collect();
    let areas = compare(sound, levels, &areas, &tuned, fed, findings)?;
    Ok(Shaped { areas, delays, alone })
}

/// The scene with the plans as they stand set into its sources.
fn with_plans(job: &Job, sound: &Sound, fed: &[Fed<'_>]) -> Result<Scene, String> {
    let mut scene = sound.scene.clone();
    for f in fed {
        let chain = &f.tuned.plan.chain;
        let filter = table_of(chain)?;
        for &s in &f.sources {
            let Some(old) = scene.source(s).cloned() else { continue };
            let turned = job.loudspeaker(&sound.sources[s]).is_some_and(|l| {
                (l.placed.polarity == Wired::Reversed) != (chain.polarity == Polarity::Inverted)
            });
            let new = Source {
                gain_db: chain.gain_db,
                delay_s: chain.delay_s,
                inverted: turned,
                filter: filter.clone(),
                ..old
            };
            scene.set_source(s, new).map_err(|e| e.to_string())?;
        }
    }
    Ok(scene)
}

/// Mean energy per band of a channel over an area's points, less the programme's spectrum, dB.
fn transfer_db(sound: &Sound, a: &Alone<'_>, sources: &[usize]) -> BandValues {
    let shares = sound.played.get(a.programme).map_or([1.0; BAND_COUNT], |p| *p.shares());
    std::array::from_fn(|b| {
        let sum: f64 = a.energy.iter().map(|p| sources.iter().map(|s| p[*s][b]).sum::<f64>()).sum();
        db_from_energy(sum / (a.energy.len().max(1) as f64 * shares[b].max(1e-12)))
    })
}

/// Gain of a chain's equaliser per band, dB.
fn equaliser_db(f: &Fed<'_>) -> BandValues {
    let only = Chain { equaliser: f.tuned.plan.chain.equaliser.clone(), ..Chain::default() };
    bands_of(&only)
}

fn bands_of(chain: &Chain) -> BandValues {
    let centres: Vec<f64> = Band::all().map(Band::centre_hz).collect();
    let gain = chain.gain_at_db(SampleRate::R48K, &centres).unwrap_or_default();
    std::array::from_fn(|b| gain.get(b).copied().unwrap_or(0.0))
}

/// Fits a channel's equaliser to its response over the areas it serves.
fn equalise(sound: &Sound, areas: &[Alone<'_>], f: &mut Fed<'_>, findings: &mut Vec<Finding>) {
    let programme =
        f.view.programme_id.and_then(|p| sound.programmes.iter().position(|x| x == p)).unwrap_or(0);
    let own: Vec<&Alone<'_>> =
        areas.iter().filter(|a| a.programme == programme && !a.energy.is_empty()).collect();
    let heard: Vec<Vec<f64>> = own.iter().map(|a| transfer_db(sound, a, &f.sources).to_vec()).collect();
    let loud: Vec<f64> =
        heard.iter().map(|l| db_from_energy(l.iter().map(|x| energy_from_db(*x)).sum())).collect();
    let top = loud.iter().copied().fold(SILENCE_DB, f64::max);
    // Every area counts alike, however loud: the listeners there hear only their own.
    let served: Vec<Vec<f64>> = heard
        .into_iter()
        .zip(&loud)
        .filter(|(_, l)| **l > top - SERVES_WITHIN_DB)
        .map(|(levels, l)| levels.iter().map(|x| x - l).collect())
        .collect();
    let Some(high_pass_hz) = f.tuned.plan.high_pass_hz().filter(|_| top > SILENCE_DB) else { return };
    let mut limits = FitLimits::usual(high_pass_hz);
    limits.highest_hz = f.tuned.plan.low_pass_hz().unwrap_or(EVEN_TO_HZ);
    let passes = Chain { passes: f.tuned.plan.chain.passes.clone(), ..Chain::default() };
    let centres: Vec<f64> = Band::all().map(Band::centre_hz).collect();
    let fit = area_average_db(&served, &vec![1.0; served.len()]).and_then(|level| {
        let wanted = bands_of(&passes);
        fit_equaliser(&FitTarget { frequencies_hz: &centres, level_db: &level, wanted_db: &wanted }, &limits)
    });
    match fit {
        Ok(fit) => {
            f.tuned.equalised_rms_db = Some((fit.before_rms_db, fit.after_rms_db));
            f.tuned.plan.chain.equaliser = fit.sections;
        }
        // Too narrow a range has no shape to mend.
        Err(TuneError::TooFewBands { .. }) => {}
        Err(e) => findings.push(Finding::new(
            Severity::Warning,
            channel(f.view.id),
            format!("Channel {}: no equaliser could be fitted: {e}.", f.view.id),
        )),
    }
}

/// LAeq of every source alone over an area, mean energy, with the plans' equaliser and gain.
fn a_levels(a: &Alone<'_>, fed: &[Fed<'_>], sources: usize) -> Vec<f64> {
    let mut levels = vec![SILENCE_DB; sources];
    for f in fed {
        let weights = weights(f);
        for &s in &f.sources {
            let energy: f64 = a.energy.iter().map(|p| weighed(&p[s], &weights)).sum();
            levels[s] = db_from_energy(energy / a.energy.len().max(1) as f64);
        }
    }
    levels
}

/// Energy gain per band of a channel's equaliser and gain, A-weighted.
fn weights(f: &Fed<'_>) -> BandValues {
    let (weights, shape) = (Weighting::A.band_gains_db(), equaliser_db(f));
    let gain = f.tuned.plan.chain.gain_db;
    std::array::from_fn(|b| energy_from_db(weights[b] + shape[b] + gain))
}

fn weighed(bands: &BandValues, weights: &BandValues) -> f64 {
    bands.iter().zip(weights).map(|(e, w)| e * w).sum()
}

/// Gains of the mains by level, of the subwoofers by their balance with the mains.
fn gains(
    sound: &Sound,
    areas: &[Alone<'_>],
    fed: &mut [Fed<'_>],
    findings: &mut Vec<Finding>,
) -> Result<(), TuneError> {
    let mains: Vec<usize> = (0..fed.len()).filter(|i| !is_bass(&fed[*i])).collect();
    let plays = |f: &Fed<'_>, a: &Alone<'_>| {
        f.view.programme_id.and_then(|p| sound.programmes.iter().position(|x| x == p)).unwrap_or(0)
            == a.programme
    };
    let used: Vec<&Alone<'_>> =
        areas.iter().filter(|a| !a.energy.is_empty() && mains.iter().any(|i| plays(&fed[*i], a))).collect();
    if used.is_empty() {
        return Ok(());
    }
    // The target is the mean of levels over places, the sum is one of energies: their difference is taken out first.
    let mut wanted: Vec<f64> = used.iter().map(|a| a.area.target_dba).collect();
    let from: Vec<Vec<f64>> = used
        .iter()
        .map(|a| {
            let sources = a_levels(a, fed, sound.sources.len());
            let of = |i: &usize| {
                let f = &fed[*i];
                let heard = f.sources.iter().map(|s| energy_from_db(sources[*s])).sum();
                if plays(f, a) { db_from_energy(heard) } else { SILENCE_DB }
            };
            mains.iter().map(of).collect()
        })
        .collect();
    let limits: Vec<GainLimits> = mains
        .iter()
        .map(|i| GainLimits {
            lowest_db: LOWEST_GAIN_DB,
            highest_db: (fed[*i].highest_gain_db / GAIN_STEP_DB).floor() * GAIN_STEP_DB,
            step_db: GAIN_STEP_DB,
        })
        .collect();
    for _ in 0..2 {
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
        let found = balance_gains(&zones, &limits)?;
        for (i, gain) in mains.iter().zip(&found.gain_db) {
            fed[*i].tuned.plan.chain.gain_db = *gain;
        }
        for (w, a) in wanted.iter_mut().zip(&used) {
            *w = a.area.target_dba + energy_over_mean_db(a, fed, &mains, &plays);
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
                Finding::new(Severity::Warning, channel(f.view.id), what)
                    .mend("Raise taps, or add loudspeakers, where it is too quiet."),
            );
        }
    }
    let bass: Vec<usize> = (0..fed.len()).filter(|i| is_bass(&fed[*i])).collect();
    for i in bass {
        let with: Vec<&Alone<'_>> = used.iter().copied().filter(|a| plays(&fed[i], a)).collect();
        let highest = (fed[i].highest_gain_db / GAIN_STEP_DB).floor() * GAIN_STEP_DB;
        if let Some(gain) = balance_bass(sound, &with, fed, i, &mains) {
            let stepped = (gain / GAIN_STEP_DB).round() * GAIN_STEP_DB;
            fed[i].tuned.plan.chain.gain_db = stepped.clamp(LOWEST_GAIN_DB, highest);
        }
    }
    Ok(())
}

/// Energy mean less arithmetic mean of the levels at an area's places, dB.
fn energy_over_mean_db(
    a: &Alone<'_>,
    fed: &[Fed<'_>],
    mains: &[usize],
    plays: &impl Fn(&Fed<'_>, &Alone<'_>) -> bool,
) -> f64 {
    let heard: Vec<(&Fed<'_>, BandValues)> =
        mains.iter().map(|i| &fed[*i]).filter(|f| plays(f, a)).map(|f| (f, weights(f))).collect();
    let of = |p: &Vec<BandValues>, (f, w): &(&Fed<'_>, BandValues)| {
        f.sources.iter().map(|s| weighed(&p[*s], w)).sum::<f64>()
    };
    let levels: Vec<f64> =
        a.energy.iter().map(|p| db_from_energy(heard.iter().map(|h| of(p, h)).sum())).collect();
    let n = levels.len().max(1) as f64;
    let energy = levels.iter().map(|l| energy_from_db(*l)).sum::<f64>() / n;
    db_from_energy(energy) - levels.iter().sum::<f64>() / n
}

/// Gain at which a subwoofer channel is as loud over its range as the mains over the middle, mean over areas, dB.
fn balance_bass(
    sound: &Sound,
    with: &[&Alone<'_>],
    fed: &[Fed<'_>],
    bass: usize,
    mains: &[usize],
) -> Option<f64> {
    let plan = &fed[bass].tuned.plan;
    let (from, to) = (plan.high_pass_hz()?, plan.low_pass_hz()?);
    let inside = |low: f64, high: f64| {
        let bands = Band::all().filter(|b| (low..=high).contains(&b.centre_hz())).map(Band::index);
        bands.collect::<Vec<_>>()
    };
    let (bass_bands, mid_bands) = (inside(from, to), inside(MID_HZ.0, MID_HZ.1));
    let level = |a: &Alone<'_>, f: &Fed<'_>, bands: &[usize]| {
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
        fed.iter().filter(|f| is_bass(f) && f.view.programme_id == fed[bass].view.programme_id).collect();
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

fn delays(
    sound: &Sound,
    areas: &[Alone<'_>],
    levelled: &Scene,
    fed: &mut [Fed<'_>],
) -> Result<Vec<AreaDelayReport>, TuneError> {
    let mut channel_of = vec![None; sound.sources.len()];
    for (c, f) in fed.iter().enumerate() {
        for &s in &f.sources {
            channel_of[s] = Some(c);
        }
    }
    let inputs: Vec<AreaArrivals> = areas
        .iter()
        .map(|a| {
            let plays = |s: usize| levelled.source(s).is_some_and(|x| x.programme == a.programme);
            let points = arrivals(levelled, &a.points).into_iter().map(|list| {
                let each = list.into_iter().enumerate().filter(|(s, _)| plays(*s));
                each.filter_map(|(s, x)| {
                    channel_of[s].map(|channel| Arrival { channel, time_s: x.time_s, level_db: x.level_db })
                })
                .collect()
            });
            AreaArrivals { name: a.id.to_owned(), weight: 1.0, points: points.collect() }
        })
        .collect();
    let advice = suggest_delays(&inputs, fed.len(), &DelayLimits::default())?;
    for (f, delay_s) in fed.iter_mut().zip(&advice.delay_s) {
        f.tuned.plan.chain.delay_s = *delay_s;
    }
    Ok(advice.areas)
}

/// Areas with the settings that stand and with the new ones, at the points of the prediction.
fn compare(
    sound: &Sound,
    levels: &LevelsReport,
    areas: &[Alone<'_>],
    tuned: &Scene,
    fed: &[Fed<'_>],
    findings: &mut Vec<Finding>,
) -> Result<IndexMap<String, AreaTuned>, String> {
    let mut all = IndexMap::new();
    for a in areas {
        let Some(before) = levels.areas.get(a.id) else { continue };
        let points =
            Points::new(tuned, before.points.iter().map(|p| p.0).collect()).map_err(|e| e.to_string())?;
        let heard = field(tuned, &points);
        let bands: Vec<BandValues> = (0..heard.len()).map(|p| heard.band_levels_db(p)).collect();
        let after = area_statistics(&bands, before.target_dba, before.within_db)
            .map_err(|e| format!("Area {}: {e}", a.id))?;
        let off = after.mean_dba - before.target_dba;
        if off.abs() > before.within_db {
            let (word, mend) = if off < 0.0 {
                ("below", "Raise the taps of its loudspeakers, or add one.")
            } else {
                ("above", "Lower the taps of its loudspeakers: the channel's gain also serves other areas.")
            };
            let what = format!(
                "Area {} ends at {:.1} dBA on average, {:.1} dB {word} the {:.0} dBA wanted: gains alone cannot mend it.",
                a.id,
                after.mean_dba,
                off.abs(),
                before.target_dba
            );
            findings.push(Finding::new(Severity::Warning, Subject::new("areas", a.id), what).mend(mend));
        }
        let from_hz = fed.iter().filter_map(|f| f.tuned.plan.high_pass_hz()).fold(EVEN_TO_HZ, f64::min);
        let uneven = |bands: &BandValues| uneven_db(sound, a.programme, bands, from_hz);
        let (uneven_before_db, uneven_after_db) =
            (uneven(&before.statistics.mean_bands_db), uneven(&after.mean_bands_db));
        all.insert(
            a.id.to_owned(),
            AreaTuned {
                name: before.name.clone(),
                target_dba: before.target_dba,
                before: before.statistics.clone(),
                after,
                uneven_before_db,
                uneven_after_db,
            },
        );
    }
    Ok(all)
}

/// RMS deviation of a response from the programme's spectrum, its mean taken out, dB.
fn uneven_db(sound: &Sound, programme: usize, bands: &BandValues, from_hz: f64) -> f64 {
    let shares = sound.played.get(programme).map_or([1.0; BAND_COUNT], |p| *p.shares());
    let errors: Vec<f64> = Band::all()
        .filter(|b| (from_hz..=EVEN_TO_HZ).contains(&b.centre_hz()))
        .map(|b| bands[b.index()] - db_from_energy(shares[b.index()]))
        .collect();
    let n = errors.len().max(1) as f64;
    let mean = errors.iter().sum::<f64>() / n;
    (errors.iter().map(|e| (e - mean) * (e - mean)).sum::<f64>() / n).sqrt()
}
