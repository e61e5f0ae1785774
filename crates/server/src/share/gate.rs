//! On the network: the app itself is for everybody, what it works on only for paired devices.

use super::certificate::Authority;
use super::pairing::{COOKIE, Pairing};
use crate::background::blocking;
use crate::clock::now;
use crate::error::ApiError;
use crate::error_code::ErrorCode;
use crate::jobs::Jobs;
use crate::random::sha256;
use axum::extract::{Request, State};
use axum::http::header::COOKIE as COOKIE_HEADER;
use axum::http::{HeaderMap, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use std::sync::Arc;

/// What sharing needs to know.
pub struct Sharing {
    /// The code.
    pub pairing: Pairing,
    /// The certificate's authority.
    pub authority: Authority,
    /// Addresses of the app on the network, the likeliest first.
    pub addresses: Vec<String>,
    /// Addresses of the page that explains the warning, in the same order.
    pub explained_at: Vec<String>,
}

/// A request from a paired device: the hash of its token.
#[derive(Debug, Clone)]
pub struct Paired(pub String);

/// Asked only on this computer itself.
const ONLY_HERE: [&str; 2] = ["/api/share", "/api/devices"];

fn token(headers: &HeaderMap) -> Option<String> {
    let cookies = headers.get_all(COOKIE_HEADER).iter().filter_map(|v| v.to_str().ok());
    cookies
        .flat_map(|v| v.split(';'))
        .filter_map(|c| c.trim().split_once('='))
        .find(|(name, _)| *name == COOKIE)
        .map(|(_, value)| value.to_owned())
}

/// Lets in what needs no pairing, and paired devices.
pub async fn gate(State(jobs): State<Arc<Jobs>>, mut request: Request, next: Next) -> Response {
    let path = request.uri().path();
    if !path.starts_with("/api") || path == "/api/pair" {
        return next.run(request).await;
    }
    if ONLY_HERE.iter().any(|p| path.strip_prefix(p).is_some_and(|r| r.is_empty() || r.starts_with('/'))) {
        let why = "Devices are let in and turned away on the computer itself.";
        return ApiError::new(StatusCode::FORBIDDEN, ErrorCode::Forbidden, why).into_response();
    }
    let unpaired = || {
        let why =
            "This device is not paired. Type the code shown on the computer, or scan the QR code beside it.";
        ApiError::new(StatusCode::UNAUTHORIZED, ErrorCode::NotPaired, why).into_response()
    };
    let Some(token) = token(request.headers()) else { return unpaired() };
    let hash = sha256(token.as_bytes());
    let asked = hash.clone();
    match blocking(move || Ok(jobs.store().device_of(&asked, &now())?)).await {
        Ok(Some(_)) => {
            request.extensions_mut().insert(Paired(hash));
            next.run(request).await
        }
        Ok(None) => unpaired(),
        Err(e) => e.into_response(),
    }
}
