//! What makes the level at a place: every loudspeaker, every path, and how each figure came about.

use super::extract::{Asked, In};
use super::why::{WhyView, energy_sum_db};
use crate::app::App;
use crate::background::Work;
use crate::error::{ApiError, ErrorBody, not_yet};
use crate::jobs::Snapshot;
use axum::Json;
use axum::extract::State;
use loamline_acoustics::SourceShare;
use loamline_adapt::Sound;
use loamline_geometry::Point2;
use loamline_model::Job;
use loamline_study::{AtPlaceReport, LinesReport, way_words};
use loamline_terms::{BAND_1_KHZ, say};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(at_place))
}

/// What a loudspeaker's share is explained from.
struct At<'a> {
    job: &'a Job,
    sound: &'a Sound,
    lines: &'a LinesReport,
}

/// A place.
#[derive(Debug, Clone, Copy, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct AtPlaceQuery {
    /// East, m.
    x: f64,
    /// North, m.
    y: f64,
    /// Height of the ears above the ground, m; 1.6 when absent.
    ear: Option<f64>,
}

/// What makes the level at a place.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct AtPlaceAnswer {
    /// Revision of the job it is of.
    revision: u64,
    /// Levels, loudspeakers, paths.
    #[serde(flatten)]
    report: AtPlaceReport,
    /// How it is worked out and from what source.
    working: Vec<String>,
    /// How the level and the arrival of each of its `loudspeakers` came about.
    workings: Vec<WhyView>,
}

fn working(coherent_below_hz: f64) -> Vec<String> {
    vec![
        "Each loudspeaker: its level at 1 m from its sensitivity and the voltage at its terminals, band by band; direction, \
         distance (6 dB less per doubling) and air absorption (ISO 9613-1) taken off."
            .into(),
        "Each path: straight, by the ground (spherical-wave reflection, Chien and Soroka 1975, ground by Delany and \
         Bazley 1970), by walls, bent round what is in the way (Kurze and Anderson 1971)."
            .into(),
        format!(
            "Loudspeakers of one programme add as waves up to {coherent_below_hz} Hz, as energy above; the third \
             octaves are A-weighted (IEC 61672-1) and added.",
            coherent_below_hz = loamline_terms::fixed(coherent_below_hz, 0)
        ),
    ]
}

/// What is heard at a place, and what makes it.
#[utoipa::path(get, path = "/api/jobs/{id}/at", tag = "Sound",
    params(("id" = String, Path, description = "The job"), AtPlaceQuery),
    responses((status = 200, body = AtPlaceAnswer), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn at_place(
    State(app): State<App>,
    In(id): In<String>,
    Asked(at): Asked<AtPlaceQuery>,
) -> Result<Json<AtPlaceAnswer>, ApiError> {
    let ear_m = at.ear.unwrap_or(1.6);
    for (name, value, low, high) in
        [("x", at.x, -50_000.0, 50_000.0), ("y", at.y, -50_000.0, 50_000.0), ("ear", ear_m, 0.0, 100.0)]
    {
        if !(low..=high).contains(&value) {
            let message = say!(
                "{name} is {value} m; it must be from {low} m to {high} m.",
                name = name,
                value = value.to_string(),
                low = low.to_string(),
                high = high.to_string()
            );
            return Err(ApiError::field(format!("?{name}"), message));
        }
    }
    app.results(Work::Results, id, move |job| {
        let Snapshot { study, revision, .. } = job.now();
        let coherent = study.job().document().brief.coherent_below_hz;
        let (probed, _) = study.probe(Point2::new(at.x, at.y), ear_m).map_err(|why| not_yet(why.told()))?;
        let (sound, lines) = (study.sound(), study.lines());
        let sound = sound.as_ref().as_ref().map_err(|why| not_yet(why.told()))?;
        let heard = At { job: study.job(), sound, lines: &lines };
        Ok(Json(AtPlaceAnswer {
            revision,
            report: AtPlaceReport::of(study.job(), &probed, &sound.sources),
            working: working(coherent),
            workings: probed.sources.iter().map(|s| share_why(&heard, s, coherent)).collect(),
        }))
    })
    .await
}

fn share_why(heard: &At<'_>, s: &SourceShare, coherent_below_hz: f64) -> WhyView {
    let mut steps = Vec::new();
    let tag = heard.sound.sources.get(s.source).map_or("", String::as_str);
    let source = heard.sound.scene.source(s.source);
    if let (Some(l), Some(source)) = (heard.job.loudspeaker(tag), source) {
        let at = heard.lines.loudspeakers.get(tag);
        // At full drive or above it by as much as full scale is.
        let volts = at.and_then(|at| {
            let up = 10f64.powf(-at.most_gain_db.unwrap_or(0.0) / 20.0);
            at.loudspeaker_v.get(BAND_1_KHZ).map(|v| v * up)
        });
        let fed = match (volts, l.placed.tap_w) {
            (Some(v), Some(tap_w)) => {
                format!(
                    ", on its {tap_w} W tap with {v} V at its terminals at 1 kHz",
                    v = loamline_terms::fixed(v, 1)
                )
            }
            (Some(v), None) => {
                format!(", with {v} V at its terminals at 1 kHz", v = loamline_terms::fixed(v, 1))
            }
            _ => String::new(),
        };
        let played = heard.sound.played.get(source.programme);
        let crest = played.map_or_else(String::new, |p| {
            format!(
                "; the programme's level lies {} dB below full scale (crest factor {} dB)",
                loamline_terms::fixed(-energy_sum_db(&p.band_levels_re_full_scale_db()), 1),
                loamline_terms::fixed(p.crest_db(), 1)
            )
        });
        steps.push(format!(
            "{tag}{fed}: {} dB at 1 m ahead of it at full scale, from {} dB at 1 W and 1 m; its channel's gain is {} \
             dB{crest}. Its response and its channel's filters come on top, band by band.",
            loamline_terms::fixed(source.full_scale_db, 1),
            l.model.sensitivity_db,
            loamline_terms::fixed(source.gain_db, 1)
        ));
    }
    let units = heard.job.document().units();
    if let Some(first) = s.paths.first() {
        steps.push(format!(
            "Its strongest path, {}: {}, so {} dB less than at 1 m by distance; with direction, air and what it \
             meets it brings {} dBA.",
            way_words(heard.job, &first.way),
            units.length(first.length_m),
            loamline_terms::fixed(20.0 * first.length_m.max(0.01).log10(), 1),
            loamline_terms::fixed(first.level_dba, 1)
        ));
    }
    steps.push(format!(
        "Its {} add up to {} dBA: as waves up to {coherent_below_hz} Hz, as energy above; third octaves A-weighted.",
        if s.paths.len() == 1 { "one path".to_owned() } else { format!("{} paths", s.paths.len()) },
        loamline_terms::fixed(s.level_dba, 1),
        coherent_below_hz = loamline_terms::fixed(coherent_below_hz, 0)
    ));
    let shortest = s.paths.iter().map(|p| p.length_m).fold(f64::INFINITY, f64::min);
    if shortest.is_finite() {
        let delay_s = source.map_or(0.0, |x| x.delay_s);
        steps.push(format!(
            "Its first sound arrives after {} ms: {} at {}, and {} ms of delay set on its channel.",
            loamline_terms::fixed(1000.0 * s.arrival_s, 1),
            units.length(shortest),
            units.speed(shortest / (s.arrival_s - delay_s).max(1e-6)),
            loamline_terms::fixed(1000.0 * delay_s, 1)
        ));
    }
    WhyView {
        about: String::new(),
        steps,
        source: "sensitivity, response and directivity from the catalogue, voltage from the lines (nodal analysis); air and \
                 speed of sound by ISO 9613-1, ground by Chien and Soroka 1975 with Delany and Bazley 1970, screening by \
                 Kurze and Anderson 1971; A-weighting by IEC 61672-1"
            .to_owned(),
    }
}
