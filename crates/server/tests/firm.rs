//! What a person sets once and for every job: the firm, own equipment, templates; and how jobs are listed.
#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

mod common;

use axum::body::Body;
use axum::http::{Request, StatusCode};
use common::Browser;
use loamline_server::SqliteStore;
use rusqlite::Connection;
use serde_json::{Value, json};

fn browser() -> Browser {
    Browser::new(SqliteStore::in_memory().unwrap())
}

async fn sent(b: &Browser, path: &str, kind: &str, bytes: &[u8]) -> (StatusCode, Value) {
    let request = Request::builder().method("PUT").uri(path).header("host", "127.0.0.1:8437");
    let request = request.header("content-type", kind).body(Body::from(bytes.to_vec())).unwrap();
    let (status, answer) = b.send(request).await;
    (status, serde_json::from_slice(&answer).unwrap_or(Value::Null))
}

#[tokio::test]
async fn a_firm_is_set_told_and_taken_back() {
    let b = browser();
    let (status, none) = b.ask("GET", "/api/firm", None).await;
    assert_eq!(status, StatusCode::OK);
    assert_eq!((&none["profile"]["name"], &none["prices"]), (&json!(""), &Value::Null));
    let profile = json!({ "name": "Example", "lines": ["1 Lane", "01 23"], "terms": ["30 days"] });
    let (status, set) = b.ask("PUT", "/api/firm", Some(profile)).await;
    assert_eq!(status, StatusCode::OK, "{set}");
    assert_eq!(set["profile"]["lines"], json!(["1 Lane", "01 23"]));
    let (status, why) = b.ask("PUT", "/api/firm", Some(json!({ "nam": "x" }))).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{why}");

    let book = b"code,price\nmargin,18 %\ntax,0.2\nlabour/hour,62\ntask/jiont,3\n";
    let (status, set) = sent(&b, "/api/firm/prices", "text/csv", book).await;
    assert_eq!(status, StatusCode::OK, "{set}");
    assert_eq!(set["prices"].as_str().unwrap().as_bytes(), book);
    let unknown = set["unknown_prices"].as_array().unwrap();
    assert!(unknown.len() == 1 && unknown[0].as_str().unwrap().contains("task/joint"), "{unknown:?}");
    let (status, why) = sent(&b, "/api/firm/prices", "text/csv", b"code,price\nmargin,lots\n").await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{why}");
    assert!(why["error"]["problems"][0]["message"].as_str().unwrap().starts_with("line 2"), "{why}");
    let (_, still) = b.ask("GET", "/api/firm", None).await;
    assert_eq!(
        still["prices"].as_str().unwrap().as_bytes(),
        book,
        "a book that cannot be read replaces none"
    );
    let (status, _) = b.ask("DELETE", "/api/firm/prices", None).await;
    assert_eq!(status, StatusCode::OK);
    let (status, _) = b.ask("DELETE", "/api/firm/prices", None).await;
    assert_eq!(status, StatusCode::NOT_FOUND);
    let (status, why) = sent(&b, "/api/firm/logo", "image/png", b"<svg/>").await;
    assert_eq!(status, StatusCode::UNSUPPORTED_MEDIA_TYPE, "{why}");
}

#[tokio::test]
async fn a_model_of_ones_own_is_entered_used_and_taken_out_once_nothing_uses_it() {
    let b = browser();
    let id = b.example().await;
    let (_, told) = b.ask("GET", &format!("/api/jobs/{id}/catalogue"), None).await;
    let (model, entry) = told["conduits"].as_object().unwrap().iter().next().unwrap();
    let mut entry = entry.clone();
    entry["price_per_m"] = json!("98.70");
    let path = format!("/api/jobs/{id}/catalogue/conduits/{model}");
    let (status, set) = b.ask("PUT", &path, Some(json!({ "entry": entry, "who": "Ann" }))).await;
    assert_eq!((status, &set["revision"]), (StatusCode::OK, &json!(1)), "{set}");
    let (_, told) = b.ask("GET", &format!("/api/jobs/{id}/catalogue"), None).await;
    assert_eq!(told["conduits"][model]["price_per_m"], json!("98.70"));
    let (_, files) = b.ask("GET", &format!("/api/jobs/{id}/catalogue/files"), None).await;
    assert_eq!(files[0]["entries"], json!([{ "table": "conduits", "ids": [model] }]));
    let (_, history) = b.ask("GET", &format!("/api/jobs/{id}/history"), None).await;
    assert!(history[0]["note"].as_str().unwrap().contains(model.as_str()), "{history}");

    let (status, why) = b.ask("PUT", &path, Some(json!({ "entry": { "description": "x" } }))).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{why}");
    assert!(!why.to_string().contains("toml"), "{why}");
    let table = format!("/api/jobs/{id}/catalogue/shelves/{model}");
    assert_eq!(b.ask("PUT", &table, Some(json!({ "entry": {} }))).await.0, StatusCode::NOT_FOUND);
    let file = format!("/api/jobs/{id}/catalogue/files/speakers.txt");
    assert_eq!(b.ask("PUT", &file, Some(json!({ "text": "" }))).await.0, StatusCode::UNPROCESSABLE_ENTITY);

    // The shipped one is still there behind it.
    assert_eq!(b.ask("DELETE", &path, None).await.0, StatusCode::OK);
    assert_eq!(b.ask("DELETE", &path, None).await.0, StatusCode::NOT_FOUND);
    let (_, again) = b.ask("GET", &format!("/api/jobs/{id}/catalogue"), None).await;
    assert_ne!(again["conduits"][model]["price_per_m"], json!("98.70"));
    let (_, job) = b.ask("GET", &format!("/api/jobs/{id}"), None).await;
    assert_eq!((&job["revision"], &job["undo"]), (&json!(2), &Value::Null));
}

#[tokio::test]
async fn the_list_tells_status_and_client_and_a_template_is_one() {
    let b = browser();
    let id = b.example().await;
    let edit = json!({ "edit_id": "0123456789abcdef", "base_revision": 0, "patch": [
        { "op": "add", "path": "/client", "value": { "name": "The owners" } },
        { "op": "add", "path": "/job/status", "value": "sold" },
    ] });
    let (status, done) = b.ask("POST", &format!("/api/jobs/{id}/edits"), Some(edit)).await;
    assert_eq!(status, StatusCode::OK, "{done}");
    let named = json!({ "name": "Courtyards" });
    let (status, made) = b.ask("POST", &format!("/api/jobs/{id}/template"), Some(named)).await;
    assert_eq!(status, StatusCode::CREATED, "{made}");
    let template = made["id"].as_str().unwrap().to_owned();
    let from = json!({ "from": "template", "template": template, "name": "Plum Court" });
    let (status, made) = b.ask("POST", "/api/jobs", Some(from)).await;
    assert_eq!(status, StatusCode::CREATED, "{made}");
    let (_, jobs) = b.ask("GET", "/api/jobs", None).await;
    let row = |name: &str| jobs.as_array().unwrap().iter().find(|j| j["name"] == name).unwrap();
    let told = |j: &Value| (j["status"].clone(), j["client"].clone(), j["template"].clone());
    let first = jobs.as_array().unwrap().iter().find(|j| j["id"] == json!(id)).unwrap();
    assert_eq!(told(first), (json!("sold"), json!("The owners"), json!(false)));
    assert_eq!(told(row("Courtyards")), (json!(""), json!(""), json!(true)));
    assert_eq!(told(row("Plum Court")), (json!(""), json!(""), json!(false)));
    let bare = json!({ "from": "template", "name": "x" });
    assert_eq!(b.ask("POST", "/api/jobs", Some(bare)).await.0, StatusCode::UNPROCESSABLE_ENTITY);
}

/// A store as the version before kept it: without the columns and the table of this one.
#[tokio::test]
async fn a_store_of_the_version_before_is_taken_up_with_its_jobs() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("jobs.sqlite");
    let b = Browser::new(SqliteStore::open(&file).unwrap());
    let id = b.example().await;
    drop(b);
    let c = Connection::open(&file).unwrap();
    c.execute_batch(
        "DROP TABLE tokens; DROP TABLE devices; DROP TABLE deleted_jobs; DROP TABLE doings; DROP TABLE client_links;
         CREATE TABLE devices (id TEXT PRIMARY KEY, token_hash TEXT NOT NULL UNIQUE, name TEXT NOT NULL,
           paired_at TEXT NOT NULL, seen_at TEXT NOT NULL) STRICT;
         DROP INDEX jobs_listed; DROP TABLE firm_files; ALTER TABLE jobs DROP COLUMN status;
         ALTER TABLE jobs DROP COLUMN client; ALTER TABLE jobs DROP COLUMN template;
         CREATE INDEX jobs_listed ON jobs (changed_at DESC, id, name, summary, revision); PRAGMA user_version = 2;",
    )
    .unwrap();
    drop(c);
    let b = Browser::new(SqliteStore::open(&file).unwrap());
    let (status, jobs) = b.ask("GET", "/api/jobs", None).await;
    assert_eq!((status, &jobs[0]["id"], &jobs[0]["template"]), (StatusCode::OK, &json!(id), &json!(false)));
    assert_eq!(b.ask("GET", "/api/firm", None).await.0, StatusCode::OK);
}
