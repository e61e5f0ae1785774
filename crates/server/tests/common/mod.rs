//! Asking the application without a network.
#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::http::{Request, StatusCode};
use loamline_server::{Door, Jobs, SqliteStore, application};
use serde_json::Value;
use std::sync::Arc;
use tower::ServiceExt as _;

pub struct Browser {
    app: Router,
}

impl Browser {
    pub fn new(store: SqliteStore) -> Self {
        let jobs = Arc::new(Jobs::new(Arc::new(store)));
        Self { app: application(jobs, Door::loopback(8437)) }
    }

    pub async fn send(&self, request: Request<Body>) -> (StatusCode, Vec<u8>) {
        let answer = self.app.clone().oneshot(request).await.unwrap();
        (answer.status(), to_bytes(answer.into_body(), 1 << 28).await.unwrap().to_vec())
    }

    pub async fn ask(&self, method: &str, path: &str, body: Option<Value>) -> (StatusCode, Value) {
        let request = Request::builder().method(method).uri(path).header("host", "127.0.0.1:8437");
        let request = match body {
            Some(body) => {
                request.header("content-type", "application/json").body(Body::from(body.to_string()))
            }
            None => request.body(Body::empty()),
        };
        let (status, bytes) = self.send(request.unwrap()).await;
        (status, serde_json::from_slice(&bytes).unwrap_or(Value::Null))
    }

    pub async fn example(&self) -> String {
        let (status, made) =
            self.ask("POST", "/api/jobs", Some(serde_json::json!({ "from": "example" }))).await;
        assert_eq!(status, StatusCode::CREATED);
        made["id"].as_str().unwrap().to_owned()
    }
}
