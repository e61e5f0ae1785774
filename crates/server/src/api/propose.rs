//! Proposals: asked for, watched on the live channel, fetched when they are done.

use super::extract::{Body, In};
use super::proposed::ProposalAnswer;
use crate::app::App;
use crate::background::{Work, blocking};
use crate::error::{ApiError, ErrorBody};
use crate::firm::Firm;
use crate::jobs::{Event, OpenJob};
use crate::proposal_runs::ProposalRun;
use crate::random::letters;
use crate::told::Told;
use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use loamline_limits::{Leave, PROPOSAL_WORK_S};
use loamline_propose::{OptionKind, Phase, ProposeError, ProposeOptions, ProposeProgress, propose};
use loamline_quotation::PriceBook;
use serde::{Deserialize, Serialize};
use serde_json::json;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(start)).routes(routes!(run, stop))
}

/// Time between two signs of life on the live channel.
const TOLD_EVERY: Duration = Duration::from_millis(150);

/// What is wanted.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ProposeRequest {
    /// Work allowed for all options together, as the seconds two usual cores take for it: 0.5 to 600; absent, what suits the
    /// site.
    #[schema(minimum = 0.5, maximum = 600)]
    time_s: Option<f64>,
    /// Options wanted: least-cost, balanced, most-even, loudest, least-cost-mixed; all when absent.
    options: Option<Vec<OptionKind>>,
    /// Seed of the search: the same seed gives the same answer.
    seed: Option<u64>,
}

/// A proposal that has been started.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Started {
    /// Its id.
    run: String,
}

const fn first_sign() -> ProposeProgress {
    ProposeProgress { phase: Phase::Candidates, option: None, done: 0.0, best_cost: None, bound: None }
}

/// Tells everybody looking at the job how far a proposal is.
fn tell(job: &OpenJob, run: &ProposalRun, p: &ProposeProgress, done: bool) {
    job.tell(Event::Message(Arc::new(json!({
        "kind": "propose", "run": run.id, "phase": p.phase.words(),
        "option": p.option.map(OptionKind::word), "share": p.done, "best_cost": p.best_cost,
        "bound": p.bound, "done": done,
    }))));
}

/// Tells everybody looking at the job that a proposal waits for others to be made.
fn tell_waiting(job: &OpenJob, run: &ProposalRun, place: usize) {
    job.tell(Event::Message(Arc::new(json!({
        "kind": "propose", "run": run.id, "phase": format!("Waiting, place {place}"),
        "option": null, "share": 0.0, "best_cost": null, "bound": null, "done": false,
    }))));
}

/// Makes a proposal, telling everybody looking at the job how far it is.
fn make(job: &OpenJob, run: &ProposalRun, options: &ProposeOptions) {
    let now = job.now();
    let last = Mutex::new((Instant::now(), first_sign()));
    let watch = |p: &ProposeProgress| {
        let mut last = last.lock().unwrap_or_else(PoisonError::into_inner);
        if last.0.elapsed() >= TOLD_EVERY || last.1.phase != p.phase {
            tell(job, run, p, false);
            last.0 = Instant::now();
        }
        last.1 = p.clone();
        true
    };
    let in_time = Leave::within(options.most());
    let outcome = match run.leave.scope(|| in_time.scope(|| propose(&now.file, options, &watch))) {
        Ok(Ok(Ok(p))) => Told::of(&ProposalAnswer::made(&run.id, now.revision, p)),
        Err(_) | Ok(Ok(Err(ProposeError::Cancelled))) => {
            Told::of(&ProposalAnswer::unfinished(&run.id, now.revision, true))
        }
        Ok(Err(over)) => Err(ApiError::out_of_time("The proposal", over)),
        Ok(Ok(Err(ProposeError::Brief(why)))) => {
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
    tell(job, run, &last, true);
}

/// Starts a proposal; one still being made for this job is stopped. Nothing is changed. Everybody looking at the job
/// hears how far it is on the live channel. It is stopped when nobody has looked at the job there, or asked for the
/// proposal, for 15 s.
#[utoipa::path(post, path = "/api/jobs/{id}/propose", tag = "Sound", request_body = ProposeRequest,
    params(("id" = String, Path, description = "The job")),
    responses((status = 202, body = Started), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn start(
    State(app): State<App>,
    In(id): In<String>,
    Body(asked): Body<ProposeRequest>,
) -> Result<(StatusCode, Json<Started>), ApiError> {
    if let Some(seconds) = asked.time_s.filter(|s| !(0.5..=PROPOSAL_WORK_S.number as f64).contains(s)) {
        let told = format!("{seconds} s; give 0.5 s to {}.", PROPOSAL_WORK_S.shown());
        return Err(ApiError::field("/time_s", told));
    }
    let wanted = match asked.options {
        None => OptionKind::ALL.to_vec(),
        Some(none) if none.is_empty() => {
            return Err(ApiError::field("/options", "No option is named; leave it out for all.".to_owned()));
        }
        Some(wanted) => wanted,
    };
    let options = ProposeOptions {
        wanted,
        work_s: asked.time_s,
        seed: asked.seed.unwrap_or(1),
        prices: firm_prices(&app).await?,
    };
    let job = app.job(id, |job| Ok(Arc::clone(job))).await?;
    let run = Arc::new(ProposalRun::new(letters(10)?, job.id()));
    app.runs.add(Arc::clone(&run));
    let started = Started { run: run.id.clone() };
    // Not waited for: it ends by itself, or when it is stopped, or when everybody has gone away.
    let background = app.background.clone();
    let watcher = tokio::spawn(watch_over(Arc::clone(&job), Arc::clone(&run)));
    tokio::spawn(async move {
        let (told, waiting) = (Arc::clone(&job), Arc::clone(&run));
        let place = |n: usize| {
            tell_waiting(&told, &waiting, n);
            !waiting.is_stopped()
        };
        let turned_away = background
            .run_telling(Work::Proposals, place, {
                let (job, run) = (Arc::clone(&job), Arc::clone(&run));
                move || {
                    make(&job, &run, &options);
                    Ok(())
                }
            })
            .await;
        watcher.abort();
        if let Err(e) = turned_away {
            let outcome = if run.is_stopped() {
                Told::of(&ProposalAnswer::unfinished(&run.id, job.now().revision, true))
            } else {
                Err(e)
            };
            run.outcome.lock().unwrap_or_else(PoisonError::into_inner).get_or_insert(outcome);
            tell(&job, &run, &first_sign(), true);
        }
    });
    Ok((StatusCode::ACCEPTED, Json(started)))
}

/// The firm's own prices, which the papers are reckoned with too.
async fn firm_prices(app: &App) -> Result<PriceBook, ApiError> {
    let jobs = Arc::clone(&app.jobs);
    blocking(move || Firm::of(jobs.store())?.prices()).await
}

/// How often it is looked whether somebody still wants a proposal.
const LOOKED_EVERY: Duration = Duration::from_secs(1);

/// Stops a proposal once nobody has looked at the job, or asked for the proposal, for a while: the browser was closed.
async fn watch_over(job: Arc<OpenJob>, run: Arc<ProposalRun>) {
    while !run.is_forgotten() {
        tokio::time::sleep(LOOKED_EVERY).await;
        if job.is_looked_at() {
            run.watched();
        }
    }
    run.leave.stop();
}

/// A proposal: its designs once `done` is true.
#[utoipa::path(get, path = "/api/jobs/{id}/propose/{run}", tag = "Sound",
    params(("id" = String, Path, description = "The job"), ("run" = String, Path, description = "The proposal")),
    responses((status = 200, body = ProposalAnswer), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn run(State(app): State<App>, In((id, run)): In<(String, String)>) -> Result<Told, ApiError> {
    let found = app.runs.find(&id, &run)?;
    found.watched();
    let outcome = found.outcome.lock().unwrap_or_else(PoisonError::into_inner).clone();
    let stopped = found.is_stopped();
    outcome.unwrap_or_else(|| Told::of(&ProposalAnswer::unfinished(&run, 0, stopped)))
}

/// Stops a proposal.
#[utoipa::path(delete, path = "/api/jobs/{id}/propose/{run}", tag = "Sound",
    params(("id" = String, Path, description = "The job"), ("run" = String, Path, description = "The proposal")),
    responses((status = 204, description = "Stopped"), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn stop(State(app): State<App>, In((id, run)): In<(String, String)>) -> Result<StatusCode, ApiError> {
    app.runs.find(&id, &run)?.leave.stop();
    Ok(StatusCode::NO_CONTENT)
}
