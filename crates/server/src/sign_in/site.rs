//! Under which name this server is asked: a passkey belongs to a name, and an identity provider sends people back to one.

use crate::error::ApiError;
use crate::error_code::ErrorCode;
use axum::http::header::HOST;
use axum::http::uri::Authority;
use axum::http::{HeaderMap, StatusCode};
use loamline_terms::say;
use std::net::IpAddr;

/// A name the app is open under.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Site {
    /// The name of the host.
    pub name: String,
    /// The app as browsers name it: `https://NAME` with the port where it is not the usual one.
    pub origin: String,
}

impl Site {
    /// What the app is open under on the network, by the host a request was sent to. That this is one of the server's own is seen
    /// to by the guard.
    ///
    /// # Errors
    /// Where that is a number: 409, with the ways out.
    pub fn asked(headers: &HeaderMap) -> Result<Self, ApiError> {
        let host = headers.get(HOST).and_then(|h| h.to_str().ok()).unwrap_or_default().to_ascii_lowercase();
        let name = host.parse::<Authority>().map(|a| a.host().to_owned()).unwrap_or_default();
        if name.is_empty() || is_number(&name) {
            return Err(ApiError::new(
                StatusCode::CONFLICT,
                ErrorCode::NoSignIn,
                say!(
                    "Signing in needs the server's name, and this device knows it by a number. Open the app by its name, or pair this device by a code. The server is given a name with --address."
                ),
            ));
        }
        Ok(Self { name, origin: format!("https://{host}") })
    }
}

/// Whether a host is an address and no name.
pub fn is_number(host: &str) -> bool {
    host.trim_start_matches('[').trim_end_matches(']').parse::<IpAddr>().is_ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use axum::http::HeaderValue;

    fn asked(host: &'static str) -> Result<Site, ApiError> {
        let mut headers = HeaderMap::new();
        headers.insert(HOST, HeaderValue::from_static(host));
        Site::asked(&headers)
    }

    #[test]
    fn a_name_is_taken_and_a_number_is_told_the_ways_out() {
        let site = asked("Jobs.Example:8438").unwrap();
        assert_eq!((site.name.as_str(), site.origin.as_str()), ("jobs.example", "https://jobs.example:8438"));
        assert_eq!(asked("jobs.example").unwrap().origin, "https://jobs.example");
        assert_eq!(asked("localhost:8438").unwrap().name, "localhost");
        for number in ["192.168.1.5:8438", "[fd00::1]:8438", "127.0.0.1", ""] {
            let why = asked(number).unwrap_err();
            assert_eq!(
                (why.status, why.problem.code),
                (StatusCode::CONFLICT, ErrorCode::NoSignIn),
                "{number}"
            );
            assert!(why.problem.message.contains("by a code"), "{number}");
        }
    }
}
