//! Equaliser, gains and delays from the predicted sound, and the prediction again with them.

use crate::each_alone::{EachAlone, bands_of, equaliser_db, transfer_db, with_plans};
use crate::error::TuningError;
use crate::fed::{Fed, about_channel};
use crate::gains::{Gained, a_levels, gains, gains_of};
use crate::neighbours::{Limit, limits, with_gains};
use crate::report::{AreaTuned, NeighbourTuned};
use crate::weights::weights;
use indexmap::IndexMap;
use loamline_acoustics::{
    BAND_COUNT, Band, BandValues, Points, SILENCE_DB, Scene, area_shares, area_statistics, db_from_energy,
    energy_from_db, field, octave_sums_db,
};
use loamline_adapt::Sound;
use loamline_model::Job;
use loamline_processing::{
    AreaArrivals, AreaDelayReport, Arrival, Ceiling, Chain, DelayLimits, FitLimits, FitTarget, PlaysIn,
    TuneError, area_average_db, fit_equaliser, suggest_delays,
};
use loamline_study::{Crowd, Finding, LevelsReport, Sampling, Severity, Subject};
use loamline_terms::{BASS, MID, say};

/// What came of the shaping, beside the plans themselves.
pub(crate) struct Shaped {
    pub areas: IndexMap<String, AreaTuned>,
    pub delays: Vec<AreaDelayReport>,
    pub neighbours: Vec<NeighbourTuned>,
    /// Per area, what is heard there of each alone.
    alone: Vec<AloneInArea>,
}

/// What is heard in an area of every source and every channel alone.
struct AloneInArea {
    id: String,
    /// Level wanted, dBA.
    target_dba: f64,
    /// Of every source, dBA.
    sources_dba: Vec<f64>,
    /// Of every channel that plays the area's programme, dBA and unweighted, dB; silence of the others.
    channels_db: Vec<(f64, f64)>,
}

impl Shaped {
    /// Areas in which the sources are within `within_db` of the loudest level they give in any.
    pub fn heard_in(&self, sources: &[usize], within_db: f64) -> Vec<String> {
        let sum = |levels: &[f64]| {
            db_from_energy(sources.iter().filter_map(|s| levels.get(*s)).map(|l| energy_from_db(*l)).sum())
        };
        let levels: Vec<f64> = self.alone.iter().map(|a| sum(&a.sources_dba)).collect();
        let top = levels.iter().copied().fold(SILENCE_DB, f64::max);
        let near = |l: &f64| *l > SILENCE_DB && *l > top - within_db;
        self.alone.iter().zip(&levels).filter(|(_, l)| near(l)).map(|(a, _)| a.id.clone()).collect()
    }

    /// Areas a channel plays in: within `within_db` of the loudest there, weighed as ears do or not at all, so that
    /// subwoofers count as well.
    pub fn plays_in(&self, index: usize, within_db: f64) -> Vec<PlaysIn> {
        let heard = |levels: &[(f64, f64)], of: fn(&(f64, f64)) -> f64| {
            let own = of(&levels[index]);
            own > SILENCE_DB && levels.iter().all(|l| of(l) <= own + within_db)
        };
        let in_area = |a: &&AloneInArea| heard(&a.channels_db, |l| l.0) || heard(&a.channels_db, |l| l.1);
        let plays = |a: &AloneInArea| PlaysIn {
            area: a.id.clone(),
            wanted_dba: a.target_dba,
            alone_dba: a.channels_db[index].0,
        };
        self.alone.iter().filter(in_area).map(plays).collect()
    }
}

/// Spacing of the points the settings are worked out on, as a multiple of that of the prediction: a quarter of them.
const COARSER: f64 = 2.0;
/// An area counts for a channel's equaliser when the channel gives this much of its loudest there, dB.
const SERVES_WITHIN_DB: f64 = 10.0;
/// Highest band held against the programme's spectrum, Hz. Above, air and grazing incidence take what no gain can give.
const EVEN_TO_HZ: f64 = 10_000.0;

pub(crate) fn shape(
    job: &Job,
    sound: &Sound,
    levels: &LevelsReport,
    fed: &mut [Fed<'_>],
    findings: &mut Vec<Finding>,
) -> Result<Shaped, TuningError> {
    let unshaped = with_plans(job, sound, fed)?;
    let mut areas = Vec::new();
    let crowd = Crowd { loudspeakers: sound.sources.len(), areas: job.document().areas.len() };
    for (id, area) in &job.document().areas {
        findings.extend(Sampling::of(area, crowd).finding(id, area, crowd.loudspeakers));
        let spacing_m = Sampling::for_settings(area, crowd, COARSER).spacing_m;
        let points = Points::grid(&unshaped, &area.outline, area.ear_m(), spacing_m)
            .map_err(|e| TuningError::of_area(id, e))?;
        let wanted = job.programme_of_area(area).and_then(|p| sound.programmes.iter().position(|x| x == p));
        let programme = wanted.unwrap_or(0);
        let alone = area_shares(&unshaped, &points, programme).map_err(|e| TuningError::of_area(id, e))?;
        areas.push(EachAlone { id, area, programme, points, alone });
    }
    for f in fed.iter_mut() {
        f.tuned.plan.chain.equaliser = f.makers.sections.clone();
        equalise(sound, &areas, f, findings);
    }
    let (mut limits, mut gained, mut told) = set_gains(job, sound, &areas, fed)?;
    // An equaliser that takes away bass the brief asks for, and that no gain can give back, is left out.
    let costly: Vec<usize> = gained.short_of_bass.iter().copied().filter(|i| costs_bass(&fed[*i])).collect();
    if !costly.is_empty() {
        for &i in &costly {
            let makers = fed[i].makers.sections.clone();
            fed[i].tuned.plan.chain.equaliser = makers;
            fed[i].tuned.equalised_rms_db = None;
        }
        (limits, gained, told) = set_gains(job, sound, &areas, fed)?;
    }
    findings.append(&mut told);
    let levelled = with_plans(job, sound, fed)?;
    let delays = delays(sound, &areas, &levelled, fed)?;
    let tuned = with_plans(job, sound, fed)?;
    let alone = areas
        .iter()
        .map(|a| {
            let sources_dba = a_levels(a, fed, sound.sources.len());
            // Another programme's channel sets no level here, however loud it is.
            let of = |f: &Fed<'_>| match programme_of(sound, f) == a.programme {
                true => {
                    let dba = f.sources.iter().map(|s| energy_from_db(sources_dba[*s])).sum();
                    (db_from_energy(dba), unweighted_db(a, f))
                }
                false => (SILENCE_DB, SILENCE_DB),
            };
            let channels_db = fed.iter().map(of).collect();
            AloneInArea { id: a.id.to_owned(), target_dba: a.area.target_dba, sources_dba, channels_db }
        })
        .collect();
    let areas = compare(sound, levels, &areas, (&tuned, gained.held), fed, findings)?;
    Ok(Shaped { areas, delays, neighbours: with_gains(&limits, &gains_of(fed)), alone })
}

/// Gains within the neighbours' limits for the filters as they stand, with what is to be said about them.
fn set_gains(
    job: &Job,
    sound: &Sound,
    areas: &[EachAlone<'_>],
    fed: &mut [Fed<'_>],
) -> Result<(Vec<Limit>, Gained, Vec<Finding>), TuningError> {
    fed.iter_mut().for_each(|f| f.tuned.plan.chain.gain_db = 0.0);
    let limits = limits(job, sound, &with_plans(job, sound, fed)?, fed);
    let ceilings: Vec<Ceiling> = limits.iter().map(|l| l.ceiling.clone()).collect();
    let mut told = Vec::new();
    let gained = gains(job, sound, areas, &ceilings, fed, &mut told)?;
    Ok((limits, gained, told))
}

/// Level of a channel alone over an area, unweighted, dB.
fn unweighted_db(a: &EachAlone<'_>, f: &Fed<'_>) -> f64 {
    let gain = f.tuned.plan.chain.gain_db;
    let weights: BandValues = equaliser_db(f).map(|shape| energy_from_db(shape + gain));
    db_from_energy(f.sources.iter().map(|s| a.mean(*s, &weights)).sum())
}

/// Whether a subwoofer channel's equaliser takes more than it gives over the channel's range.
fn costs_bass(f: &Fed<'_>) -> bool {
    let gain = equaliser_db(f);
    gain[BASS.bands()].iter().sum::<f64>() < 0.0
}

/// What a channel plays, among the programmes of the scene.
fn programme_of(sound: &Sound, f: &Fed<'_>) -> usize {
    f.view.programme_id.and_then(|p| sound.programmes.iter().position(|x| x == p)).unwrap_or(0)
}

/// Fits a channel's equaliser to its response over the areas it serves.
fn equalise(sound: &Sound, areas: &[EachAlone<'_>], f: &mut Fed<'_>, findings: &mut Vec<Finding>) {
    let programme = programme_of(sound, f);
    let own: Vec<&EachAlone<'_>> =
        areas.iter().filter(|a| a.programme == programme && !a.is_empty()).collect();
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
    let asked_db = bass_asked_db(sound, &own);
    // What is too much of it is the full-range loudspeakers' only where no subwoofer plays it.
    let too_much_db = if f.is_bass() { 0.0 } else { bass_too_much_db(sound, &own) };
    let makers_db = equaliser_db(f);
    let fit = area_average_db(&served, &vec![1.0; served.len()]).and_then(|mut level| {
        level.iter_mut().zip(&makers_db).for_each(|(level, own)| *level += own);
        let mut wanted = bands_of(&passes);
        keep_bass(&level, &mut wanted, asked_db);
        wanted[BASS.bands()].iter_mut().for_each(|w| *w -= too_much_db);
        fit_equaliser(&FitTarget { frequencies_hz: &centres, level_db: &level, wanted_db: &wanted }, &limits)
    });
    match fit {
        Ok(fit) => {
            f.tuned.equalised_rms_db = Some((fit.before_rms_db, fit.after_rms_db));
            f.tuned.plan.chain.equaliser.extend(fit.sections);
        }
        // Too narrow a range has no shape to mend.
        Err(TuneError::TooFewBands { .. }) => {}
        Err(e) => findings.push(Finding::new(
            Severity::Warning,
            about_channel(f.view.id),
            say!(
                "Channel {channel}: no equaliser could be fitted: {reason}.",
                channel = f.view.id,
                reason = e.to_string()
            ),
        )),
    }
}

fn delays(
    sound: &Sound,
    areas: &[EachAlone<'_>],
    levelled: &Scene,
    fed: &mut [Fed<'_>],
) -> Result<Vec<AreaDelayReport>, TuneError> {
    let mut channel_of = vec![None; sound.sources.len()];
    for (c, f) in fed.iter().enumerate() {
        for &s in &f.sources {
            channel_of[s] = Some(c);
        }
    }
    let weighting: Vec<BandValues> = fed.iter().map(weights).collect();
    let inputs: Vec<AreaArrivals> = areas
        .iter()
        .map(|a| {
            let plays = |s: usize| levelled.source(s).is_some_and(|x| x.programme == a.programme);
            // When sound arrives is the same at any gain; how loud follows from what each source gives alone. What is far is
            // too faint for when it arrives to matter.
            let (who, lists) = a.alone.arrivals(levelled, &a.points, plays);
            let levels: Vec<Vec<f64>> = who
                .iter()
                .map(|&s| {
                    channel_of[s]
                        .map_or_else(Vec::new, |c| a.weighed(s, &weighting[c]).map(db_from_energy).collect())
                })
                .collect();
            let points = lists.into_iter().enumerate().map(|(p, list)| {
                let each = list.into_iter().zip(who.iter().zip(&levels));
                each.filter_map(|(x, (s, levels))| {
                    let level_db = *levels.get(p)?;
                    channel_of[*s].map(|channel| Arrival { channel, time_s: x.time_s, level_db })
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

/// How much more bass than the programme's own the areas ask for, dB, mean over those that ask; 0 when none does.
fn bass_asked_db(sound: &Sound, areas: &[&EachAlone<'_>]) -> f64 {
    let over: Vec<f64> =
        areas.iter().filter_map(|a| Some(a.area.bass_db? - own_bass_db(sound, a)?)).collect();
    if over.is_empty() { 0.0 } else { (over.iter().sum::<f64>() / over.len() as f64).max(0.0) }
}

/// How much more bass the programme itself has than the areas want at most, dB, of the one that wants least; 0 when none says.
fn bass_too_much_db(sound: &Sound, areas: &[&EachAlone<'_>]) -> f64 {
    let over = areas.iter().filter_map(|a| Some(own_bass_db(sound, a)? - a.area.bass_at_most_db?));
    over.fold(0.0, f64::max)
}

/// The bass of an area's programme over its middle, as the brief means it, dB.
fn own_bass_db(sound: &Sound, a: &EachAlone<'_>) -> Option<f64> {
    let shares = sound.played.get(a.programme)?.shares().map(db_from_energy);
    let octaves = octave_sums_db(&shares);
    Some(BASS.level_db(&octaves) - MID.level_db(&octaves))
}

/// Leaves standing what the bass has over the middle, as far as it is asked for: an equaliser must not take away what the
/// brief wants.
fn keep_bass(level_db: &[f64], wanted_db: &mut BandValues, asked_db: f64) {
    let excess: BandValues = std::array::from_fn(|b| level_db[b] - wanted_db[b]);
    let mid_db = MID.mean(&excess);
    for b in BASS.bands() {
        wanted_db[b] += (excess[b] - mid_db).clamp(0.0, asked_db);
    }
}

/// Areas with the settings that stand and with the new ones, at the points of the prediction; `held` when a neighbour
/// holds gains down.
fn compare(
    sound: &Sound,
    levels: &LevelsReport,
    areas: &[EachAlone<'_>],
    (tuned, held): (&Scene, bool),
    fed: &[Fed<'_>],
    findings: &mut Vec<Finding>,
) -> Result<IndexMap<String, AreaTuned>, TuningError> {
    let mut all = IndexMap::new();
    for a in areas {
        let Some(before) = levels.areas.get(a.id) else { continue };
        let points = Points::new(tuned, before.points.iter().map(|p| p.0).collect())?;
        let heard = field(tuned, &points);
        let bands: Vec<BandValues> = (0..heard.len()).map(|p| heard.band_levels_db(p)).collect();
        let after = area_statistics(&bands, before.target_dba, before.within_db)
            .map_err(|e| TuningError::of_area(a.id, e))?;
        let off = after.mean_dba - before.target_dba;
        if off.abs() > before.within_db {
            let (word, mend) = if off < 0.0 && held {
                let mend = say!(
                    "A neighbour's limit holds it down: put more loudspeakers on lower taps nearer the listeners, or turn them away \
                     from the neighbour."
                );
                (say!("below"), mend)
            } else if off < 0.0 {
                (say!("below"), say!("Raise the taps of its loudspeakers, or add one."))
            } else {
                let mend =
                    say!("Lower the taps of its loudspeakers: the channel's gain also serves other areas.");
                (say!("above"), mend)
            };
            let what = say!(
                "Area {id} ends at {mean} dBA on average, {off} dB {side} the {wanted} dBA wanted: gains alone cannot mend it.",
                id = a.id,
                mean = loamline_terms::fixed(after.mean_dba, 1),
                off = loamline_terms::fixed(off.abs(), 1),
                side = word,
                wanted = loamline_terms::fixed(before.target_dba, 0)
            );
            findings.push(Finding::new(Severity::Warning, Subject::new("areas", a.id), what).mend(mend));
        }
        let from_hz = fed.iter().filter_map(|f| f.tuned.plan.high_pass_hz()).fold(EVEN_TO_HZ, f64::min);
        let same: Vec<&EachAlone<'_>> = areas.iter().filter(|x| x.programme == a.programme).collect();
        let asked_db = bass_asked_db(sound, &same);
        let bass = (asked_db, bass_too_much_db(sound, &same));
        let uneven = |bands: &BandValues| uneven_db(sound, a.programme, bands, from_hz, bass);
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

/// RMS deviation of a response from the programme's spectrum, its mean taken out, dB. Bass over the middle up to what is
/// asked is no deviation, and what the programme has of it beyond the most that is wanted is taken off.
fn uneven_db(
    sound: &Sound,
    programme: usize,
    bands: &BandValues,
    from_hz: f64,
    (bass_asked_db, too_much_db): (f64, f64),
) -> f64 {
    let shares = sound.played.get(programme).map_or([1.0; BAND_COUNT], |p| *p.shares());
    let mut wanted = shares.map(db_from_energy);
    keep_bass(bands, &mut wanted, bass_asked_db);
    wanted[BASS.bands()].iter_mut().for_each(|w| *w -= too_much_db);
    let errors: Vec<f64> = Band::all()
        .filter(|b| (from_hz..=EVEN_TO_HZ).contains(&b.centre_hz()))
        .map(|b| bands[b.index()] - wanted[b.index()])
        .collect();
    let n = errors.len().max(1) as f64;
    let mean = errors.iter().sum::<f64>() / n;
    (errors.iter().map(|e| (e - mean) * (e - mean)).sum::<f64>() / n).sqrt()
}
