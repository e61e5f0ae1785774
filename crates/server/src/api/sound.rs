//! What is heard: areas and neighbours.

use super::area_figures::AreaFigures;
use super::extract::In;
use super::findings::{FindingView, finding_views};
use crate::app::App;
use crate::error::{ApiError, ErrorBody};
use crate::jobs::Snapshot;
use axum::Json;
use axum::extract::State;
use indexmap::IndexMap;
use loamline_acoustics::{Band, LimitQuantity, Verdict};
use loamline_geometry::Point3;
use loamline_study::{AreaLevels, Heard, Judged, NeighbourLevels};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(levels)).routes(routes!(neighbours))
}

/// Levels in the areas.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct LevelsView {
    /// Revision of the job they are of.
    revision: u64,
    /// Centre frequencies of the third octaves, Hz.
    frequencies_hz: Vec<f64>,
    /// Frequency up to which loudspeakers of one programme add as waves, Hz; absent when nothing can be worked out.
    coherent_below_hz: Option<f64>,
    /// Areas by id.
    areas: IndexMap<String, AreaView>,
    /// The loudest place a person can stand in.
    loudest: Option<LoudestView>,
    /// What wants attention.
    findings: Vec<FindingView>,
}

/// An area.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct AreaView {
    /// Its name.
    name: String,
    /// Level wanted, dBA.
    target_dba: f64,
    /// How far from it a place may be, dB.
    within_db: f64,
    /// What counts.
    #[serde(flatten)]
    #[schema(inline)]
    figures: AreaFigures,
    /// Quietest place, dBA.
    lowest_dba: f64,
    /// Loudest place, dBA.
    highest_dba: f64,
    /// Energy mean of the octaves 500 Hz, 1 kHz and 2 kHz together, dB.
    mid_db: f64,
    /// Mean level by third octave, dB.
    bands_db: Vec<f64>,
    /// Share of the area where sound arrives far enough apart to be heard as an echo, 0 to 1.
    echo_share: Option<f64>,
    /// Largest time between first and last arrival, s.
    largest_spread_s: Option<f64>,
    /// Level of each loudspeaker alone, dBA, loudest first.
    loudspeakers: IndexMap<String, f64>,
    /// Level of other programmes than the one wanted here, dBA.
    other_programmes_dba: Option<f64>,
    /// Spacing of the points behind the figures, m.
    spacing_m: f64,
}

/// The loudest place a person can stand in.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct LoudestView {
    /// The loudspeaker it is in front of.
    loudspeaker: String,
    /// Where the ears are: x, y, elevation, m.
    at: [f64; 3],
    /// Level there, dBA.
    level_dba: f64,
    /// Time a day that NIOSH 98-126 allows there, s.
    permitted_s: f64,
    /// How far below the venue limit of WHO 2022 (100 dBA over 15 minutes), dB.
    below_venue_limit_db: f64,
}

/// A place as it is sent.
pub fn xyz(p: Point3) -> [f64; 3] {
    [p.x, p.y, p.z]
}

fn area_view(a: &AreaLevels) -> AreaView {
    let s = &a.statistics;
    AreaView {
        name: a.name.clone(),
        target_dba: a.target_dba,
        within_db: a.within_db,
        figures: s.into(),
        lowest_dba: s.lowest_dba,
        highest_dba: s.highest_dba,
        mid_db: s.mid_db,
        bands_db: s.mean_bands_db.to_vec(),
        echo_share: a.arrivals.map(|x| x.echo_share),
        largest_spread_s: a.arrivals.map(|x| x.largest_spread_s),
        loudspeakers: a.loudspeakers.clone(),
        other_programmes_dba: a.other_programmes_dba,
        spacing_m: a.spacing_m,
    }
}

fn levels_view(revision: u64, heard: &Heard) -> LevelsView {
    let levels = heard.levels.as_ref();
    LevelsView {
        revision,
        frequencies_hz: Band::all().map(Band::centre_hz).collect(),
        coherent_below_hz: levels.map(|l| l.coherent_below_hz),
        areas: levels
            .map(|l| l.areas.iter().map(|(id, a)| (id.clone(), area_view(a))).collect())
            .unwrap_or_default(),
        loudest: levels.and_then(|l| l.loudest.as_ref()).map(|l| LoudestView {
            loudspeaker: l.loudspeaker.clone(),
            at: xyz(l.at),
            level_dba: l.level_dba,
            permitted_s: l.permitted_s,
            below_venue_limit_db: l.below_venue_limit_db,
        }),
        findings: finding_views(&heard.findings),
    }
}

/// Levels in the areas and at the loudest place.
#[utoipa::path(get, path = "/api/jobs/{id}/levels", tag = "Sound",
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = LevelsView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn levels(State(app): State<App>, In(id): In<String>) -> Result<Json<LevelsView>, ApiError> {
    app.results(id, |job| {
        let Snapshot { study, revision, .. } = job.now();
        Ok(Json(levels_view(revision, &study.heard())))
    })
    .await
}

/// Levels at the neighbours.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct NeighboursView {
    /// Revision of the job they are of.
    revision: u64,
    /// Neighbours by id.
    neighbours: IndexMap<String, NeighbourView>,
}

/// A neighbour.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct NeighbourView {
    /// Its name.
    name: String,
    /// By day: every limit at its worst place.
    day: Vec<LimitView>,
    /// By night, turned down as the brief says.
    night: Vec<LimitView>,
    /// Levels at its places by day.
    receivers: Vec<ReceiverView>,
}

/// What is limited.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Limited {
    /// A-weighted level, dBA.
    TotalDba,
    /// Level of the 63 Hz octave, dB.
    #[serde(rename = "octave_63_hz")]
    Octave63Hz,
}

/// How a level stands to its limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// Below by the standard uncertainty or more.
    Fine,
    /// Below, but by less than the standard uncertainty.
    WithinUncertainty,
    /// Above.
    Exceeds,
}

/// A limit at its worst place.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct LimitView {
    /// What is limited.
    quantity: Limited,
    /// Level, dBA or dB.
    level_db: f64,
    /// Limit, dBA or dB.
    limit_db: f64,
    /// Limit less level, dB; negative above the limit.
    margin_db: f64,
    /// Standard uncertainty of the level, +- dB.
    uncertainty_db: f64,
    /// How it stands.
    verdict: Standing,
    /// Which of the neighbour's places it is, from 0.
    receiver: usize,
    /// The loudspeaker that matters most there.
    loudest_loudspeaker: String,
    /// The level with that loudspeaker silent, dBA or dB.
    without_loudest_db: f64,
}

/// A place of a neighbour.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ReceiverView {
    /// Where: x, y, height above ground, m.
    at: [f64; 3],
    /// Level, dBA.
    level_dba: f64,
    /// Octaves 63 Hz to 8 kHz, dB.
    octaves_db: Vec<f64>,
    /// Standard uncertainty, +- dB.
    uncertainty_db: f64,
    /// Level of each loudspeaker alone, dBA, loudest first.
    loudspeakers: IndexMap<String, f64>,
}

fn limit_view(j: &Judged) -> LimitView {
    let x = &j.judgement;
    LimitView {
        quantity: match x.quantity {
            LimitQuantity::TotalDba => Limited::TotalDba,
            LimitQuantity::Octave63Hz => Limited::Octave63Hz,
        },
        level_db: x.level_db,
        limit_db: x.limit_db,
        margin_db: x.margin_db,
        uncertainty_db: x.standard_uncertainty_db,
        verdict: match x.verdict {
            Verdict::Fine => Standing::Fine,
            Verdict::WithinUncertainty => Standing::WithinUncertainty,
            Verdict::Exceeds => Standing::Exceeds,
        },
        receiver: x.receiver,
        loudest_loudspeaker: j.loudest_loudspeaker.clone(),
        without_loudest_db: x.without_loudest_db,
    }
}

fn neighbour_view(n: &NeighbourLevels) -> NeighbourView {
    let receiver = |r: &loamline_acoustics::ReceiverLevel| {
        let mut each: Vec<(String, f64)> =
            r.contributions.iter().map(|c| (c.id.clone().unwrap_or_default(), c.total_dba)).collect();
        each.sort_by(|a, b| b.1.total_cmp(&a.1));
        ReceiverView {
            at: xyz(r.position),
            level_dba: r.total_dba,
            octaves_db: r.bands_db.to_vec(),
            uncertainty_db: r.standard_uncertainty_db,
            loudspeakers: each.into_iter().collect(),
        }
    };
    NeighbourView {
        name: n.name.clone(),
        day: n.day.iter().map(limit_view).collect(),
        night: n.night.iter().map(limit_view).collect(),
        receivers: n.receivers.iter().map(receiver).collect(),
    }
}

/// Levels at the neighbours by ISO 9613-2.
#[utoipa::path(get, path = "/api/jobs/{id}/neighbours", tag = "Sound",
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = NeighboursView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn neighbours(State(app): State<App>, In(id): In<String>) -> Result<Json<NeighboursView>, ApiError> {
    app.results(id, |job| {
        let Snapshot { study, revision, .. } = job.now();
        let heard = study.heard();
        let neighbours = heard.neighbours.iter().map(|(id, n)| (id.clone(), neighbour_view(n))).collect();
        Ok(Json(NeighboursView { revision, neighbours }))
    })
    .await
}
