//! Who may ask: only pages of this server itself, under a name it goes by.
//!
//! A page elsewhere on the web can make a browser send requests here, also to a loopback address. `Host` keeps out
//! names that were made to point here (DNS rebinding), `Origin` and `Sec-Fetch-Site` keep out other pages, also on the
//! live channel, which browsers let any page open.

use crate::error::ApiError;
use crate::error_code::ErrorCode;
use crate::web::{VERSION, VERSION_HEADER};
use axum::extract::{Request, State};
use axum::http::header::{HOST, HeaderName, HeaderValue, ORIGIN};
use axum::http::{HeaderMap, Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use loamline_terms::{Sentence, say};
use std::net::IpAddr;
use std::sync::Arc;

/// How this server is reached on one of its ports.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Door {
    /// `http` or `https`.
    pub scheme: &'static str,
    /// The port.
    pub port: u16,
    /// Names it goes by, lower case.
    pub names: Vec<String>,
    /// Whether any address by number is one of its own: so on a network, where this computer has several. A name made
    /// to point here is no number.
    pub any_address: bool,
    /// The host of the address people open it by, as browsers send it, where it has one: a balancer in front may have another port.
    pub host: Option<String>,
}

impl Door {
    /// The loopback door.
    pub fn loopback(port: u16) -> Self {
        let names = ["localhost", "127.0.0.1", "[::1]"].map(str::to_owned).to_vec();
        Self { scheme: "http", port, names, any_address: false, host: None }
    }

    /// Whether a host as sent is this server.
    fn is_here(&self, host: &str) -> bool {
        if self.host.as_ref().is_some_and(|own| own.eq_ignore_ascii_case(host)) {
            return true;
        }
        let usual = if self.scheme == "https" { 443 } else { 80 };
        let (name, port) = match host.rsplit_once(':') {
            Some((name, port)) if !port.ends_with(']') => (name, port.parse().ok()),
            _ => (host, Some(usual)),
        };
        let name = name.to_ascii_lowercase();
        let number = || name.trim_start_matches('[').trim_end_matches(']').parse::<IpAddr>().is_ok();
        port == Some(self.port) && (self.names.contains(&name) || (self.any_address && number()))
    }

    fn allows(
        &self,
        method: &Method,
        path: &str,
        headers: &HeaderMap,
        authority: Option<&str>,
    ) -> Result<(), ApiError> {
        let refused = |why: Sentence| Err(ApiError::new(StatusCode::FORBIDDEN, ErrorCode::Forbidden, why));
        let mut hosts = headers.get_all(HOST).iter();
        let host = match (hosts.next(), hosts.next()) {
            (Some(host), None) => host.to_str().ok(),
            (None, _) => authority,
            _ => None,
        };
        let Some(host) = host.filter(|h| self.is_here(h)) else {
            return refused(say!(
                "This server does not go by that name. Use the address it printed when it started."
            ));
        };
        if let Some(origin) = headers.get(ORIGIN) {
            let own = format!("{}://{host}", self.scheme);
            if !origin.to_str().is_ok_and(|o| o.eq_ignore_ascii_case(&own)) {
                return refused(say!("Only pages of this server itself may ask it."));
            }
        }
        let get = |name: &str| headers.get(name).and_then(|v| v.to_str().ok());
        if let Some(site) = get("sec-fetch-site").filter(|s| !matches!(*s, "same-origin" | "none")) {
            // A link from elsewhere may open the app, nothing more.
            let follows_link = method == Method::GET
                && get("sec-fetch-mode") == Some("navigate")
                && !path.starts_with("/api");
            if !follows_link {
                return refused(say!(
                    "Only pages of this server itself may ask it; this came from a {site} page.",
                    site = site
                ));
            }
        }
        Ok(())
    }
}

/// Nothing from elsewhere, no script or style element within a page. Style attributes are allowed: plans set them.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; style-src-attr 'unsafe-inline'; \
    img-src 'self' data: blob:; font-src 'self'; connect-src 'self'; manifest-src 'self'; worker-src 'self'; \
    frame-src 'self' blob:; object-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'self'";

/// Checks every request and puts on every answer the safety headers, and which app is inside.
pub async fn guard(State(door): State<Arc<Door>>, request: Request, next: Next) -> Response {
    let authority = request.uri().authority().map(|a| a.as_str());
    let is_api = request.uri().path().starts_with("/api");
    let allowed = door.allows(request.method(), request.uri().path(), request.headers(), authority);
    let mut response = match allowed {
        Ok(()) => next.run(request).await,
        Err(refusal) => refusal.into_response(),
    };
    let headers = response.headers_mut();
    for (name, value) in [
        ("content-security-policy", POLICY),
        ("x-content-type-options", "nosniff"),
        ("referrer-policy", "no-referrer"),
        ("cross-origin-resource-policy", "same-origin"),
        ("cross-origin-opener-policy", "same-origin"),
    ] {
        headers.insert(HeaderName::from_static(name), HeaderValue::from_static(value));
    }
    if let Some(version) = VERSION {
        headers.insert(HeaderName::from_static(VERSION_HEADER), HeaderValue::from_static(version));
    }
    if is_api {
        headers.entry("cache-control").or_insert(HeaderValue::from_static("no-store"));
    }
    response
}

#[cfg(test)]
mod tests {
    use super::*;

    fn asks(door: &Door, pairs: &[(&'static str, &str)]) -> bool {
        let mut headers = HeaderMap::new();
        for (k, v) in pairs {
            headers.append(*k, v.parse().unwrap());
        }
        door.allows(&Method::POST, "/api/jobs", &headers, None).is_ok()
    }

    #[test]
    fn only_its_own_names_and_its_own_pages_are_let_in() {
        let door = Door::loopback(8437);
        assert!(asks(&door, &[("host", "127.0.0.1:8437")]));
        assert!(asks(&door, &[("host", "LOCALHOST:8437"), ("origin", "http://localhost:8437")]));
        assert!(asks(&door, &[("host", "[::1]:8437")]));
        for bad in [
            &[("host", "rebound.example:8437")][..],
            &[("host", "127.0.0.1")],
            &[("host", "127.0.0.1:80")],
            &[("host", "192.168.1.5:8437")],
            &[("host", "127.0.0.1:8437"), ("host", "rebound.example:8437")],
            &[("host", "127.0.0.1:8437"), ("origin", "http://elsewhere.example")],
            &[("host", "127.0.0.1:8437"), ("origin", "null")],
            &[("host", "127.0.0.1:8437"), ("origin", "https://127.0.0.1:8437")],
            &[("host", "127.0.0.1:8437"), ("origin", "http://127.0.0.1:9999")],
            &[("host", "127.0.0.1:8437"), ("sec-fetch-site", "cross-site")],
            &[("host", "127.0.0.1:8437"), ("sec-fetch-site", "same-site"), ("sec-fetch-mode", "navigate")],
            &[],
        ] {
            assert!(!asks(&door, bad), "{bad:?}");
        }
    }

    #[test]
    fn on_a_network_numbers_are_fine_and_foreign_names_are_not() {
        let host = Some("jobs.example".to_owned());
        let door =
            Door { scheme: "https", port: 8438, names: vec!["shed.local".into()], any_address: true, host };
        assert!(asks(&door, &[("host", "Jobs.Example"), ("origin", "https://jobs.example")]));
        for other in ["jobs.example:8438", "jobs.example.", "a.jobs.example", "jobs.example.evil.example"] {
            assert!(!asks(&door, &[("host", other)]), "{other}");
        }
        assert!(!asks(&door, &[("host", "jobs.example"), ("origin", "https://jobs.example:8438")]));
        assert!(asks(&door, &[("host", "192.168.1.5:8438"), ("origin", "https://192.168.1.5:8438")]));
        assert!(asks(&door, &[("host", "[fe80::1]:8438")]));
        assert!(asks(&door, &[("host", "shed.local:8438")]));
        assert!(!asks(&door, &[("host", "rebound.example:8438")]));
    }

    #[test]
    fn a_link_from_elsewhere_opens_the_app_but_asks_nothing() {
        let door = Door::loopback(8437);
        let mut headers = HeaderMap::new();
        headers.insert(HOST, HeaderValue::from_static("127.0.0.1:8437"));
        headers.insert("sec-fetch-site", HeaderValue::from_static("cross-site"));
        headers.insert("sec-fetch-mode", HeaderValue::from_static("navigate"));
        assert!(door.allows(&Method::GET, "/", &headers, None).is_ok());
        assert!(door.allows(&Method::GET, "/api/jobs", &headers, None).is_err());
    }
}
