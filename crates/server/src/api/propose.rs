//! Proposals: asked for, watched on the live channel, fetched when they are done.

use super::extract::{Body, In};
use crate::app::App;
use crate::background::{Work, blocking};
use crate::error::{ApiError, ErrorBody};
use crate::firm::Firm;
use crate::jobs::{Event, Jobs, OpenJob};
use crate::proposal_runs::ProposalRun;
use crate::proposed::ProposalAnswer;
use crate::proposing::{ProposalWish, first_sign, made, sign, waiting};
use crate::random::letters;
use crate::store::{NewTask, TaskKind, Tasks};
use crate::told::Told;
use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};
use loamline_limits::{PROPOSAL_WORK_S, WAITING_FOR_PROPOSALS};
use loamline_propose::{OptionKind, ProposeOptions, ProposeProgress};
use loamline_quotation::PriceBook;
use loamline_terms::say;
use serde::{Deserialize, Serialize};
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

/// Seconds after which it is worth asking again where too many proposals wait for workers elsewhere.
const AGAIN_S: u64 = 30;

/// Tells everybody looking at the job how far a proposal is.
fn tell(job: &OpenJob, run: &ProposalRun, p: &ProposeProgress, done: bool) {
    job.tell(Event::Message(Arc::new(sign(&run.id, p, done))));
}

/// Makes a proposal, telling everybody looking at the job how far it is.
fn make(job: &OpenJob, run: &ProposalRun, options: &ProposeOptions) {
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
    let (_, outcome) = made(job, &run.id, &run.leave, options, &watch);
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
        let told = say!(
            "{seconds} s; give 0.5 s to {most}.",
            seconds = seconds.to_string(),
            most = PROPOSAL_WORK_S.shown()
        );
        return Err(ApiError::field("/time_s", told));
    }
    let wanted = match asked.options {
        None => OptionKind::ALL.to_vec(),
        Some(none) if none.is_empty() => {
            return Err(ApiError::field("/options", say!("No option is named; leave it out for all.")));
        }
        Some(wanted) => wanted,
    };
    let wish = ProposalWish { wanted, work_s: asked.time_s, seed: asked.seed.unwrap_or(1) };
    let is_handed_on = app.jobs.store().tasks().is_some();
    let started = if is_handed_on { hand_on(&app, id, wish).await? } else { begin(&app, id, wish).await? };
    Ok((StatusCode::ACCEPTED, Json(started)))
}

/// That there is no proposal of an id.
fn no_proposal(run: &str) -> ApiError {
    ApiError::not_found(say!("proposal \"{id}\"", id = run))
}

/// What the store hands work on by.
fn tasks(jobs: &Jobs) -> Result<&dyn Tasks, ApiError> {
    jobs.store().tasks().ok_or_else(ApiError::gave_up)
}

/// Asks for a proposal by way of the store, for whichever worker is free first.
async fn hand_on(app: &App, id: String, wish: ProposalWish) -> Result<Started, ApiError> {
    let jobs = Arc::clone(&app.jobs);
    blocking(move || {
        let job = jobs.open(&id)?;
        let tasks = tasks(&jobs)?;
        if let Err(more) = WAITING_FOR_PROPOSALS.check(tasks.waiting(TaskKind::Proposal)? + 1) {
            return Err(ApiError::busy(&more, AGAIN_S));
        }
        let run = letters(10)?;
        let wish = serde_json::to_string(&wish).map_err(|_| ApiError::gave_up())?;
        tasks.ask_for(&NewTask { id: &run, kind: TaskKind::Proposal, job: job.id(), wish: &wish })?;
        Ok(Started { run })
    })
    .await
}

/// Begins a proposal in this process.
async fn begin(app: &App, id: String, wish: ProposalWish) -> Result<Started, ApiError> {
    let options = wish.at(firm_prices(app).await?);
    let job = app.job(id, |job| Ok(Arc::clone(job))).await?;
    let run = Arc::new(ProposalRun::new(letters(10)?, job.id()));
    app.runs.add(Arc::clone(&run));
    let started = Started { run: run.id.clone() };
    // Not waited for: it ends by itself, or when it is stopped, or when everybody has gone away.
    let background = app.background.clone();
    let watcher = tokio::spawn(watch_over(Arc::clone(&job), Arc::clone(&run)));
    tokio::spawn(async move {
        let (told, run_told) = (Arc::clone(&job), Arc::clone(&run));
        let place = |n: usize| {
            told.tell(Event::Message(Arc::new(waiting(&run_told.id, n))));
            !run_told.is_stopped()
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
    Ok(started)
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
async fn run(State(app): State<App>, In((id, run)): In<(String, String)>) -> Result<Response, ApiError> {
    if app.jobs.store().tasks().is_some() {
        let jobs = Arc::clone(&app.jobs);
        return blocking(move || handed_on(tasks(&jobs)?, &id, &run)).await;
    }
    let found = app.runs.find(&id, &run)?;
    found.watched();
    let outcome = found.outcome.lock().unwrap_or_else(PoisonError::into_inner).clone();
    let stopped = found.is_stopped();
    let told = outcome.unwrap_or_else(|| Told::of(&ProposalAnswer::unfinished(&run, 0, stopped)))?;
    Ok(told.into_response())
}

/// How far a proposal is that was handed on, or what came of it.
fn handed_on(tasks: &dyn Tasks, job: &str, run: &str) -> Result<Response, ApiError> {
    let task = tasks.task(job, run)?;
    let task = task.ok_or_else(|| no_proposal(run))?;
    if let Some(outcome) = task.outcome {
        let status = StatusCode::from_u16(outcome.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
        return Ok((status, [(CONTENT_TYPE, "application/json")], outcome.body).into_response());
    }
    tasks.still_wanted(&[task.id])?;
    Ok(Told::of(&ProposalAnswer::unfinished(run, 0, task.is_stopped))?.into_response())
}

/// Stops a proposal.
#[utoipa::path(delete, path = "/api/jobs/{id}/propose/{run}", tag = "Sound",
    params(("id" = String, Path, description = "The job"), ("run" = String, Path, description = "The proposal")),
    responses((status = 204, description = "Stopped"), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn stop(State(app): State<App>, In((id, run)): In<(String, String)>) -> Result<StatusCode, ApiError> {
    if app.jobs.store().tasks().is_some() {
        let jobs = Arc::clone(&app.jobs);
        return blocking(move || {
            let known = tasks(&jobs)?.stop(&id, &run)?;
            if known { Ok(StatusCode::NO_CONTENT) } else { Err(no_proposal(&run)) }
        })
        .await;
    }
    app.runs.find(&id, &run)?.leave.stop();
    Ok(StatusCode::NO_CONTENT)
}
