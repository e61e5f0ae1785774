//! Proposals: asked for, watched on the live channel, fetched when they are done.

use super::extract::{Body, In};
use super::jobs::PatchOperation;
use super::{App, FindingView, finding_views};
use crate::error::{ApiError, ErrorBody};
use crate::jobs::{Event, OpenJob};
use crate::random::letters;
use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use indexmap::IndexMap;
use loamline_model::Edit;
use loamline_propose::{
    OptionKind, Phase, Proposal, ProposeError, ProposeOptions, ProposeProgress, Proposed, propose,
};
use serde::{Deserialize, Serialize};
use serde_json::json;
use std::collections::VecDeque;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(start)).routes(routes!(run, stop))
}

/// Finished and running proposals that are kept; older ones are forgotten.
const KEPT: usize = 16;
/// Time between two signs of life on the live channel.
const TOLD_EVERY: Duration = Duration::from_millis(150);

/// A proposal being made or made.
struct Run {
    id: String,
    job: String,
    stopped: AtomicBool,
    outcome: Mutex<Option<Result<RunView, ApiError>>>,
}

/// Proposals being made and made, the oldest first.
#[derive(Clone, Default)]
pub struct Runs(Arc<Mutex<VecDeque<Arc<Run>>>>);

impl Runs {
    fn find(&self, job: &str, id: &str) -> Result<Arc<Run>, ApiError> {
        let runs = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let run = runs.iter().find(|r| r.id == id && r.job == job).map(Arc::clone);
        run.ok_or_else(|| ApiError::not_found(format!("proposal \"{id}\"")))
    }

    /// Takes a new one in; one still being made for the same job is stopped.
    fn add(&self, run: Arc<Run>) {
        let mut runs = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        for other in runs.iter().filter(|r| r.job == run.job) {
            other.stopped.store(true, Ordering::Relaxed);
        }
        while runs.len() >= KEPT {
            if let Some(oldest) = runs.pop_front() {
                oldest.stopped.store(true, Ordering::Relaxed);
            }
        }
        runs.push_back(run);
    }
}

/// What is wanted.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ProposeRequest {
    /// Work allowed for each design, as the seconds two usual cores take for it: 0.5 to 600.
    #[schema(minimum = 0.5, maximum = 600)]
    time_s: f64,
    /// How many options at most, 1 to 3: at least cost, balanced, most even; 3 when absent.
    #[schema(minimum = 1, maximum = 3)]
    options: Option<u8>,
    /// Seed of the search: the same seed gives the same answer.
    seed: Option<u64>,
}

/// A proposal that has been started.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Started {
    /// Its id.
    run: String,
}

/// A proposal.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RunView {
    /// Its id.
    run: String,
    /// Revision of the job it is for.
    revision: u64,
    /// Whether it is finished.
    done: bool,
    /// Whether it was stopped before it was finished.
    stopped: bool,
    /// Currency of all amounts.
    currency: String,
    /// Designs that meet the brief, cheapest first.
    options: Vec<ProposalView>,
    /// Why none does.
    failure: Option<FailureView>,
    /// Proven: no choice among the candidates looked at costs less, tax included.
    bound: Option<f64>,
    /// Places looked at.
    places: usize,
    /// Ways of using them looked at: model, aim and tap.
    candidates: usize,
}

/// A proposed design; not carried out: send the patch as an edit.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ProposalView {
    /// `least-cost`, `balanced`, `most-even`: those it is the answer to.
    kinds: Vec<String>,
    /// What the client pays, tax included.
    cost: f64,
    /// The same before tax.
    net: f64,
    /// Loudspeakers, their mounting, their share of cable and amplification, as the search saw it, tax included: what
    /// `bound` is the least of.
    choice_cost: f64,
    /// In a sentence.
    summary: String,
    /// Figures for people, by what they are.
    figures: IndexMap<String, String>,
    /// Areas by id.
    areas: IndexMap<String, ProposedArea>,
    /// What each loudspeaker is for.
    reasons: Vec<ReasonView>,
    /// Lines that were measured or worked on and that it replaces.
    replaces: Vec<ReplacedView>,
    /// What wants attention in the finished design.
    findings: Vec<FindingView>,
    /// The edit that writes it into the job.
    #[schema(value_type = Vec<PatchOperation>)]
    patch: Edit,
}

/// An area in a design.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ProposedArea {
    /// Level wanted, dBA.
    target_dba: f64,
    /// Mean level, dBA.
    mean_dba: f64,
    /// Share within the band, 0 to 1.
    share_within: f64,
    /// 90th less 10th percentile, dB.
    spread_db: f64,
}

/// A line that a design replaces or takes away although something was measured or done on it: the visits keep all of it,
/// with the line as it was.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ReplacedView {
    /// The line.
    line: String,
    /// Visits at which something was measured or done on it.
    visits: Vec<String>,
    /// Readings that were taken of it.
    readings: usize,
    /// Things ticked off on it.
    done: usize,
    /// Photos of it.
    photos: usize,
    /// The same as a sentence.
    sentence: String,
}

/// What a loudspeaker is for.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ReasonView {
    /// Which.
    loudspeaker: String,
    /// What would be lost without it.
    sentence: String,
}

/// Why no design meets the brief.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FailureView {
    /// What stands in the way, with the numbers.
    sentence: String,
    /// The nearest brief that one meets.
    nearest: Option<String>,
    /// The edit of the brief that makes it so.
    #[schema(value_type = Option<Vec<PatchOperation>>)]
    relax: Option<Edit>,
}

fn percent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share)
}

fn proposal_view(p: &Proposed, currency: &str) -> ProposalView {
    let f = &p.figures;
    let subwoofers = match f.subwoofers {
        0 => String::new(),
        1 => " and 1 subwoofer".to_owned(),
        n => format!(" and {n} subwoofers"),
    };
    let summary = format!(
        "{} loudspeakers{subwoofers}; at least {} of every area lies within its band, spread at most {:.1} dB.",
        f.loudspeakers,
        percent(f.worst_share_within),
        f.worst_spread_db
    );
    let mut figures = IndexMap::new();
    let mut add = |what: &str, value: String| figures.insert(what.to_owned(), value);
    add("Price with tax", format!("{:.2} {currency}", f.price));
    add("Loudspeakers", f.loudspeakers.to_string());
    add("Subwoofers", f.subwoofers.to_string());
    add("Amplifiers", f.amplifiers.to_string());
    add("Taps together", format!("{:.0} W", f.watts));
    add("Within the band, worst area", percent(f.worst_share_within));
    add("Spread, worst area", format!("{:.1} dB", f.worst_spread_db));
    if let Some(margin) = f.neighbour_margin_db {
        add("Margin at the neighbours", format!("{margin:.1} dB"));
    }
    if let Some(loudest) = f.loudest_dba {
        add("Loudest place", format!("{loudest:.0} dBA"));
    }
    add("Cable", format!("{:.0} m", f.cable_m));
    add("Digging", format!("{:.0} m", f.digging_m));
    let area = |a: &loamline_propose::AreaFigures| ProposedArea {
        target_dba: a.target_dba,
        mean_dba: a.mean_dba,
        share_within: a.share_within,
        spread_db: a.spread_db,
    };
    ProposalView {
        kinds: p.kinds.iter().map(|k| k.word().to_owned()).collect(),
        cost: f.price,
        net: f.net,
        choice_cost: p.choice_cost,
        summary,
        figures,
        areas: f.areas.iter().map(|(id, a)| (id.clone(), area(a))).collect(),
        reasons: p
            .reasons
            .iter()
            .map(|r| ReasonView { loudspeaker: r.loudspeaker.clone(), sentence: r.sentence.clone() })
            .collect(),
        replaces: p
            .replaces
            .iter()
            .map(|r| ReplacedView {
                line: r.line.clone(),
                visits: r.visits.clone(),
                readings: r.readings,
                done: r.done,
                photos: r.photos,
                sentence: r.sentence.clone(),
            })
            .collect(),
        findings: finding_views(&p.findings),
        patch: p.edit.clone(),
    }
}

fn run_view(id: &str, revision: u64, p: &Proposal) -> RunView {
    RunView {
        run: id.to_owned(),
        revision,
        done: true,
        stopped: false,
        currency: p.currency.clone(),
        options: p.options.iter().map(|o| proposal_view(o, &p.currency)).collect(),
        failure: p.failure.as_ref().map(|f| FailureView {
            sentence: f.sentence.clone(),
            nearest: f.nearest.clone(),
            relax: f.relax.clone(),
        }),
        bound: Some(p.bound),
        places: p.places,
        candidates: p.candidates,
    }
}

/// A run that has no outcome: being made, or stopped.
fn unfinished(id: &str, revision: u64, stopped: bool) -> RunView {
    RunView {
        run: id.to_owned(),
        revision,
        done: stopped,
        stopped,
        currency: String::new(),
        options: Vec::new(),
        failure: None,
        bound: None,
        places: 0,
        candidates: 0,
    }
}

const fn phase_words(p: Phase) -> &'static str {
    match p {
        Phase::Candidates => "Looking for places",
        Phase::Choosing => "Choosing loudspeakers",
        Phase::Refining => "Settling places and aims",
        Phase::Building => "Wiring and routing",
        Phase::Checking => "Checking",
        Phase::Relaxing => "Looking for the nearest brief that can be met",
        Phase::Done => "Done",
    }
}

const fn first_sign() -> ProposeProgress {
    ProposeProgress { phase: Phase::Candidates, option: None, done: 0.0, best_cost: None, bound: None }
}

/// Makes a proposal, telling everybody looking at the job how far it is.
fn make(job: &OpenJob, run: &Run, options: &ProposeOptions) {
    let now = job.now();
    let last = Mutex::new((Instant::now(), first_sign()));
    let tell = |p: &ProposeProgress, done: bool| {
        job.tell(Event::Message(Arc::new(json!({
            "kind": "propose", "run": run.id, "phase": phase_words(p.phase),
            "option": p.option.map(OptionKind::word), "share": p.done, "best_cost": p.best_cost,
            "bound": p.bound, "done": done,
        }))));
    };
    let watch = |p: &ProposeProgress| {
        let mut last = last.lock().unwrap_or_else(PoisonError::into_inner);
        if last.0.elapsed() >= TOLD_EVERY || last.1.phase != p.phase {
            tell(p, false);
            last.0 = Instant::now();
        }
        last.1 = p.clone();
        !run.stopped.load(Ordering::Relaxed)
    };
    let outcome = match propose(&now.file, options, &watch) {
        Ok(p) => Ok(run_view(&run.id, now.revision, &p)),
        Err(ProposeError::Cancelled) => Ok(unfinished(&run.id, now.revision, true)),
        Err(ProposeError::Brief(why)) => {
            let problems =
                why.iter().map(|w| crate::error::FieldProblem::new("/brief", w.to_string())).collect();
            Err(ApiError::invalid(
                why.iter().map(ToString::to_string).collect::<Vec<_>>().join(" "),
                problems,
            ))
        }
    };
    *run.outcome.lock().unwrap_or_else(PoisonError::into_inner) = Some(outcome);
    let last = last.into_inner().unwrap_or_else(PoisonError::into_inner).1;
    tell(&last, true);
}

/// Starts a proposal; one still being made for this job is stopped. Nothing is changed. Everybody looking at the job
/// hears how far it is on the live channel.
#[utoipa::path(post, path = "/api/jobs/{id}/propose", tag = "Sound", request_body = ProposeRequest,
    params(("id" = String, Path, description = "The job")),
    responses((status = 202, body = Started), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn start(
    State(app): State<App>,
    In(id): In<String>,
    Body(asked): Body<ProposeRequest>,
) -> Result<(StatusCode, Json<Started>), ApiError> {
    if !(0.5..=600.0).contains(&asked.time_s) {
        return Err(ApiError::field("/time_s", format!("{} s; give 0.5 s to 600 s.", asked.time_s)));
    }
    let wanted = match asked.options {
        Some(1) => vec![OptionKind::LeastCost],
        Some(2) => vec![OptionKind::LeastCost, OptionKind::MostEven],
        None | Some(3 | 4) => OptionKind::ALL.to_vec(),
        Some(n) => return Err(ApiError::field("/options", format!("{n} options; give 1 to 3."))),
    };
    let options = ProposeOptions { wanted, work_s: asked.time_s, seed: asked.seed.unwrap_or(1) };
    let job = app.job(id, |job| Ok(Arc::clone(job))).await?;
    let run = Arc::new(Run {
        id: letters(10)?,
        job: job.id().to_owned(),
        stopped: AtomicBool::new(false),
        outcome: Mutex::default(),
    });
    app.runs.add(Arc::clone(&run));
    let started = Started { run: run.id.clone() };
    // Not waited for: it ends by itself, or when it is stopped.
    let background = app.background.clone();
    tokio::spawn(async move {
        background
            .run(move || {
                make(&job, &run, &options);
                Ok(())
            })
            .await
    });
    Ok((StatusCode::ACCEPTED, Json(started)))
}

/// A proposal: its designs once `done` is true.
#[utoipa::path(get, path = "/api/jobs/{id}/propose/{run}", tag = "Sound",
    params(("id" = String, Path, description = "The job"), ("run" = String, Path, description = "The proposal")),
    responses((status = 200, body = RunView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn run(State(app): State<App>, In((id, run)): In<(String, String)>) -> Result<Json<RunView>, ApiError> {
    let found = app.runs.find(&id, &run)?;
    let outcome = found.outcome.lock().unwrap_or_else(PoisonError::into_inner).clone();
    let stopped = found.stopped.load(Ordering::Relaxed);
    outcome.unwrap_or_else(|| Ok(unfinished(&run, 0, stopped))).map(Json)
}

/// Stops a proposal.
#[utoipa::path(delete, path = "/api/jobs/{id}/propose/{run}", tag = "Sound",
    params(("id" = String, Path, description = "The job"), ("run" = String, Path, description = "The proposal")),
    responses((status = 204, description = "Stopped"), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn stop(State(app): State<App>, In((id, run)): In<(String, String)>) -> Result<StatusCode, ApiError> {
    app.runs.find(&id, &run)?.stopped.store(true, Ordering::Relaxed);
    Ok(StatusCode::NO_CONTENT)
}
