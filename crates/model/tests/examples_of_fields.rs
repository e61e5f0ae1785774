//! Every example that a field of a job or of a catalogue gives is one that the field takes, in metric and in US units.

use loamline_model::{Quantity, catalogue_schema, job_schema};
use serde_json::Value;

/// Words that stand beside a quantity: an open line, a meter's direct current.
const WORDS: [&str; 2] = ["open", "dc"];
/// Kinds that people of the two customs write in units of their own.
const OF_TWO_CUSTOMS: [&str; 3] = ["length", "temperature", "mass"];
/// How far apart the two may lie, relative: both are round figures.
const APART: f64 = 0.15;

/// Every place of a schema that holds a quantity, by its path.
fn quantities<'s>(schema: &'s Value, at: &str, found: &mut Vec<(String, &'s Value)>) {
    match schema {
        Value::Object(all) => {
            if all.contains_key("x-quantity") {
                found.push((at.to_owned(), schema));
            }
            for (key, value) in all {
                quantities(value, &format!("{at}/{key}"), found);
            }
        }
        Value::Array(all) => {
            for (i, value) in all.iter().enumerate() {
                quantities(value, &format!("{at}/{i}"), found);
            }
        }
        _ => {}
    }
}

/// What is wrong with the examples of one place; nothing where they are good.
fn wrong(place: &Value) -> Option<String> {
    let kind = Quantity::ALL.into_iter().find(|kind| place["x-quantity"] == kind.name())?;
    let bound = |end: &str| place["anyOf"][0][end].as_f64();
    let (Some(least), Some(most)) = (bound("minimum"), bound("maximum")) else {
        return Some("it has no range".to_owned());
    };
    let examples = place["examples"].as_array().into_iter().flatten().filter_map(Value::as_str);
    let all: Vec<&str> = examples.filter(|e| !WORDS.contains(e)).flat_map(|e| e.split(" or ")).collect();
    let mut read = Vec::new();
    for example in &all {
        match kind.parse(example) {
            Ok(value) if (least..=most).contains(&value) => read.push(value),
            Ok(_) => return Some(format!("{example} is not from {least} to {most}")),
            Err(e) => return Some(e.to_string()),
        }
    }
    match read.as_slice() {
        [] => Some("it has no example".to_owned()),
        [metric, us, ..]
            if OF_TWO_CUSTOMS.contains(&kind.name())
                && (metric - us).abs() > APART * metric.abs().max(1.0e-3) =>
        {
            // A degree is no ratio: between the customs one of rounding.
            (kind.name() != "temperature" || (metric - us).abs() > 1.0)
                .then(|| format!("{} are not the same", all.join(" and ")))
        }
        [_] if OF_TWO_CUSTOMS.contains(&kind.name()) => Some(format!("{} has no US units", all.join(""))),
        _ => None,
    }
}

#[test]
fn every_example_is_one_that_its_field_takes_in_both_customs() {
    let mut all = Vec::new();
    for (name, schema) in [("job", job_schema()), ("catalogue", catalogue_schema())] {
        let mut found = Vec::new();
        quantities(&schema, name, &mut found);
        assert!(found.len() > 40, "{name}: {} quantities", found.len());
        all.extend(found.into_iter().filter_map(|(at, place)| Some(format!("{at}: {}", wrong(place)?))));
    }
    assert!(all.is_empty(), "{}", all.join("\n"));
}
