//! What a link shows a client: one page, its plan, the guide, and accepting. Whoever knows the link needs no other leave.

use super::extract::{Body, In};
use super::links::about;
use crate::app::App;
use crate::background::{Work, blocking};
use crate::client::{Shown, gone, page, since_accepted};
use crate::clock::now;
use crate::error::ApiError;
use crate::error_code::ErrorCode;
use crate::firm::Firm;
use crate::jobs::{OpenJob, person};
use crate::made_papers::PapersQuery;
use crate::random::{letters, sha256};
use crate::store::{Acceptance, ClientLink};
use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use loamline_limits::CLIENT_LINKS;
use loamline_terms::say;
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// The paper a client keeps, by its part of the pack.
const GUIDE: &str = "guide";

/// What a client accepts.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AcceptAsked {
    name: String,
    sha256: String,
}

/// What was accepted.
#[derive(Debug, Clone, Serialize)]
pub struct AcceptTold {
    at: String,
    sha256: String,
}

/// The link of a secret.
async fn link_of(app: &App, secret: &str) -> Result<ClientLink, ApiError> {
    let (jobs, hash) = (app.jobs.clone(), sha256(secret.as_bytes()));
    let found = blocking(move || Ok(jobs.store().link_of(&hash, &now())?)).await?;
    found.ok_or_else(|| ApiError::not_found(say!("such link any more")))
}

/// The link and what it shows now.
async fn shown_by(app: &App, secret: &str) -> Result<(ClientLink, Shown), ApiError> {
    let link = link_of(app, secret).await?;
    let (of, jobs) = (link.clone(), Arc::clone(&app.jobs));
    let shown = move |job: &Arc<OpenJob>| Shown::of(job, &of, &Firm::of(jobs.store())?);
    let shown = app.results(Work::Papers, link.job.clone(), shown).await?;
    Ok((link, shown))
}

fn told(status: StatusCode, media_type: &'static str, body: impl IntoResponse) -> Response {
    (status, [(CONTENT_TYPE, media_type), (CACHE_CONTROL, "no-store")], body).into_response()
}

/// The page.
pub async fn client_page(State(app): State<App>, In(secret): In<String>) -> Response {
    const HTML: &str = "text/html; charset=utf-8";
    let written = async {
        let (link, shown) = shown_by(&app, &secret).await?;
        let hash = shown.sha256()?;
        Ok::<String, ApiError>(page(&link, &shown, &format!("/client/{secret}"), &hash))
    };
    match written.await {
        Ok(text) => told(StatusCode::OK, HTML, text),
        Err(e) if e.problem.code == ErrorCode::NotFound => told(StatusCode::NOT_FOUND, HTML, gone()),
        Err(e) => e.into_response(),
    }
}

/// The plan with the sound.
pub async fn client_plan(State(app): State<App>, In(secret): In<String>) -> Result<Response, ApiError> {
    let (_, shown) = shown_by(&app, &secret).await?;
    Ok(told(StatusCode::OK, "image/svg+xml", shown.plan_svg))
}

/// The guide the client keeps.
pub async fn client_guide(State(app): State<App>, In(secret): In<String>) -> Result<Response, ApiError> {
    let link = link_of(&app, &secret).await?;
    // As the papers are made for everybody: they are kept for whoever looks next.
    let at = app.sharing.as_ref().and_then(|s| s.addresses.first().cloned());
    let (made, jobs) = (app.papers.clone(), Arc::clone(&app.jobs));
    let guide = app.results(Work::Papers, link.job, move |job| {
        let (_, papers) = made.of(job, &PapersQuery::usual(), at.as_deref(), &Firm::of(jobs.store())?)?;
        let guide = papers.iter().find(|p| p.part == GUIDE).map(|p| p.bytes.clone());
        guide.ok_or_else(|| ApiError::not_found(say!("guide for this job")))
    });
    Ok(told(StatusCode::OK, "application/pdf", guide.await?))
}

/// Accepts exactly what the page showed, once; anew where what stands has changed since it was accepted.
pub async fn client_accept(
    State(app): State<App>,
    In(secret): In<String>,
    Body(asked): Body<AcceptAsked>,
) -> Result<Json<AcceptTold>, ApiError> {
    let name = person("/name", &asked.name)?;
    if name.is_empty() {
        return Err(ApiError::field("/name", say!("What is accepted is accepted by name: type yours.")));
    }
    let (link, shown) = shown_by(&app, &secret).await?;
    if let Some(a) = link.accepted.as_ref().filter(|a| since_accepted(&a.content, &shown).is_none()) {
        let why = say!("This was accepted by {name} already.", name = &a.name);
        return Err(ApiError::new(StatusCode::CONFLICT, ErrorCode::NothingToDo, why));
    }
    let (content, hash) = (shown.content()?, shown.sha256()?);
    if hash != asked.sha256 {
        let why = say!(
            "What stands here has changed since you opened the page. Load it again and look at it before you accept."
        );
        return Err(ApiError::new(StatusCode::CONFLICT, ErrorCode::Behind, why));
    }
    let accepted = Acceptance { name, at: now(), revision: shown.revision, content, sha256: hash };
    blocking(move || {
        let store = app.jobs.store();
        let is_kept = match &link.accepted {
            None => store.accept(&link.id, &accepted)?,
            Some(before) => {
                // What was accepted before stays, as a link of its own that has ended.
                let there = store.links(&link.job)?.len();
                CLIENT_LINKS.check(there + 1).map_err(|more| ApiError::too_large("", more))?;
                store.accept_anew(&link.id, &before.sha256, &letters(6)?, &accepted)?
            }
        };
        if !is_kept {
            let why = say!("This was accepted a moment ago already.");
            return Err(ApiError::new(StatusCode::CONFLICT, ErrorCode::NothingToDo, why));
        }
        app.jobs.note(&accepted.name, "accepted", &about(&shown.name, &link.client))?;
        Ok(Json(AcceptTold { at: accepted.at, sha256: accepted.sha256 }))
    })
    .await
}

/// How the page looks.
pub async fn client_style() -> Response {
    const STYLE: &str = include_str!("../client/client.css");
    ([(CONTENT_TYPE, "text/css; charset=utf-8")], STYLE).into_response()
}

/// What sends the name.
pub async fn client_script() -> Response {
    const SCRIPT: &str = include_str!("../client/client.js");
    ([(CONTENT_TYPE, "text/javascript; charset=utf-8")], SCRIPT).into_response()
}
