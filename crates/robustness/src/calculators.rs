//! Calls of the bench calculators. The first byte chooses the calculator (so that every one is reached), the rest is what
//! would be typed behind its name: words of `key=value`, or a JSON document where it begins with `{`.

use loamline_calc::{all, find};
use serde_json::Value;

pub fn calculators(bytes: &[u8]) {
    let [which, text @ ..] = bytes else { return };
    let text = String::from_utf8_lossy(text);
    let named = all()[usize::from(*which) % all().len()];
    let calculator = find(named.name).expect("one of those there are");
    let (arguments, document): (Vec<String>, Option<Value>) = if text.trim_start().starts_with('{') {
        match serde_json::from_str(&text) {
            Ok(document) => (Vec::new(), Some(document)),
            Err(_) => return,
        }
    } else {
        // A line is a word: values may have spaces.
        (text.split('\n').filter(|word| !word.is_empty()).map(str::to_owned).collect(), None)
    };
    match calculator.calculate(&arguments, document.as_ref()) {
        Ok(report) => {
            let results = serde_json::to_value(&report.results).expect("an answer has a JSON form");
            assert!(!holds_null(&results), "{} {arguments:?}: {results}", calculator.name);
        }
        Err(error) => drop(error.to_string()),
    }
}

/// Whether a result stands for no number: JSON has no other way of saying so.
fn holds_null(value: &Value) -> bool {
    match value {
        Value::Null => true,
        Value::Array(items) => items.iter().any(holds_null),
        Value::Object(map) => map.values().any(holds_null),
        _ => false,
    }
}
