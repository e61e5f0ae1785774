//! The language files: every word on the papers, by key.
//!
//! A language file is TOML; `language/en.toml` lists every key. `{name}` in a text is replaced by a value; a file must have
//! every key of the English one, and the same names in braces, so that a translation cannot lose a number. A file that begins
//! with `base = "en"` (or another language that is shipped) states only what differs: the rest is read from there.

use crate::error::{LanguageError, PapersError};
use loamline_model::document::Language;
use serde_json::{Map, Value};
use std::collections::BTreeSet;
use std::sync::LazyLock;

const ENGLISH: &str = include_str!("../language/en.toml");
const AMERICAN_ENGLISH: &str = include_str!("../language/en-us.toml");
const SPANISH: &str = include_str!("../language/es.toml");

/// The key of a file under which it says what it is laid over.
const BASE: &str = "base";

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

    /// A language that is shipped.
    ///
    /// # Errors
    /// [`PapersError::Language`] when the file shipped with the program is damaged.
    pub fn of(language: Language) -> Result<Self, PapersError> {
        match language {
            Language::English => Self::english(),
            other => Self::read(Self::shipped(other)),
        }
    }

    /// The text of a language file that is shipped: the English one to translate, the others as examples.
    pub const fn shipped(language: Language) -> &'static str {
        match language {
            Language::English => ENGLISH,
            Language::AmericanEnglish => AMERICAN_ENGLISH,
            Language::Spanish => SPANISH,
        }
    }

    /// Reads a language file.
    ///
    /// # Errors
    /// [`PapersError::Language`] when it is not TOML, or naming every key that is missing, has lost a `{name}` or has one that
    /// nothing fills; in a file laid over another, every key that is none.
    pub fn read(text: &str) -> Result<Self, PapersError> {
        let fail = |reason| PapersError::Language { reason };
        let mut own = parse(text).map_err(fail)?;
        let english = Self::english()?;
        let mut faults = Vec::new();
        let base = own.as_object_mut().and_then(|keys| keys.remove(BASE));
        let tree = match base {
            None => own,
            Some(base) => {
                let language = base.as_str().and_then(Language::named).filter(|l| is_whole(*l));
                let language =
                    language.ok_or_else(|| fail(LanguageError::Base { base: base.to_string() }))?;
                no_strange_key(&english.tree, &own, "", &mut faults);
                let mut tree = Self::of(language)?.tree;
                lay_over(&mut tree, own);
                tree
            }
        };
        compare(&english.tree, &tree, "", &mut faults);
        if faults.is_empty() { Ok(Self { tree }) } else { Err(fail(LanguageError::Keys(faults))) }
    }

    /// Reads a language file that was complete when it was kept: keys that came since are in English.
    ///
    /// # Errors
    /// [`PapersError::Language`] when it is not TOML.
    pub fn kept(text: &str) -> Result<Self, PapersError> {
        let fail = |reason| PapersError::Language { reason };
        let mut own = parse(text).map_err(fail)?;
        let base = own.as_object_mut().and_then(|keys| keys.remove(BASE));
        let language = base.as_ref().and_then(Value::as_str).and_then(Language::named);
        let mut tree = Self::of(language.unwrap_or(Language::English))?.tree;
        lay_over(&mut tree, own);
        Ok(Self { tree })
    }

    /// The name of a colour of a conductor, which the catalogue states in English; as it stands there where the language has
    /// none for it.
    pub fn colour(&self, name: &str) -> String {
        self.find(&format!("colour.{}", name.to_lowercase())).unwrap_or(name).to_owned()
    }

    /// The language they are of, where it is one that the program speaks; a firm's own file may be of any other.
    pub fn language(&self) -> Option<Language> {
        Language::named(self.get("language"))
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
        let place = placed(at, key);
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

/// Whether the file of a language states every key itself, so that others may be laid over it.
const fn is_whole(language: Language) -> bool {
    matches!(language, Language::English | Language::Spanish)
}

/// Puts what a file states over what it is based on.
fn lay_over(under: &mut Value, own: Value) {
    match (under, own) {
        (Value::Object(under), Value::Object(own)) => {
            for (key, value) in own {
                match under.get_mut(&key) {
                    Some(place) => lay_over(place, value),
                    None => drop(under.insert(key, value)),
                }
            }
        }
        (place, own) => *place = own,
    }
}

/// Tells keys that stand in no language: mistyped, they would change nothing and nobody would know.
fn no_strange_key(shipped: &Value, own: &Value, at: &str, faults: &mut Vec<String>) {
    let (Value::Object(shipped), Value::Object(own)) = (shipped, own) else { return };
    for (key, value) in own {
        let place = placed(at, key);
        match shipped.get(key) {
            Some(shipped) => no_strange_key(shipped, value, &place, faults),
            None => faults.push(format!("there is no {place}")),
        }
    }
}

fn compare(shipped: &Value, own: &Value, at: &str, faults: &mut Vec<String>) {
    match (shipped, own) {
        (Value::Object(shipped), Value::Object(own)) => {
            for (key, value) in shipped {
                let place = placed(at, key);
                match own.get(key) {
                    Some(own) => compare(value, own, &place, faults),
                    None => faults.push(format!("{place} is missing")),
                }
            }
        }
        (Value::String(shipped), Value::String(own)) => {
            same_names(&names(shipped), &names(own), at, faults);
        }
        (Value::Array(shipped), Value::Array(own)) => {
            let all = |texts: &[Value]| -> BTreeSet<String> {
                texts.iter().filter_map(Value::as_str).flat_map(names).collect()
            };
            same_names(&all(shipped), &all(own), at, faults);
        }
        (Value::Array(_), _) => faults.push(format!("{at} must be a list of texts")),
        (Value::Object(_), _) => faults.push(format!("{at} must be a table")),
        _ => faults.push(format!("{at} must be a text")),
    }
}

/// A key with those above it.
fn placed(at: &str, key: &str) -> String {
    if at.is_empty() { key.to_owned() } else { format!("{at}.{key}") }
}

/// Tells names in braces that one of two texts has and the other has not.
fn same_names(shipped: &BTreeSet<String>, own: &BTreeSet<String>, at: &str, faults: &mut Vec<String>) {
    let list =
        |names: Vec<&String>| names.into_iter().map(|n| format!("{{{n}}}")).collect::<Vec<_>>().join(", ");
    let lost: Vec<&String> = shipped.difference(own).collect();
    if !lost.is_empty() {
        faults.push(format!("{at} has lost {}", list(lost)));
    }
    let strange: Vec<&String> = own.difference(shipped).collect();
    if !strange.is_empty() {
        faults.push(format!("{at} has {}, which nothing fills", list(strange)));
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
    use loamline_model::Choice as _;

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
    fn every_language_that_is_shipped_can_be_read() {
        for (language, name, _) in Language::ALL {
            let words = Words::of(*language).unwrap_or_else(|e| panic!("{name}: {e}"));
            assert!(words.get("language").eq_ignore_ascii_case(name), "{name}: {}", words.get("language"));
        }
        let spanish = Words::of(Language::Spanish).unwrap();
        assert_eq!((spanish.get("side.north"), spanish.colour("Red")), ("norte", "rojo".to_owned()));
        assert_eq!(spanish.colour("fuchsia"), "fuchsia");
    }

    #[test]
    fn a_file_laid_over_another_states_what_differs_and_nothing_else() {
        let own = Words::read("base = \"es\"\n[side]\nnorth = \"Norte\"\n").unwrap();
        let spanish = Words::of(Language::Spanish).unwrap();
        assert_eq!(own.get("side.north"), "Norte");
        assert_eq!(own.get("side.south"), spanish.get("side.south"));
        assert_eq!(own.list("safety.text"), spanish.list("safety.text"));
        for (text, told) in [
            ("base = \"en\"\n[side]\nnroth = \"N\"\n", "there is no side.nroth"),
            ("base = \"en\"\n[page]\nnumber = \"{number}\"\n", "page.number has lost {count}"),
            ("base = \"en-us\"\n", "\"en-us\" is no whole language"),
            ("base = \"xx\"\n", "\"xx\" is no whole language"),
        ] {
            let error = Words::read(text).unwrap_err().to_string();
            assert!(error.contains(told), "{error}");
        }
    }

    #[test]
    fn a_file_that_was_kept_is_read_though_keys_came_since() {
        let older = ENGLISH.replace("north = \"N\"\n", "").replace("title = \"Plan\"", "title = \"Drawing\"");
        assert!(Words::read(&older).is_err());
        let words = Words::kept(&older).unwrap();
        assert_eq!((words.get("plan.north"), words.get("plan.title")), ("N", "Drawing"));
        assert_eq!(Words::kept("base = \"es\"\n").unwrap(), Words::of(Language::Spanish).unwrap());
    }

    #[test]
    fn a_translation_may_not_lose_a_value() {
        let lost = ENGLISH.replace("Page {number} of {count}", "Page {number}");
        let error = Words::read(&lost).unwrap_err().to_string();
        assert!(error.contains("has lost {count}"), "{error}");
        let strange = ENGLISH.replace("Page {number} of {count}", "Page {number} of {count} and {more}");
        let error = Words::read(&strange).unwrap_err().to_string();
        assert!(error.contains("page.number has {more}, which nothing fills"), "{error}");
    }
}
