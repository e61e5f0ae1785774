//! Languages by their names, as people type them.

use crate::failure::Failure;
use loamline_model::document::Language;

/// The language of a name.
pub fn named(name: &str) -> Result<Language, Failure> {
    let unknown = || Failure::input(format!("language {name}: the languages are {}", Language::names()));
    Language::named(name).ok_or_else(unknown)
}
