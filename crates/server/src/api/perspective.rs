//! The garden in perspective with the sound on the ground.

use super::extract::{Asked, In};
use crate::app::App;
use crate::background::Work;
use crate::error::{ApiError, ErrorBody};
use axum::extract::State;
use axum::http::HeaderName;
use axum::http::header::CONTENT_TYPE;
use axum::response::IntoResponse;
use serde::Deserialize;
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(perspective))
}

/// From where and how the garden is shown.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
#[cfg_attr(not(feature = "papers"), expect(dead_code, reason = "read by what draws alone"))]
pub struct PerspectiveQuery {
    /// Bearing to look along, degrees clockwise from plan north; towards the house when absent.
    bearing: Option<f64>,
    /// How far down to look, degrees below the horizon: 15 to 85; 35 when absent, more where walls would hide a small place.
    tilt: Option<f64>,
    /// How loud the system is played.
    #[serde(default)]
    #[param(inline)]
    when: WhenWord,
    /// A programme whose sound alone is shown; everything when absent.
    programme: Option<String>,
    /// Top of the scale of colours, dBA; what suits the loudest place, the system as set, when absent.
    top: Option<f64>,
    /// Width, millimetres: 60 to 420; 240 when absent. Letters are 2.5 mm high and more.
    width: Option<f64>,
    /// Height, millimetres: 60 to 420; 160 when absent.
    height: Option<f64>,
    /// Whether there is a key under it; there is when absent.
    key: Option<bool>,
}

/// How loud the system is played.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum WhenWord {
    /// As it is set.
    #[default]
    Party,
    /// Turned down as the brief says for the evening.
    Evening,
    /// Turned down as the brief says for the night.
    Night,
}

/// The garden in perspective, what stands on it standing up, the sound painted on the ground: SVG.
#[utoipa::path(get, path = "/api/jobs/{id}/perspective.svg", tag = "Sound",
    params(("id" = String, Path, description = "The job"), PerspectiveQuery),
    responses((status = 200, description = "The picture", content_type = "image/svg+xml", body = String),
        (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn perspective(
    State(app): State<App>,
    In(id): In<String>,
    Asked(query): Asked<PerspectiveQuery>,
) -> Result<impl IntoResponse, ApiError> {
    let (svg, bearing_deg) = app.results(Work::Results, id, move |job| made::picture(job, &query)).await?;
    let heads = [
        (CONTENT_TYPE, "image/svg+xml".to_owned()),
        (HeaderName::from_static(BEARING_HEADER), format!("{bearing_deg:.1}")),
    ];
    Ok((heads, svg))
}

/// Header with the bearing of the picture, degrees: who asked for the usual one turns on from there.
const BEARING_HEADER: &str = "x-loamline-bearing";

#[cfg(feature = "papers")]
mod made {
    use super::{PerspectiveQuery, WhenWord};
    use crate::error::{ApiError, FieldProblem, cannot};
    use crate::jobs::OpenJob;
    use loamline_model::document::Language;
    use loamline_papers::{PictureError, PictureView, Words, perspective, usual_bearing_deg};
    use loamline_study::{Played, PlayedAt, played};
    use loamline_terms::say;

    /// What a level may be, dBA, to colour by.
    const TOPS_DBA: (f64, f64) = (20.0, 160.0);
    /// Bearings that are turned back into a full circle, degrees either way.
    const BEARINGS_DEG: (f64, f64) = (-3600.0, 3600.0);

    /// The picture, and the bearing it is seen along, degrees.
    pub fn picture(job: &OpenJob, query: &PerspectiveQuery) -> Result<(String, f64), ApiError> {
        let now = job.now();
        let mut view = view(query, &played(now.study.job()))?;
        let bearing_deg = view.bearing_deg.unwrap_or_else(|| usual_bearing_deg(now.study.job()));
        view.bearing_deg = Some(bearing_deg);
        let spoken = now.study.job().document().about.language.unwrap_or(Language::English);
        let words = Words::of(spoken).map_err(cannot)?;
        let svg = perspective(&now.study, &view, &words).map_err(|why| match why {
            PictureError::Programme { .. } => ApiError::field("?programme", capital(&why.to_string())),
            why => cannot(capital(&why.to_string())),
        })?;
        Ok((svg, bearing_deg))
    }

    /// A reason as a sentence.
    fn capital(why: &str) -> String {
        format!("{}.", loamline_terms::capitalised(why))
    }

    fn view(query: &PerspectiveQuery, ways: &[Played]) -> Result<PictureView, ApiError> {
        let mut problems = Vec::new();
        let mut within = |name: &str, value: Option<f64>, (least, most): (f64, f64), unit: &str| {
            if let Some(v) = value.filter(|v| !(least..=most).contains(v)) {
                problems.push(FieldProblem {
                    expected: Some(format!("from {least} {unit} to {most} {unit}")),
                    ..FieldProblem::new(
                        format!("?{name}"),
                        say!("{value} {unit} is out of range.", value = v.to_string(), unit = unit),
                    )
                });
            }
        };
        within("bearing", query.bearing, BEARINGS_DEG, "degrees");
        within("tilt", query.tilt, PictureView::TILTS_DEG, "degrees");
        within("top", query.top, TOPS_DBA, "dBA");
        within("width", query.width, PictureView::SIZES_MM, "mm");
        within("height", query.height, PictureView::SIZES_MM, "mm");
        let at = match query.when {
            WhenWord::Party => PlayedAt::Party,
            WhenWord::Evening => PlayedAt::Evening,
            WhenWord::Night => PlayedAt::Night,
        };
        let way = ways.iter().find(|p| p.at == at).copied();
        if way.is_none() {
            let known: Vec<&str> = ways.iter().map(|p| p.at.word()).collect();
            problems.push(FieldProblem {
                expected: Some(known.join(", ")),
                ..FieldProblem::new("?when", format!("The brief says nothing of the {}.", at.word()))
            });
        }
        let (Some(played), true) = (way, problems.is_empty()) else {
            return Err(ApiError::invalid(say!("This picture cannot be drawn."), problems));
        };
        Ok(PictureView {
            bearing_deg: query.bearing.map(|b| b.rem_euclid(360.0)),
            tilt_deg: query.tilt,
            played,
            programme: query.programme.clone(),
            top_db: query.top,
            key: query.key.unwrap_or(true),
            alone: true,
            ..PictureView::usual((query.width.unwrap_or(240.0), query.height.unwrap_or(160.0)))
        })
    }

    #[cfg(test)]
    mod tests {
        use super::*;

        fn asked(query: &str) -> PerspectiveQuery {
            let uri: axum::http::Uri = format!("http://x/?{query}").parse().unwrap();
            axum::extract::Query::try_from_uri(&uri).unwrap().0
        }

        #[test]
        fn every_figure_out_of_range_is_named() {
            let ways = [Played { at: PlayedAt::Party, turned_down_db: 0.0 }];
            let view = view(&asked("bearing=-30&width=100"), &ways).unwrap();
            assert_eq!((view.bearing_deg, view.size_mm), (Some(330.0), (100.0, 160.0)));
            let refused = super::view(&asked("tilt=5&width=10&when=night"), &ways).unwrap_err();
            let paths: Vec<&str> = refused.problem.problems.iter().map(|p| p.path.as_str()).collect();
            assert_eq!(paths, ["?tilt", "?width", "?when"]);
        }
    }
}

#[cfg(not(feature = "papers"))]
mod made {
    use super::PerspectiveQuery;
    use crate::error::ApiError;
    use crate::error_code::ErrorCode;
    use crate::jobs::OpenJob;

    pub fn picture(_: &OpenJob, _: &PerspectiveQuery) -> Result<(String, f64), ApiError> {
        Err(ApiError::new(
            axum::http::StatusCode::NOT_FOUND,
            ErrorCode::NotBuilt,
            loamline_terms::say!("The picture is not in this program: it was built without the papers."),
        ))
    }
}
