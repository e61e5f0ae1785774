//! How things are named to people: by the name somebody gave them, with the tag a crew finds on them; by the id where nobody
//! gave one.

use loamline_model::document::{Area, Neighbour, Stub};

/// A thing without a tag on site, at the beginning of a sentence or within it: its name, else what it is with its id.
#[must_use]
pub fn named_or(name: &str, kind: &str, id: &str) -> String {
    match name.trim() {
        "" => format!("{kind} {id}"),
        name => name.to_owned(),
    }
}

/// A listening area at the beginning of a sentence: `Dining terrace`, or `Area terrace`.
#[must_use]
pub fn area_words(id: &str, area: &Area) -> String {
    named_or(&area.name, "Area", id)
}

/// A listening area within a sentence: `Dining terrace`, or `area terrace`.
#[must_use]
pub fn area_within(id: &str, area: &Area) -> String {
    named_or(&area.name, "area", id)
}

/// A neighbour at the beginning of a sentence, with its floor where it has several: `Flats across the lane, First floor`, or
/// `Neighbour flats, floor 1`.
#[must_use]
pub fn neighbour_words(id: &str, neighbour: &Neighbour, floor: Option<&str>) -> String {
    on_floor(named_or(&neighbour.name, "Neighbour", id), neighbour, floor)
}

/// As [`neighbour_words`], within a sentence.
#[must_use]
pub fn neighbour_within(id: &str, neighbour: &Neighbour, floor: Option<&str>) -> String {
    on_floor(named_or(&neighbour.name, "neighbour", id), neighbour, floor)
}

fn on_floor(named: String, neighbour: &Neighbour, floor: Option<&str>) -> String {
    let Some(floor) = floor else { return named };
    let name = neighbour.floors.get(floor).map_or("", |f| f.name.as_str());
    format!("{named}, {}", named_or(name, "floor", floor))
}

/// A stub-out, whose tag the crew reads at its cable: `stub-out T1`, or `stub-out Deck wall (T1)`.
#[must_use]
pub fn stub_words(id: &str, stub: &Stub) -> String {
    match stub.name.trim() {
        "" => format!("stub-out {id}"),
        name => format!("stub-out {name} ({id})"),
    }
}

/// What has a tag on site and may have a name, at the beginning of a sentence: `Passage W1`, or `Old window (W1)`.
#[must_use]
pub(crate) fn tagged(name: &str, kind: &str, id: &str) -> String {
    match name.trim() {
        "" => format!("{kind} {id}"),
        name => format!("{name} ({id})"),
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

/// A visit: by its tag and day; by its day alone where a phone made the tag up, which says nothing to anybody.
#[must_use]
pub(crate) fn visit_words(id: &str, date: &str) -> String {
    let made_up = id.strip_prefix("V-").is_some_and(|rest| rest.split('-').count() > 1);
    if made_up { format!("visit of {date}") } else { format!("visit {id}, {date}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_phone_s_tag_of_a_visit_is_not_told() {
        assert_eq!(visit_words("V-20261129-z7jvnfd9", "2026-11-29"), "visit of 2026-11-29");
        assert_eq!(visit_words("V2", "2027-06-02"), "visit V2, 2027-06-02");
        assert_eq!(visit_words("spring", "2027-04-02"), "visit spring, 2027-04-02");
    }

    #[test]
    fn names_are_told_where_somebody_gave_them() {
        assert_eq!(named_or("Deck", "Area", "area1"), "Deck");
        assert_eq!(named_or(" ", "Area", "area1"), "Area area1");
        assert_eq!(tagged("Old window", "Passage", "W1"), "Old window (W1)");
        assert_eq!(tagged("", "Passage", "W1"), "Passage W1");
        assert_eq!(called("Pond bench", "area2"), "Pond bench");
        assert_eq!(called("", "area2"), "area2");
    }
}
