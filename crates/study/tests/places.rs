//! What is said of where things stand.
#![expect(clippy::panic, reason = "a test may stop at the first surprise")]

use loamline_model::{Edit, JobFile, Operation};
use loamline_study::{Severity, Study};
use serde_json::{Value, json};
use std::path::Path;

/// What is said of loudspeaker L9 once something of it is set.
fn said_of_l9(set: &[(&str, Value)]) -> Vec<(Severity, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/guesthouse-garden");
    let mut file = JobFile::open(&folder).unwrap_or_else(|e| panic!("ships with the program: {e}"));
    let add = |(key, value): &(&str, Value)| Operation::Add {
        path: format!("/loudspeakers/L9/{key}"),
        value: value.clone(),
        before: None,
    };
    file.apply(&Edit::new(set.iter().map(add))).unwrap_or_else(|e| panic!("an edit that is taken: {e}"));
    let findings = Study::new(file.job().clone()).findings();
    let below = findings.iter().filter(|f| f.about.id == "L9" && f.sentence.contains("below the ground"));
    below.map(|f| (f.severity, f.sentence.to_string())).collect()
}

/// Five feet below the ground nobody hears a loudspeaker on a stake, whoever typed it.
#[test]
fn a_loudspeaker_below_the_ground_is_an_error_unless_it_is_fixed_there() {
    let deep = ("height", json!("-5 ft"));
    let sentence = "Loudspeaker L9 is 1.52 m below the ground, and it is not fixed in the ground.";
    assert_eq!(said_of_l9(std::slice::from_ref(&deep)), [(Severity::Error, sentence.to_owned())]);
    assert!(said_of_l9(&[deep, ("mount", json!("in ground"))]).is_empty());
    assert!(said_of_l9(&[("height", json!("0.2 m"))]).is_empty());
}
