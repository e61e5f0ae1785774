//! What a meter should read, and what explains what it reads.

use super::extract::{Body, In};
use super::meter_why::answer_why;
use super::why::WhyView;
use crate::app::App;
use crate::background::Work;
use crate::error::{ApiError, ErrorBody, FieldProblem, not_yet};
use crate::jobs::{OpenJob, Snapshot};
use crate::told::Told;
use axum::Json;
use axum::extract::State;
use indexmap::IndexMap;
use loamline_adapt::laid_runs;
use loamline_faults::{Grade, MeterReading, NextTest, Place, Shown, Test, Tolerances};
use loamline_study::{
    ExpectedLine, JudgedLevel, JudgedReading, Located, Measured, Question, SoFar, explain, judged_levels,
    measured_words, meter_frequencies_hz, ohms, so_far, visit_asks,
};
use loamline_terms::{Sentence, Told as Said, say};
use serde::{Deserialize, Serialize};
use std::sync::Arc;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(expected)).routes(routes!(locate))
}

/// What a meter should read.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ExpectAnswer {
    /// Revision of the job it is of.
    revision: u64,
    /// Lines by id.
    lines: IndexMap<String, ExpectedLine>,
    /// Every reading of the visits with its verdict, the oldest first.
    readings: Vec<JudgedReading>,
    /// Every sound level of the visits that something is asked of, with its verdict, the oldest first.
    levels: Vec<JudgedLevel>,
}

fn expect_answer(job: &OpenJob) -> Result<ExpectAnswer, ApiError> {
    let Snapshot { study, revision, .. } = job.now();
    let expected = study.expected(&meter_frequencies_hz(study.job()), &Tolerances::default());
    let lines = expected.as_ref().as_ref().map_err(|why| not_yet(why.told()))?.clone();
    let levels = judged_levels(study.job());
    Ok(ExpectAnswer { revision, lines, readings: study.judged().to_vec(), levels })
}

/// What a meter should read on every line: at the frequencies the job states for its meter, else with direct current, at
/// 100 Hz, 315 Hz, 1 kHz and 10 kHz.
#[utoipa::path(get, path = "/api/jobs/{id}/expect", tag = "Visits",
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = ExpectAnswer), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn expected(State(app): State<App>, In(id): In<String>) -> Result<Told, ApiError> {
    app.shared(Work::Results, "expect", id, expect_answer).await
}

/// Readings to explain.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LocateRequest {
    /// The line they were taken on.
    line: String,
    /// What the meter showed.
    #[serde(default)]
    #[schema(max_items = 200)]
    readings: Vec<ReadingInput>,
    /// Joints that were opened and looked good.
    #[serde(default)]
    opened: Vec<String>,
    /// Also the readings of this visit recorded in the job.
    visit: Option<String>,
    /// Temperature of the ground, degrees Celsius; that of the visit when absent.
    ground_temperature_c: Option<f64>,
}

/// A reading: ohms, or an open line.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ReadingInput {
    /// The joint at which the run towards the rack was taken off; the rack when absent.
    at: Option<String>,
    /// Meter frequency, Hz; 0 for direct current.
    frequency_hz: f64,
    /// What the meter showed, ohm; null or absent when it showed an open line.
    ohm: Option<f64>,
    /// Phase of the impedance, degrees, where the meter shows it; positive for inductive.
    phase_deg: Option<f64>,
}

/// What explains readings.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct LocateAnswer {
    /// Revision of the job it is of.
    revision: u64,
    /// The ranking, what to do next, and where on the plan.
    located: Located,
    /// Where the visit's readings are right as far as a joint: how far the line is built by them.
    so_far: Option<SoFar>,
    /// What all readings together say of the line, as far as it is built.
    grade: Grade,
    /// What to do next, in words: of a good line that nothing is; null when nothing more would tell.
    next: Option<Said>,
    /// How the likelihood of each of the answers came about, one by one for the explanations it joins.
    why: Vec<Vec<WhyView>>,
}

fn locate_answer(revision: u64, located: Located, so_far: Option<SoFar>) -> LocateAnswer {
    let d = &located.diagnosis;
    let grade = so_far.as_ref().map_or_else(|| d.grade(), |s| s.grade);
    // Nobody digs at a line that is good.
    let next = match grade {
        Grade::Good => Some(say!("nothing is to be done: the line is good.").into()),
        Grade::Doubtful | Grade::Bad => d.next.first().map(|n| next_sentence(n).into()),
    };
    LocateAnswer {
        revision,
        grade,
        so_far,
        next,
        why: d.answers.iter().map(|a| answer_why(d, a)).collect(),
        located,
    }
}

fn next_sentence(n: &NextTest) -> Sentence {
    let at = |hz: f64| {
        if hz > 0.0 {
            say!("at {frequency}", frequency = measured_words(Measured::Loop(hz)))
        } else {
            say!("with direct current")
        }
    };
    let what = match &n.test {
        Test::AtRack(hz) => say!("read at the rack {how}", how = at(*hz)),
        Test::OpenJoint { joint, frequency_hz } => say!(
            "open {joint}, take off the run towards the rack and read away from it {how}",
            joint = joint,
            how = at(*frequency_hz)
        ),
    };
    let in_order = n.good_ohm.map_or_else(|| say!("open"), |ohm| ohms(ohm).into());
    say!(
        "{what}; a line in order reads {reading} there. About {minutes} minutes.",
        what = what,
        reading = in_order,
        minutes = loamline_terms::fixed(n.minutes, 0)
    )
}

fn readings(inputs: &[ReadingInput]) -> Result<Vec<MeterReading>, ApiError> {
    let mut problems = Vec::new();
    let mut check = |path: String, value: Option<f64>, low: f64, high: f64, unit: &str| {
        if let Some(v) = value.filter(|v| !(low..=high).contains(v)) {
            problems.push(FieldProblem {
                expected: Some(format!("from {low} {unit} to {high} {unit}")),
                ..FieldProblem::new(
                    path,
                    say!("{value} {unit} is out of range.", value = v.to_string(), unit = unit),
                )
            });
        }
    };
    for (i, r) in inputs.iter().enumerate() {
        check(format!("/readings/{i}/frequency_hz"), Some(r.frequency_hz), 0.0, 40_000.0, "Hz");
        check(format!("/readings/{i}/ohm"), r.ohm, 0.0, 1e9, "ohm");
        check(format!("/readings/{i}/phase_deg"), r.phase_deg, -180.0, 180.0, "degrees");
    }
    if !problems.is_empty() {
        return Err(ApiError::invalid(say!("These readings cannot be taken as they are."), problems));
    }
    let one = |r: &ReadingInput| MeterReading {
        place: r.at.clone().map_or(Place::Rack, Place::Downstream),
        frequency_hz: r.frequency_hz,
        shown: r.ohm.map_or(Shown::Open, Shown::Ohm),
        phase_rad: r.phase_deg.map(f64::to_radians),
    };
    Ok(inputs.iter().map(one).collect())
}

/// Ranks what would explain readings of a line, and says what to do next.
#[utoipa::path(post, path = "/api/jobs/{id}/locate", tag = "Visits", request_body = LocateRequest,
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = LocateAnswer), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn locate(
    State(app): State<App>,
    In(id): In<String>,
    Body(asked): Body<LocateRequest>,
) -> Result<Json<LocateAnswer>, ApiError> {
    let mut question = Question {
        readings: readings(&asked.readings)?,
        opened: asked.opened,
        insulation: None,
        tolerances: Tolerances::default(),
        ground_temperature_c: asked.ground_temperature_c,
        pairs: false,
    };
    if let Some(c) = question.ground_temperature_c.filter(|c| !(-30.0..=60.0).contains(c)) {
        return Err(ApiError::field(
            "/ground_temperature_c",
            say!("{celsius} °C is no temperature of the ground.", celsius = c.to_string()),
        ));
    }
    app.results(Work::Results, id, move |job| {
        let Snapshot { study, revision, .. } = job.now();
        let (mut known, mut runs) = (study.job().clone(), study.runs());
        // What is asked beside the visit is of the line as drawn.
        let bare = question.readings.is_empty();
        let built = asked.visit.as_ref().filter(|_| bare);
        let built = built.and_then(|visit| so_far(&study.judged(), visit, &asked.line));
        if let Some(name) = &asked.visit {
            let visit = known.document().visits.get(name).cloned();
            let visit = visit.ok_or_else(|| {
                ApiError::field("/visit", say!("There is no visit \"{name}\".", name = name))
            })?;
            let visit = &visit;
            let (was, asks) =
                visit_asks(&known, visit, &asked.line).map_err(|why| ApiError::study("/line", &why))?;
            question.readings.extend(asks.readings);
            question.opened.extend(asks.opened);
            question.insulation = asks.insulation;
            question.ground_temperature_c = question.ground_temperature_c.or(asks.ground_temperature_c);
            runs = Arc::new(laid_runs(&was));
            known = was;
        }
        let located =
            explain(&known, &runs, &asked.line, &question).map_err(|why| ApiError::study("", &why))?;
        Ok(Json(locate_answer(revision, located, built)))
    })
    .await
}
