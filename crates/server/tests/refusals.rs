//! What hostile pages and hostile requests get.

mod common;

use axum::body::Body;
use axum::http::{Request, StatusCode};
use common::Browser;
use loamline_limits::ATTACHMENTS;
use loamline_server::SqliteStore;
use serde_json::{Value, json};

fn request(method: &str, path: &str) -> axum::http::request::Builder {
    Request::builder().method(method).uri(path).header("host", "127.0.0.1:8437")
}

#[tokio::test]
async fn other_names_and_other_pages_get_nothing() {
    let b = Browser::new(SqliteStore::in_memory().unwrap());
    let id = b.example().await;
    let live = format!("/api/jobs/{id}/live");
    for path in ["/", "/api/jobs", live.as_str(), "/api/openapi.json"] {
        let rebound = Request::builder().uri(path).header("host", "rebound.example:8437");
        let foreign = request("GET", path).header("origin", "http://elsewhere.example");
        let framed = request("GET", path).header("sec-fetch-site", "cross-site");
        for hostile in [rebound, foreign, framed] {
            let (status, bytes) = b.send(hostile.body(Body::empty()).unwrap()).await;
            let told: Value = serde_json::from_slice(&bytes).unwrap();
            assert_eq!(
                (status, &told["error"]["code"]),
                (StatusCode::FORBIDDEN, &json!("forbidden")),
                "{path}"
            );
        }
    }
    let form = request("POST", "/api/jobs")
        .header("content-type", "text/plain")
        .body(Body::from(r#"{"from":"example"}"#))
        .unwrap();
    assert_eq!(b.send(form).await.0, StatusCode::UNSUPPORTED_MEDIA_TYPE);
}

#[tokio::test]
async fn no_path_leads_to_a_file() {
    let b = Browser::new(SqliteStore::in_memory().unwrap());
    let id = b.example().await;
    for path in [
        "/../Cargo.toml",
        "/assets/../../Cargo.toml",
        "/..%2f..%2fetc%2fpasswd",
        "/%2e%2e/%2e%2e/etc/passwd",
        "//etc/passwd",
        "/api/jobs/..%2f..%2fetc",
        "/api/jobs/%00",
        "/api/jobs/%ff%fe",
        &format!("/api/jobs/{id}/attachments/..%2f..%2fjobs.sqlite"),
        &format!("/api/jobs/{id}/attachments/%2fetc%2fpasswd"),
    ] {
        let (status, bytes) = b.send(request("GET", path).body(Body::empty()).unwrap()).await;
        let page = String::from_utf8_lossy(&bytes);
        let refused = status.is_client_error();
        // A path without a dot is a page of the app, whatever it says.
        assert!(refused || page.starts_with("<!doctype html>"), "{path}: {status} {page}");
        assert!(!page.contains("root:") && !page.contains("[workspace"), "{path}");
    }
}

#[tokio::test]
async fn attachments_are_what_they_say_within_their_size() {
    let b = Browser::new(SqliteStore::in_memory().unwrap());
    let id = b.example().await;
    let put = |name: &str, media_type: &str, bytes: Vec<u8>| {
        request("PUT", &format!("/api/jobs/{id}/attachments/{name}"))
            .header("content-type", media_type)
            .body(Body::from(bytes))
            .unwrap()
    };
    let png = b"\x89PNG\r\n\x1a\nrest".to_vec();
    let (status, told) = b.send(put("plan.png", "image/png", png.clone())).await;
    assert_eq!(status, StatusCode::OK, "{}", String::from_utf8_lossy(&told));
    let get = request("GET", &format!("/api/jobs/{id}/attachments/plan.png")).body(Body::empty()).unwrap();
    assert_eq!(b.send(get).await, (StatusCode::OK, png.clone()));
    let script = b"<script>alert(1)</script>".to_vec();
    assert_eq!(b.send(put("a.png", "image/png", script.clone())).await.0, StatusCode::UNSUPPORTED_MEDIA_TYPE);
    assert_eq!(b.send(put("a.html", "text/html", script)).await.0, StatusCode::UNSUPPORTED_MEDIA_TYPE);
    assert_eq!(b.send(put("..%2fa.png", "image/png", png.clone())).await.0, StatusCode::UNPROCESSABLE_ENTITY);
    let mut large = png;
    large.resize(33 << 20, 0);
    assert_eq!(b.send(put("large.png", "image/png", large)).await.0, StatusCode::PAYLOAD_TOO_LARGE);
    let long = json!({ "name": "x".repeat(3 << 20), "from": "empty" });
    assert_eq!(b.ask("POST", "/api/jobs", Some(long)).await.0, StatusCode::PAYLOAD_TOO_LARGE);
}

#[tokio::test]
async fn a_full_job_takes_no_more_files_and_says_so() {
    let b = Browser::new(SqliteStore::in_memory().unwrap().with_room(2_000_000));
    let id = b.example().await;
    let other = b.example().await;
    let put = async |job: &str, name: &str, bytes: usize| {
        let mut png = b"\x89PNG\r\n\x1a\n".to_vec();
        png.resize(bytes, 7);
        let put = request("PUT", &format!("/api/jobs/{job}/attachments/{name}"))
            .header("content-type", "image/png")
            .body(Body::from(png))
            .unwrap();
        let (status, told) = b.send(put).await;
        (status, String::from_utf8(told).unwrap())
    };
    assert_eq!(put(&id, "a.png", 1_200_000).await.0, StatusCode::OK);
    let (status, told) = put(&id, "b.png", 900_000).await;
    assert_eq!(status, StatusCode::PAYLOAD_TOO_LARGE);
    assert!(
        told.contains("job_full") && told.contains("keeps 1.2 MB") && told.contains("the 2 MB"),
        "{told}"
    );
    // Nothing of it was kept; one in place of another counts once; another job has its own room.
    assert_eq!(
        b.ask("GET", &format!("/api/jobs/{id}/attachments"), None).await.1.as_array().unwrap().len(),
        1
    );
    assert_eq!(put(&id, "a.png", 1_900_000).await.0, StatusCode::OK);
    assert_eq!(put(&id, "a.png", 100_000).await.0, StatusCode::OK);
    assert_eq!(put(&id, "b.png", 900_000).await.0, StatusCode::OK);
    assert_eq!(put(&other, "b.png", 1_900_000).await.0, StatusCode::OK);
}

/// A job folder with an empty job and so many pictures, zipped.
fn folder_with_pictures(pictures: usize) -> zip::result::ZipResult<Vec<u8>> {
    use std::io::Write as _;
    let mut archive = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let options = zip::write::SimpleFileOptions::default();
    archive.start_file("job.toml", options)?;
    archive.write_all(b"format = 1\n[job]\nname = \"Many\"\n")?;
    for n in 0..pictures {
        archive.start_file(format!("attachments/{n}.png"), options)?;
        archive.write_all(b"\x89PNG\r\n\x1a\n")?;
    }
    Ok(archive.finish()?.into_inner())
}

#[tokio::test]
async fn a_job_with_as_many_files_as_it_may_keep_takes_no_more_and_says_so() {
    let b = Browser::new(SqliteStore::in_memory().unwrap());
    let import = async |pictures: usize| {
        let import = request("POST", "/api/jobs/import").header("content-type", "application/zip");
        let (status, told) =
            b.send(import.body(Body::from(folder_with_pictures(pictures).unwrap())).unwrap()).await;
        (status, serde_json::from_slice::<Value>(&told).unwrap())
    };
    let most = ATTACHMENTS.most();
    let (status, told) = import(most + 1).await;
    let both = [(most + 1).to_string(), format!("may keep {most}")];
    let message = told["error"]["message"].as_str().unwrap();
    assert_eq!(status, StatusCode::PAYLOAD_TOO_LARGE);
    assert!(both.iter().all(|number| message.contains(number)), "{told}");
    let jobs = b.ask("GET", "/api/jobs", None).await.1;
    assert_eq!(jobs.as_array().map(Vec::len), Some(0), "half a job was left behind: {jobs}");
    let (status, made) = import(most).await;
    assert_eq!(status, StatusCode::CREATED, "{made}");
    let id = made["id"].as_str().unwrap();
    let put = async |name: &str| {
        let put = request("PUT", &format!("/api/jobs/{id}/attachments/{name}"));
        let png = Body::from(b"\x89PNG\r\n\x1a\nrest".to_vec());
        let (status, told) = b.send(put.header("content-type", "image/png").body(png).unwrap()).await;
        (status, String::from_utf8(told).unwrap())
    };
    let (status, told) = put("one-more.png").await;
    assert_eq!(status, StatusCode::PAYLOAD_TOO_LARGE);
    assert!(told.contains("job_full") && told.contains(&both[0]), "{told}");
    // One in place of another is no more than there were, and one taken away makes room.
    assert_eq!(put("0.png").await.0, StatusCode::OK);
    let away = format!("/api/jobs/{id}/attachments/1.png");
    assert_eq!(b.ask("DELETE", &away, None).await.0, StatusCode::NO_CONTENT);
    assert_eq!(put("one-more.png").await.0, StatusCode::OK);
}

#[tokio::test]
async fn a_job_folder_goes_out_and_comes_in() {
    let b = Browser::new(SqliteStore::in_memory().unwrap());
    let id = b.example().await;
    let png = b"\x89PNG\r\n\x1a\nrest".to_vec();
    let put = request("PUT", &format!("/api/jobs/{id}/attachments/plan.png"))
        .header("content-type", "image/png")
        .body(Body::from(png.clone()))
        .unwrap();
    b.send(put).await;
    let (status, zip) =
        b.send(request("GET", &format!("/api/jobs/{id}/export")).body(Body::empty()).unwrap()).await;
    assert_eq!(status, StatusCode::OK);
    let import = request("POST", "/api/jobs/import")
        .header("content-type", "application/zip")
        .body(Body::from(zip))
        .unwrap();
    let (status, made) = b.send(import).await;
    assert_eq!(status, StatusCode::CREATED);
    let made: Value = serde_json::from_slice(&made).unwrap();
    let copy = made["id"].as_str().unwrap();
    let document =
        async |id: &str| b.ask("GET", &format!("/api/jobs/{id}"), None).await.1["document"].clone();
    assert_eq!(document(copy).await, document(&id).await);
    let get = request("GET", &format!("/api/jobs/{copy}/attachments/plan.png")).body(Body::empty()).unwrap();
    assert_eq!(b.send(get).await, (StatusCode::OK, png));
}
