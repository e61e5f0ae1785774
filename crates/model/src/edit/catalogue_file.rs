//! Entries of a catalogue file: put in, changed or taken out with everything else in the text left as it is.

use super::raw::{first_null, to_value};
use super::write_back::write_back;
use crate::source::{parse_recovering, readable};
use serde_json::{Map, Value};

/// The text of a catalogue file with an entry of one of its tables put in, or taken out where none is given. Whether the
/// entry makes sense shows when the file is read. `None` where the text is no TOML or holds more than is read, the table is
/// no table, what is to be taken out is not there, or the entry holds a null.
pub fn with_entry(text: &str, table: &str, id: &str, entry: Option<&Value>) -> Option<String> {
    readable(text).ok()?;
    let (node, errors) = parse_recovering(text);
    if !errors.is_empty() {
        return None;
    }
    let mut raw = to_value(&node);
    let all = raw.as_object_mut()?;
    match entry {
        Some(entry) if first_null(entry).is_some() => return None,
        Some(entry) => {
            let section = all.entry(table).or_insert_with(|| Value::Object(Map::new()));
            section.as_object_mut()?.insert(id.to_owned(), entry.clone());
        }
        None => {
            let section = all.get_mut(table)?.as_object_mut()?;
            section.shift_remove(id)?;
            if section.is_empty() {
                all.shift_remove(table);
            }
        }
    }
    write_back(text, &raw)
}

/// The ids in the tables of a catalogue file, table by table; nothing of a text that is no TOML.
pub fn entries(text: &str) -> Vec<(String, Vec<String>)> {
    if readable(text).is_err() {
        return Vec::new();
    }
    let (node, _) = parse_recovering(text);
    let Value::Object(all) = to_value(&node) else { return Vec::new() };
    let ids = |v: &Value| v.as_object().map(|o| o.keys().cloned().collect()).unwrap_or_default();
    all.iter().filter(|(table, _)| *table != "prices").map(|(table, v)| (table.clone(), ids(v))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::Catalogue;
    use crate::job::{read_catalogue, shipped_catalogue};
    use crate::source::SourceFile;
    use serde_json::json;

    /// An entry as the program tells it, as a file has it: what is not stated left out, pairs over frequency as a table.
    fn as_typed(told: &Value) -> Value {
        let is_pair =
            |v: &Value| v.as_array().is_some_and(|p| p.len() == 2 && p.iter().all(Value::is_number));
        match told {
            Value::Object(o) => {
                let stated = o.iter().filter(|(_, v)| !v.is_null());
                stated.map(|(k, v)| (k.clone(), as_typed(v))).collect::<Map<_, _>>().into()
            }
            Value::Array(a) if !a.is_empty() && a.iter().all(is_pair) => {
                a.iter().map(|p| (format!("{} Hz", p[0]), p[1].clone())).collect::<Map<_, _>>().into()
            }
            other => other.clone(),
        }
    }

    fn read(text: &str) -> Catalogue {
        read_catalogue(&[SourceFile::new("own.toml", text)]).unwrap_or_else(|r| panic!("{r}\n{text}"))
    }

    /// What the app shows of a model is what it sends back with a figure changed: it must read as the same model.
    #[test]
    fn every_model_that_ships_can_be_written_from_what_is_told_of_it() {
        let shipped = shipped_catalogue().unwrap();
        let told = serde_json::to_value(&*shipped).unwrap();
        let mut text = String::new();
        for table in ["loudspeakers", "amplifiers", "cables", "connectors", "conduits"] {
            for (id, entry) in told[table].as_object().unwrap() {
                text = with_entry(&text, table, id, Some(&as_typed(entry))).unwrap();
            }
        }
        let again = read(&text);
        assert!(again.loudspeakers.len() > 3);
        assert_eq!(again.loudspeakers, shipped.loudspeakers);
        assert_eq!(again.amplifiers, shipped.amplifiers);
        assert_eq!(again.cables, shipped.cables);
        assert_eq!(again.connectors, shipped.connectors);
        assert_eq!(again.conduits, shipped.conduits);
    }

    #[test]
    fn one_entry_changes_and_the_rest_of_the_text_stays() {
        let text = "# From the maker's sheet\n[conduits.c-25]\ndescription = \"25 mm\" # thin\ninside_diameter = \"19 mm\"\nprice_per_m = 1\n\n\
                    [conduits.c-32]\ndescription = \"32 mm\"\ninside_diameter = \"25 mm\"\nprice_per_m = 2\n";
        let entry = json!({ "description": "32 mm, bendable", "inside_diameter": "25 mm", "price_per_m": 2 });
        let changed = with_entry(text, "conduits", "c-32", Some(&entry)).unwrap();
        assert!(
            changed
                .starts_with("# From the maker's sheet\n[conduits.c-25]\ndescription = \"25 mm\" # thin\n")
        );
        assert!(changed.contains("32 mm, bendable"), "{changed}");
        assert_eq!(entries(&changed), [("conduits".to_owned(), vec!["c-25".to_owned(), "c-32".to_owned()])]);
        let less = with_entry(&changed, "conduits", "c-32", None).unwrap();
        assert!(!less.contains("c-32") && less.contains("c-25"), "{less}");
        let none = with_entry(&less, "conduits", "c-25", None).unwrap();
        assert!(entries(&none).is_empty(), "{none}");
    }

    #[test]
    fn what_is_not_there_cannot_be_taken_out_and_a_null_not_be_written() {
        assert_eq!(with_entry("", "conduits", "c-25", None), None);
        assert_eq!(with_entry("[conduits\n", "conduits", "c-25", Some(&json!({}))), None);
        assert_eq!(with_entry("", "conduits", "c-25", Some(&json!({ "price_per_m": null }))), None);
    }
}
