//! An answer as it is sent.

use crate::error::ApiError;
use axum::body::Bytes;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};
use serde::Serialize;

/// An answer in JSON, written once for all who ask for it.
#[derive(Clone)]
pub struct Told(Bytes);

impl Told {
    /// What is sent of an answer: a tenth of what it takes in memory.
    ///
    /// # Errors
    /// Never in practice: answers are plain data.
    pub fn of(answer: &impl Serialize) -> Result<Self, ApiError> {
        serde_json::to_vec(answer).map(|bytes| Self(bytes.into())).map_err(|_| ApiError::gave_up())
    }

    /// As it is sent.
    pub fn into_bytes(self) -> Bytes {
        self.0
    }
}

impl IntoResponse for Told {
    fn into_response(self) -> Response {
        ([(CONTENT_TYPE, "application/json")], self.0).into_response()
    }
}

impl From<Bytes> for Told {
    fn from(json: Bytes) -> Self {
        Self(json)
    }
}
