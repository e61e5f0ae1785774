//! How an amplifier was left: rows of a label and what was written down, empty where nothing was.

use crate::material::Material;
use serde_json::{Value, json};

/// Rows of an amplifier's record, in the order they are filled in.
pub fn commissioned(m: &Material<'_>, amplifier: &str) -> Vec<Value> {
    let record = m.job.document().amplifiers.get(amplifier).and_then(|a| a.commissioned.as_ref());
    let row = |key: &str, value: Option<&str>| json!({ "name": m.options.words.get(&format!("commissioned.{key}")), "value": value.unwrap_or_default() });
    vec![
        row("network_name", record.map(|r| r.network_name.as_str())),
        row("address", record.map(|r| r.address.as_str())),
        row("reached", record.map(|r| r.reached.as_str())),
        row("firmware", record.map(|r| r.firmware.as_str())),
        row("backup_date", record.map(|r| r.backup_date.as_str())),
        row("backup_file", record.map(|r| r.backup_file.as_str())),
        row("password_held_by", record.map(|r| r.password_held_by.as_str())),
    ]
}
