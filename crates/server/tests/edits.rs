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
    let who = || Some(json!({ "who": "Ann" }));
    let b = open();
    assert_eq!(place(&b).await, json!([7.0, 3.0]));
    for _ in 0..2 {
        b.ask("POST", &format!("/api/jobs/{id}/undo"), who()).await;
    }
    assert_eq!(place(&b).await, json!([5.0, 3.0]));
    drop(b);
    let b = open();
    let (_, job) = b.ask("GET", &format!("/api/jobs/{id}?who=Ann"), None).await;
    assert_eq!((&job["undo"]["note"], &job["redo"]["note"]), (&json!("try"), &json!("try")));
    let (_, job) = b.ask("GET", &format!("/api/jobs/{id}?who=Bea"), None).await;
    assert_eq!((&job["undo"], &job["redo"]), (&Value::Null, &Value::Null), "nothing of it is Bea's");
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
    assert_eq!((&history[0]["kind"], &history[0]["who"]), (&json!("undo"), &json!("Ann")));
    // The values before and after stand in it.
    assert_eq!(history[0]["inverse"][0]["value"], json!([5.0, 3.0]));
}

fn reading(id: u32, base: u64, key: &str) -> Option<Value> {
    let value = json!({ "line": "A", "dc": "4.1 ohm" });
    edit(
        id,
        base,
        json!([{ "op": "add", "path": format!("/visits/handover/readings/{key}"), "value": value }]),
    )
}

#[tokio::test]
async fn undo_in_the_office_leaves_what_was_entered_on_a_visit() {
    let b = Browser::new(SqliteStore::in_memory().unwrap());
    let id = b.example().await;
    let edits = format!("/api/jobs/{id}/edits");
    let visit = json!({ "date": "2026-05-04", "kind": "handover", "readings": {} });
    let (_, job) = b.ask("GET", &format!("/api/jobs/{id}"), None).await;
    let visits = if job["document"].get("visits").is_some() { "/visits/handover" } else { "/visits" };
    let value = if visits == "/visits" { json!({ "handover": visit }) } else { visit };
    let patch = json!([{ "op": "add", "path": visits, "value": value }]);
    for (n, body) in [
        (1, edit(1, 0, replace("/loudspeakers/L1/position", json!([5.0, 3.0])))),
        (2, edit(2, 1, patch)),
        (3, reading(3, 2, "one")),
    ] {
        let (status, done) = b.ask("POST", &edits, body).await;
        assert_eq!((status, &done["revision"]), (StatusCode::OK, &json!(n)), "{done}");
    }
    // The office undoes its own move; the phone's reading stays, and neither it nor the visit is the next to be undone.
    let who = || Some(json!({ "who": "Ann" }));
    let (status, done) = b.ask("POST", &format!("/api/jobs/{id}/undo"), who()).await;
    assert_eq!(status, StatusCode::OK, "{done}");
    let (_, now) = b.ask("GET", &format!("/api/jobs/{id}"), None).await;
    assert_eq!(now["document"]["visits"]["handover"]["readings"]["one"]["dc"], json!("4.1 ohm"));
    assert_eq!(
        now["document"]["loudspeakers"]["L1"]["position"],
        job["document"]["loudspeakers"]["L1"]["position"]
    );
    let (status, refusal) = b.ask("POST", &format!("/api/jobs/{id}/undo"), who()).await;
    assert_eq!((status, &refusal["error"]["code"]), (StatusCode::CONFLICT, &json!("nothing_to_do")));
    // A reading entered meanwhile does not end redoing.
    b.ask("POST", &edits, reading(4, 4, "two")).await;
    let (status, _) = b.ask("POST", &format!("/api/jobs/{id}/redo"), who()).await;
    assert_eq!(status, StatusCode::OK);
    // Whoever entered it can take it out: an edit like any other.
    let out = json!([{ "op": "remove", "path": "/visits/handover/readings/one" }]);
    let (status, done) = b.ask("POST", &edits, edit(5, 6, out)).await;
    assert_eq!(status, StatusCode::OK, "{done}");
}

#[tokio::test]
async fn undoing_an_edit_that_a_reading_relies_on_keeps_the_reading_and_the_line_as_it_was() {
    let b = Browser::new(SqliteStore::in_memory().unwrap());
    let id = b.example().await;
    let edits = format!("/api/jobs/{id}/edits");
    let (_, job) = b.ask("GET", &format!("/api/jobs/{id}"), None).await;
    let like = |table: &str| job["document"][table].as_object().unwrap().values().next().unwrap().clone();
    let mut line = like("lines");
    for key in ["runs", "channel"] {
        line.as_object_mut().unwrap().remove(key);
    }
    let made = json!([{ "op": "add", "path": "/lines/Z", "value": line }]);
    let (status, done) = b.ask("POST", &edits, edit(1, 0, made)).await;
    assert_eq!(status, StatusCode::OK, "{done}");
    let visit = json!({ "date": "2026-05-04", "kind": "handover",
        "readings": { "one": { "line": "Z", "dc": "4.1 ohm" } } });
    let at = if job["document"].get("visits").is_some() { "/visits/late" } else { "/visits" };
    let value = if at == "/visits" { json!({ "late": visit }) } else { visit };
    let entered = json!([{ "op": "add", "path": at, "value": value }]);
    let (status, done) = b.ask("POST", &edits, edit(2, 1, entered)).await;
    assert_eq!(status, StatusCode::OK, "{done}");
    let (status, done) = b.ask("POST", &format!("/api/jobs/{id}/undo"), Some(json!({ "who": "Ann" }))).await;
    assert_eq!(status, StatusCode::OK, "{done}");
    let (_, now) = b.ask("GET", &format!("/api/jobs/{id}"), None).await;
    assert!(now["document"]["lines"].get("Z").is_none());
    let visit = &now["document"]["visits"]["late"];
    assert_eq!(visit["readings"]["one"]["dc"], json!("4.1 ohm"));
    assert_eq!(visit["lines"]["Z"]["line"], json!("Z"), "{visit}");
}

fn speaks_of_keys(sentence: &str) -> bool {
    let letters: Vec<char> = sentence.chars().collect();
    let around = |middle: char, before: fn(char) -> bool, after: fn(char) -> bool| {
        letters.windows(3).any(|w| before(w[0]) && w[1] == middle && after(w[2]))
    };
    sentence.contains('`')
        || sentence.contains(" = ")
        || around('[', |_| true, |c| c.is_ascii_lowercase())
        || around('.', |c| c.is_ascii_alphabetic(), |c| c.is_ascii_alphabetic())
        || around('_', |c| c.is_ascii_alphabetic(), |c| c.is_ascii_alphabetic())
        || sentence.split(|c: char| !c.is_ascii_alphabetic()).any(|w| w == "key" || w == "keys")
}

/// What a person who sees no file is told speaks of no key of the file: no backticks, no tables in brackets, no
/// assignments, no dotted paths, no words joined by underscores.
#[tokio::test]
async fn refusals_of_edits_speak_of_no_keys_of_the_file() {
    let b = Browser::new(SqliteStore::in_memory().unwrap());
    let id = b.example().await;
    let edits = format!("/api/jobs/{id}/edits");
    let add = |path: &str, value: Value| json!([{ "op": "add", "path": path, "value": value }]);
    let remove = |path: &str| json!([{ "op": "remove", "path": path }]);
    let cases = [
        add(
            "/loudspeakers/S9",
            json!({ "model": "stake-165-wide", "position": [5, 3], "line": "A", "tap": 10 }),
        ),
        add("/loudspeakers/S9", json!({ "model": "stake-165-wide", "position": [5, 3], "line": "A" })),
        add("/loudspeakers/S9", json!({ "position": [5, 3] })),
        remove("/job/name"),
        remove("/loudspeakers/L1/tap"),
        remove("/loudspeakers/L1/line"),
        replace("/lines/A/supply", json!("low impedance")),
        add("/lines/Z", json!({ "cable": "none", "runs": { "Z1": { "from": "L1", "to": "L2" } } })),
        add("/neighbours/n", json!({ "day": "50 dBA" })),
        add("/neighbours/n", json!({ "day": "50 dBA", "line": [[0, 0]] })),
        add("/stubs/T", json!({ "position": [1, 1], "free_conductors": 99 })),
        add(
            "/visits/v",
            json!({ "date": "2026-05-04", "kind": "handover",
            "readings": { "r": { "line": "A" }, "s": { "line": "A", "impedance": "5 ohm" } },
            "done": { "d": { "work": "laid" }, "e": { "work": "joint" } } }),
        ),
        remove("/racks"),
        replace("/areas/terrace/target", json!("loud")),
    ];
    for (i, patch) in (100..).zip(cases) {
        let (status, refusal) = b.ask("POST", &edits, edit(i, 0, patch.clone())).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{patch}: {refusal}");
        let e = &refusal["error"];
        let mut said = vec![e["message"].clone()];
        for p in e["problems"].as_array().unwrap() {
            said.extend([p["message"].clone(), p["suggestion"].clone()]);
        }
        for sentence in said.iter().filter_map(Value::as_str) {
            // Names of catalogue models and numbers are not keys.
            let plain = sentence.split('"').step_by(2).collect::<String>().replace("e.g.", "such as");
            assert!(!speaks_of_keys(&plain), "{patch}: {sentence}");
        }
    }
}
