//! Readings of a visit as a person types them: taken in by an edit, judged against the lines, told over the years.
//!
//! The first byte chooses the example; the rest is text, a field a line, in the order of [`FIELDS`]. An empty line leaves
//! the field out, `=` in front of one gives a number instead of a text.

use crate::examples::files;
use loamline_faults::Tolerances;
use loamline_model::{Edit, Operation, Quantity, Units};
use loamline_study::{Study, years};
use loamline_terms::Shown;
use serde_json::{Map, Value, json};
use std::sync::OnceLock;

/// Fields of a reading and of its visit, in the order of the lines.
const FIELDS: [&str; 10] =
    ["impedance", "frequency", "dc", "leakage", "level", "line", "at", "above", "date", "ground_temperature"];

pub fn readings(bytes: &[u8]) {
    let [which, text @ ..] = bytes else { return };
    let text = String::from_utf8_lossy(text);
    let which = usize::from(which % 2);
    let mut typed: Map<String, Value> = Map::new();
    for (field, line) in FIELDS.iter().zip(text.split('\n')) {
        if !line.is_empty() {
            typed.insert((*field).to_owned(), value(line));
        }
    }
    let line = typed.remove("line").unwrap_or_else(|| json!(if which == 0 { "west" } else { "A" }));
    let date = typed.remove("date").unwrap_or_else(|| json!("2027-05-01"));
    let mut visit = json!({ "date": date, "kind": "maintenance" });
    if let Some(temperature) = typed.remove("ground_temperature") {
        visit["ground_temperature"] = temperature;
    }
    let shared: Map<String, Value> =
        ["at", "above"].iter().filter_map(|k| Some(((*k).to_owned(), typed.remove(*k)?))).collect();
    let mut all = Map::new();
    for (n, (field, value)) in typed.iter().enumerate() {
        let mut reading = shared.clone();
        reading.insert("line".to_owned(), line.clone());
        match field.as_str() {
            // A frequency belongs to the impedance beside it, and is wrong alone.
            "frequency" if typed.contains_key("impedance") => continue,
            "impedance" => {
                drop(typed.get("frequency").map(|f| reading.insert("frequency".to_owned(), f.clone())))
            }
            _ => {}
        }
        reading.insert(field.clone(), value.clone());
        all.insert(format!("R{n}"), Value::Object(reading));
    }
    visit["readings"] = Value::Object(all);
    let edit = Edit::new([Operation::Add { path: "/visits/tried".to_owned(), value: visit, before: None }]);
    let edit = match files()[which].raw().get("visits") {
        Some(_) => edit,
        None => Edit::new(
            [Operation::Add { path: "/visits".to_owned(), value: json!({}), before: None }]
                .into_iter()
                .chain(edit.operations),
        ),
    };
    match files()[which].preview(&edit) {
        Ok(job) => judged(&studies()[which].next(job)),
        Err(error) => drop(error.to_string()),
    }
}

fn value(line: &str) -> Value {
    let number = line.strip_prefix('=').and_then(|text| serde_json::from_str(text).ok());
    number.unwrap_or_else(|| Value::String(line.to_owned()))
}

/// Studies of the examples, whose lines are solved once.
fn studies() -> &'static [Study; 2] {
    static STUDIES: OnceLock<[Study; 2]> = OnceLock::new();
    STUDIES.get_or_init(|| files().each_ref().map(|file| Study::new(file.job().clone())))
}

fn judged(study: &Study) {
    for reading in study.job().document().visits.values().flat_map(|v| v.readings.values()) {
        for shown in [reading.impedance, reading.dc].into_iter().flatten() {
            // As it stands in JSON, and back.
            let written = serde_json::to_string(&shown).expect("a reading has a JSON form");
            let back: Shown = serde_json::from_str(&written).expect("what was written is read");
            assert_eq!(back, shown, "{written}");
            let Some(ohm) = shown.ohm() else { continue };
            assert!((0.0..=1e9).contains(&ohm), "{ohm} ohm");
            let printed = Units::Metric.show(Quantity::Impedance, ohm);
            let back = Quantity::Impedance.parse(&printed).expect("what is printed is read");
            assert!((back - ohm).abs() <= 6e-4 * ohm, "{ohm} ohm is printed \"{printed}\"");
        }
    }
    let judged = study.judged();
    for reading in judged.iter() {
        drop(reading.read());
        let told = serde_json::to_string(reading).expect("a verdict has a JSON form");
        assert!(!told.is_empty());
    }
    match years(study.job(), &study.runs(), &judged, &Tolerances::default()) {
        Ok(series) => {
            for one in series.values().flatten() {
                drop(one.cause());
                drop(one.last().map(|last| last.read("> ")));
            }
        }
        Err(error) => drop(error.to_string()),
    }
}
