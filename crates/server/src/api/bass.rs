//! The bass: levels by third octave, where subwoofers cancel, evener settings, and how each figure came about.

use super::extract::In;
use super::sound::xyz;
use super::why::{WhyView, energy_sum_db, listed};
use crate::app::App;
use crate::error::{ApiError, ErrorBody, cannot};
use crate::jobs::Snapshot;
use axum::Json;
use axum::extract::State;
use indexmap::IndexMap;
use loamline_acoustics::{BassBand, RankedSetting, SearchCoverage};
use loamline_geometry::Point3;
use loamline_study::{Alone, AreaBass, Null, bass};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(bass_view))
}

/// The bass.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct BassView {
    /// Revision of the job it is of.
    revision: u64,
    /// Subwoofers of the job.
    subwoofers: Vec<String>,
    /// Areas by id that a subwoofer plays in.
    areas: IndexMap<String, AreaBassView>,
}

/// The bass in an area.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct AreaBassView {
    /// Subwoofers that play there.
    subwoofers: Vec<String>,
    /// Energy mean, 25 Hz to 160 Hz together, dB.
    level_db: f64,
    /// Mean over the bands of the standard deviation over the area, dB.
    deviation_db: f64,
    /// Each third octave.
    bands: Vec<BassBandView>,
    /// Places where subwoofers cancel each other.
    nulls: Vec<NullView>,
    /// Settings of polarity and delay, the evenest first.
    settings: Vec<BassSettingView>,
}

/// A third octave of the bass.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct BassBandView {
    /// Nominal frequency, Hz.
    frequency_hz: f64,
    /// Energy mean, dB.
    level_db: f64,
    /// Standard deviation over the area, dB.
    deviation_db: f64,
    /// Quietest place, dB.
    lowest_db: f64,
    /// How it came about.
    why: WhyView,
}

/// A place where subwoofers cancel.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct NullView {
    /// Nominal frequency, Hz.
    frequency_hz: f64,
    /// Where: x, y, elevation, m.
    at: [f64; 3],
    /// How far below the louder of the two alone, dB.
    below_louder_db: f64,
    /// Share of the area that is quieter than the louder alone, 0 to 1.
    share: f64,
    /// How it came about.
    why: WhyView,
}

/// A setting of the subwoofers.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct BassSettingView {
    /// Each subwoofer that plays.
    subwoofers: Vec<SubwooferView>,
    /// Mean over the bands of the standard deviation over the area, dB.
    deviation_db: f64,
    /// Energy mean, dB.
    level_db: f64,
    /// How it came about.
    why: WhyView,
}

/// A subwoofer in a setting.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct SubwooferView {
    /// Which.
    loudspeaker: String,
    /// Whether its polarity is turned.
    inverted: bool,
    /// Its delay, s.
    delay_s: f64,
}

fn bass_area_view(a: &AreaBass) -> AreaBassView {
    let setting = |r: &RankedSetting| BassSettingView {
        subwoofers: r
            .setting
            .iter()
            .map(|s| SubwooferView {
                loudspeaker: a.subwoofers.get(s.candidate).cloned().unwrap_or_default(),
                inverted: s.inverted,
                delay_s: s.delay_s,
            })
            .collect(),
        deviation_db: r.deviation_db,
        level_db: r.level_db,
        why: setting_why(a, r),
    };
    AreaBassView {
        subwoofers: a.subwoofers.clone(),
        level_db: a.level_db,
        deviation_db: a.deviation_db,
        bands: a
            .bands
            .iter()
            .zip(&a.alone)
            .map(|(b, alone)| BassBandView {
                frequency_hz: b.band.nominal_hz(),
                level_db: b.level_db,
                deviation_db: b.deviation_db,
                lowest_db: b.lowest_db,
                why: band_why(a, b, alone),
            })
            .collect(),
        nulls: a
            .nulls
            .iter()
            .map(|n| NullView {
                frequency_hz: n.band_hz,
                at: xyz(n.at),
                below_louder_db: n.below_louder_db,
                share: n.share,
                why: null_why(a, n),
            })
            .collect(),
        settings: a.ranking.iter().map(setting).collect(),
    }
}

/// The bass: levels, where subwoofers cancel, evener settings.
#[utoipa::path(get, path = "/api/jobs/{id}/bass", tag = "Sound",
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = BassView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn bass_view(State(app): State<App>, In(id): In<String>) -> Result<Json<BassView>, ApiError> {
    app.results(id, |job| {
        let Snapshot { study, revision, .. } = job.now();
        let sound = study.sound();
        let sound = sound.as_ref().as_ref().map_err(cannot)?;
        let report = bass(study.job(), sound).map_err(cannot)?;
        let areas = report.areas.iter().map(|(id, a)| (id.clone(), bass_area_view(a))).collect();
        Ok(Json(BassView { revision, subwoofers: report.subwoofers, areas }))
    })
    .await
}

const SOURCE: &str = "waves from every subwoofer over all its paths: spreading, air (ISO 9613-1), ground (Chien and Soroka \
     1975, Delany and Bazley 1970), walls as mirrors; third octaves by IEC 61260-1";

fn why(steps: Vec<String>) -> WhyView {
    WhyView { about: String::new(), steps, source: SOURCE.to_owned() }
}

fn place(p: Point3) -> String {
    format!("{:.1} m east, {:.1} m north", p.x, p.y)
}

/// "S1 61.2 dB and S2 58.0 dB".
fn each(a: &AreaBass, levels_db: &[f64]) -> String {
    let one = |(tag, db): (&String, &f64)| format!("{tag} {db:.1} dB");
    listed(&a.subwoofers.iter().zip(levels_db).map(one).collect::<Vec<_>>())
}

fn points(a: &AreaBass) -> String {
    let taken = format!("Taken at {} points over the area, {:.2} m apart.", a.points, a.spacing_m);
    a.coarser.as_ref().map_or(taken.clone(), |why| format!("{taken} {why}"))
}

fn band_why(a: &AreaBass, b: &BassBand, alone: &Alone) -> WhyView {
    let hz = b.band.nominal_hz();
    let mut steps = vec![
        points(a),
        format!(
            "At {hz} Hz, alone, each gives on average over the area: {}. By energy that would be {:.1} dB; added as waves, \
             with level, delay and polarity as set, it is {:.1} dB.",
            each(a, &alone.level_db),
            energy_sum_db(&alone.level_db),
            b.level_db
        ),
        format!(
            "From point to point it varies by {:.1} dB (standard deviation); between its quietest and its loudest tenth lie {:.1} \
             dB.",
            b.deviation_db, b.spread_db
        ),
    ];
    let lowest = format!("It is quietest at {}: {:.1} dB", place(alone.lowest_at), b.lowest_db);
    steps.push(match a.subwoofers.len() {
        1 => format!("{lowest}."),
        _ => format!("{lowest}; alone there: {}.", each(a, &alone.at_lowest_db)),
    });
    why(steps)
}

fn null_why(a: &AreaBass, n: &Null) -> WhyView {
    let louder = n.alone_db.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    why(vec![
        points(a),
        format!("At {} Hz, at {}, alone: {}.", n.band_hz, place(n.at), each(a, &n.alone_db)),
        format!(
            "They arrive out of step: together {:.1} dB, {:.1} dB below the louder alone ({louder:.1} dB). In step they \
             would add up to more.",
            n.level_db, n.below_louder_db
        ),
        format!(
            "Over {:.0} % of the points all together are quieter than the loudest alone.",
            100.0 * n.share
        ),
    ])
}

fn setting_why(a: &AreaBass, r: &RankedSetting) -> WhyView {
    let tried = match a.coverage {
        SearchCoverage::Every { evaluated } => {
            format!("All {evaluated} sets of polarity and delay (steps of 2 ms or more) were tried.")
        }
        SearchCoverage::Part { evaluated, possible, .. } => format!(
            "{evaluated} of {possible:.0} sets of polarity and delay were tried, the most promising first."
        ),
    };
    let bands: Vec<String> =
        r.bands.iter().map(|b| format!("{} Hz {:.1} dB", b.band.nominal_hz(), b.deviation_db)).collect();
    why(vec![
        points(a),
        tried,
        format!(
            "With this one each third octave varies over the area by: {}. Their mean is {:.1} dB; as set now it is {:.1} \
             dB.",
            listed(&bands),
            r.deviation_db,
            a.deviation_db
        ),
        format!("Together the bands come to {:.1} dB; as set now to {:.1} dB.", r.level_db, a.level_db),
    ])
}
