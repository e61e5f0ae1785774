//! JSON Schema (2020-12) of job documents and catalogue files, generated from the records that read them.

use crate::catalogue::Catalogue;
use crate::document::JobDocument;
use crate::reading::{Definitions, Record};
use serde_json::{Map, Value, json};

/// Schema of a `job.toml` as people write it.
pub fn job_schema() -> Value {
    schema_of::<JobDocument>("loamline job")
}

/// Schema of a catalogue file as people write it.
pub fn catalogue_schema() -> Value {
    schema_of::<Catalogue>("loamline catalogue file")
}

fn schema_of<T: Record>(title: &str) -> Value {
    let mut definitions = Definitions::new();
    let reference = T::schema(&mut definitions);
    let mut root = Map::new();
    root.insert("$schema".into(), json!("https://json-schema.org/draft/2020-12/schema"));
    root.insert("title".into(), json!(title));
    root.extend(reference.as_object().cloned().unwrap_or_default());
    root.insert("$defs".into(), Value::Object(definitions));
    Value::Object(root)
}
