//! Links by which clients see one job, and what they accepted.

use super::extract::{Asked, Body, In};
use super::jobs::WhoAsks;
use crate::accepted::{Since, since};
use crate::app::App;
use crate::background::{Work, blocking};
use crate::clock::{from_now, now};
use crate::error::{ApiError, ErrorBody};
use crate::jobs::person;
use crate::random::{letters, sha256};
use crate::store::{Acceptance, ClientLink};
use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::IntoResponse;
use loamline_limits::{CLIENT_LINK_DAYS, CLIENT_LINKS};
use loamline_terms::{Told, say};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

/// Letters of the secret of a link: 260 bits.
const SECRET_LETTERS: usize = 52;
/// Seconds of a day.
const DAY_S: u64 = 86_400;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(list, make)).routes(routes!(end))
}

/// A link that is wanted.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LinkAsked {
    /// For whom, as the page greets them.
    #[serde(default)]
    #[schema(max_length = 80)]
    client: String,
    /// Whether it shows prices.
    prices: bool,
    /// Days it is good.
    #[schema(minimum = 1, maximum = 180)]
    days: u64,
    /// Who makes it.
    #[serde(default)]
    #[schema(max_length = 80)]
    who: String,
}

/// A link for a client.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct LinkView {
    /// Its id.
    id: String,
    /// For whom.
    client: String,
    /// Whether it shows prices.
    prices: bool,
    /// When it was made, RFC 3339.
    made_at: String,
    /// By whom.
    made_by: String,
    /// Until when it shows anything.
    good_until: String,
    /// What was accepted by it.
    accepted: Option<AcceptedView>,
}

/// What a client accepted.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct AcceptedView {
    /// Who, as they typed their name.
    name: String,
    /// When, RFC 3339.
    at: String,
    /// Revision of the job.
    revision: u64,
    /// SHA-256 of `content`, hexadecimal.
    sha256: String,
    /// Exactly what was accepted.
    content: String,
    /// How the job differs from it by now; none where it does not.
    since: Option<SinceView>,
}

/// How a job differs from what was accepted of it.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct SinceView {
    /// What of the design differs, in the order of the tags.
    changes: Vec<Told>,
    /// What was accepted to be paid; none where no price was shown.
    price_then: Option<String>,
    /// What is to be paid by now; none where no price was shown.
    price_now: Option<String>,
}

impl From<Since> for SinceView {
    fn from(s: Since) -> Self {
        let changes = s.changes.iter().map(|c| Told::from(c.told())).collect();
        Self { changes, price_then: s.then, price_now: s.now }
    }
}

/// A link that was made: its address is told this once and kept nowhere.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct LinkMade {
    /// The link.
    link: LinkView,
    /// Where it leads, without the name of the server.
    path: String,
    /// The whole address in the network, where devices are let in.
    address: Option<String>,
}

impl From<Acceptance> for AcceptedView {
    fn from(a: Acceptance) -> Self {
        let Acceptance { name, at, revision, content, sha256 } = a;
        Self { name, at, revision, sha256, content, since: None }
    }
}

impl From<ClientLink> for LinkView {
    fn from(l: ClientLink) -> Self {
        Self {
            id: l.id,
            client: l.client,
            prices: l.prices,
            made_at: l.made_at,
            made_by: l.made_by,
            good_until: l.good_until,
            accepted: l.accepted.map(AcceptedView::from),
        }
    }
}

/// The links of a job, the newest first.
#[utoipa::path(get, path = "/api/jobs/{id}/links", tag = "Papers", operation_id = "list_links",
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = [LinkView]), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn list(State(app): State<App>, In(id): In<String>) -> Result<Json<Vec<LinkView>>, ApiError> {
    // Prices of now take the runs of now.
    let views = app.results(Work::Results, id, |job| {
        let now = job.now();
        let view = |link: ClientLink| -> Result<LinkView, ApiError> {
            let since = link.accepted.as_ref().map(|a| since(job, &now, a)).transpose()?;
            let mut view = LinkView::from(link);
            if let Some(accepted) = &mut view.accepted {
                accepted.since = since.filter(Since::is_otherwise).map(SinceView::from);
            }
            Ok(view)
        };
        job.store().links(job.id())?.into_iter().map(view).collect::<Result<Vec<_>, ApiError>>()
    });
    Ok(Json(views.await?))
}

/// Makes a link by which a client sees this job and nothing else.
#[utoipa::path(post, path = "/api/jobs/{id}/links", tag = "Papers", operation_id = "make_link", request_body = LinkAsked,
    params(("id" = String, Path, description = "The job")),
    responses((status = 201, body = LinkMade), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn make(
    State(app): State<App>,
    In(id): In<String>,
    Body(asked): Body<LinkAsked>,
) -> Result<impl IntoResponse, ApiError> {
    let named = |path: &str, text: &str| person(path, text).map_err(ApiError::from);
    let (client, who) = (named("/client", &asked.client)?, named("/who", &asked.who)?);
    if asked.days == 0 {
        return Err(ApiError::field("/days", say!("A link is good for one day at least.")));
    }
    CLIENT_LINK_DAYS.check_u64(asked.days).map_err(|more| ApiError::too_large("/days", more))?;
    let at = app.sharing.as_ref().and_then(|s| s.addresses.first().cloned());
    let made = blocking(move || {
        let name = app.jobs.open(&id)?.now().file.job().document().about.name.clone();
        let there = app.jobs.store().links(&id)?.len();
        CLIENT_LINKS.check(there + 1).map_err(|more| ApiError::too_large("", more))?;
        let secret = letters(SECRET_LETTERS)?;
        let link = ClientLink {
            id: letters(6)?,
            job: id,
            client,
            prices: asked.prices,
            made_at: now(),
            made_by: who,
            good_until: from_now(asked.days * DAY_S),
            accepted: None,
        };
        app.jobs.store().keep_link(&link, &sha256(secret.as_bytes()))?;
        app.jobs.note(&link.made_by, "link_made", &about(&name, &link.client))?;
        let path = format!("/client/{secret}");
        let address = at.map(|at| format!("{}{path}", at.trim_end_matches('/')));
        Ok(LinkMade { link: link.into(), path, address })
    })
    .await?;
    Ok((StatusCode::CREATED, Json(made)))
}

/// Ends a link at once. What was accepted by it stays.
#[utoipa::path(delete, path = "/api/jobs/{id}/links/{link}", tag = "Papers", operation_id = "end_link",
    params(("id" = String, Path, description = "The job"), ("link" = String, Path, description = "The link"), WhoAsks),
    responses((status = 204, description = "Ended"), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn end(
    State(app): State<App>,
    In((id, link)): In<(String, String)>,
    Asked(asks): Asked<WhoAsks>,
) -> Result<StatusCode, ApiError> {
    let who = asks.named()?;
    blocking(move || {
        let job = app.jobs.open(&id)?;
        let nothing = || ApiError::not_found(say!("link \"{link}\" that is still good", link = &link));
        let client = app.jobs.store().links(&id)?.into_iter().find(|l| l.id == link).map(|l| l.client);
        if !app.jobs.store().end_link(&id, &link, &now())? {
            return Err(nothing());
        }
        let name = job.now().file.job().document().about.name.clone();
        app.jobs.note(&who, "link_ended", &about(&name, &client.unwrap_or_default()))?;
        Ok(StatusCode::NO_CONTENT)
    })
    .await
}

/// What a link is of, as the log has it.
pub fn about(job: &str, client: &str) -> String {
    if client.is_empty() { job.to_owned() } else { format!("{job}, for {client}") }
}
