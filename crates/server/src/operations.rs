//! What a firm's IT asks of a server, on a port of its own: whether it serves, and what it counts.

use crate::background::{background_work_under_way, blocking};
use crate::error::ApiError;
use crate::jobs::Jobs;
use crate::metrics::{Now, page};
use axum::extract::State;
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::IntoResponse;
use axum::routing::get;
use axum::{Json, Router};
use serde_json::json;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// What is asked about.
#[derive(Clone)]
pub struct Operated {
    /// The jobs.
    pub jobs: Arc<Jobs>,
    /// Whether the server is being stopped: it then says so, and a balancer sends nobody here any more.
    pub stopping: Arc<AtomicBool>,
}

impl Operated {
    /// Whether the store answers.
    async fn store(&self) -> Result<(), ApiError> {
        let jobs = Arc::clone(&self.jobs);
        blocking(move || Ok(jobs.store().ready()?)).await
    }
}

/// `/health` and `/metrics`.
pub fn operations(operated: Operated) -> Router {
    Router::new().route("/health", get(health)).route("/metrics", get(metrics)).with_state(operated)
}

async fn health(State(operated): State<Operated>) -> impl IntoResponse {
    if operated.stopping.load(Ordering::Relaxed) {
        return (StatusCode::SERVICE_UNAVAILABLE, Json(json!({ "status": "stopping" })));
    }
    match operated.store().await {
        Ok(()) => (StatusCode::OK, Json(json!({ "status": "ok" }))),
        Err(why) => {
            let told = json!({ "status": "no store", "why": why.problem.message });
            (StatusCode::SERVICE_UNAVAILABLE, Json(told))
        }
    }
}

async fn metrics(State(operated): State<Operated>) -> impl IntoResponse {
    let store_ready = operated.store().await.is_ok();
    let jobs = Arc::clone(&operated.jobs);
    // Counting waits for a job that is being read.
    let jobs_held = blocking(move || Ok(jobs.held())).await.unwrap_or_default();
    let now = Now { jobs_held, background_work: background_work_under_way(), store_ready };
    ([(CONTENT_TYPE, "text/plain; version=0.0.4")], page(now))
}
