//! Levels where people listen, where they could stand, and at the neighbours.

use crate::error::FieldError;
use crate::even_findings::{NOTHING_DBA, even_findings};
use crate::finding::{Finding, Remedy, Severity, Subject};
use crate::memo::{Memo, MemoById, Same};
use crate::names::{area_within, area_words};
use crate::sampling::{Crowd, Sampling};
use crate::speech::{masked, over_masker_db, speech_findings};
use indexmap::IndexMap;
use loamline_acoustics::{
    AreaArrivals, AreaHeard, AreaStatistics, BandValues, Points, SILENCE_DB, Weighting, area_arrivals,
    area_heard, area_statistics, db_from_energy, energy_from_db, field_within, niosh_permitted_s,
    octave_sums_db, who_venue_margin_db,
};
use loamline_adapt::{Sound, SoundErrors};
use loamline_geometry::{Point3, direction};
use loamline_limits::go_on;
use loamline_model::Job;
use loamline_model::document::Area;
use loamline_terms::say;
use serde::Serialize;
use std::collections::BTreeMap;
use std::sync::Arc;

/// A scene, or what is wrong with it.
pub(crate) type Scened = Result<Sound, SoundErrors>;

/// Levels in areas and at the loudest place.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct LevelsReport {
    /// Areas by id.
    pub areas: IndexMap<String, AreaLevels>,
    /// The loudest place a person can stand in.
    pub loudest: Option<Loudest>,
    /// Frequency up to which sources on one programme add as waves, Hz.
    pub coherent_below_hz: f64,
}

/// Levels in an area.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct AreaLevels {
    /// Its name.
    pub name: String,
    /// Level wanted, LAeq.
    pub target_dba: f64,
    /// How far from it a place may be, dB.
    pub within_db: f64,
    /// What the levels at its points say.
    pub statistics: AreaStatistics,
    /// When sound arrives.
    pub arrivals: Option<AreaArrivals>,
    /// Level over the area of each loudspeaker alone, LAeq, loudest first.
    pub loudspeakers: IndexMap<String, f64>,
    /// Level over the area of other programmes than the one wanted here, LAeq; absent where there are none.
    pub other_programmes_dba: Option<f64>,
    /// How far speech wanted here stands above the other programmes, octaves weighed by what they carry of it, dB, from -15
    /// to 15; absent where no speech is wanted or nothing else is heard.
    pub speech_over_others_db: Option<f64>,
    /// Spacing of the points, metres.
    pub spacing_m: f64,
    /// Points with their LAeq.
    #[serde(skip)]
    pub points: Vec<(Point3, f64)>,
}

/// The loudest place a person can stand in.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Loudest {
    /// Loudspeaker it is in front of.
    pub loudspeaker: String,
    /// Where the ears are.
    pub at: Point3,
    /// Level there, LAeq.
    pub level_dba: f64,
    /// Time in a day that NIOSH 98-126 allows there, seconds.
    pub permitted_s: f64,
    /// How far below the venue limit of WHO 2022 (100 dB LAeq over 15 minutes), dB; negative above it.
    pub below_venue_limit_db: f64,
}

/// Levels kept by the scene and the area they were worked out for.
#[derive(Debug)]
pub(crate) struct KeptLevels {
    areas: MemoById<AreaAsked, Result<AreaLevels, FieldError>>,
    loudest: Memo<LoudestAsked, Option<Loudest>>,
}

impl Default for KeptLevels {
    fn default() -> Self {
        Self { areas: MemoById::new(2), loudest: Memo::new(2) }
    }
}

impl KeptLevels {
    /// How many areas have been worked out.
    pub(crate) fn areas_made(&self) -> u64 {
        self.areas.made()
    }
}

/// What the levels of an area depend on.
#[derive(Debug, PartialEq)]
struct AreaAsked {
    scene: Same<Scened>,
    /// Without its name.
    area: Area,
    /// Place of its programme among the scene's.
    programme: usize,
    /// Whether that is speech.
    speech: bool,
    /// How finely it is looked at.
    sampling: Sampling,
}

/// What the level at the loudest place depends on.
#[derive(Debug, PartialEq)]
struct LoudestAsked {
    scene: Same<Scened>,
    /// Tags, and places in front of them.
    places: Vec<(String, Point3)>,
    /// How far in front, metres.
    nearest_m: f64,
}

/// Levels in every area and at the loudest place, with what wants attention.
pub(crate) fn levels(
    job: &Job,
    scene: &Arc<Scened>,
    sound: &Sound,
    kept: &KeptLevels,
) -> (LevelsReport, Vec<Finding>) {
    let mut findings: Vec<Finding> = sound
        .silent
        .iter()
        .map(|(id, why)| {
            Finding::new(
                Severity::Warning,
                Subject::new("loudspeakers", id),
                say!("Loudspeaker {id} does not sound: {reason}.", id = id, reason = why.to_string()),
            )
        })
        .collect();
    let mut areas = IndexMap::new();
    let crowd = Crowd { loudspeakers: sound.sources.len(), areas: job.document().areas.len() };
    for (id, area) in &job.document().areas {
        go_on();
        let wanted = job.programme_of_area(area);
        let sampling = Sampling::of(area, crowd);
        let asked = AreaAsked {
            scene: Same(Arc::clone(scene)),
            area: Area { name: String::new(), ..area.clone() },
            programme: wanted.and_then(|id| sound.programmes.iter().position(|p| p == id)).unwrap_or(0),
            speech: job.programme(wanted).speech,
            sampling,
        };
        let made = kept.areas.get(id, asked, |asked, _| area_levels(sound, asked));
        match (*made).clone() {
            Ok(a) => {
                let a = AreaLevels { name: area.name.clone(), ..a };
                findings.extend(sampling.finding(id, area, crowd.loudspeakers));
                findings.extend(area_findings(id, area, &a));
                areas.insert(id.clone(), a);
            }
            Err(why) => findings.push(Finding::new(
                Severity::Error,
                Subject::new("areas", id),
                say!("{area}: {reason}.", area = area_words(id, area), reason = why.to_string()),
            )),
        }
    }
    kept.areas.keep_only(|id| job.document().areas.contains_key(id));
    let nearest_m = job.document().brief.nearest_listener_m;
    let asked =
        LoudestAsked { scene: Same(Arc::clone(scene)), places: places_in_front(job, sound), nearest_m };
    let loudest =
        (*kept.loudest.get(asked, |asked, _| loudest(sound, &asked.places, asked.nearest_m))).clone();
    findings.extend(loudest.as_ref().and_then(loudest_finding));
    findings.extend(speech_findings(job));
    findings.extend(idle_loudspeakers(sound, &areas));
    (LevelsReport { areas, loudest, coherent_below_hz: job.document().brief.coherent_below_hz }, findings)
}

fn area_levels(sound: &Sound, asked: &AreaAsked) -> Result<AreaLevels, FieldError> {
    let (area, wanted, spacing_m) = (&asked.area, asked.programme, asked.sampling.spacing_m);
    let points = Points::grid(&sound.scene, &area.outline, area.ear_m(), spacing_m)?;
    let AreaHeard { field: all, shares } = area_heard(&sound.scene, &points, wanted)?;
    let bands: Vec<BandValues> = (0..all.len()).map(|p| all.band_levels_db(p)).collect();
    let statistics = area_statistics(&bands, area.target_dba, area.within_db)?;
    let plays = |s: usize| sound.scene.source(s).is_some_and(|x| x.programme == wanted);
    let alone = shares.levels_dba();
    let other = db_from_energy(
        alone.iter().enumerate().filter(|(s, _)| !plays(*s)).map(|(_, l)| energy_from_db(*l)).sum(),
    );
    let mut order: Vec<usize> = (0..alone.len()).collect();
    order.sort_by(|&a, &b| alone[b].total_cmp(&alone[a]));
    let (who, of_programme) = shares.arrivals(&sound.scene, &points, plays);
    let dba = all.levels_db(Weighting::A);
    Ok(AreaLevels {
        name: area.name.clone(),
        target_dba: area.target_dba,
        within_db: area.within_db,
        statistics,
        arrivals: area_arrivals(&of_programme).map(|a| named_arrivals(a, &who)),
        loudspeakers: order.into_iter().map(|s| (sound.sources[s].clone(), alone[s])).collect(),
        other_programmes_dba: (other > SILENCE_DB).then_some(other),
        speech_over_others_db: (asked.speech && other > SILENCE_DB).then(|| {
            let together = |of: &dyn Fn(usize) -> bool| octave_sums_db(&shares.together_db(of));
            over_masker_db(&together(&plays), &together(&|s| !plays(s)))
        }),
        spacing_m,
        points: points.places().iter().copied().zip(dba).collect(),
    })
}

/// Puts the places of the arrivals back into the order of all sources, from the order of those that may count.
fn named_arrivals(mut a: AreaArrivals, who: &[usize]) -> AreaArrivals {
    for place in [&mut a.worst.first, &mut a.worst.last] {
        *place = who.get(*place).copied().unwrap_or(*place);
    }
    a
}

/// Ears of somebody sitting on the ground, in a chair, standing in front of each loudspeaker: whichever is nearest to the
/// axis counts.
fn places_in_front(job: &Job, sound: &Sound) -> Vec<(String, Point3)> {
    let near = job.document().brief.nearest_listener_m;
    let mut places = Vec::new();
    for (i, id) in sound.sources.iter().enumerate() {
        let Some(source) = sound.scene.source(i) else { continue };
        let Some(l) = job.loudspeaker(id) else { continue };
        let plan = source.position.plan() + direction(l.placed.bearing_deg, 0.0).plan() * near;
        places.extend([0.8, 1.2, 1.6].map(|ear_m| (id.clone(), job.above_ground(plan, ear_m))));
    }
    places
}

/// Side of the squares in which places in front of loudspeakers are looked at together, metres.
const DISTRICT_M: f64 = 60.0;

/// How far from such a square loudspeakers are asked, at least, metres.
const DISTRICT_REACH_M: f64 = 100.0;

/// The same in distances of the nearest listener: one more of its kind beyond this is at least 40 dB weaker at the loudest place by
/// distance alone, and a thousand over a site with room for them, three times as far on average, add 0.05 dB.
const REACH_TIMES_NEAREST: f64 = 100.0;

fn loudest(sound: &Sound, places: &[(String, Point3)], nearest_m: f64) -> Option<Loudest> {
    let reach_m = DISTRICT_REACH_M.max(REACH_TIMES_NEAREST * nearest_m);
    let mut districts: BTreeMap<(i64, i64), Vec<usize>> = BTreeMap::new();
    let square = |m: f64| (m / DISTRICT_M).floor() as i64;
    for (i, (_, at)) in places.iter().enumerate() {
        districts.entry((square(at.x), square(at.y))).or_default().push(i);
    }
    let mut levels = vec![SILENCE_DB; places.len()];
    for of_district in districts.values() {
        go_on();
        let here = of_district.iter().map(|i| places[*i].1).collect();
        let points = Points::new(&sound.scene, here).ok()?;
        let heard = field_within(&sound.scene, &points, reach_m).levels_db(Weighting::A);
        of_district.iter().zip(heard).for_each(|(i, level)| levels[*i] = level);
    }
    let (i, &level_dba) = levels.iter().enumerate().rev().max_by(|a, b| a.1.total_cmp(b.1))?;
    Some(Loudest {
        loudspeaker: places[i].0.clone(),
        at: places[i].1,
        level_dba,
        permitted_s: niosh_permitted_s(level_dba).ok()?,
        below_venue_limit_db: who_venue_margin_db(level_dba),
    })
}

fn area_findings(id: &str, area: &Area, a: &AreaLevels) -> Vec<Finding> {
    let about = || Subject::new("areas", id);
    let named = area_words(id, area);
    let s = &a.statistics;
    let mut found = Vec::new();
    let off = s.mean_dba - a.target_dba;
    if s.mean_dba < NOTHING_DBA {
        let wanted = loamline_terms::fixed(a.target_dba, 0);
        let what = say!("{area}: no sound here yet; {wanted} dBA is wanted.", area = named, wanted = wanted);
        found.push(
            Finding::new(Severity::Warning, about(), what)
                .mend(say!("Have a design proposed, or place loudspeakers and put them on a line.")),
        );
        return found;
    }
    if off < -a.within_db {
        found.push(
            Finding::new(
                Severity::Warning,
                about(),
                say!(
                    "{area} is too quiet: {mean} dBA on average, {off} dB below the {wanted} dBA wanted.",
                    area = named.clone(),
                    mean = loamline_terms::fixed(s.mean_dba, 1),
                    off = loamline_terms::fixed(-off, 1),
                    wanted = loamline_terms::fixed(a.target_dba, 0)
                ),
            )
            .mend(say!("Raise the gain or the taps of its loudspeakers, or add one."))
            .by(Remedy::Processing),
        );
    } else if off > a.within_db {
        found.push(
            Finding::new(
                Severity::Warning,
                about(),
                say!(
                    "{area} is too loud: {mean} dBA on average, {off} dB above the {wanted} dBA wanted.",
                    area = named.clone(),
                    mean = loamline_terms::fixed(s.mean_dba, 1),
                    off = loamline_terms::fixed(off, 1),
                    wanted = loamline_terms::fixed(a.target_dba, 0)
                ),
            )
            .mend(say!("Lower the gain or the taps of its loudspeakers."))
            .by(Remedy::Processing),
        );
    }
    found.extend(even_findings(id, area, s));
    if let Some(arrivals) = a.arrivals.filter(|x| x.echo_share > 0.05) {
        found.push(
            Finding::new(
                Severity::Note,
                about(),
                say!(
                    "Echoes may be heard over {share} % of {area}: sound arrives up to {apart} ms apart.",
                    share = loamline_terms::fixed(100.0 * arrivals.echo_share, 0),
                    area = area_within(id, area),
                    apart = loamline_terms::fixed(1000.0 * arrivals.largest_spread_s, 0)
                ),
            )
            .mend(say!("Delay the nearer loudspeakers, turn far ones away, or lower them.")),
        );
    }
    if let Some(over_db) = a.speech_over_others_db {
        found.extend(masked(id, &area.name, over_db));
    } else if let Some(other) = a.other_programmes_dba.filter(|o| *o > s.energy_mean_dba - 10.0) {
        found.push(
            Finding::new(
                Severity::Warning,
                about(),
                say!(
                    "{area} hears other programmes at {other} dBA, less than 10 dB below its own sound.",
                    area = named.clone(),
                    other = loamline_terms::fixed(other, 0)
                ),
            )
            .mend(say!("Turn the other programme's loudspeakers away or lower them.")),
        );
    }
    found
}

fn loudest_finding(l: &Loudest) -> Option<Finding> {
    let hours = l.permitted_s / 3600.0;
    let time = if hours >= 1.0 {
        format!("{} h", loamline_terms::fixed(hours, 1))
    } else {
        format!("{} min", loamline_terms::fixed(l.permitted_s / 60.0, 0))
    };
    let sentence = say!(
        "In front of loudspeaker {id} a person hears {level} dBA; NIOSH allows {time} a day there.",
        id = &l.loudspeaker,
        level = loamline_terms::fixed(l.level_dba, 0),
        time = time
    );
    let about = Subject::new("loudspeakers", &l.loudspeaker);
    if l.below_venue_limit_db < 0.0 {
        Some(
            Finding::new(
                Severity::Warning,
                about,
                sentence + say!(" That is above the 100 dBA that WHO sets for venues."),
            )
            .mend(say!("Keep people farther away, or share the level among more loudspeakers.")),
        )
    } else if l.level_dba >= 85.0 {
        Some(Finding::new(Severity::Note, about, sentence))
    } else {
        None
    }
}

/// How far below an area's level a loudspeaker may be before it adds nothing there, dB: it then adds less than a
/// twentieth of a decibel.
const ADDS_NOTHING_DB: f64 = 20.0;

fn idle_loudspeakers(sound: &Sound, areas: &IndexMap<String, AreaLevels>) -> Vec<Finding> {
    if areas.is_empty() {
        return Vec::new();
    }
    let adds = |id: &str| {
        areas.values().any(|a| {
            a.loudspeakers.get(id).is_some_and(|l| *l > a.statistics.energy_mean_dba - ADDS_NOTHING_DB)
        })
    };
    // A subwoofer hardly counts in dBA; it is judged by the bass.
    let bass_only = |id: &str| {
        let i = sound.sources.iter().position(|s| s == id);
        i.and_then(|i| sound.scene.source(i)).is_some_and(|s| s.response_db[20] < -20.0)
    };
    sound
        .sources
        .iter()
        .filter(|id| !adds(id) && !bass_only(id))
        .map(|id| {
            Finding::new(
                Severity::Warning,
                Subject::new("loudspeakers", id),
                say!(
                    "Loudspeaker {id} adds nothing: it is more than {below} dB below the level of every area.",
                    id = id,
                    below = format!("{ADDS_NOTHING_DB:.0}")
                ),
            )
            .mend(say!("Turn it towards an area, raise its tap, or leave it out."))
        })
        .collect()
}
