//! Whoever closes the browser stops what he asked for.
#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

mod common;

use axum::http::StatusCode;
use common::Browser;
use loamline_server::{SqliteStore, background_work_under_way};
use std::path::Path;
use std::time::{Duration, Instant};

/// Time from the end of a request to the end of its work, where other tests want the cores as well. The 0.2 s that are promised
/// are measured with nothing else running, in checks/test_budget.py.
const AT_ONCE: Duration = Duration::from_millis(800);

/// Waits until as much work is under way; how long that took.
async fn until(under_way: usize) -> Duration {
    let since = Instant::now();
    while background_work_under_way() != under_way {
        assert!(since.elapsed() < Duration::from_secs(60), "{} under way", background_work_under_way());
        tokio::time::sleep(Duration::from_millis(1)).await;
    }
    since.elapsed()
}

/// The largest example, whose settings take seconds.
async fn large_job(browser: &Browser) -> String {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/quayside-hotel/job.toml");
    let text = std::fs::read_to_string(file).unwrap();
    let request = axum::http::Request::post("/api/jobs/import")
        .header("host", "127.0.0.1:8437")
        .header("content-type", "application/zip")
        .body(axum::body::Body::from(zipped(&text)));
    let (status, made) = browser.send(request.unwrap()).await;
    let made: serde_json::Value = serde_json::from_slice(&made).unwrap();
    assert_eq!(status, StatusCode::CREATED, "{made}");
    made["id"].as_str().unwrap().to_owned()
}

fn zipped(job: &str) -> Vec<u8> {
    use std::io::Write as _;
    let mut zip = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    zip.start_file("job.toml", zip::write::SimpleFileOptions::default()).unwrap();
    zip.write_all(job.as_bytes()).unwrap();
    zip.finish().unwrap().into_inner()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_dropped_request_ends_its_work_and_the_next_one_is_answered() {
    let browser = std::sync::Arc::new(Browser::new(SqliteStore::in_memory().unwrap()));
    let id = large_job(&browser).await;
    for path in ["processing", "bass"] {
        let path = format!("/api/jobs/{id}/{path}");
        let asked = {
            let (browser, path) = (std::sync::Arc::clone(&browser), path.clone());
            tokio::spawn(async move { browser.ask("GET", &path, None).await })
        };
        until(1).await;
        // Somewhere in the middle of it.
        tokio::time::sleep(Duration::from_millis(300)).await;
        assert_eq!(background_work_under_way(), 1, "{path} is too quick to be stopped");
        asked.abort();
        let took = until(0).await;
        assert!(took < AT_ONCE, "{path}: {took:?}");
    }
    // Others are served, and what the one who left was making is made by the next.
    let other = browser.example().await;
    let (status, answer) = browser.ask("GET", &format!("/api/jobs/{other}/findings"), None).await;
    assert_eq!(status, StatusCode::OK, "{answer}");
    let (status, answer) = browser.ask("GET", &format!("/api/jobs/{id}/findings"), None).await;
    assert_eq!(status, StatusCode::OK, "{answer}");
}
