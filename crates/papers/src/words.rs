//! The language file: every word on the papers, by key.
//!
//! A language file is TOML; `language/en.toml` is shipped and lists every key. `{name}` in a text is replaced by a
//! value; a file must have every key of the shipped one, and the same names in braces, so that a translation
//! cannot lose a number.

use crate::error::{LanguageError, PapersError};
use serde_json::{Map, Value};
use std::collections::BTreeSet;
use std::sync::LazyLock;

const ENGLISH: &str = include_str!("../language/en.toml");

static SHIPPED: LazyLock<Result<Value, LanguageError>> = LazyLock::new(|| parse(ENGLISH));

/// Every word on the papers.
#[derive(Debug, Clone, PartialEq)]
pub struct Words {
    tree: Value,
}

impl Words {
    /// The shipped English.
    ///
    /// # Errors
    /// [`PapersError::Language`] when the file shipped with the program is damaged.
    pub fn english() -> Result<Self, PapersError> {
        SHIPPED.clone().map(|tree| Self { tree }).map_err(|reason| PapersError::Language { reason })
    }

    /// The text of the shipped language file, to translate.
    pub const fn shipped() -> &'static str {
        ENGLISH
    }

    /// Reads a language file.
    ///
    /// # Errors
    /// [`PapersError::Language`] when it is not TOML, or naming every key that is missing or has lost a `{name}`.
    pub fn read(text: &str) -> Result<Self, PapersError> {
        let tree = parse(text).map_err(|reason| PapersError::Language { reason })?;
        let english = Self::english()?;
        let mut faults = Vec::new();
        compare(&english.tree, &tree, "", &mut faults);
        if faults.is_empty() {
            Ok(Self { tree })
        } else {
            Err(PapersError::Language { reason: LanguageError::Keys(faults) })
        }
    }

    /// The text under a key such as `plan.north`; the key itself where there is none.
    pub fn get<'w>(&'w self, key: &'w str) -> &'w str {
        let found = key.split('.').try_fold(&self.tree, |node, part| node.get(part));
        found.and_then(Value::as_str).unwrap_or(key)
    }

    /// The text under a key, if there is one: for keys made of a word of the document.
    pub fn find(&self, key: &str) -> Option<&str> {
        key.split('.').try_fold(&self.tree, |node, part| node.get(part)).and_then(Value::as_str)
    }

    /// The text under a key with its names in braces replaced.
    pub fn fill(&self, key: &str, values: &[(&str, &str)]) -> String {
        let mut text = self.get(key).to_owned();
        for (name, value) in values {
            text = text.replace(&format!("{{{name}}}"), value);
        }
        text
    }

    /// A list of texts under a key.
    pub fn list(&self, key: &str) -> Vec<String> {
        let found = key.split('.').try_fold(&self.tree, |node, part| node.get(part));
        let texts = found.and_then(Value::as_array).map(Vec::as_slice).unwrap_or_default();
        texts.iter().filter_map(Value::as_str).map(str::to_owned).collect()
    }

    /// Everything, for the templates.
    pub fn tree(&self) -> &Value {
        &self.tree
    }
}

fn parse(text: &str) -> Result<Value, LanguageError> {
    let document: toml_edit::DocumentMut = text.parse()?;
    table(document.as_table(), "")
}

fn table(table: &dyn toml_edit::TableLike, at: &str) -> Result<Value, LanguageError> {
    let mut map = Map::new();
    for (key, item) in table.iter() {
        let place = if at.is_empty() { key.to_owned() } else { format!("{at}.{key}") };
        let value = if let Some(inner) = item.as_table_like() {
            self::table(inner, &place)?
        } else if let Some(list) = item.as_array() {
            let texts: Option<Vec<Value>> =
                list.iter().map(|v| v.as_str().map(|s| Value::from(s.to_owned()))).collect();
            Value::Array(texts.ok_or(LanguageError::NotTexts { place })?)
        } else if let Some(text) = item.as_str() {
            Value::from(text.to_owned())
        } else {
            return Err(LanguageError::NoText { place });
        };
        map.insert(key.to_owned(), value);
    }
    Ok(Value::Object(map))
}

fn compare(shipped: &Value, own: &Value, at: &str, faults: &mut Vec<String>) {
    match (shipped, own) {
        (Value::Object(shipped), Value::Object(own)) => {
            for (key, value) in shipped {
                let place = if at.is_empty() { key.clone() } else { format!("{at}.{key}") };
                match own.get(key) {
                    Some(own) => compare(value, own, &place, faults),
                    None => faults.push(format!("{place} is missing")),
                }
            }
        }
        (Value::String(shipped), Value::String(own)) => {
            let lost: Vec<String> = names(shipped).difference(&names(own)).cloned().collect();
            if !lost.is_empty() {
                faults.push(format!("{at} has lost {{{}}}", lost.join("}, {")));
            }
        }
        (Value::Array(shipped), Value::Array(own)) => {
            let all = |texts: &[Value]| -> BTreeSet<String> {
                texts.iter().filter_map(Value::as_str).flat_map(names).collect()
            };
            let lost: Vec<String> = all(shipped).difference(&all(own)).cloned().collect();
            if !lost.is_empty() {
                faults.push(format!("{at} has lost {{{}}}", lost.join("}, {")));
            }
        }
        (Value::Array(_), _) => faults.push(format!("{at} must be a list of texts")),
        (Value::Object(_), _) => faults.push(format!("{at} must be a table")),
        _ => faults.push(format!("{at} must be a text")),
    }
}

/// The names in braces in a text.
fn names(text: &str) -> BTreeSet<String> {
    let pieces = text.split('{').skip(1);
    pieces.filter_map(|piece| piece.split_once('}')).map(|(name, _)| name.to_owned()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_language_file_must_be_complete() {
        assert!(Words::read(ENGLISH).is_ok());
        let broken = ENGLISH.replace("north = \"N\"", "");
        let error = Words::read(&broken).unwrap_err().to_string();
        assert!(error.contains("plan.north is missing"), "{error}");
        let error = Words::read("plan = 3").unwrap_err().to_string();
        assert!(error.contains("plan must be a text or a list of texts"), "{error}");
    }

    #[test]
    fn a_translation_may_not_lose_a_value() {
        let lost = ENGLISH.replace("Page {number} of {count}", "Page {number}");
        let error = Words::read(&lost).unwrap_err().to_string();
        assert!(error.contains("has lost {count}"), "{error}");
    }
}
