//! What the equipment and the tasks of the shipped catalogue are called in other languages.
//!
//! `catalogue/language/*.json` has, by language, the descriptions of each table by id. They stand for the shipped English ones alone: a
//! description of somebody's own, be it of a model of an id that is shipped too, stays as it was written.

use super::Job;
use super::shipped::shipped_catalogue;
use crate::catalogue::Catalogue;
use crate::document::Language;
use std::collections::BTreeMap;
use std::sync::{Arc, LazyLock};

/// Descriptions by table and id.
type Descriptions = BTreeMap<String, BTreeMap<String, String>>;

const AMERICAN_ENGLISH: &str = include_str!("../../../../catalogue/language/en-us.json");
const SPANISH: &str = include_str!("../../../../catalogue/language/es.json");

static IN_AMERICAN_ENGLISH: LazyLock<Descriptions> = LazyLock::new(|| read(AMERICAN_ENGLISH));
static IN_SPANISH: LazyLock<Descriptions> = LazyLock::new(|| read(SPANISH));

fn read(text: &str) -> Descriptions {
    serde_json::from_str(text).unwrap_or_default()
}

/// Puts what a language says into the entries of a table that are described as they are shipped.
macro_rules! describe {
    ($own:expr, $shipped:expr, $said:expr, $table:literal) => {
        if let Some(said) = $said.get($table) {
            for (id, entry) in &mut $own {
                let is_shipped = $shipped.get(id).is_some_and(|s| s.description == entry.description);
                if let Some(text) = said.get(id).filter(|_| is_shipped) {
                    entry.description.clone_from(text);
                }
            }
        }
    };
}

impl Catalogue {
    /// The same with everything that is described as it is shipped described in a language.
    #[must_use]
    pub fn described(&self, language: Language) -> Self {
        let mut own = self.clone();
        let said = match language {
            Language::English => return own,
            Language::AmericanEnglish => &*IN_AMERICAN_ENGLISH,
            Language::Spanish => &*IN_SPANISH,
        };
        let Ok(shipped) = shipped_catalogue() else { return own };
        describe!(own.loudspeakers, shipped.loudspeakers, said, "loudspeakers");
        describe!(own.amplifiers, shipped.amplifiers, said, "amplifiers");
        describe!(own.cables, shipped.cables, said, "cables");
        describe!(own.connectors, shipped.connectors, said, "connectors");
        describe!(own.conduits, shipped.conduits, said, "conduits");
        if let (Some(own), Some(shipped)) = (&mut own.prices, &shipped.prices) {
            describe!(own.tasks, shipped.tasks, said, "tasks");
        }
        own
    }
}

impl Job {
    /// The same job with its equipment described in a language.
    #[must_use]
    pub fn described(&self, language: Language) -> Self {
        if language == Language::English {
            return self.clone();
        }
        Self { catalogue: Arc::new(self.catalogue.described(language)), ..self.clone() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every table and id of a file is one of the catalogue; Spanish has them all.
    #[test]
    fn the_files_are_read_and_speak_of_what_is_shipped() {
        let shipped = shipped_catalogue().unwrap();
        let tasks = &shipped.prices.as_ref().unwrap().tasks;
        let known: BTreeMap<&str, Vec<&String>> = BTreeMap::from([
            ("loudspeakers", shipped.loudspeakers.keys().collect()),
            ("amplifiers", shipped.amplifiers.keys().collect()),
            ("cables", shipped.cables.keys().collect()),
            ("connectors", shipped.connectors.keys().collect()),
            ("conduits", shipped.conduits.keys().collect()),
            ("tasks", tasks.keys().collect()),
        ]);
        for text in [AMERICAN_ENGLISH, SPANISH] {
            let said: Descriptions = serde_json::from_str(text).unwrap();
            for (table, entries) in &said {
                assert!(entries.keys().all(|id| known[table.as_str()].contains(&id)), "{table}");
            }
        }
        for (table, ids) in &known {
            assert_eq!(IN_SPANISH[*table].len(), ids.len(), "{table}");
        }
    }

    #[test]
    fn what_is_shipped_is_described_in_a_language_and_ones_own_stays() {
        let shipped = shipped_catalogue().unwrap();
        let mut own = Catalogue::clone(&shipped);
        own.amplifiers.get_mut("line-4x120").unwrap().description = "Our four".to_owned();
        let told = own.described(Language::Spanish);
        assert_eq!(told.amplifiers["line-4x120"].description, "Our four");
        assert_eq!(told.amplifiers["line-4x280"].description, IN_SPANISH["amplifiers"]["line-4x280"]);
        assert_ne!(told.loudspeakers["rock-165"].description, shipped.loudspeakers["rock-165"].description);
        assert_eq!(own.described(Language::English), own);
    }
}
