//! What a person calls the thing at a place of a document.

use crate::error::shown;
use loamline_terms::{Sentence, pointer, say};
use serde_json::Value;

/// Tables of things that carry no tag on site, and have a name instead.
const UNTAGGED: [&str; 10] = [
    "areas",
    "neighbours",
    "surfaces",
    "walls",
    "buildings",
    "no_go",
    "sleeves",
    "programmes",
    "zones",
    "phases",
];

/// The thing at a pointer, in the middle of a sentence: by its tag, by the name somebody gave it where it carries none, by the
/// part of the job where it is no thing.
pub fn called(document: &Value, path: &str) -> Sentence {
    let mut keys = pointer::keys(path);
    match (keys.next(), keys.next()) {
        (Some(table), Some(id)) if !matches!(&*table, "job" | "brief" | "site" | "work") => {
            let thing = document.get(&*table).and_then(|things| things.get(&*id));
            let text = |key: &str| thing?.get(key)?.as_str().filter(|t| !t.trim().is_empty());
            let name = UNTAGGED.contains(&&*table).then(|| text("name").or_else(|| text("reason"))).flatten();
            shown(name.unwrap_or(&id)).into()
        }
        (Some(table), _) => match &*table {
            "brief" => say!("the brief"),
            "site" => say!("the site"),
            "work" => say!("the plan of work"),
            "" | "job" => say!("the job"),
            other => format!("the {}", shown(&other.replace('_', " "))).into(),
        },
        _ => say!("the job"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn names_stand_where_there_is_no_tag() {
        let document = json!({ "areas": { "a": { "name": "Kitchen wing" }, "b": {} },
            "loudspeakers": { "L3": { "name": "by the door" } } });
        for (path, name) in [
            ("/areas/a/outline/3", "Kitchen wing"),
            ("/areas/b", "b"),
            ("/loudspeakers/L3/tap", "L3"),
            ("/walls/w", "w"),
            ("/brief/supply", "the brief"),
            ("/no_go", "the no go"),
            ("", "the job"),
        ] {
            assert_eq!(called(&document, path), name, "{path}");
        }
    }
}
