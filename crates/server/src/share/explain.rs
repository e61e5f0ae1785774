//! The page that explains the warning: over plain HTTP, since it is read before the certificate is trusted. It knows
//! nothing of any job.

use super::gate::Sharing;
use axum::Router;
use axum::extract::State;
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{Html, IntoResponse};
use axum::routing::get;
use std::sync::Arc;

const PAGE: &str = include_str!("explain.html");
const SCRIPT: &str = include_str!("explain.js");
const STYLE: &str = include_str!("explain.css");

/// The page, its script and style, and the authority's certificate. `https_port` is where the app is.
pub fn explanation(sharing: Arc<Sharing>, https_port: u16) -> Router {
    let page = PAGE
        .replace("{{fingerprint}}", &sharing.authority.fingerprint())
        .replace("{{port}}", &https_port.to_string());
    Router::new()
        .route("/", get(move || async move { Html(page) }))
        .route("/explain.js", get(|| async { ([(CONTENT_TYPE, "text/javascript; charset=utf-8")], SCRIPT) }))
        .route("/explain.css", get(|| async { ([(CONTENT_TYPE, "text/css; charset=utf-8")], STYLE) }))
        .route("/loamline.crt", get(certificate))
        .with_state(sharing)
}

async fn certificate(State(sharing): State<Arc<Sharing>>) -> impl IntoResponse {
    (
        [
            (CONTENT_TYPE, "application/x-x509-ca-cert"),
            (CONTENT_DISPOSITION, "attachment; filename=\"loamline.crt\""),
        ],
        sharing.authority.der().to_vec(),
    )
}
