//! The bass: levels by third octave, where subwoofers cancel, evener settings, and how each figure came about.

use super::extract::In;
use super::why::{WhyView, energy_sum_db};
use crate::app::App;
use crate::background::Work;
use crate::error::{ApiError, ErrorBody, not_yet};
use crate::jobs::Snapshot;
use crate::told::Told;
use axum::extract::State;
use indexmap::IndexMap;
use loamline_acoustics::{BassBand, RankedSetting, SearchCoverage};
use loamline_geometry::Point3;
use loamline_model::Units;
use loamline_study::{Alone, AreaBass, BassReport, Null, bass};
use loamline_terms::listed;
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(bass_view))
}

/// The bass.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct BassAnswer {
    /// Revision of the job it is of.
    revision: u64,
    /// What the subwoofers give, where they cancel, what is evener.
    #[serde(flatten)]
    report: BassReport,
    /// How the figures of each area came about, by its id.
    workings: IndexMap<String, BassWorkings>,
}

/// How the figures of an area came about.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct BassWorkings {
    /// Nominal frequency of each of its `bands`, Hz.
    bands_hz: Vec<f64>,
    /// Of each of its `bands`.
    bands: Vec<WhyView>,
    /// Of each of its `nulls`.
    nulls: Vec<WhyView>,
    /// Of each of its `ranking`.
    ranking: Vec<WhyView>,
}

fn workings(a: &AreaBass, units: Units) -> BassWorkings {
    BassWorkings {
        bands_hz: a.bands.iter().map(|b| b.band.nominal_hz()).collect(),
        bands: a.bands.iter().zip(&a.alone).map(|(b, alone)| band_why(a, b, alone, units)).collect(),
        nulls: a.nulls.iter().map(|n| null_why(a, n, units)).collect(),
        ranking: a.ranking.iter().map(|r| setting_why(a, r, units)).collect(),
    }
}

/// The bass: levels, where subwoofers cancel, evener settings.
#[utoipa::path(get, path = "/api/jobs/{id}/bass", tag = "Sound",
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = BassAnswer), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn bass_view(State(app): State<App>, In(id): In<String>) -> Result<Told, ApiError> {
    app.shared(Work::Settings, "bass", id, |job| {
        let Snapshot { study, revision, .. } = job.now();
        let sound = study.sound();
        let sound = sound.as_ref().as_ref().map_err(|why| not_yet(why.told()))?;
        let report = bass(study.job(), sound).map_err(|why| not_yet(why.told()))?;
        let units = study.job().document().units();
        let workings = report.areas.iter().map(|(id, a)| (id.clone(), workings(a, units))).collect();
        Ok(BassAnswer { revision, report, workings })
    })
    .await
}

const SOURCE: &str = "waves from every subwoofer over all its paths: spreading, air (ISO 9613-1), ground (Chien and Soroka \
     1975, Delany and Bazley 1970), walls as mirrors; third octaves by IEC 61260-1";

fn why(steps: Vec<String>) -> WhyView {
    WhyView { about: String::new(), steps, source: SOURCE.to_owned() }
}

fn place(p: Point3, units: Units) -> String {
    format!("{} east, {} north", units.run(p.x), units.run(p.y))
}

/// "S1 61.2 dB and S2 58.0 dB".
fn each(a: &AreaBass, levels_db: &[f64]) -> String {
    let one = |(tag, db): (&String, &f64)| format!("{tag} {db} dB", db = loamline_terms::fixed(db, 1));
    listed(&a.subwoofers.iter().zip(levels_db).map(one).collect::<Vec<_>>())
}

fn points(a: &AreaBass, units: Units) -> String {
    let taken = format!("Taken at {} points over the area, {} apart.", a.points, units.length(a.spacing_m));
    a.coarser.as_ref().map_or(taken.clone(), |why| format!("{taken} {why}"))
}

fn band_why(a: &AreaBass, b: &BassBand, alone: &Alone, units: Units) -> WhyView {
    let hz = b.band.nominal_hz();
    let mut steps = vec![
        points(a, units),
        format!(
            "At {hz} Hz, alone, each gives on average over the area: {}. By energy that would be {} dB; added as waves, \
             with level, delay and polarity as set, it is {} dB.",
            each(a, &alone.level_db),
            loamline_terms::fixed(energy_sum_db(&alone.level_db), 1),
            loamline_terms::fixed(b.level_db, 1)
        ),
        format!(
            "From point to point it varies by {} dB (standard deviation); between its quietest and its loudest tenth lie {} \
             dB.",
            loamline_terms::fixed(b.deviation_db, 1),
            loamline_terms::fixed(b.spread_db, 1)
        ),
    ];
    let lowest = format!(
        "It is quietest at {}: {} dB",
        place(alone.lowest_at, units),
        loamline_terms::fixed(b.lowest_db, 1)
    );
    steps.push(match a.subwoofers.len() {
        1 => format!("{lowest}."),
        _ => format!("{lowest}; alone there: {}.", each(a, &alone.alone_db)),
    });
    why(steps)
}

fn null_why(a: &AreaBass, n: &Null, units: Units) -> WhyView {
    let louder = n.alone_db.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    why(vec![
        points(a, units),
        format!("At {} Hz, at {}, alone: {}.", n.band_hz, place(n.at, units), each(a, &n.alone_db)),
        format!(
            "They arrive out of step: together {} dB, {} dB below the louder alone ({louder} dB). In step they \
             would add up to more.",
            loamline_terms::fixed(n.level_db, 1),
            loamline_terms::fixed(n.below_louder_db, 1),
            louder = loamline_terms::fixed(louder, 1)
        ),
        format!(
            "Over {} % of the points all together are quieter than the loudest alone.",
            loamline_terms::fixed(100.0 * n.share, 0)
        ),
    ])
}

fn setting_why(a: &AreaBass, r: &RankedSetting, units: Units) -> WhyView {
    let tried = match a.coverage {
        SearchCoverage::Every { evaluated } => {
            format!("All {evaluated} sets of polarity and delay (steps of 2 ms or more) were tried.")
        }
        SearchCoverage::Part { evaluated, possible, .. } => format!(
            "{evaluated} of {possible} sets of polarity and delay were tried, the most promising first.",
            possible = loamline_terms::fixed(possible, 0)
        ),
    };
    let bands: Vec<String> = r
        .bands
        .iter()
        .map(|b| format!("{} Hz {} dB", b.band.nominal_hz(), loamline_terms::fixed(b.deviation_db, 1)))
        .collect();
    why(vec![
        points(a, units),
        tried,
        format!(
            "With this one each third octave varies over the area by: {}. Their mean is {} dB; as set now it is {} \
             dB.",
            listed(&bands),
            loamline_terms::fixed(r.deviation_db, 1),
            loamline_terms::fixed(a.deviation_db, 1)
        ),
        format!(
            "Together the bands come to {} dB; as set now to {} dB.",
            loamline_terms::fixed(r.level_db, 1),
            loamline_terms::fixed(a.level_db, 1)
        ),
    ])
}
