//! Reading what is sent, with refusals in one form that name the field.

use crate::error::{ApiError, FieldProblem, shown};
use crate::error_code::ErrorCode;
use axum::body::Bytes;
use axum::extract::{FromRequest, FromRequestParts, Path, Query, Request};
use axum::http::header::CONTENT_TYPE;
use axum::http::request::Parts;
use axum::http::{HeaderMap, StatusCode};
use loamline_limits::{BODY_VALUES, Exceeded};
use serde::de::DeserializeOwned;

/// A JSON body.
pub struct Body<T>(pub T);

/// Parts of the path.
pub struct In<T>(pub T);

/// The query.
pub struct Asked<T>(pub T);

/// A body of bytes.
pub struct Raw(pub Bytes);

fn media_type(headers: &HeaderMap) -> Option<&str> {
    headers.get(CONTENT_TYPE)?.to_str().ok()?.split(';').next().map(str::trim)
}

/// Refuses a body of another media type than those given.
///
/// # Errors
/// 415 with the media types that fit.
pub fn of_type(headers: &HeaderMap, offered: &[&'static str]) -> Result<&'static str, ApiError> {
    let sent = media_type(headers);
    offered.iter().find(|o| sent.is_some_and(|s| s.eq_ignore_ascii_case(o))).copied().ok_or_else(|| {
        let found = sent.map_or_else(|| "has no content type".to_owned(), |s| format!("is \"{s}\""));
        ApiError::new(
            StatusCode::UNSUPPORTED_MEDIA_TYPE,
            ErrorCode::WrongType,
            format!("What was sent {found}; {} is wanted here.", offered.join(" or ")),
        )
    })
}

impl<S: Send + Sync> FromRequest<S> for Raw {
    type Rejection = ApiError;

    async fn from_request(request: Request, state: &S) -> Result<Self, ApiError> {
        Bytes::from_request(request, state).await.map(Self).map_err(|e| {
            let status = e.status();
            if status == StatusCode::PAYLOAD_TOO_LARGE {
                ApiError::new(status, ErrorCode::TooLarge, "What was sent is larger than this place takes.")
            } else {
                ApiError::new(
                    StatusCode::BAD_REQUEST,
                    ErrorCode::BadRequest,
                    "What was sent did not arrive whole.",
                )
            }
        })
    }
}

impl<S: Send + Sync, T: DeserializeOwned> FromRequest<S> for Body<T> {
    type Rejection = ApiError;

    async fn from_request(request: Request, state: &S) -> Result<Self, ApiError> {
        of_type(request.headers(), &["application/json"])?;
        let Raw(bytes) = Raw::from_request(request, state).await?;
        holds_little(&bytes).map_err(|more| ApiError::too_large("", more))?;
        let mut read = serde_json::Deserializer::from_slice(&bytes);
        let value: T = serde_path_to_error::deserialize(&mut read).map_err(|e| {
            let (path, inner) = (pointer(e.path()), e.inner());
            if inner.is_syntax() || inner.is_eof() {
                ApiError::new(
                    StatusCode::BAD_REQUEST,
                    ErrorCode::BadRequest,
                    format!("This is no JSON: {inner}."),
                )
            } else {
                ApiError::field(path, plainly(&inner.to_string()).1)
            }
        })?;
        read.end().map_err(|_| {
            ApiError::new(
                StatusCode::BAD_REQUEST,
                ErrorCode::BadRequest,
                "There is more after the JSON value.",
            )
        })?;
        Ok(Self(value))
    }
}

/// Asks whether a text of JSON holds no more values than are read, before any is made: each takes many times its two
/// letters. Counts at least as many as there are.
///
/// # Errors
/// The bound it passes.
pub fn holds_little(json: &[u8]) -> Result<(), Exceeded> {
    let (mut values, mut in_text, mut escaped) = (1usize, false, false);
    for byte in json {
        match (in_text, byte) {
            (true, _) if escaped => escaped = false,
            (true, b'\\') => escaped = true,
            (_, b'"') => in_text = !in_text,
            (false, b',' | b'[' | b'{') => values += 1,
            _ => {}
        }
    }
    BODY_VALUES.check(values)
}

/// RFC 6901 pointer of a place in a body.
fn pointer(path: &serde_path_to_error::Path) -> String {
    use serde_path_to_error::Segment;
    path.iter()
        .map(|s| match s {
            Segment::Seq { index } => format!("/{index}"),
            Segment::Map { key } => format!("/{}", loamline_terms::pointer::escape(key)),
            Segment::Enum { variant } => format!("/{variant}"),
            Segment::Unknown => String::new(),
        })
        .collect()
}

impl<S: Send + Sync, T: DeserializeOwned + Send> FromRequestParts<S> for In<T> {
    type Rejection = ApiError;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, ApiError> {
        match Path::<T>::from_request_parts(parts, state).await {
            Ok(Path(value)) => Ok(Self(value)),
            // A name that is no text, such as %ff, is the name of nothing.
            Err(_) => Err(ApiError::not_found("such thing: a name in the address is no text")),
        }
    }
}

impl<S: Send + Sync, T: DeserializeOwned> FromRequestParts<S> for Asked<T> {
    type Rejection = ApiError;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, ApiError> {
        Query::<T>::from_request_parts(parts, state).await.map(|Query(value)| Self(value)).map_err(|e| {
            // "Failed to deserialize query string: limit: invalid digit found in string"
            let text = e.body_text();
            let about = text.split_once(": ").map_or(text.as_str(), |x| x.1);
            let (name, what) = match about.split_once(": ") {
                Some((name, what)) => (name.to_owned(), plainly(what).1),
                None => plainly(about),
            };
            ApiError::invalid(what.clone(), vec![FieldProblem::new(format!("?{name}"), what)])
        })
    }
}

/// What a reader of forms complains of, as a sentence; with the name it is about where it names one.
fn plainly(complaint: &str) -> (String, String) {
    // Where in the text is told by the name of the field.
    let complaint = complaint.split(" at line ").next().unwrap_or_default();
    let mut parts = complaint.split('`');
    let (what, name) = (parts.next().unwrap_or_default(), parts.next().unwrap_or_default());
    let wanted = complaint.split_once("expected ").map_or("", |x| x.1).replace('`', "\"");
    let is_there = match wanted.as_str() {
        "" | "there are no fields" => "there is none".to_owned(),
        wanted => format!("there is {}", wanted.trim_start_matches("one of ")),
    };
    let sent = shown(name);
    let sentence = match what {
        "unknown field " => format!("There is no \"{sent}\" here; {is_there}."),
        "unknown variant " => format!("\"{sent}\" is none of what may stand here; {is_there}."),
        "duplicate field " => format!("\"{sent}\" stands here twice."),
        "missing field " => format!("\"{sent}\" is missing."),
        _ => return (String::new(), format!("{}.", shown(complaint))),
    };
    let about = if what == "unknown variant " { "" } else { name };
    (about.to_owned(), sentence)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde::Deserialize;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    #[expect(dead_code, reason = "only read into")]
    struct Form {
        sheet: Sheet,
        count: u8,
    }

    #[derive(Debug, Deserialize)]
    #[serde(rename_all = "lowercase")]
    enum Sheet {
        Small,
        Large,
    }

    #[test]
    fn values_are_counted_and_letters_in_texts_are_not() {
        assert!(holds_little(format!("[{}0]", "0,".repeat(199_000)).as_bytes()).is_ok());
        let more = holds_little(format!("[{}0]", "0,".repeat(200_000)).as_bytes()).unwrap_err();
        assert!(more.to_string().contains("200 000"), "{more}");
        assert!(holds_little(format!(r#"["\"{}"]"#, ",[{".repeat(200_000)).as_bytes()).is_ok());
    }

    #[test]
    fn complaints_are_sentences() {
        for (sent, about, sentence) in [
            (r#"{"sheets":1}"#, "sheets", r#"There is no "sheets" here; there is "sheet" or "count"."#),
            (
                r#"{"sheet":"huge"}"#,
                "",
                r#""huge" is none of what may stand here; there is "small" or "large"."#,
            ),
            (r#"{"sheet":"small","sheet":"large"}"#, "sheet", r#""sheet" stands here twice."#),
            (r#"{"sheet":"small"}"#, "count", r#""count" is missing."#),
        ] {
            let complaint = serde_json::from_str::<Form>(sent).unwrap_err().to_string();
            assert_eq!(plainly(&complaint), (about.to_owned(), sentence.to_owned()), "{sent}");
        }
    }
}
