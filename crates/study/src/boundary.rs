//! The neighbours: levels by ISO 9613-2 against the limits of the brief.

use crate::finding::{Finding, Severity, Subject};
use crate::memo::MemoById;
use crate::sound::Sound;
use indexmap::IndexMap;
use loamline_acoustics::{
    Aim, Air, Band, BandValues, BoundaryBuilding, BoundaryGround, BoundaryReceiver, BoundaryScene,
    BoundaryScreen, BoundarySource, GroundRegion, Judgement, LimitQuantity, NeighbourLimit, OctavePower,
    ReceiverLevel, Verdict, boundary_levels_after, judge, octave_directivity_db, octave_sums_db, sample_line,
};
use loamline_geometry::{Point2, Point3, polyline_length};
use loamline_limits::{Exceeded, NEIGHBOUR_PAIRS, Unit};
use loamline_model::Job;
use loamline_model::document::{Neighbour, WallKind};
use serde::Serialize;

/// Levels at a neighbour.
#[derive(Debug, Clone, Serialize)]
pub struct NeighbourLevels {
    /// Its name.
    pub name: String,
    /// Levels at its points with the system as set for the day.
    pub receivers: Vec<ReceiverLevel>,
    /// By day: every limit with its worst point.
    pub day: Vec<Judged>,
    /// By night, turned down as the brief says.
    pub night: Vec<Judged>,
}

/// A limit held against the worst point.
#[derive(Debug, Clone, Serialize)]
pub struct Judged {
    /// The engine's judgement.
    #[serde(flatten)]
    pub judgement: Judgement,
    /// Tag of the loudspeaker that matters most there.
    pub loudest_loudspeaker: String,
}

/// Spacing of points along a boundary line, metres.
const SPACING_M: f64 = 2.0;

/// Level at 1 m on axis to sound power of a point source radiating alike all round: 10 lg(4 pi), dB.
const POWER_OVER_LEVEL_DB: f64 = 10.992_098_640_220_96;

/// Levels at every neighbour by ISO 9613-2, with what wants attention.
pub fn neighbours(job: &Job, sound: &Sound) -> (IndexMap<String, NeighbourLevels>, Vec<Finding>) {
    neighbours_kept(job, sound, &KeptNeighbours::default())
}

/// Levels at neighbours kept by the scene they were worked out for: of a scene in which a few loudspeakers moved, only those
/// are worked out.
#[derive(Debug)]
pub(crate) struct KeptNeighbours(MemoById<BoundaryScene, Result<Vec<ReceiverLevel>, String>>);

impl Default for KeptNeighbours {
    fn default() -> Self {
        Self(MemoById::new(2))
    }
}

impl KeptNeighbours {
    /// How many neighbours have been worked out, in whole or in part.
    pub(crate) fn made(&self) -> u64 {
        self.0.made()
    }
}

/// As [`neighbours`], with what is kept from before.
pub(crate) fn neighbours_kept(
    job: &Job,
    sound: &Sound,
    kept: &KeptNeighbours,
) -> (IndexMap<String, NeighbourLevels>, Vec<Finding>) {
    let mut findings = Vec::new();
    let mut all = IndexMap::new();
    if sound.sources.is_empty() {
        return (all, findings);
    }
    let spacing_m = match spacing_m(job, sound.sources.len()) {
        Ok(spacing_m) => spacing_m,
        Err(more) => {
            let told =
                Finding::new(Severity::Error, Subject::new("neighbours", ""), format!("Neighbours: {more}."));
            return (all, vec![told]);
        }
    };
    findings.extend(coarser(job, sound.sources.len(), spacing_m));
    for (id, n) in &job.document().neighbours {
        match neighbour(job, sound, (id, n), spacing_m, kept) {
            Ok(levels) => {
                for (when, judged) in [("by day", &levels.day), ("by night", &levels.night)] {
                    findings.extend(judged.iter().filter_map(|j| finding(job, id, when, j)));
                }
                all.insert(id.clone(), levels);
            }
            Err(why) => {
                findings.push(Finding::new(
                    Severity::Error,
                    Subject::new("neighbours", id),
                    format!("Neighbour {id}: {why}."),
                ));
            }
        }
    }
    kept.0.keep_only(|id| job.document().neighbours.contains_key(id));
    (all, findings)
}

fn neighbour(
    job: &Job,
    sound: &Sound,
    (id, n): (&str, &Neighbour),
    spacing_m: f64,
    kept: &KeptNeighbours,
) -> Result<NeighbourLevels, String> {
    let scene = scene(job, sound, &receivers(n, spacing_m))?;
    let made = kept.0.get(id, scene, |scene, earlier| {
        let earlier = earlier.and_then(|(scene, levels)| Some((scene, levels.as_deref().ok()?)));
        boundary_levels_after(scene, earlier).map_err(|e| e.to_string())
    });
    let day_levels = (*made).clone()?;
    let night_levels: Vec<ReceiverLevel> =
        day_levels.iter().map(|r| turned_down(r, job.document().brief.night_turn_down_db)).collect();
    let with_tag =
        |j: Judgement| Judged { loudest_loudspeaker: sound.sources[j.loudest_source].clone(), judgement: j };
    let judged = |levels: &[ReceiverLevel], total: f64, octave: Option<f64>| {
        let limit = NeighbourLimit { total_dba: Some(total), octave_63_hz_db: octave };
        judge(levels, &limit).into_iter().map(with_tag).collect()
    };
    let night = judged(&night_levels, n.night_dba.unwrap_or(n.day_dba), n.night_63hz_db.or(n.day_63hz_db));
    let day = judged(&day_levels, n.day_dba, n.day_63hz_db);
    Ok(NeighbourLevels { name: n.name.clone(), receivers: day_levels, day, night })
}

/// Spacing of the points along boundary lines, metres: as usual, or so that the places of all neighbours, heard from so
/// many loudspeakers, stay within what is worked out.
///
/// # Errors
/// When the single points alone are more.
pub(crate) fn spacing_m(job: &Job, loudspeakers: usize) -> Result<f64, Exceeded> {
    let all = || job.document().neighbours.values();
    let points: usize = all().map(|n| n.points.len()).sum();
    let lines_m: Vec<f64> = all().filter(|n| n.line.len() > 1).map(|n| polyline_length(&n.line)).collect();
    // Both ends and a step that is not whole.
    let ends = 2 * lines_m.len();
    NEIGHBOUR_PAIRS.check((points + ends + 1).saturating_mul(loudspeakers))?;
    let most = NEIGHBOUR_PAIRS.most() / loudspeakers.max(1);
    let total_m: f64 = lines_m.iter().sum();
    Ok(SPACING_M.max(total_m / most.saturating_sub(points + ends).max(1) as f64))
}

fn coarser(job: &Job, loudspeakers: usize, spacing_m: f64) -> Option<Finding> {
    let (id, _) = job.document().neighbours.iter().find(|(_, n)| n.line.len() > 1)?;
    if spacing_m <= SPACING_M {
        return None;
    }
    let sentence = format!(
        "The boundary lines of the neighbours are looked at every {spacing_m:.1} m instead of every {SPACING_M:.1} m: with {loudspeakers} loudspeakers at most {} places are worked out.",
        Unit::Count.show(NEIGHBOUR_PAIRS.most / u64::try_from(loudspeakers.max(1)).unwrap_or(u64::MAX))
    );
    let about = Subject::new("neighbours", id);
    Some(
        Finding::new(Severity::Note, about, sentence)
            .mend("Draw only the part of a boundary that faces the site."),
    )
}

/// Where levels at a neighbour are worked out.
pub(crate) fn receivers(n: &Neighbour, spacing_m: f64) -> Vec<Point3> {
    let mut places: Vec<Point2> = n.points.clone();
    if n.line.len() > 1 {
        places.extend(sample_line(&n.line, spacing_m));
    }
    places.iter().map(|p| p.at_height(n.height_m)).collect()
}

fn turned_down(r: &ReceiverLevel, db: f64) -> ReceiverLevel {
    let mut r = r.clone();
    r.bands_db.iter_mut().for_each(|l| *l -= db);
    r.extension_31_hz_db = r.extension_31_hz_db.map(|l| l - db);
    r.total_dba -= db;
    for c in &mut r.contributions {
        c.bands_db.iter_mut().for_each(|l| *l -= db);
        c.extension_31_hz_db = c.extension_31_hz_db.map(|l| l - db);
        c.total_dba -= db;
    }
    r
}

fn scene(job: &Job, sound: &Sound, receivers: &[Point3]) -> Result<BoundaryScene, String> {
    let mut sources = Vec::new();
    for (i, id) in sound.sources.iter().enumerate() {
        let (Some(source), Some(l)) = (sound.scene.source(i), job.loudspeaker(id)) else { continue };
        // The method's ground is flat: heights count from the ground under each thing.
        let position = source.position.plan().at_height(l.height_m.max(0.0));
        let aim = Aim::new(l.placed.bearing_deg, l.placed.pitch_deg, 0.0);
        let table = sound.scene.directivity_table(i);
        sources.push(BoundarySource {
            id: Some(id.clone()),
            position,
            sound_power_db: power(&on_axis_db(sound, i)),
            directivity_db: match table {
                Some(t) if !t.is_omni() => {
                    receivers.iter().map(|r| octave_directivity_db(t, &aim, position, *r)).collect()
                }
                _ => Vec::new(),
            },
        });
    }
    surroundings(job, sources, receivers)
}

/// The site as the method sees it, with sources and receivers.
pub(crate) fn surroundings(
    job: &Job,
    sources: Vec<BoundarySource>,
    receivers: &[Point3],
) -> Result<BoundaryScene, String> {
    let d = job.document();
    let site_air = &d.site.air;
    let atmosphere =
        Air::new(site_air.temperature_c, 100.0 * site_air.humidity, site_air.pressure_pa / 1000.0)
            .map_err(|e| e.to_string())?;
    Ok(BoundaryScene {
        atmosphere,
        ground: BoundaryGround {
            default_g: d.site.ground.flow_class().ground_factor(),
            regions: d
                .surfaces
                .values()
                .map(|s| GroundRegion { outline: s.outline.corners().to_vec(), g: s.flow().ground_factor() })
                .collect(),
        },
        sources,
        receivers: receivers.iter().map(|p| BoundaryReceiver { id: None, position: *p }).collect(),
        screens: d
            .walls
            .values()
            .filter(|w| w.kind != WallKind::Hedge)
            .map(|w| BoundaryScreen { line: w.line.clone(), top_m: w.height_m })
            .collect(),
        buildings: d
            .buildings
            .values()
            .map(|b| BoundaryBuilding { outline: b.outline.corners().to_vec(), height_m: b.height_m })
            .collect(),
    })
}

/// On-axis level at 1 m per third octave, of the programme at the channel's gain, free field, dB.
fn on_axis_db(sound: &Sound, source: usize) -> BandValues {
    let Some(s) = sound.scene.source(source) else {
        return [loamline_acoustics::SILENCE_DB; loamline_acoustics::BAND_COUNT];
    };
    let filter = s.filter.as_ref().map(|f| f.band_gains_db());
    let programme = sound.played[s.programme].band_levels_re_full_scale_db();
    loamline_acoustics::band_values(|b: Band| {
        let i = b.index();
        s.full_scale_db + s.response_db[i] + s.gain_db + filter.as_ref().map_or(0.0, |f| f[i]) + programme[i]
    })
}

pub(crate) fn power(on_axis_db: &BandValues) -> OctavePower {
    let octaves = octave_sums_db(on_axis_db);
    OctavePower {
        extension_db: Some(octaves[0] + POWER_OVER_LEVEL_DB),
        bands_db: std::array::from_fn(|i| octaves[i + 1] + POWER_OVER_LEVEL_DB),
    }
}

fn finding(job: &Job, id: &str, when: &str, j: &Judged) -> Option<Finding> {
    let about = Subject::new("neighbours", id);
    let x = &j.judgement;
    let (what, unit) = match x.quantity {
        LimitQuantity::TotalDba => ("", "dBA"),
        LimitQuantity::Octave63Hz => ("the 63 Hz octave at ", "dB"),
    };
    let mend = format!(
        "Loudspeaker {} matters most there ({:.1} {unit} alone; {:.1} {unit} without it): turn it away, lower its tap, or move it.",
        j.loudest_loudspeaker, x.loudest_source_db, x.without_loudest_db
    );
    let numbers = format!("{what}{:.1} {unit} against a limit of {:.0} {unit}", x.level_db, x.limit_db);
    let margin = job.document().brief.neighbour_margin_db;
    match x.verdict {
        Verdict::Exceeds => Some(
            Finding::new(Severity::Error, about, format!("Neighbour {id} {when} is {:.1} dB over: {numbers}.", -x.margin_db)).mend(mend),
        ),
        Verdict::WithinUncertainty => Some(
            Finding::new(
                Severity::Warning,
                about,
                format!(
                    "Neighbour {id} {when} is below the limit by {:.1} dB, less than the uncertainty of {:.0} dB: {numbers}; {:.0} % chance of being over.",
                    x.margin_db,
                    x.standard_uncertainty_db,
                    100.0 * x.chance_above
                ),
            )
            .mend(mend),
        ),
        Verdict::Fine if x.margin_db < margin => Some(
            Finding::new(
                Severity::Warning,
                about,
                format!("Neighbour {id} {when} keeps {:.1} dB of the {margin:.0} dB margin asked: {numbers}.", x.margin_db),
            )
            .mend(mend),
        ),
        Verdict::Fine => None,
    }
}
