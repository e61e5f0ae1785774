//! On the network: the app itself is for everybody, what it works on only for paired devices.

use super::certificate::Authority;
use super::pairing::{COOKIE, Pairing, cookie, new_token};
use crate::access::Asker;
use crate::background::blocking;
use crate::clock::{ago, from_now, now};
use crate::error::ApiError;
use crate::error_code::ErrorCode;
use crate::jobs::Jobs;
use crate::random::sha256;
use crate::sign_in::SignIn;
use crate::store::Device;
use axum::extract::{Request, State};
use axum::http::header::{COOKIE as COOKIE_HEADER, HeaderValue, SET_COOKIE};
use axum::http::{HeaderMap, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use loamline_limits::{TOKEN_OVERLAP_S, TOKEN_RENEWED_S};
use loamline_terms::say;
use std::sync::Arc;
use tokio::sync::watch;

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
    /// Told whenever a device was turned away, or given another role: whoever is being told things looks again.
    pub changed: watch::Sender<()>,
    /// Signing in, for those who have more than a code.
    pub sign_in: SignIn,
}

impl Sharing {
    /// Whoever is being told things looks again whether the device they are on still may.
    pub fn tell_changed(&self) {
        // Nobody listening is no fault.
        self.changed.send_replace(());
    }
}

/// What a browser keeps under a name.
pub fn kept(headers: &HeaderMap, wanted: &str) -> Option<String> {
    let cookies = headers.get_all(COOKIE_HEADER).iter().filter_map(|v| v.to_str().ok());
    cookies
        .flat_map(|v| v.split(';'))
        .filter_map(|c| c.trim().split_once('='))
        .find(|(name, _)| *name == wanted)
        .map(|(_, value)| value.to_owned())
}

/// Whether an address is one by which people are let in.
fn lets_in(path: &str) -> bool {
    path == "/api/pair" || path == "/api/sign-in" || path.starts_with("/api/sign-in/")
}

/// Lets in what needs no pairing, and paired devices; who asks goes with the request. A device whose token has got older is given
/// another with the answer.
pub async fn gate(State(jobs): State<Arc<Jobs>>, mut request: Request, next: Next) -> Response {
    let path = request.uri().path();
    if !path.starts_with("/api") || lets_in(path) {
        request.extensions_mut().insert(Asker::Stranger);
        return next.run(request).await;
    }
    let unpaired = || {
        let why = say!(
            "This device is not paired. Type the code shown on the computer, scan the QR code beside it, or sign in."
        );
        ApiError::new(StatusCode::UNAUTHORIZED, ErrorCode::NotPaired, why).into_response()
    };
    let Some(secret) = kept(request.headers(), COOKIE) else { return unpaired() };
    match blocking(move || let_in(&jobs, &secret)).await {
        Ok(Some((device, renewed))) => {
            request.extensions_mut().insert(Asker::Paired(Arc::new(device)));
            let mut answer = next.run(request).await;
            if let Some(Ok(value)) = renewed.map(|secret| HeaderValue::from_str(&cookie(&secret))) {
                answer.headers_mut().append(SET_COOKIE, value);
            }
            answer
        }
        Ok(None) => unpaired(),
        Err(e) => e.into_response(),
    }
}

/// The device that has a token, and another token for it where the one it has is old.
fn let_in(jobs: &Jobs, secret: &str) -> Result<Option<(Device, Option<String>)>, ApiError> {
    let store = jobs.store();
    let found = store.device_of(&sha256(secret.as_bytes()), &now(), &from_now(TOKEN_OVERLAP_S.number))?;
    let Some((device, token)) = found else { return Ok(None) };
    if token.made_at > ago(TOKEN_RENEWED_S.number) {
        return Ok(Some((device, None)));
    }
    let (secret, next) = new_token()?;
    // Of several requests at once one brings it; should that answer be lost, the next request a little later does.
    let given = store.renew(&device.id, &next, &ago(TOKEN_OVERLAP_S.number))?;
    Ok(Some((device, given.then_some(secret))))
}
