//! What a phone takes along ranks faults with the numbers the server gives.

mod common;

use axum::http::StatusCode;
use common::Browser;
use loamline_faults::{MeterReading, Place, Shown, Table};
use loamline_server::SqliteStore;
use serde_json::{Value, json};

#[tokio::test]
async fn the_tables_of_the_visit_pack_give_the_ranking_of_locate() {
    let b = Browser::new(SqliteStore::in_memory().unwrap());
    let id = b.example().await;
    let (status, pack) = b.ask("GET", &format!("/api/jobs/{id}/visit-pack"), None).await;
    assert_eq!(status, StatusCode::OK, "{pack}");
    assert_eq!(pack["format"], json!(5));
    let rules = &pack["rules"];
    let mut compared = 0;
    for (line, table) in pack["tables"].as_object().unwrap() {
        let table: Table = serde_json::from_value(table.clone()).unwrap();
        // The offset is four times the meter's own error: crates/faults/src/tolerances.rs.
        assert_eq!(rules["next"]["meter_floor_ohm"], json!(table.offset_ohm / 4.0));
        for (dc, z) in [(1.0, 61.0), (14.0, 70.0), (93.0, 400.0), (5.0, 66.0)] {
            let readings = [(0.0, dc), (1000.0, z)];
            let asked: Vec<Value> =
                readings.iter().map(|(hz, ohm)| json!({ "frequency_hz": hz, "ohm": ohm })).collect();
            let (status, ranked) = b
                .ask(
                    "POST",
                    &format!("/api/jobs/{id}/locate"),
                    Some(json!({ "line": line, "readings": asked })),
                )
                .await;
            assert_eq!(status, StatusCode::OK, "{ranked}");
            let taken: Vec<MeterReading> = readings
                .iter()
                .map(|&(frequency_hz, ohm)| MeterReading {
                    place: Place::Rack,
                    frequency_hz,
                    shown: Shown::Ohm(ohm),
                    phase_rad: None,
                })
                .collect();
            let weighed = table.weigh(&taken, &[], None).unwrap();
            for e in ranked["located"]["diagnosis"]["explanations"].as_array().unwrap() {
                let place = table
                    .hypotheses
                    .iter()
                    .position(|h| serde_json::to_value(&h.fault).unwrap() == e["fault"])
                    .unwrap();
                let here = weighed.probability[place];
                let there = e["probability"].as_f64().unwrap();
                assert!((here - there).abs() < 1e-6, "{line} {dc} {z} {}: {here} {there}", e["fault"]);
                compared += 1;
            }
        }
    }
    assert!(compared > 20, "{compared}");
}

#[tokio::test]
async fn readings_that_cannot_be_are_told_one_by_one() {
    let b = Browser::new(SqliteStore::in_memory().unwrap());
    let id = b.example().await;
    let body = json!({ "line": "A", "readings": [{ "frequency_hz": -4, "ohm": 2 },
        { "frequency_hz": 1000, "ohm": -1 }] });
    let (status, told) = b.ask("POST", &format!("/api/jobs/{id}/locate"), Some(body)).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    let paths: Vec<&str> =
        told["error"]["problems"].as_array().unwrap().iter().filter_map(|p| p["path"].as_str()).collect();
    assert_eq!(paths, ["/readings/0/frequency_hz", "/readings/1/ohm"]);
}
