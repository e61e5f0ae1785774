//! A client is shown what the papers say; this program was built without them.

use crate::error::ApiError;
use crate::error_code::ErrorCode;
use axum::http::StatusCode;

fn unbuilt() -> ApiError {
    let why = loamline_terms::say!(
        "What a client is shown comes from the papers, and this program was built without them."
    );
    ApiError::new(StatusCode::NOT_FOUND, ErrorCode::NotBuilt, why)
}

pub async fn client_page() -> ApiError {
    unbuilt()
}

pub async fn client_plan() -> ApiError {
    unbuilt()
}

pub async fn client_guide() -> ApiError {
    unbuilt()
}

pub async fn client_accept() -> ApiError {
    unbuilt()
}

pub async fn client_style() -> ApiError {
    unbuilt()
}

pub async fn client_script() -> ApiError {
    unbuilt()
}
