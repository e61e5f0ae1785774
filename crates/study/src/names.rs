//! How things are named to people: by the name somebody gave them, with the tag a crew finds on them; by the id where nobody
//! gave one.

use loamline_model::document::{Area, Neighbour, Stub};
use loamline_terms::{Sentence, say, template};

/// A thing without a tag on site, at the beginning of a sentence or within it: its name, else what it is with its id.
#[must_use]
pub fn named_or(name: &str, kind: &str, id: &str) -> String {
    match name.trim() {
        "" => format!("{kind} {id}"),
        name => name.to_owned(),
    }
}

/// As [`named_or`], to be said in any language: what it is called without a name is a template with `{id}` in it.
#[must_use]
pub fn named(name: &str, without: &'static str, id: &str) -> Sentence {
    match name.trim() {
        "" => Sentence::of(without, vec![("id", id.into())]),
        name => name.into(),
    }
}

/// A listening area at the beginning of a sentence: `Dining terrace`, or `Area terrace`.
#[must_use]
pub fn area_words(id: &str, area: &Area) -> Sentence {
    named(&area.name, template!("Area {id}"), id)
}

/// A listening area within a sentence: `Dining terrace`, or `area terrace`.
#[must_use]
pub fn area_within(id: &str, area: &Area) -> Sentence {
    named(&area.name, template!("area {id}"), id)
}

/// A neighbour at the beginning of a sentence, with its floor where it has several: `Flats across the lane, First floor`, or
/// `Neighbour flats, floor 1`.
#[must_use]
pub fn neighbour_words(id: &str, neighbour: &Neighbour, floor: Option<&str>) -> Sentence {
    on_floor(named(&neighbour.name, template!("Neighbour {id}"), id), neighbour, floor)
}

/// As [`neighbour_words`], within a sentence.
#[must_use]
pub fn neighbour_within(id: &str, neighbour: &Neighbour, floor: Option<&str>) -> Sentence {
    on_floor(named(&neighbour.name, template!("neighbour {id}"), id), neighbour, floor)
}

fn on_floor(neighbour_words: Sentence, neighbour: &Neighbour, floor: Option<&str>) -> Sentence {
    let Some(floor) = floor else { return neighbour_words };
    let name = neighbour.floors.get(floor).map_or("", |f| f.name.as_str());
    neighbour_words + ", " + named(name, template!("floor {id}"), floor)
}

/// A stub-out, whose tag the crew reads at its cable: `stub-out T1`, or `stub-out Deck wall (T1)`.
#[must_use]
pub fn stub_words(id: &str, stub: &Stub) -> Sentence {
    match stub.name.trim() {
        "" => say!("stub-out {id}", id = id),
        name => say!("stub-out {name} ({id})", name = name, id = id),
    }
}

/// What has a tag on site and may have a name, at the beginning of a sentence: `Passage W1`, or `Old window (W1)`. What it is
/// called without a name is a template with `{id}` in it.
#[must_use]
pub(crate) fn tagged(name: &str, without: &'static str, id: &str) -> Sentence {
    match name.trim() {
        "" => Sentence::of(without, vec![("id", id.into())]),
        name => format!("{name} ({id})").into(),
    }
}

/// What a run goes through or a thing stands in: its name, else its id.
#[must_use]
pub(crate) fn called<'a>(name: &'a str, id: &'a str) -> &'a str {
    match name.trim() {
        "" => id,
        name => name,
    }
}

/// A visit: by its tag and day; by its day alone where an app made the tag up (`V3`, `V-20261129-z7jvnfd9`), which says nothing to
/// anybody.
#[must_use]
pub(crate) fn visit_words(id: &str, date: &str) -> Sentence {
    let counted = |rest: &str| !rest.is_empty() && rest.bytes().all(|b| b.is_ascii_digit());
    let made_up = id
        .strip_prefix('V')
        .is_some_and(|rest| counted(rest) || rest.starts_with('-') && rest.split('-').count() > 2);
    if made_up {
        say!("visit of {date}", date = date)
    } else {
        say!("visit {id}, {date}", id = id, date = date)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_terms::Phrases;

    #[test]
    fn a_phone_s_tag_of_a_visit_is_not_told() {
        assert_eq!(visit_words("V-20261129-z7jvnfd9", "2026-11-29"), "visit of 2026-11-29");
        assert_eq!(visit_words("V2", "2027-06-02"), "visit of 2027-06-02");
        assert_eq!(visit_words("spring", "2027-04-02"), "visit spring, 2027-04-02");
    }

    #[test]
    fn names_are_told_where_somebody_gave_them() {
        assert_eq!(named_or("Deck", "Area", "area1"), "Deck");
        assert_eq!(named_or(" ", "Area", "area1"), "Area area1");
        assert_eq!(tagged("Old window", template!("Passage {id}"), "W1"), "Old window (W1)");
        assert_eq!(tagged("", template!("Passage {id}"), "W1"), "Passage W1");
        // A name stays as it was given, whatever the language.
        let spoken = |name| named(name, template!("area {id}"), "a1").spoken(Phrases::of("es"));
        assert_eq!((spoken("Deck"), spoken("")), ("Deck".into(), "el área a1".into()));
        assert_eq!(called("Pond bench", "area2"), "Pond bench");
        assert_eq!(called("", "area2"), "area2");
    }
}
