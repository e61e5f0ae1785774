//! The bass: what the subwoofers give each area as waves, where they cancel, and which polarities and delays are evener.

use crate::error::{FieldError, StudyError};
use crate::sampling::{Sampling, trials};
use indexmap::IndexMap;
use loamline_acoustics::{
    BassBand, BassLevels, BassSearch, Points, RankedSetting, SearchCoverage, SubwooferSetting, bass_levels,
    cancellations, search_subwoofers, waves,
};
use loamline_adapt::Sound;
use loamline_geometry::Point3;
use loamline_limits::{BASS_TRIALS, SUBWOOFERS_SEARCHED};
use loamline_model::Job;
use loamline_model::catalogue::LoudspeakerKind;
use loamline_model::document::Area;
use loamline_terms::Sentence;
use serde::Serialize;

/// The bass of a job.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct BassReport {
    /// Subwoofers, in the order of the settings.
    pub subwoofers: Vec<String>,
    /// Areas by id, with the subwoofers of the programme wanted there.
    pub areas: IndexMap<String, AreaBass>,
}

/// The bass in an area.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct AreaBass {
    /// Subwoofers that play here, by tag; candidates of the settings below.
    pub subwoofers: Vec<String>,
    /// Energy mean over the area of all bands from 25 to 160 Hz together, dB.
    pub level_db: f64,
    /// How uneven the bass is from place to place: mean over the bands of the standard deviation, dB.
    pub deviation_db: f64,
    /// Each third octave, as set now.
    pub bands: Vec<BassBand>,
    /// What the subwoofers give alone in each of `bands`.
    pub alone: Vec<Alone>,
    /// Points the figures are taken at.
    pub points: usize,
    /// How far apart they are, m.
    pub spacing_m: f64,
    /// Why that is farther than usual, where it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = String, nullable = false))]
    pub coarser: Option<Sentence>,
    /// Bands in which the subwoofers together are quieter somewhere than the louder one alone.
    pub nulls: Vec<Null>,
    /// Polarities and delays that are evener, best first.
    pub ranking: Vec<RankedSetting>,
    /// How much of what is possible was tried.
    pub coverage: SearchCoverage,
}

/// A third octave of each subwoofer alone, in the order of [`AreaBass::subwoofers`].
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Alone {
    /// Energy mean over the area, dB.
    pub level_db: Vec<f64>,
    /// Where all together are quietest.
    pub lowest_at: Point3,
    /// Level of each alone there, dB.
    pub alone_db: Vec<f64>,
}

/// A place where subwoofers cancel.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Null {
    /// Centre of the third octave, nominal, Hz.
    pub band_hz: f64,
    /// Where it is worst.
    pub at: Point3,
    /// Level of each subwoofer alone there, dB.
    pub alone_db: Vec<f64>,
    /// Level of all together there, dB.
    pub level_db: f64,
    /// How far below the louder subwoofer alone the set is there, dB, positive.
    pub below_louder_db: f64,
    /// Share of the area where the set is quieter than its louder member alone, 0 to 1.
    pub share: f64,
}

/// Delays tried, seconds: steps of 2 ms, about a tenth of a period at 50 Hz.
const DELAYS_S: [f64; 8] = [0.0, 0.002, 0.004, 0.006, 0.008, 0.010, 0.015, 0.020];
/// Cancellations shallower than this are not worth telling, dB.
const SHALLOW_DB: f64 = 1.0;
/// Coarsest spacing for the bass, metres: a tenth of the wavelength at 160 Hz is 0.2 m, a quarter 0.5 m.
const SPACING_M: f64 = 0.5;

/// The bass in every area that has subwoofers on its programme.
///
/// # Errors
/// What the engine finds wrong with an area.
pub fn bass(job: &Job, sound: &Sound) -> Result<BassReport, StudyError> {
    let is_sub = |id: &str| job.loudspeaker(id).is_some_and(|l| l.model.kind == LoudspeakerKind::Subwoofer);
    let subwoofers: Vec<usize> = (0..sound.sources.len()).filter(|&s| is_sub(&sound.sources[s])).collect();
    let mut areas = IndexMap::new();
    for (id, area) in &job.document().areas {
        let programme = job.programme_of_area(area);
        let wanted = programme.and_then(|p| sound.programmes.iter().position(|x| x == p)).unwrap_or(0);
        let playing: Vec<usize> = subwoofers
            .iter()
            .copied()
            .filter(|&s| sound.scene.source(s).is_some_and(|x| x.programme == wanted))
            .collect();
        if playing.is_empty() {
            continue;
        }
        let entry = area_bass(sound, id, area, &playing)
            .map_err(|error| StudyError::Area { area: id.clone(), error })?;
        areas.insert(id.clone(), entry);
    }
    Ok(BassReport { subwoofers: subwoofers.iter().map(|&s| sound.sources[s].clone()).collect(), areas })
}

fn area_bass(sound: &Sound, id: &str, area: &Area, playing: &[usize]) -> Result<AreaBass, FieldError> {
    let sources = playing.iter().filter_map(|&s| sound.scene.source(s).cloned()).collect();
    let scene = sound.scene.with_sources(sources)?;
    let sampling = Sampling::for_bass(area, SPACING_M, playing.len());
    let spacing = sampling.spacing_m;
    let points = Points::grid(&scene, &area.outline, area.ear_m(), spacing)?;
    let field = waves(&scene, &points)?.bass_field()?;
    let as_set: Vec<SubwooferSetting> = (0..playing.len())
        .map(|candidate| SubwooferSetting { candidate, reversed: false, delay_s: 0.0 })
        .collect();
    let now = bass_levels(&field, &as_set)?;
    let alone: Vec<BassLevels> =
        as_set.iter().map(|one| bass_levels(&field, &[*one])).collect::<Result<_, _>>()?;
    let at = |point: usize, band: usize| alone.iter().map(|a| a.point_bands_db[point][band]).collect();
    let nulls = cancellations(&field, &as_set)?
        .into_iter()
        .enumerate()
        .filter(|(_, c)| c.gain_db < -SHALLOW_DB)
        .map(|(b, c)| Null {
            alone_db: at(c.worst_point, b),
            level_db: c.level_db,
            band_hz: c.band.nominal_hz(),
            at: points.places()[c.worst_point],
            below_louder_db: -c.gain_db,
            share: c.quieter_share,
        })
        .collect();
    let usual = BassSearch::new(playing.len().min(SUBWOOFERS_SEARCHED.most()));
    let most_evaluations = trials(&BASS_TRIALS, field.points(), usual.most_evaluations);
    let search = BassSearch { delays_s: DELAYS_S.to_vec(), most_evaluations, ..usual };
    let found = search_subwoofers(&field, &search)?;
    Ok(AreaBass {
        subwoofers: playing.iter().map(|&s| sound.sources[s].clone()).collect(),
        level_db: now.level_db,
        deviation_db: now.deviation_db,
        alone: now
            .bands
            .iter()
            .enumerate()
            .map(|(b, band)| Alone {
                level_db: alone.iter().map(|a| a.bands[b].level_db).collect(),
                lowest_at: points.places()[band.lowest_point],
                alone_db: at(band.lowest_point, b),
            })
            .collect(),
        points: field.points(),
        spacing_m: spacing,
        coarser: sampling.note(id, area, playing.len()),
        bands: now.bands,
        nulls,
        ranking: found.ranking,
        coverage: found.coverage,
    })
}
