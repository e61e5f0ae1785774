//! What is said of equipment that does not suit its place.
#![expect(clippy::panic, reason = "a test may stop at the first surprise")]

use loamline_model::{Edit, JobFile, Operation, Units};
use loamline_study::{Severity, Study};
use serde_json::{Value, json};
use std::path::Path;

fn garden() -> JobFile {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/guesthouse-garden");
    JobFile::open(&folder).unwrap_or_else(|e| panic!("ships with the program: {e}"))
}

fn setting(set: &[(&str, Value)]) -> Edit {
    let add = |(path, value): &(&str, Value)| Operation::Add {
        path: (*path).to_owned(),
        value: value.clone(),
        before: None,
    };
    Edit::new(set.iter().map(add))
}

/// What is said that mentions some words, with the garden's own figures replaced by `local`.
fn said(local: &Value, more: &[(&str, Value)], words: &str) -> Vec<(Severity, String)> {
    let mut file = garden();
    let mut set = vec![("/site/local", local.clone())];
    set.extend(more.iter().cloned());
    file.apply(&setting(&set)).unwrap_or_else(|e| panic!("an edit that is taken: {e}"));
    let findings = Study::new(file.job().clone()).findings();
    let with = findings.iter().filter(|f| f.sentence.contains(words));
    with.map(|f| (f.severity, Units::Us.tell(&f.sentence))).collect()
}

/// -40 degrees are the same on both scales, and -25 C are -13 F.
#[test]
fn loudspeakers_and_cable_are_held_against_the_air_of_the_place() {
    assert!(said(&json!({}), &[], "it gets").is_empty(), "nothing is asked for");
    assert!(said(&json!({ "coldest": "-12 C", "hottest": "35 C" }), &[], "it gets").is_empty());
    let cold = said(&json!({ "coldest": "-40 C" }), &[], "it gets");
    let words = "made for air of -13.0 F at the coldest, and it gets -40.0 F here.";
    assert!(cold.iter().any(|(s, t)| *s == Severity::Warning && t.contains(words)), "{cold:?}");
    assert!(cold.iter().any(|(_, t)| t.starts_with("Cable ")), "{cold:?}");
    assert!(
        said(&json!({ "hottest": "58 C" }), &[], "at the hottest")
            .iter()
            .all(|(_, t)| !t.starts_with("Cable "))
    );
}

#[test]
fn protection_and_salt_are_told_only_where_they_are_asked_for() {
    assert!(said(&json!({ "protection": "IP44" }), &[], "protection").is_empty());
    let jets = said(&json!({ "protection": "IP67" }), &[], "IP67 is asked for here");
    assert!(!jets.is_empty() && jets.iter().all(|(s, _)| *s == Severity::Error), "{jets:?}");
    assert!(jets.iter().any(|(_, t)| t.contains("protection is IP65")), "{jets:?}");
    let dry = said(&json!({ "salt_air": false }), &[], "salt air");
    assert!(dry.is_empty(), "{dry:?}");
}

/// Laid by hand: a pond whose edge is 1 m east of L9.
#[test]
fn what_stands_nearer_to_water_than_is_asked_for_is_an_error() {
    let file = garden();
    let at = file.job().document().loudspeakers["L9"].position;
    let pond = json!({
        "kind": "water", "name": "Pond",
        "outline": [[at.x + 1.0, at.y - 0.5], [at.x + 1.5, at.y - 0.5], [at.x + 1.5, at.y + 0.5], [at.x + 1.0, at.y + 0.5]],
    });
    let pond = [("/surfaces/test-pond", pond)];
    assert!(said(&json!({}), &pond, "from Pond").is_empty());
    let near = said(&json!({ "from_water": "1.2 m" }), &pond, "Loudspeaker L9 is 1.00 m from Pond");
    assert_eq!(near.len(), 1, "{near:?}");
    assert_eq!(near[0].0, Severity::Error);
    assert!(said(&json!({ "from_water": "0.9 m" }), &pond, "from Pond").is_empty());
}

/// Mains cable under the whole way of a cable: all of it lies beside.
#[test]
fn cable_beside_mains_cable_is_told() {
    let file = garden();
    let runs = Study::new(file.job().clone()).runs();
    let run = runs.iter().find(|r| !r.is_existing() && r.length.path_m > 3.0);
    let run = run.unwrap_or_else(|| panic!("the garden has long runs"));
    let mains = json!({ "kind": "electric", "line": run.way });
    let told = |local: Value| {
        said(&local, &[("/services/test-mains", mains.clone())], "beside mains cable test-mains")
    };
    assert!(told(json!({})).is_empty());
    let near = told(json!({ "from_mains": "0.3 m" }));
    assert!(near.iter().any(|(s, _)| *s == Severity::Error), "{near:?}");
}

#[test]
fn figures_that_cannot_be_are_refused() {
    for (key, value, words) in [
        ("protection", json!("IP75"), "an IP code"),
        ("protection", json!(65), "an IP code"),
        ("coldest", json!("40 C"), "out of range"),
        ("from_water", json!("-1 m"), "out of range"),
    ] {
        let refused = garden().apply(&setting(&[("/site/local", json!({ key: value }))]));
        let told = refused.err().map(|e| e.to_string()).unwrap_or_default();
        assert!(told.contains(words), "{key}: {told}");
    }
    let turned = json!({ "coldest": "20 C", "hottest": "10 C" });
    let refused = garden().apply(&setting(&[("/site/local", turned)]));
    let told = refused.err().map(|e| e.to_string()).unwrap_or_default();
    assert!(told.contains("is not below the hottest"), "{told}");
}
