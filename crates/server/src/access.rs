//! Who may ask what: every route of the interface with those it answers. A route that is not in the table answers nobody, so that
//! none can be forgotten; `api` holds the table against its routes both ways.

use crate::error::{ApiError, shown};
use crate::error_code::ErrorCode;
use crate::store::{Device, Role};
use crate::without_prices::without_prices;
use axum::extract::{MatchedPath, Request};
use axum::http::header::ALLOW;
use axum::http::{Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use loamline_terms::{Sentence, say};
use std::sync::Arc;

/// Who asks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Asker {
    /// Somebody at this computer itself, who needs no leave: its owner.
    Here,
    /// Somebody on the network whom nobody let in.
    Stranger,
    /// A paired device.
    Paired(Arc<Device>),
}

impl Asker {
    /// What they may do; none for a stranger.
    pub fn role(&self) -> Option<Role> {
        match self {
            Self::Here => Some(Role::Owner),
            Self::Stranger => None,
            Self::Paired(device) => Some(device.role),
        }
    }

    /// Whether prices are for them.
    pub fn sees_prices(&self) -> bool {
        self.role().is_some_and(Role::sees_prices)
    }

    /// Whether they may write more than readings, ticks and photos.
    pub fn may_design(&self) -> bool {
        matches!(self.role(), Some(Role::Owner | Role::Designer))
    }
}

/// Whom a route answers, the fewest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Who {
    /// Whoever is at this computer itself.
    Here,
    /// The owner.
    Owner,
    /// Owner and designers.
    Office,
    /// They and the crew.
    Site,
    /// Everybody, also on the network without having been let in: what they show is then their leave.
    Anybody,
}

impl Who {
    fn admits(self, asker: &Asker) -> bool {
        match self {
            Self::Here => *asker == Asker::Here,
            Self::Owner => asker.role() == Some(Role::Owner),
            Self::Office => asker.may_design(),
            Self::Site => asker.may_design() || asker.role() == Some(Role::Crew),
            Self::Anybody => true,
        }
    }

    fn refusal(self) -> Sentence {
        match self {
            Self::Here => say!("This is done on the computer that runs loamline itself."),
            Self::Owner => say!("Only the owner may do this."),
            Self::Office => say!(
                "This device is let in for readings, ticks and photos alone. The owner can give it another role on the computer."
            ),
            Self::Site | Self::Anybody => say!("This device is not let in for this."),
        }
    }
}

/// A route: its method, its path and whom it answers.
type Route = (&'static str, &'static str, Who);

/// Every route of the interface.
pub static ROUTES: &[Route] = &[
    ("GET", "/api/openapi.json", Who::Office),
    ("GET", "/api/jobs", Who::Site),
    ("POST", "/api/jobs", Who::Office),
    // What the firm is to everybody, and what things cost it.
    ("GET", "/api/firm", Who::Office),
    ("PUT", "/api/firm", Who::Office),
    ("GET", "/api/firm/logo", Who::Office),
    ("PUT", "/api/firm/logo", Who::Office),
    ("DELETE", "/api/firm/logo", Who::Office),
    ("PUT", "/api/firm/prices", Who::Office),
    ("DELETE", "/api/firm/prices", Who::Office),
    ("GET", "/api/firm/language", Who::Office),
    ("PUT", "/api/firm/language", Who::Office),
    ("DELETE", "/api/firm/language", Who::Office),
    ("POST", "/api/jobs/import", Who::Office),
    ("GET", "/api/jobs/{id}", Who::Site),
    ("DELETE", "/api/jobs/{id}", Who::Owner),
    ("POST", "/api/jobs/{id}/restore", Who::Owner),
    ("GET", "/api/deleted-jobs", Who::Owner),
    ("GET", "/api/doings", Who::Owner),
    // What of a job the crew may write is looked at where an edit is taken in.
    ("POST", "/api/jobs/{id}/edits", Who::Site),
    ("POST", "/api/jobs/{id}/template", Who::Office),
    ("GET", "/api/jobs/{id}/small-plan", Who::Site),
    ("GET", "/api/jobs/{id}/perspective.svg", Who::Site),
    ("POST", "/api/jobs/{id}/undo", Who::Office),
    ("POST", "/api/jobs/{id}/redo", Who::Office),
    ("POST", "/api/jobs/{id}/go-back", Who::Office),
    ("GET", "/api/jobs/{id}/history", Who::Site),
    ("GET", "/api/jobs/{id}/findings", Who::Site),
    ("GET", "/api/jobs/{id}/catalogue", Who::Site),
    ("GET", "/api/jobs/{id}/catalogue/files", Who::Office),
    ("PUT", "/api/jobs/{id}/catalogue/files/{name}", Who::Office),
    ("DELETE", "/api/jobs/{id}/catalogue/files/{name}", Who::Office),
    ("PUT", "/api/jobs/{id}/catalogue/{table}/{model}", Who::Office),
    ("DELETE", "/api/jobs/{id}/catalogue/{table}/{model}", Who::Office),
    ("GET", "/api/jobs/{id}/export", Who::Office),
    ("GET", "/api/jobs/{id}/levels", Who::Site),
    ("GET", "/api/jobs/{id}/neighbours", Who::Site),
    ("GET", "/api/jobs/{id}/bass", Who::Site),
    ("GET", "/api/jobs/{id}/at", Who::Site),
    ("GET", "/api/jobs/{id}/lines", Who::Site),
    ("POST", "/api/jobs/{id}/route", Who::Office),
    ("POST", "/api/jobs/{id}/take-out", Who::Office),
    ("POST", "/api/jobs/{id}/put-on", Who::Office),
    ("GET", "/api/jobs/{id}/processing", Who::Site),
    ("GET", "/api/jobs/{id}/sources", Who::Site),
    // Of the papers the crew has those without prices.
    ("GET", "/api/jobs/{id}/papers", Who::Site),
    ("GET", "/api/jobs/{id}/papers/{file}", Who::Site),
    ("GET", "/api/jobs/{id}/papers/{folder}/{file}", Who::Site),
    ("GET", "/api/jobs/{id}/papers.zip", Who::Site),
    ("POST", "/api/jobs/{id}/propose", Who::Office),
    ("GET", "/api/jobs/{id}/propose/{run}", Who::Office),
    ("DELETE", "/api/jobs/{id}/propose/{run}", Who::Office),
    ("GET", "/api/jobs/{id}/expect", Who::Site),
    ("GET", "/api/jobs/{id}/expect/why", Who::Site),
    ("POST", "/api/jobs/{id}/locate", Who::Site),
    ("POST", "/api/jobs/{id}/stubs/{stub}/length", Who::Site),
    ("GET", "/api/jobs/{id}/visit-pack", Who::Site),
    ("GET", "/api/jobs/{id}/attachments", Who::Site),
    ("GET", "/api/jobs/{id}/attachments/{name}", Who::Site),
    // A photo is kept; one that is there is replaced by the office alone.
    ("PUT", "/api/jobs/{id}/attachments/{name}", Who::Site),
    ("DELETE", "/api/jobs/{id}/attachments/{name}", Who::Office),
    ("GET", "/api/jobs/{id}/live", Who::Site),
    ("GET", "/api/queues", Who::Site),
    // What it costs is among it.
    ("GET", "/api/checks", Who::Office),
    ("POST", "/api/checks", Who::Office),
    ("GET", "/api/jobs/{id}/links", Who::Office),
    ("POST", "/api/jobs/{id}/links", Who::Office),
    ("DELETE", "/api/jobs/{id}/links/{link}", Who::Office),
    // Whoever knows a link: what it shows is looked up by its secret.
    ("GET", "/client/{secret}", Who::Anybody),
    ("GET", "/client/{secret}/plan.svg", Who::Anybody),
    ("GET", "/client/{secret}/guide.pdf", Who::Anybody),
    ("POST", "/client/{secret}/accept", Who::Anybody),
    ("GET", "/client.css", Who::Anybody),
    ("GET", "/client.js", Who::Anybody),
    ("POST", "/api/pair", Who::Anybody),
    // Who they are is found out by what they show.
    ("GET", "/api/sign-in", Who::Anybody),
    ("POST", "/api/sign-in/passkey/question", Who::Anybody),
    ("POST", "/api/sign-in/passkey", Who::Anybody),
    ("POST", "/api/sign-in/account", Who::Anybody),
    ("GET", "/sign-in/back", Who::Anybody),
    // What each has of their own.
    ("GET", "/api/me", Who::Site),
    ("POST", "/api/me/passkeys/question", Who::Site),
    ("POST", "/api/me/passkeys", Who::Site),
    ("DELETE", "/api/me/passkeys/{passkey}", Who::Site),
    ("POST", "/api/sign-out", Who::Site),
    ("GET", "/api/people", Who::Here),
    ("PUT", "/api/people/{id}", Who::Here),
    ("DELETE", "/api/people/{id}", Who::Here),
    ("GET", "/api/share", Who::Here),
    ("GET", "/api/devices", Who::Here),
    ("PUT", "/api/devices/{id}", Who::Here),
    ("DELETE", "/api/devices/{id}", Who::Here),
];

/// Everybody who asks here is at this computer.
pub async fn here(mut request: Request, next: Next) -> Response {
    request.extensions_mut().insert(Asker::Here);
    next.run(request).await
}

/// Lets a request through to a route that answers whoever asks, and leaves prices out of what those are told who see none.
pub async fn only_who_may(request: Request, next: Next) -> Response {
    let Some(path) = request.extensions().get::<MatchedPath>().map(|p| p.as_str().to_owned()) else {
        // No route: a file of the app, which is for everybody, or nothing.
        return next.run(request).await;
    };
    let asker = request.extensions().get::<Asker>().cloned().unwrap_or(Asker::Stranger);
    let Some(who) = answers(request.method(), &path) else { return wrong_method(request.method(), &path) };
    if !who.admits(&asker) {
        return ApiError::new(StatusCode::FORBIDDEN, ErrorCode::NotAllowed, who.refusal()).into_response();
    }
    let answer = next.run(request).await;
    if asker.sees_prices() { answer } else { without_prices(answer).await }
}

/// Whom a route answers; none where there is no such route.
fn answers(method: &Method, path: &str) -> Option<Who> {
    // What answers GET answers HEAD.
    let method = if *method == Method::HEAD { "GET" } else { method.as_str() };
    ROUTES.iter().find(|(m, p, _)| *m == method && *p == path).map(|(_, _, who)| *who)
}

/// What an address says to a method it does not have; which it has stands in `Allow`.
fn wrong_method(method: &Method, path: &str) -> Response {
    let why = format!("{} does nothing here; the header Allow says what does.", shown(method.as_str()));
    let mut has: Vec<&str> = ROUTES.iter().filter(|(_, p, _)| *p == path).map(|(m, _, _)| *m).collect();
    if has.contains(&"GET") {
        has.push("HEAD");
    }
    let refusal = ApiError::new(StatusCode::METHOD_NOT_ALLOWED, ErrorCode::WrongMethod, why);
    ([(ALLOW, has.join(","))], refusal).into_response()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn paired(role: Role) -> Asker {
        Asker::Paired(Arc::new(Device {
            id: "a".into(),
            name: "Phone".into(),
            role,
            person: None,
            paired_at: String::new(),
            seen_at: String::new(),
        }))
    }

    /// The rights as the roles are described, route by route: written out a second time for those that matter most.
    #[test]
    fn each_role_may_what_it_is_for() {
        let may = |asker: &Asker, method: Method, path: &str| {
            answers(&method, path).is_some_and(|who| who.admits(asker))
        };
        let [owner, designer, crew, client] = Role::ALL.map(paired);
        for (method, path, allowed) in [
            (Method::DELETE, "/api/jobs/{id}", [true, false, false, false]),
            (Method::POST, "/api/jobs/{id}/undo", [true, true, false, false]),
            (Method::POST, "/api/jobs/{id}/edits", [true, true, true, false]),
            (Method::HEAD, "/api/jobs", [true, true, true, false]),
            (Method::GET, "/api/share", [false, false, false, false]),
            (Method::POST, "/api/pair", [true, true, true, true]),
            (Method::PATCH, "/api/jobs", [false, false, false, false]),
        ] {
            let found = [&owner, &designer, &crew, &client].map(|asker| may(asker, method.clone(), path));
            assert_eq!(found, allowed, "{method} {path}");
            assert!(!may(&Asker::Stranger, method.clone(), path) || path == "/api/pair");
            assert_eq!(may(&Asker::Here, method.clone(), path), method != Method::PATCH, "{method} {path}");
        }
    }

    #[test]
    fn no_route_stands_twice() {
        let mut all: Vec<_> = ROUTES.iter().map(|(method, path, _)| (*path, *method)).collect();
        all.sort_unstable();
        all.dedup();
        assert_eq!(all.len(), ROUTES.len());
    }
}
