//! The published schemas are what the records generate. `UPDATE_SCHEMA=1 cargo test -p loamline-model --test schema`
//! writes them anew. That the examples satisfy them is checked by `checks/test_schema.py` with a general-purpose
//! validator.

use loamline_model::{catalogue_schema, job_schema};
use std::path::PathBuf;

#[expect(clippy::unwrap_used, reason = "a schema that cannot be written ends the test")]
fn check(name: &str, schema: &serde_json::Value) {
    let path = PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/schema")).join(name);
    let text = serde_json::to_string_pretty(schema).unwrap() + "\n";
    if std::env::var_os("UPDATE_SCHEMA").is_some() {
        std::fs::write(&path, &text).unwrap();
    }
    let published = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        published == text,
        "docs/schema/{name} is stale; run UPDATE_SCHEMA=1 cargo test -p loamline-model --test schema"
    );
}

#[test]
fn the_job_schema_is_published() {
    check("job.schema.json", &job_schema());
}

#[test]
fn the_catalogue_schema_is_published() {
    check("catalogue.schema.json", &catalogue_schema());
}

#[test]
fn required_keys_defaults_and_words_are_in_the_schema() {
    let job = job_schema();
    let definition = |name: &str| job["$defs"][name].clone();
    assert_eq!(definition("Loudspeaker")["required"], serde_json::json!(["model", "position"]));
    assert_eq!(definition("Loudspeaker")["additionalProperties"], serde_json::json!(false));
    assert_eq!(definition("Neighbour")["properties"]["height"]["default"], serde_json::json!(4.0));
    let words = &definition("Brief")["properties"]["supply"]["oneOf"];
    assert_eq!(words.as_array().map(Vec::len), Some(4));
}
