//! What is being worked at, who waits, and at which place.

use super::extract::Asked;
use crate::app::App;
use crate::background::{Place, Queue, Work, blocking};
use crate::error::{ApiError, ErrorBody};
use crate::store::TaskKind;
use axum::Json;
use axum::extract::State;
use loamline_limits::{MADE_UP_CHARACTERS, TICKET_CHARACTERS};
use serde::{Deserialize, Serialize};
use std::sync::Arc;
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(queues))
}

/// The queues, and the asker's own place.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct QueuesView {
    /// Every kind of work.
    queues: Vec<QueueView>,
    /// The place of the request that waits under the ticket; absent when none does: it has its turn, or has not arrived.
    yours: Option<PlaceView>,
}

/// A kind of work.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct QueueView {
    /// `results`, `settings`, `papers`, `proposals`, `folders`, or `maps` of the live channel.
    kind: &'static str,
    /// Pieces worked at, at once.
    turns: u32,
    /// Those under way.
    running: u32,
    /// Those that wait.
    waiting: u32,
    /// What one usually takes, s.
    usual_s: f64,
}

/// A place in a queue.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct PlaceView {
    /// The kind of work.
    kind: &'static str,
    /// How many are before.
    before: u32,
    /// Whole seconds until the turn, about.
    about_s: u64,
}

/// Whose place is wanted.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct QueuesQuery {
    /// The name the request was given that waits.
    ticket: Option<String>,
}

/// The ticket of a request that takes nothing else in its query.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct TicketQuery {
    /// A name made up by whoever asks, under which `/api/queues` tells the place of this request while it waits.
    ticket: Option<String>,
}

impl TicketQuery {
    /// The name to wait under.
    pub fn name(&self) -> Option<String> {
        self.ticket.as_deref().and_then(ticket_of)
    }
}

/// A name a request may wait under: one that is a name. Any other is as good as none.
pub fn ticket_of(name: &str) -> Option<String> {
    let plain = name.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-');
    let fits = TICKET_CHARACTERS.check(name.len()).and(MADE_UP_CHARACTERS.check(name.len()));
    Some(name).filter(|_| plain && fits.is_ok()).map(str::to_owned)
}

fn count(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX)
}

impl From<Queue> for QueueView {
    fn from(q: Queue) -> Self {
        let [turns, running, waiting] = [q.turns, q.running, q.waiting].map(count);
        Self { kind: q.kind, turns, running, waiting, usual_s: q.usual_s }
    }
}

impl From<Place> for PlaceView {
    fn from(p: Place) -> Self {
        Self { kind: p.kind.word(), before: count(p.before), about_s: p.about_s }
    }
}

/// What is being worked at and who waits, kind by kind; and the place of a request of one's own that waits under a ticket.
#[utoipa::path(get, path = "/api/queues", tag = "Queues", params(QueuesQuery),
    responses((status = 200, body = QueuesView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn queues(
    State(app): State<App>,
    Asked(query): Asked<QueuesQuery>,
) -> Result<Json<QueuesView>, ApiError> {
    let mut queues: Vec<QueueView> = app.background.queues().into_iter().map(QueueView::from).collect();
    let handed_on = count(handed_on(&app).await?);
    for queue in queues.iter_mut().filter(|queue| queue.kind == Work::Proposals.word()) {
        queue.waiting = queue.waiting.saturating_add(handed_on);
    }
    queues.push(app.painters.queue().into());
    let yours = query.ticket.and_then(|name| app.background.place_of(&name)).map(PlaceView::from);
    Ok(Json(QueuesView { queues, yours }))
}

/// Proposals that wait for whichever worker is free first, here or elsewhere.
async fn handed_on(app: &App) -> Result<usize, ApiError> {
    if app.jobs.store().tasks().is_none() {
        return Ok(0);
    }
    let jobs = Arc::clone(&app.jobs);
    blocking(move || match jobs.store().tasks() {
        Some(tasks) => Ok(tasks.waiting(TaskKind::Proposal)?),
        None => Ok(0),
    })
    .await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_name_is_as_good_as_none() {
        let uuid = "0b0bd2a4-6a0a-4b53-8d1c-0d2f6f2f6c11";
        assert_eq!(ticket_of(uuid).as_deref(), Some(uuid));
        for none in ["", "short", "with blank", "ütf-8-letters", &"x".repeat(65)] {
            assert_eq!(ticket_of(none), None, "{none}");
        }
    }
}
