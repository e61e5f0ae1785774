//! The document as the acoustics engine wants it: a scene of ground, walls, buildings, programmes and sources.

use crate::error::{SilentBecause, SoundErrors, SoundProblem};
use crate::on_axis::{on_axis, rounded_db};
use crate::over_frequency::{on_bands, over_log_frequency};
use crate::processing::filter_table;
use indexmap::IndexMap;
use loamline_acoustics::{
    Aim, Air, BAND_COUNT, BandValues, Building, CoveragePoint, DEFAULT_REAR_FLOOR_DB, Directivity,
    DirectivityError, FilterTable, Ground, Mounting, PistonRear, Programme, Scene, SceneInput, Settings,
    Source, Surface, Wall,
};
use loamline_model::catalogue::{DirectivityKind, LoudspeakerModel};
use loamline_model::document::{Mount, Polarity, Spectrum, Wall as DrawnWall, WallKind};
use loamline_model::{Job, PlacedLoudspeaker};
use loamline_terms::{Fraction, Pascals};
use std::sync::Arc;

/// A scene with the ids its sources and programmes have in the document.
#[derive(Debug, Clone)]
pub struct Sound {
    /// The scene.
    pub scene: Scene,
    /// Tags of the loudspeakers that sound, in the order of the scene's sources.
    pub sources: Vec<String>,
    /// Ids of the programmes, in the order of the scene's; one unnamed programme when the job names none.
    pub programmes: Vec<String>,
    /// The programmes themselves.
    pub played: Vec<Programme>,
    /// Directivity of every model used, by catalogue id.
    pub directivities: IndexMap<String, Arc<Directivity>>,
    /// Loudspeakers that do not sound, and why.
    pub silent: Vec<(String, SilentBecause)>,
}

/// The document as the acoustics engine wants it: the input of a scene, with the ids its parts have in the document.
#[derive(Debug, Clone, PartialEq)]
pub struct SceneParts {
    input: SceneInput,
    sources: Vec<String>,
    programmes: Vec<String>,
    directivities: IndexMap<String, Arc<Directivity>>,
    silent: Vec<(String, SilentBecause)>,
}

/// What really reaches a loudspeaker at full drive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reaching<'a> {
    /// Voltage at its own terminals by third octave, V RMS.
    pub terminals_v: &'a [f64],
    /// Gain of its channel at which full drive is reached, dB re full scale; `None` where full drive is full scale.
    pub most_gain_db: Option<f64>,
}

/// Gives a model's directivity, by its catalogue id: [`directivity`], or one kept from before.
pub type DirectivityOf<'a> =
    &'a dyn Fn(&str, &LoudspeakerModel) -> Result<Arc<Directivity>, DirectivityError>;

/// What a job sounds through: every loudspeaker whose line has been solved, on the voltage that really reaches it.
///
/// # Errors
/// What is wrong with air or programmes.
pub fn scene_parts<'a>(
    job: &Job,
    reaching: &dyn Fn(&str) -> Option<Reaching<'a>>,
    directivity_of: DirectivityOf<'_>,
) -> Result<SceneParts, SoundErrors> {
    let (mut input, programmes) = surroundings(job)?;
    let mut directivities: IndexMap<String, Arc<Directivity>> = IndexMap::new();
    let mut filters: IndexMap<String, Option<Arc<FilterTable>>> = IndexMap::new();
    let (mut sources, mut silent) = (Vec::new(), Vec::new());
    for l in job.loudspeakers() {
        match source(job, reaching, &l, &programmes, (directivity_of, &mut directivities), &mut filters) {
            Ok(s) => {
                input.sources.push(s);
                sources.push(l.id.to_owned());
            }
            Err(why) => silent.push((l.id.to_owned(), why)),
        }
    }
    Ok(SceneParts { input, sources, programmes, directivities, silent })
}

/// The scene of a job. From an earlier scene it takes whatever is the same in both.
///
/// # Errors
/// What the engine finds wrong with the scene.
pub fn sound(earlier: Option<&Sound>, parts: &SceneParts) -> Result<Sound, SoundErrors> {
    let SceneParts { input, sources, programmes, directivities, silent } = parts.clone();
    let played = input.programmes.clone();
    let made = match earlier {
        Some(e) => e.scene.with_input(input),
        None => Scene::new(input),
    };
    match made {
        Ok(scene) => Ok(Sound { scene, sources, programmes, played, directivities, silent }),
        Err(errors) => Err(SoundErrors::of(errors, &sources)),
    }
}

/// Walls that sound bounces off, with their ids, in the order of the scene's: all but hedges.
pub fn sounding_walls(job: &Job) -> impl Iterator<Item = (&String, &DrawnWall)> {
    job.document().walls.iter().filter(|(_, w)| w.kind != WallKind::Hedge)
}

/// The pieces of ground that are drawn; elsewhere the ground is at elevation 0.
pub fn drawn_ground(job: &Job) -> Vec<Surface> {
    let surface = |s: &loamline_model::document::Surface| Surface {
        outline: s.outline.clone(),
        ground: Ground::of_class(s.flow()),
        elevation_m: s.elevation_m,
    };
    job.document().surfaces.values().map(surface).collect()
}

/// Everything of a scene but its loudspeakers, with the ids of its programmes.
///
/// # Errors
/// What is wrong with air or programmes.
pub fn surroundings(job: &Job) -> Result<(SceneInput, Vec<String>), SoundErrors> {
    let d = job.document();
    let mut problems = Vec::new();
    let site_air = &d.site.air;
    let air = Air::new(site_air.temperature_c, Fraction(site_air.humidity), Pascals(site_air.pressure_pa))
        .map_err(SoundProblem::Air)?;
    let mut input = SceneInput::open(air, Ground::of_class(d.site.ground.flow_class()));
    input.ground = drawn_ground(job);
    for (_, w) in sounding_walls(job) {
        let absorption = absorption(w.absorption, w.absorption_bands.as_deref());
        let foot_m = w.stated_foot_m();
        input.walls.push(Wall { line: w.line.clone(), height_m: w.height_m, foot_m, absorption });
    }
    for b in d.buildings.values() {
        let absorption = absorption(b.absorption, b.absorption_bands.as_deref());
        input.buildings.push(Building { outline: b.outline.clone(), height_m: b.height_m, absorption });
    }
    let mut programmes: Vec<String> = d.programmes.keys().cloned().collect();
    if programmes.is_empty() {
        programmes.push(String::new());
    }
    for id in &programmes {
        match programme(&job.programme(Some(id))) {
            Ok(p) => input.programmes.push(p),
            Err(error) => problems.push(SoundProblem::Programme { programme: id.clone(), error }),
        }
    }
    let span_m = d.site.outline.as_ref().map_or(0.0, |o| {
        let (low, high) = o.bounds();
        low.distance(high)
    });
    input.settings = Settings {
        coherent_to_hz: d.brief.coherent_below_hz,
        lines_per_band: Settings::lines_for(span_m),
        ..Settings::default()
    };
    if problems.is_empty() { Ok((input, programmes)) } else { Err(SoundErrors(problems)) }
}

/// Masonry, render, glass and boards absorb little: 3 per cent unless stated (common practice, no source).
const USUAL_ABSORPTION: f64 = 0.03;

pub(crate) fn absorption(flat: Option<f64>, bands: Option<&[(f64, f64)]>) -> BandValues {
    match bands {
        Some(table) => on_bands(table),
        None => [flat.unwrap_or(USUAL_ABSORPTION); BAND_COUNT],
    }
}

/// Third-octave levels of the simulated programme signal of IEC 60268-1, 20 Hz to 20 kHz, dB (from memory; within about
/// half a decibel of the standard's table).
const SIMULATED_PROGRAMME_DB: BandValues = [
    -13.5, -10.2, -7.4, -5.2, -3.3, -2.3, -1.4, -0.9, -0.6, -0.2, -0.1, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, -0.1,
    -0.3, -0.6, -1.0, -1.6, -2.5, -3.7, -5.1, -7.0, -9.0, -11.4, -13.9, -16.6, -19.4,
];

fn programme(p: &loamline_model::document::Programme) -> Result<Programme, loamline_acoustics::SourceError> {
    match (&p.levels_db, p.spectrum) {
        (Some(table), _) => Programme::from_levels_db(&on_bands(table), p.crest_factor_db),
        (None, Spectrum::Pink) => Programme::pink(p.crest_factor_db),
        (None, Spectrum::SimulatedProgramme) => {
            Programme::from_levels_db(&SIMULATED_PROGRAMME_DB, p.crest_factor_db)
        }
    }
}

fn source<'a>(
    job: &Job,
    reaching: &dyn Fn(&str) -> Option<Reaching<'a>>,
    l: &PlacedLoudspeaker<'_>,
    programmes: &[String],
    (directivity_of, directivities): (DirectivityOf<'_>, &mut IndexMap<String, Arc<Directivity>>),
    filters: &mut IndexMap<String, Option<Arc<FilterTable>>>,
) -> Result<Source, SilentBecause> {
    let line = l.placed.line.as_deref().ok_or(SilentBecause::OnNoLine)?;
    let at = reaching(l.id).ok_or_else(|| SilentBecause::LineNotSolved { line: line.to_owned() })?;
    let channel_id = job.document().lines.get(line).and_then(|x| x.channel.as_deref());
    let channel_id = channel_id.ok_or_else(|| SilentBecause::NoChannel { line: line.to_owned() })?;
    let view = job
        .channel(channel_id)
        .ok_or_else(|| SilentBecause::UnknownChannel { channel: channel_id.to_owned() })?;
    let channel = view.channel;
    let directivity = match directivities.get(&l.placed.model) {
        Some(d) => Arc::clone(d),
        None => {
            let made = directivity_of(&l.placed.model, l.model)?;
            directivities.insert(l.placed.model.clone(), Arc::clone(&made));
            made
        }
    };
    let filter = match filters.get(channel_id) {
        Some(f) => f.clone(),
        None => {
            let made = filter_table(channel)?;
            filters.insert(channel_id.to_owned(), made.clone());
            made
        }
    };
    let constant_voltage = job.line(line).is_some_and(|v| v.supply.line_v().is_some());
    if constant_voltage && (l.model.transformer.is_none() || l.placed.tap_w.is_none()) {
        return Err(SilentBecause::NoTap);
    }
    let terminals_v = std::array::from_fn(|b| at.terminals_v.get(b).copied().unwrap_or(0.0));
    let full_drive = on_axis(l.model, l.nominal_ohm(), &terminals_v)?;
    // Gain counts from full scale, and what is beyond full drive the channel does not give.
    let full_scale_db = rounded_db(full_drive.level_db - at.most_gain_db.unwrap_or(0.0));
    let gain_db = at.most_gain_db.map_or(channel.gain_db, |most| channel.gain_db.min(rounded_db(most)));
    let turned = (l.placed.polarity == Polarity::Reversed) != (channel.polarity == Polarity::Reversed);
    Ok(Source {
        position: l.position,
        aim: Aim::new(l.placed.bearing_deg, l.placed.pitch_deg, 0.0),
        mounting: match l.mount {
            Mount::InGround => Mounting::InGround,
            Mount::Stake | Mount::Bracket | Mount::Eaves | Mount::Surface | Mount::Base => Mounting::Free,
        },
        directivity,
        full_scale_db,
        response_db: full_drive.response_db,
        gain_db,
        // What comes over a link from another rack plays so much later.
        delay_s: channel.delay_s + job.document().link_delay_s(channel),
        reversed: turned,
        filter,
        programme: view.programme_id.and_then(|id| programmes.iter().position(|p| p == id)).unwrap_or(0),
    })
}

/// A model's directivity as the engine wants it.
///
/// # Errors
/// What the engine finds wrong with it.
pub fn directivity(model: &LoudspeakerModel) -> Result<Directivity, DirectivityError> {
    let d = &model.directivity;
    let angles = |table: &Option<Vec<(f64, f64)>>| table.clone().unwrap_or_else(|| vec![(1000.0, 360.0)]);
    let (h, v) = (angles(&d.horizontal_deg), angles(&d.vertical_deg));
    let mut frequencies: Vec<f64> = h.iter().chain(&v).map(|p| p.0).collect();
    frequencies.sort_by(f64::total_cmp);
    frequencies.dedup();
    let points: Vec<CoveragePoint> = frequencies
        .into_iter()
        .map(|f| CoveragePoint {
            frequency_hz: f,
            horizontal_deg: over_log_frequency(&h, f),
            vertical_deg: over_log_frequency(&v, f),
        })
        .collect();
    match d.kind {
        DirectivityKind::Omnidirectional => Ok(Directivity::Omni),
        DirectivityKind::Piston => Directivity::piston(d.diameter_m.unwrap_or(0.1), PistonRear::Enclosure),
        DirectivityKind::Coverage => Directivity::coverage(points, DEFAULT_REAR_FLOOR_DB),
        DirectivityKind::AllRound => Directivity::ring(points, DEFAULT_REAR_FLOOR_DB),
    }
}
