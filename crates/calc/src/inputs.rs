//! Input values, read and checked.

use crate::error::Refusal;
use loamline_terms::ConductorSize;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value};

/// The checked values of a call. Asking for a key that is not described is refused, never a panic.
#[derive(Debug, Clone, Default)]
pub struct Inputs {
    pub(crate) given: Vec<(&'static str, Read)>,
    /// Keys that took their default, as one would type it.
    pub(crate) defaulted: Vec<(&'static str, String)>,
}

/// A value as read.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Read {
    Number(f64),
    Numbers(Vec<f64>),
    Whole(i64),
    Word(&'static str),
    Text(String),
}

impl Inputs {
    /// A single value, in the unit of its quantity.
    ///
    /// # Errors
    /// When it was not given.
    pub fn value(&self, key: &str) -> Result<f64, Refusal> {
        self.maybe(key).ok_or_else(|| absent(key))
    }

    /// A single value that may have been left out.
    pub fn maybe(&self, key: &str) -> Option<f64> {
        match self.read(key) {
            Some(Read::Number(value)) => Some(*value),
            _ => None,
        }
    }

    /// A list of values, at least one.
    ///
    /// # Errors
    /// When it was not given.
    pub fn list(&self, key: &str) -> Result<&[f64], Refusal> {
        self.maybe_list(key).ok_or_else(|| absent(key))
    }

    /// A list of values that may have been left out.
    pub fn maybe_list(&self, key: &str) -> Option<&[f64]> {
        match self.read(key) {
            Some(Read::Numbers(values)) => Some(values),
            _ => None,
        }
    }

    /// A whole number, or a wire gauge.
    ///
    /// # Errors
    /// When it was not given.
    pub fn whole(&self, key: &str) -> Result<i64, Refusal> {
        self.maybe_whole(key).ok_or_else(|| absent(key))
    }

    /// A whole number that may have been left out.
    pub fn maybe_whole(&self, key: &str) -> Option<i64> {
        match self.read(key) {
            Some(Read::Whole(value)) => Some(*value),
            _ => None,
        }
    }

    /// The word chosen.
    ///
    /// # Errors
    /// When it was not given.
    pub fn choice(&self, key: &str) -> Result<&'static str, Refusal> {
        self.maybe_choice(key).ok_or_else(|| absent(key))
    }

    /// The word chosen, which may have been left out.
    pub fn maybe_choice(&self, key: &str) -> Option<&'static str> {
        match self.read(key) {
            Some(Read::Word(word)) => Some(word),
            _ => None,
        }
    }

    /// Free text that may have been left out.
    pub fn text(&self, key: &str) -> Option<&str> {
        match self.read(key) {
            Some(Read::Text(text)) => Some(text),
            _ => None,
        }
    }

    /// The wire size from `gauge` or `area` ([`Input::gauge`](crate::Input::gauge),
    /// [`Input::conductor_area`](crate::Input::conductor_area)).
    ///
    /// # Errors
    /// When neither was given.
    pub fn conductor(&self) -> Result<ConductorSize, Refusal> {
        if let Some(Read::Whole(gauge)) = self.read("gauge") {
            return Ok(ConductorSize::Awg(i32::try_from(*gauge)?));
        }
        Ok(ConductorSize::AreaMm2(self.value("area")?))
    }

    fn read(&self, key: &str) -> Option<&Read> {
        self.given.iter().find(|(given, _)| *given == key).map(|(_, read)| read)
    }

    pub(crate) fn to_json(&self) -> Map<String, Value> {
        self.given
            .iter()
            .map(|(key, read)| {
                let value = match read {
                    Read::Number(value) => Value::from(*value),
                    Read::Numbers(values) => Value::from(values.clone()),
                    Read::Whole(value) => Value::from(*value),
                    Read::Word(word) => Value::from(*word),
                    Read::Text(text) => Value::from(text.clone()),
                };
                ((*key).to_owned(), value)
            })
            .collect()
    }
}

fn absent(key: &str) -> Refusal {
    Refusal::new(format!("{key} is missing"))
}

/// Reads a document into a type; what is wrong is named with its path, e.g. `runs[2].length_m`.
///
/// # Errors
/// When the document does not fit the type.
pub fn from_document<T: DeserializeOwned>(document: &Value) -> Result<T, Refusal> {
    serde_path_to_error::deserialize(document)
        .map_err(|error| Refusal::new(format!("{}: {}", error.path(), error.inner())))
}
