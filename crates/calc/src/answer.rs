//! What a calculator answers with.

use loamline_model::{Quantity, Units};
use loamline_terms::Band;
use serde::Serialize;
use serde_json::{Map, Value};

/// Results and workings, as a calculator's function builds them.
#[derive(Debug, Clone, Default)]
pub struct Answer {
    pub(crate) results: Map<String, Value>,
    /// The formulas with the numbers put in.
    pub working: Working,
    pub(crate) sources: Vec<String>,
    pub(crate) not_finite: Vec<&'static str>,
}

impl Answer {
    /// An empty answer.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a number. One that is infinite or not a number turns the answer into an error naming the key.
    pub fn number(&mut self, key: &'static str, value: f64) {
        self.note_finite(key, value.is_finite());
        self.results.insert(key.to_owned(), Value::from(value));
    }

    /// Adds a list of numbers; see [`Answer::number`].
    pub fn list(&mut self, key: &'static str, values: impl IntoIterator<Item = f64>) {
        let values = values.into_iter().collect::<Vec<_>>();
        self.note_finite(key, values.iter().all(|value| value.is_finite()));
        self.results.insert(key.to_owned(), Value::from(values));
    }

    /// Adds anything else: a truth value, a word, a structure. Numbers inside must be finite (JSON has no others; a
    /// `null` where a number was meant turns the answer into an error naming the key).
    pub fn value(&mut self, key: &'static str, value: impl Serialize) {
        match serde_json::to_value(value) {
            Ok(value) => {
                self.note_finite(key, !has_null(&value));
                self.results.insert(key.to_owned(), value);
            }
            Err(_) => self.note_finite(key, false),
        }
    }

    /// Adds a source that depends on the values, besides those of the description.
    pub fn source(&mut self, source: impl Into<String>) {
        self.sources.push(source.into());
    }

    fn note_finite(&mut self, key: &'static str, finite: bool) {
        if !finite {
            self.not_finite.push(key);
        }
    }
}

fn has_null(value: &Value) -> bool {
    match value {
        Value::Null => true,
        Value::Array(items) => items.iter().any(has_null),
        Value::Object(entries) => entries.values().any(has_null),
        _ => false,
    }
}

/// The formulas with the numbers put in, step by step.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Working {
    pub(crate) steps: Vec<String>,
}

impl Working {
    /// Adds `formula = numbers = value unit`, e.g. `R = 2 r l = 2 * 0.008286 * 30 = 0.49716 ohm`.
    pub fn step(&mut self, formula: impl AsRef<str>, numbers: impl AsRef<str>, value: f64, unit: &str) {
        let unit = if unit.is_empty() { String::new() } else { format!(" {unit}") };
        self.steps.push(format!("{} = {} = {}{unit}", formula.as_ref(), numbers.as_ref(), number(value)));
    }

    /// Adds a sentence.
    pub fn note(&mut self, sentence: impl Into<String>) {
        self.steps.push(sentence.into());
    }
}

/// What counts where a band is meant: the exact centre of a third octave that was given by its nominal frequency, and the
/// working says so; any other frequency as it is.
pub(crate) fn band_centre_hz(frequency_hz: f64, working: &mut Working) -> f64 {
    let Some(band) = Band::called(frequency_hz) else { return frequency_hz };
    let centre_hz = band.centre_hz();
    if Band::with_centre(frequency_hz).is_none() {
        working.note(format!(
            "{} is the third octave about {} Hz (IEC 61260-1): its exact centre counts",
            band.label(),
            number(centre_hz)
        ));
    }
    centre_hz
}

/// A number for a working: six significant digits, no trailing zeros.
pub fn number(value: f64) -> String {
    Units::Metric.show(Quantity::Number, value)
}

/// The answer to one call, in the form it is printed as JSON.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Report {
    /// The calculator's name.
    pub calculator: &'static str,
    /// The inputs as read: numbers in the unit of their quantity (m, C, V, W, ohm, Hz, dB, mm2, s, Pa, deg).
    pub inputs: Map<String, Value>,
    /// The results by key.
    pub results: Map<String, Value>,
    /// The formulas with the numbers put in, step by step.
    pub working: Vec<String>,
    /// The standards or handbooks followed.
    pub sources: Vec<String>,
}
