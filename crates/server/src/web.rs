//! The web app, inside the program.

use crate::error::ApiError;
use crate::error_code::ErrorCode;
use crate::random::sha256;
use axum::http::header::{ACCEPT_ENCODING, ALLOW, CACHE_CONTROL, CONTENT_ENCODING, CONTENT_TYPE, ETAG, VARY};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use std::sync::OnceLock;

/// A file of the app.
pub struct File {
    /// Its path in addresses.
    path: &'static str,
    media_type: &'static str,
    plain: &'static [u8],
    /// Packed with gzip, where that is smaller.
    gzip: Option<&'static [u8]>,
}

mod files {
    use super::File;
    include!(concat!(env!("OUT_DIR"), "/files.rs"));
}

/// Whether the app was built before the program was.
pub const BUILT: bool = files::BUILT;

/// What the app inside calls itself, the same as its page carries; none where it carries nothing. Every answer says it, so
/// that a page of another version knows that it is one.
pub static VERSION: Option<&str> = files::VERSION;

/// The header it stands in.
pub const VERSION_HEADER: &str = "x-loamline-app";

/// Files whose names carry a hash of their content.
const HASHED: &str = "/assets/";

/// Answers with a file of the app. Its pages differ after the `#` alone, which browsers keep to themselves.
pub async fn app(method: Method, uri: Uri, headers: HeaderMap) -> Response {
    let path = uri.path();
    if path == "/api" || path.starts_with("/api/") {
        return ApiError::not_found(format!("{path} in this interface")).into_response();
    }
    if method != Method::GET && method != Method::HEAD {
        let refusal =
            ApiError::new(StatusCode::METHOD_NOT_ALLOWED, ErrorCode::BadRequest, "Pages are only read.");
        return ([(ALLOW, "GET, HEAD")], refusal).into_response();
    }
    let wanted = if path == "/" { "/index.html" } else { path };
    match files::FILES.iter().find(|f| f.path == wanted) {
        Some(file) => answer(file, &headers),
        None => ApiError::not_found(format!("{path} in the web app")).into_response(),
    }
}

fn answer(file: &'static File, headers: &HeaderMap) -> Response {
    let etag = etag(file);
    if headers.get("if-none-match").is_some_and(|v| v.as_bytes() == etag.as_bytes()) {
        return (StatusCode::NOT_MODIFIED, [(ETAG, etag)]).into_response();
    }
    let takes_gzip =
        headers.get(ACCEPT_ENCODING).and_then(|v| v.to_str().ok()).is_some_and(|v| v.contains("gzip"));
    let (bytes, packed) = match file.gzip {
        Some(gzip) if takes_gzip => (gzip, true),
        _ => (file.plain, false),
    };
    let cached =
        if file.path.starts_with(HASHED) { "public, max-age=31536000, immutable" } else { "no-cache" };
    let mut response = (
        [
            (CONTENT_TYPE, HeaderValue::from_static(file.media_type)),
            (CACHE_CONTROL, HeaderValue::from_static(cached)),
            (VARY, HeaderValue::from_static("accept-encoding")),
            (ETAG, etag),
        ],
        bytes,
    )
        .into_response();
    if packed {
        response.headers_mut().insert(CONTENT_ENCODING, HeaderValue::from_static("gzip"));
    }
    response
}

fn etag(file: &'static File) -> HeaderValue {
    static TAGS: OnceLock<Vec<(&'static str, HeaderValue)>> = OnceLock::new();
    let tags = TAGS.get_or_init(|| {
        let tag = |f: &File| HeaderValue::from_str(&format!("\"{}\"", &sha256(f.plain)[..32]));
        files::FILES.iter().filter_map(|f| Some((f.path, tag(f).ok()?))).collect()
    });
    let none = HeaderValue::from_static("\"\"");
    tags.iter().find(|t| t.0 == file.path).map_or(none, |t| t.1.clone())
}
