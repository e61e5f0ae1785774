//! The page that explains the warning: over plain HTTP, since it is read before the certificate is trusted. It knows
//! nothing of any job.

use super::gate::Sharing;
use axum::Router;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::http::header::{ACCEPT_LANGUAGE, CONTENT_DISPOSITION, CONTENT_TYPE, VARY};
use axum::response::{Html, IntoResponse};
use axum::routing::get;
use std::sync::Arc;

const PAGE: &str = include_str!("explain.html");
const PAGE_IN_SPANISH: &str = include_str!("explain.es.html");
const SCRIPT: &str = include_str!("explain.js");
const STYLE: &str = include_str!("explain.css");

/// The page, its script and style, and the authority's certificate. `https_port` is where the app is.
pub fn explanation(sharing: Arc<Sharing>, https_port: u16) -> Router {
    let fingerprint = sharing.authority.fingerprint();
    let [english, spanish] = [PAGE, PAGE_IN_SPANISH].map(|page| {
        page.replace("{{fingerprint}}", &fingerprint).replace("{{port}}", &https_port.to_string())
    });
    let page = move |headers: HeaderMap| async move {
        ([(VARY, "accept-language")], Html(if reads_spanish(&headers) { spanish } else { english }))
    };
    Router::new()
        .route("/", get(page))
        .route("/explain.js", get(|| async { ([(CONTENT_TYPE, "text/javascript; charset=utf-8")], SCRIPT) }))
        .route("/explain.css", get(|| async { ([(CONTENT_TYPE, "text/css; charset=utf-8")], STYLE) }))
        .route("/loamline.crt", get(certificate))
        .with_state(sharing)
}

/// Whether a browser asks for Spanish before English: it names languages in the order its owner prefers them.
fn reads_spanish(headers: &HeaderMap) -> bool {
    let asked = headers.get(ACCEPT_LANGUAGE).and_then(|value| value.to_str().ok()).unwrap_or_default();
    let mut names = asked.split(',').map(|tag| tag.trim().split(['-', ';']).next().unwrap_or_default());
    names.find(|name| ["es", "en"].contains(name)) == Some("es")
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

#[cfg(test)]
mod tests {
    use super::*;
    use axum::http::HeaderValue;

    /// RFC 9110, 12.5.4: tags with weights; browsers write the most wanted first.
    #[test]
    fn speaks_what_the_browser_asks_for_first() {
        for (asked, spanish) in [
            ("es-ES,es;q=0.9,en;q=0.8", true),
            ("es", true),
            ("fr-FR, es;q=0.7, en;q=0.3", true),
            ("en-US,en;q=0.9,es;q=0.8", false),
            ("et-EE", false),
            ("", false),
        ] {
            let headers = HeaderMap::from_iter([(ACCEPT_LANGUAGE, HeaderValue::from_static(asked))]);
            assert_eq!(reads_spanish(&headers), spanish, "{asked}");
        }
        assert!(!reads_spanish(&HeaderMap::new()));
    }

    #[test]
    fn both_pages_have_the_same_parts() {
        let parts = |page: &str| {
            ["{{fingerprint}}", "{{port}}", "/loamline.crt", "id=\"open\"", "<li>", "/explain.js"]
                .map(|part| page.matches(part).count())
        };
        assert_eq!(parts(PAGE), parts(PAGE_IN_SPANISH));
        assert!(parts(PAGE).iter().all(|n| *n > 0));
    }
}
