//! What undoing leaves alone: the entries of visits.
//!
//! Readings, ticks and photos are entered on site, often by somebody else than who undoes, and what a meter showed cannot
//! be had again. So an edit of visits alone is never the next to be undone, and undoing or redoing an edit that touches
//! more neither takes an entry away nor changes one; it may bring back what is missing. Whoever entered something can
//! still take it out: that is an edit, not an undo.

use loamline_model::{Edit, Operation};
use loamline_terms::pointer::{child, keys};
use serde_json::Value;
use std::collections::BTreeSet;

const VISITS: &str = "/visits";

/// Whether an edit writes nothing but visits.
pub(super) fn visits_only(edit: &Edit) -> bool {
    edit.operations.iter().all(|o| match o {
        Operation::Add { path, .. }
        | Operation::Remove { path }
        | Operation::Replace { path, .. }
        | Operation::Copy { path, .. } => in_visits(path),
        Operation::Move { from, path, .. } => in_visits(from) && in_visits(path),
        Operation::Test { .. } => true,
    })
}

/// Whether an edit writes nothing but what a crew enters: readings, ticks and photos of visits, and how an amplifier was left. It
/// looks at nothing else either: the answer would tell.
pub fn is_of_the_crew(edit: &Edit) -> bool {
    let entered = |path: &str| {
        let parts: Vec<_> = keys(path).collect();
        let parts: Vec<&str> = parts.iter().map(AsRef::as_ref).collect();
        matches!(parts.as_slice(), ["visits", ..] | ["amplifiers", _, "commissioned", ..])
    };
    edit.operations.iter().all(|o| match o {
        Operation::Add { path, .. }
        | Operation::Remove { path }
        | Operation::Replace { path, .. }
        | Operation::Test { path, .. } => entered(path),
        Operation::Move { from, path, .. } | Operation::Copy { from, path, .. } => {
            entered(from) && entered(path)
        }
    })
}

/// The part of an undoing or redoing edit that leaves the visits of `document` as they are but for what comes back.
pub(super) fn sparing_visits(edit: Edit, document: &Value) -> Edit {
    let removed: BTreeSet<String> = edit
        .operations
        .iter()
        .filter_map(|o| match o {
            Operation::Remove { path } => Some(path.clone()),
            _ => None,
        })
        .collect();
    Edit::new(edit.operations.into_iter().filter_map(|o| spared(o, document, &removed)))
}

/// What is left of an operation of an edit that takes `removed` away.
fn spared(operation: Operation, document: &Value, removed: &BTreeSet<String>) -> Option<Operation> {
    let there = |path: &str| document.pointer(path).is_some();
    match operation {
        // Lines kept for somebody else's edit stay, and so does what holds them.
        Operation::Remove { ref path } if is_of_kept_lines(path) => {
            let held = document.pointer(path).filter(|_| is_kept_lines(path)).and_then(Value::as_object);
            let left = held.is_some_and(|all| all.keys().any(|id| !removed.contains(&child(path, id))));
            let goes = there(path) && !left;
            Some(operation).filter(|_| goes)
        }
        Operation::Add { ref path, .. } if is_of_kept_lines(path) => {
            let comes = there(&path_of_visit(path)) && !(is_kept_lines(path) && there(path));
            Some(operation).filter(|_| comes)
        }
        // The whole document is put back around the visits that there are.
        Operation::Add { path, value, .. } | Operation::Replace { path, value } if path.is_empty() => {
            let visits = document.get("visits").cloned();
            Some(Operation::Replace { path, value: with_visits(value, visits) })
        }
        Operation::Add { ref path, .. } if is_entry(path) => Some(operation).filter(|o| match o {
            Operation::Add { path, .. } => !there(path),
            _ => false,
        }),
        Operation::Remove { ref path }
        | Operation::Replace { ref path, .. }
        | Operation::Copy { ref path, .. }
        | Operation::Test { ref path, .. }
            if is_entry(path) =>
        {
            None
        }
        Operation::Move { ref from, ref path, .. } if is_entry(from) || is_entry(path) => None,
        other => Some(other),
    }
}

/// A document with these visits in place of its own.
pub(super) fn with_visits(mut document: Value, visits: Option<Value>) -> Value {
    if let Value::Object(o) = &mut document {
        match visits {
            Some(v) => {
                o.insert("visits".into(), v);
            }
            None => {
                o.shift_remove("visits");
            }
        }
    }
    document
}

/// Whether a pointer is that of an entry of a visit, or of what holds entries: not of a line that a visit keeps as it was, which
/// goes with the edit that made the visit keep it.
fn is_entry(path: &str) -> bool {
    in_visits(path) && path.split('/').nth(3) != Some("lines")
}

/// Whether a pointer is that of the lines a visit keeps as they were, or of one of them.
fn is_of_kept_lines(path: &str) -> bool {
    in_visits(path) && !is_entry(path)
}

/// Whether it is that of all lines a visit keeps.
fn is_kept_lines(path: &str) -> bool {
    is_of_kept_lines(path) && path.split('/').count() == 4
}

/// The visit that a pointer is in.
fn path_of_visit(path: &str) -> String {
    path.split('/').take(3).collect::<Vec<_>>().join("/")
}

/// Whether a pointer is that of the visits or of something in them.
pub(super) fn in_visits(path: &str) -> bool {
    path.strip_prefix(VISITS).is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn edit(v: Value) -> Edit {
        serde_json::from_value(v).unwrap()
    }

    #[test]
    fn an_edit_of_visits_is_told_from_one_of_more() {
        let reading = json!([{ "op": "add", "path": "/visits/v/readings/r", "value": {} }]);
        let first = json!([{ "op": "add", "path": "/visits", "value": {} }]);
        let both = json!([{ "op": "remove", "path": "/loudspeakers/L1" }, { "op": "remove", "path": "/visits/v/readings/r" }]);
        let alike = json!([{ "op": "replace", "path": "/visitors", "value": 1 }]);
        let whole = json!([{ "op": "replace", "path": "", "value": {} }]);
        for (patch, only) in [(reading, true), (first, true), (both, false), (alike, false), (whole, false)] {
            assert_eq!(visits_only(&edit(patch.clone())), only, "{patch}");
        }
    }

    #[test]
    fn entries_are_brought_back_and_never_taken_or_changed() {
        let now = json!({ "areas": {}, "visits": { "v": { "readings": { "r": { "dc": "5 ohm" } } } } });
        let back = edit(json!([
            { "op": "remove", "path": "/visits/v/readings/r" },
            { "op": "replace", "path": "/visits/v/readings/r/dc", "value": "6 ohm" },
            { "op": "add", "path": "/visits/v/readings/r", "value": {} },
            { "op": "add", "path": "/visits/v/readings/s", "value": { "dc": "7 ohm" } },
            { "op": "add", "path": "/areas/a", "value": {} }
        ]));
        let mut after = now.clone();
        sparing_visits(back, &now).apply(&mut after).unwrap();
        let readings = json!({ "r": { "dc": "5 ohm" }, "s": { "dc": "7 ohm" } });
        assert_eq!(after, json!({ "areas": { "a": {} }, "visits": { "v": { "readings": readings } } }));
        let whole = edit(json!([{ "op": "replace", "path": "", "value": { "areas": { "b": {} } } }]));
        let mut after = now.clone();
        sparing_visits(whole, &now).apply(&mut after).unwrap();
        assert_eq!(after, json!({ "areas": { "b": {} }, "visits": now["visits"] }));
    }

    #[test]
    fn lines_that_somebody_elses_edit_keeps_stay_with_what_holds_them() {
        let kept = json!({ "A": {}, "B": {} });
        let now = json!({ "visits": { "v": { "readings": {}, "lines": kept } } });
        let back = edit(json!([
            { "op": "remove", "path": "/visits/v/lines/A" },
            { "op": "remove", "path": "/visits/v/lines" },
            { "op": "add", "path": "/lines/A", "value": {} }
        ]));
        let paths = |e: &Edit| -> Vec<String> {
            let of = |o: &Operation| serde_json::to_value(o).unwrap()["path"].as_str().unwrap().to_owned();
            e.operations.iter().map(of).collect()
        };
        assert_eq!(paths(&sparing_visits(back.clone(), &now)), ["/visits/v/lines/A", "/lines/A"]);
        let alone = json!({ "visits": { "v": { "lines": { "A": {} } } } });
        assert_eq!(sparing_visits(back.clone(), &alone), back);
        // The visit is gone meanwhile, or holds others by now.
        assert_eq!(paths(&sparing_visits(back, &json!({ "visits": {} }))), ["/lines/A"]);
        let again = edit(json!([
            { "op": "add", "path": "/visits/v/lines", "value": {} },
            { "op": "add", "path": "/visits/v/lines/A", "value": {} }
        ]));
        assert_eq!(paths(&sparing_visits(again, &alone)), ["/visits/v/lines/A"]);
    }

    #[test]
    fn a_crew_enters_and_changes_nothing_else() {
        let at = |op: &str, path: &str| edit(json!([{ "op": op, "path": path, "value": 1 }]));
        for (path, entered) in [
            ("/visits/v/readings/r", true),
            ("/visits", true),
            ("/amplifiers/P1/commissioned/firmware", true),
            ("/amplifiers/P1/commissioned", true),
            ("/amplifiers/P1/model", false),
            ("/visitors/v", false),
            ("/loudspeakers/L1/tap", false),
            ("", false),
        ] {
            assert_eq!(is_of_the_crew(&at("add", path)), entered, "{path}");
            assert_eq!(is_of_the_crew(&at("test", path)), entered, "{path}");
        }
        let copied = edit(json!([{ "op": "copy", "from": "/brief/budget", "path": "/visits/v/notes" }]));
        assert!(!is_of_the_crew(&copied));
    }
}
