//! Taking things out with what hangs on them, and putting loudspeakers on lines that lie already.

mod common;

use axum::http::StatusCode;
use common::Browser;
use loamline_server::SqliteStore;
use serde_json::{Value, json};

async fn carry_out(b: &Browser, id: &str, n: u32, view: &Value) -> Value {
    let body = json!({ "edit_id": format!("change-{n:06}"), "base_revision": view["revision"],
        "patch": view["patch"], "who": "Ann", "note": "try" });
    let (status, done) = b.ask("POST", &format!("/api/jobs/{id}/edits"), Some(body)).await;
    assert_eq!(status, StatusCode::OK, "{done}");
    b.ask("GET", &format!("/api/jobs/{id}"), None).await.1
}

#[tokio::test]
async fn a_loudspeaker_put_down_joins_a_line_that_has_runs() {
    let b = Browser::new(SqliteStore::in_memory().unwrap());
    let id = b.example().await;
    let (_, before) = b.ask("GET", &format!("/api/jobs/{id}"), None).await;
    let runs_of =
        |job: &Value, line: &str| job["document"]["lines"][line]["runs"].as_object().unwrap().clone();
    let first = json!([{ "op": "add", "path": "/loudspeakers/L99",
        "value": { "model": "stake-165-wide", "position": [12, 4] } }]);
    let asked = json!({ "loudspeakers": ["L99"], "line": "A", "first": first });
    let (status, view) = b.ask("POST", &format!("/api/jobs/{id}/put-on"), Some(asked)).await;
    assert_eq!(status, StatusCode::OK, "{view}");
    let after = carry_out(&b, &id, 1, &view).await;
    let (old, new) = (runs_of(&before, "A"), runs_of(&after, "A"));
    assert_eq!(new.len(), old.len() + 1, "one run more");
    assert!(old.iter().all(|(tag, run)| new.get(tag) == Some(run)), "what lies stays as it lies");
    let led = new.iter().find(|(tag, _)| !old.contains_key(*tag)).unwrap().1;
    assert_eq!(led["to"], json!("L99"));
    // The nearest thing on the line, worked out here from the places in the document.
    let at = |tag: &str| {
        let d = &before["resolved"];
        let thing = ["loudspeakers", "joints", "racks", "stubs"].iter().find_map(|t| d[*t].get(tag));
        let p = &thing.unwrap()["position"];
        (p[0].as_f64().unwrap() - 12.0).hypot(p[1].as_f64().unwrap() - 4.0)
    };
    let mut ends: Vec<&str> =
        old.values().flat_map(|r| [r["from"].as_str().unwrap(), r["to"].as_str().unwrap()]).collect();
    ends.sort_by(|a, b| at(a).total_cmp(&at(b)));
    ends.dedup();
    assert!(ends[..4].contains(&led["from"].as_str().unwrap()), "{led} of {ends:?}");
    assert!(after["document"]["loudspeakers"]["L99"]["tap"].as_f64().unwrap() > 0.0, "it has a tap");

    // And off again: the line is as it was.
    let asked = json!({ "loudspeakers": ["L99"], "line": null });
    let (status, view) = b.ask("POST", &format!("/api/jobs/{id}/put-on"), Some(asked)).await;
    assert_eq!(status, StatusCode::OK, "{view}");
    let off = carry_out(&b, &id, 2, &view).await;
    assert_eq!(runs_of(&off, "A"), old);
}

#[tokio::test]
async fn every_loudspeaker_can_change_to_every_line_or_is_told_why_not() {
    let b = Browser::new(SqliteStore::in_memory().unwrap());
    let id = b.example().await;
    let (_, job) = b.ask("GET", &format!("/api/jobs/{id}"), None).await;
    let ids = |table: &str| -> Vec<String> {
        job["document"][table].as_object().unwrap().keys().cloned().collect()
    };
    let (mut done, mut told) = (0, 0);
    let mut reasons = Vec::new();
    for line in ids("lines") {
        for loudspeaker in ids("loudspeakers").into_iter().step_by(4) {
            let asked = json!({ "loudspeakers": [loudspeaker], "line": line });
            let (status, view) = b.ask("POST", &format!("/api/jobs/{id}/put-on"), Some(asked)).await;
            if status == StatusCode::OK {
                done += 1;
            } else {
                assert!(status.is_client_error(), "{loudspeaker} {line}: {view}");
                assert!(!view["error"]["message"].as_str().unwrap().is_empty());
                told += 1;
                reasons.push(format!("{loudspeaker} to {line}: {}", view["error"]["message"]));
            }
        }
    }
    assert!(done > told, "{done} done, {told} told: {}", reasons.join("\n"));
}

#[tokio::test]
async fn what_hangs_on_a_rack_is_told_before_it_goes() {
    let b = Browser::new(SqliteStore::in_memory().unwrap());
    let id = b.example().await;
    let asked = json!({ "table": "racks", "id": "R1" });
    let (status, view) = b.ask("POST", &format!("/api/jobs/{id}/take-out"), Some(asked)).await;
    assert_eq!(status, StatusCode::OK, "{view}");
    let along = view["along"].to_string();
    assert!(along.contains("amplifier") && along.contains("channel P1-1"), "{view}");
    let after = carry_out(&b, &id, 1, &view).await;
    assert!(after["document"].get("racks").is_none_or(|r| r.get("R1").is_none()));
    let nothing = json!({ "table": "racks", "id": "R99" });
    let (status, refusal) = b.ask("POST", &format!("/api/jobs/{id}/take-out"), Some(nothing)).await;
    assert_eq!(status, StatusCode::NOT_FOUND, "{refusal}");
}

#[tokio::test]
async fn taking_out_a_measured_line_keeps_its_readings_and_undoing_brings_it_back() {
    let b = Browser::new(SqliteStore::in_memory().unwrap());
    let id = b.example().await;
    let (_, before) = b.ask("GET", &format!("/api/jobs/{id}"), None).await;
    let asked = json!({ "table": "lines", "id": "A" });
    let (_, view) = b.ask("POST", &format!("/api/jobs/{id}/take-out"), Some(asked)).await;
    let after = carry_out(&b, &id, 1, &view).await;
    let readings = &before["document"]["visits"]["V1"]["readings"];
    assert!(readings.as_object().is_some_and(|r| !r.is_empty()));
    assert_eq!(&after["document"]["visits"]["V1"]["readings"], readings, "nothing measured is lost");
    assert!(after["document"]["visits"]["V1"]["lines"].get("A").is_some(), "{after}");
    let who = || Some(json!({ "who": "Ann" }));
    let (status, done) = b.ask("POST", &format!("/api/jobs/{id}/undo"), who()).await;
    assert_eq!(status, StatusCode::OK, "{done}");
    let (_, back) = b.ask("GET", &format!("/api/jobs/{id}"), None).await;
    assert_eq!(back["document"], before["document"]);
    let (status, done) = b.ask("POST", &format!("/api/jobs/{id}/redo"), who()).await;
    assert_eq!(status, StatusCode::OK, "{done}");
    let (_, again) = b.ask("GET", &format!("/api/jobs/{id}"), None).await;
    assert_eq!(again["document"], after["document"]);
}
