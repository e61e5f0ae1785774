//! Edits over HTTP: merged, refused, undone after a restart, applied once.

mod common;

use axum::http::StatusCode;
use common::Browser;
use loamline_server::SqliteStore;
use serde_json::{Value, json};

fn edit(id: u32, base: u64, patch: Value) -> Option<Value> {
    Some(json!({ "edit_id": format!("edit-{id:08}"), "base_revision": base, "patch": patch, "who": "Ann",
        "note": "try" }))
}

fn replace(path: &str, value: Value) -> Value {
    json!([{ "op": "replace", "path": path, "value": value }])
}

#[tokio::test]
async fn edits_of_different_things_merge_and_of_the_same_thing_ask() {
    let b = Browser::new(SqliteStore::in_memory().unwrap());
    let id = b.example().await;
    let edits = format!("/api/jobs/{id}/edits");
    let (status, first) =
        b.ask("POST", &edits, edit(1, 0, replace("/loudspeakers/L1/bearing", json!(10)))).await;
    assert_eq!((status, &first["revision"]), (StatusCode::OK, &json!(1)));
    // Made on the same revision, elsewhere: merged.
    let (status, second) =
        b.ask("POST", &edits, edit(2, 0, replace("/loudspeakers/L2/bearing", json!(20)))).await;
    assert_eq!((status, &second["revision"]), (StatusCode::OK, &json!(2)));
    // The same thing: both values are told, nothing changes.
    let (status, third) =
        b.ask("POST", &edits, edit(3, 0, replace("/loudspeakers/L1/bearing", json!(30)))).await;
    assert_eq!(status, StatusCode::CONFLICT);
    let e = &third["error"];
    assert_eq!(
        (&e["code"], &e["path"], &e["mine"], &e["theirs"], &e["theirs_who"], &e["revision"]),
        (
            &json!("conflict"),
            &json!("/loudspeakers/L1/bearing"),
            &json!(30),
            &json!(10),
            &json!("Ann"),
            &json!(2)
        )
    );
    // On the newest revision it is no conflict any more.
    let (status, _) = b.ask("POST", &edits, edit(4, 2, replace("/loudspeakers/L1/bearing", json!(30)))).await;
    assert_eq!(status, StatusCode::OK);
    let (_, job) = b.ask("GET", &format!("/api/jobs/{id}"), None).await;
    assert_eq!(job["document"]["loudspeakers"]["L1"]["bearing"], json!(30));
    assert_eq!(job["resolved"]["loudspeakers"]["L2"]["bearing"].as_f64(), Some(20.0));
}

#[tokio::test]
async fn an_edit_sent_twice_is_applied_once() {
    let b = Browser::new(SqliteStore::in_memory().unwrap());
    let id = b.example().await;
    let edits = format!("/api/jobs/{id}/edits");
    let patch = json!([{ "op": "add", "path": "/neighbours/east/line/-", "value": [62.0, 24.0] }]);
    let (status, once) = b.ask("POST", &edits, edit(1, 0, patch.clone())).await;
    assert_eq!(status, StatusCode::OK, "{once}");
    let (status, twice) = b.ask("POST", &edits, edit(1, 0, patch)).await;
    assert_eq!((status, &twice), (StatusCode::OK, &once));
    let (status, other) = b.ask("POST", &edits, edit(1, 1, replace("/job/name", json!("Another")))).await;
    assert_eq!((status, &other["error"]["code"]), (StatusCode::CONFLICT, &json!("edit_id_taken")));
    let (_, history) = b.ask("GET", &format!("/api/jobs/{id}/history"), None).await;
    assert_eq!(history.as_array().map(Vec::len), Some(1));
}

#[tokio::test]
async fn every_refused_edit_names_the_field_and_changes_nothing() {
    let b = Browser::new(SqliteStore::in_memory().unwrap());
    let id = b.example().await;
    let edits = format!("/api/jobs/{id}/edits");
    let cases = [
        (replace("/loudspeakers/L1/tap", json!("much")), "/loudspeakers/L1/tap"),
        (replace("/loudspeakers/L1/line", json!("Q")), "/loudspeakers/L1/line"),
        (replace("/loudspeakers/L99/tap", json!(5)), "/loudspeakers/L99/tap"),
        (replace("/brief/supply", json!(null)), "/brief/supply"),
        (json!([{ "op": "remove", "path": "/job/name" }]), "/job"),
        (json!([]), "/patch"),
    ];
    for (i, (patch, path)) in (10..).zip(cases) {
        let (status, refusal) = b.ask("POST", &edits, edit(i, 0, patch.clone())).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{patch}: {refusal}");
        let told = refusal["error"]["problems"][0]["path"].as_str().unwrap_or_default();
        assert!(told.starts_with(path), "{patch}: {refusal}");
        assert!(!refusal["error"]["problems"][0]["message"].as_str().unwrap_or_default().is_empty());
    }
    let future = edit(30, 9, replace("/job/name", json!("x")));
    let (status, refusal) = b.ask("POST", &edits, future).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(refusal["error"]["problems"][0]["path"], json!("/base_revision"));
    let (status, refusal) = b.ask("POST", &edits, Some(json!({ "edit_id": "edit-00000031" }))).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{refusal}");
    let (_, job) = b.ask("GET", &format!("/api/jobs/{id}"), None).await;
    assert_eq!(job["revision"], json!(0));
}

#[tokio::test]
async fn undo_and_redo_work_after_a_restart() {
    let folder = tempfile::tempdir().unwrap();
    let open = || Browser::new(SqliteStore::open(&folder.path().join("jobs.sqlite")).unwrap());
    let b = open();
    let id = b.example().await;
    let at = |x: f64| replace("/loudspeakers/L1/position", json!([x, 3.0]));
    let (_, before) = b.ask("GET", &format!("/api/jobs/{id}"), None).await;
    for (i, x) in (1..).zip([5.0, 6.0, 7.0]) {
        let (status, e) =
            b.ask("POST", &format!("/api/jobs/{id}/edits"), edit(i, u64::from(i) - 1, at(x))).await;
        assert_eq!(status, StatusCode::OK, "{e}");
    }
    drop(b);
    let place = async |b: &Browser| {
        let (_, job) = b.ask("GET", &format!("/api/jobs/{id}"), None).await;
        job["document"]["loudspeakers"]["L1"]["position"].clone()
    };
    let who = || Some(json!({ "who": "Bea" }));
    let b = open();
    assert_eq!(place(&b).await, json!([7.0, 3.0]));
    for _ in 0..2 {
        b.ask("POST", &format!("/api/jobs/{id}/undo"), who()).await;
    }
    assert_eq!(place(&b).await, json!([5.0, 3.0]));
    drop(b);
    let b = open();
    let (_, job) = b.ask("GET", &format!("/api/jobs/{id}"), None).await;
    assert_eq!((&job["undo"]["note"], &job["redo"]["note"]), (&json!("try"), &json!("try")));
    b.ask("POST", &format!("/api/jobs/{id}/redo"), who()).await;
    assert_eq!(place(&b).await, json!([6.0, 3.0]));
    for _ in 0..2 {
        b.ask("POST", &format!("/api/jobs/{id}/undo"), who()).await;
    }
    let (_, job) = b.ask("GET", &format!("/api/jobs/{id}"), None).await;
    assert_eq!(job["document"], before["document"]);
    let (status, refusal) = b.ask("POST", &format!("/api/jobs/{id}/undo"), who()).await;
    assert_eq!((status, &refusal["error"]["code"]), (StatusCode::CONFLICT, &json!("nothing_to_do")));
    let (_, history) = b.ask("GET", &format!("/api/jobs/{id}/history?limit=2"), None).await;
    assert_eq!((&history[0]["kind"], &history[0]["who"]), (&json!("undo"), &json!("Bea")));
}
