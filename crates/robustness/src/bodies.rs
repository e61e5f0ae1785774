//! JSON bodies of the HTTP interface, through the whole application as a browser meets it.
//!
//! The first byte chooses the address among all that take a JSON body (as the interface's own description lists them), the
//! second whether it is that of a job that is there; the rest is the body. For a job that is not there the body is read
//! before that is found out, so every shape of every body is tried at no cost of an answer.

use axum::body::Body;
use axum::http::{Request, StatusCode};
use axum::{Router, body};
use loamline_server::{Door, Jobs, SqliteStore, application, openapi};
use serde_json::Value;
use std::sync::{Arc, OnceLock};
use tokio::runtime::{Builder, Runtime};
use tower::ServiceExt as _;

/// Largest answer that is looked at, bytes.
const LARGEST: usize = 1 << 24;
/// Addresses that are also asked about a job that is there: those that change nothing and answer at once.
const CHEAP: [&str; 3] = ["/take-out", "/put-on", "/length"];

struct Server {
    app: Router,
    runtime: Runtime,
    /// Method and path of every address that takes a JSON body.
    addresses: Vec<(String, String)>,
    /// Id of the example.
    example: String,
}

pub fn bodies(bytes: &[u8]) {
    let [which, there, sent @ ..] = bytes else { return };
    let server = server();
    let (method, path) = &server.addresses[usize::from(*which) % server.addresses.len()];
    let there = there % 2 == 1 && CHEAP.iter().any(|end| path.ends_with(end));
    let id = if there { server.example.as_str() } else { "none" };
    let path = path.replace("{id}", id).replace("{stub}", "S1");
    let (status, answer) = server.ask(method, &path, sent.to_vec());
    let told = || String::from_utf8_lossy(&answer).into_owned();
    assert!(!status.is_server_error(), "{method} {path} answers {status}: {}", told());
    if status.is_client_error() {
        let refusal: Value = serde_json::from_slice(&answer).expect("a refusal is JSON");
        let message = refusal["error"]["message"].as_str().unwrap_or_default();
        assert!(!message.is_empty(), "{method} {path} refuses without a word: {}", told());
        assert!(answer.len() < 100_000, "a refusal of {} letters", answer.len());
    }
    if status == StatusCode::CREATED {
        // A job was made: it goes again.
        let made: Value = serde_json::from_slice(&answer).expect("what was made is told in JSON");
        let id = made["id"].as_str().expect("its id is told");
        let (status, _) = server.ask("DELETE", &format!("/api/jobs/{id}"), Vec::new());
        assert!(status.is_success(), "{status}");
    }
}

impl Server {
    fn ask(&self, method: &str, path: &str, sent: Vec<u8>) -> (StatusCode, Vec<u8>) {
        let request = Request::builder()
            .method(method)
            .uri(path)
            .header("host", "127.0.0.1:8437")
            .header("content-type", "application/json")
            .body(Body::from(sent))
            .expect("a request as browsers send it");
        self.runtime.block_on(async {
            let answer = self.app.clone().oneshot(request).await.expect("the application always answers");
            let status = answer.status();
            let answer =
                body::to_bytes(answer.into_body(), LARGEST).await.expect("an answer of bounded size");
            (status, answer.to_vec())
        })
    }
}

fn server() -> &'static Server {
    static SERVER: OnceLock<Server> = OnceLock::new();
    SERVER.get_or_init(|| {
        let store = SqliteStore::in_memory().expect("a store in memory");
        let app = application(Arc::new(Jobs::new(Arc::new(store))), Door::loopback(8437));
        let runtime = Builder::new_current_thread().enable_all().build().expect("a run-time");
        let mut server = Server { app, runtime, addresses: addresses(), example: String::new() };
        let (status, made) = server.ask("POST", "/api/jobs", br#"{"from":"example"}"#.to_vec());
        assert_eq!(status, StatusCode::CREATED);
        let made: Value = serde_json::from_slice(&made).expect("what was made is told in JSON");
        server.example = made["id"].as_str().expect("its id is told").to_owned();
        server
    })
}

fn addresses() -> Vec<(String, String)> {
    let description = openapi().expect("the interface can be described");
    let description: Value = serde_json::from_str(&description).expect("the description is JSON");
    let paths = description["paths"].as_object().expect("the description has paths");
    let mut out = Vec::new();
    for (path, methods) in paths {
        for (method, about) in methods.as_object().expect("a path has methods") {
            if about["requestBody"]["content"].get("application/json").is_some() {
                out.push((method.to_uppercase(), path.clone()));
            }
        }
    }
    assert!(out.len() >= 8, "{out:?}");
    out
}
