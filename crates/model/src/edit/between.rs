//! The edit that makes one document of another: what going back to an earlier state writes.
//!
//! As little as can be is written, so that whatever stays the same is touched by nobody's undo. Things keep the order of the
//! wanted document (of two surfaces the later one wins): a new one says in front of which it stands, and a table whose things
//! stand in another order is written as a whole. Fields inside a thing, and the sections of a job, have no order.

use super::patch::{Edit, Operation};
use loamline_terms::pointer::child;
use serde_json::{Map, Value};

impl Edit {
    /// The edit that makes `to` of `from`; without operations where they say the same. Where that takes more operations than an
    /// edit may have, larger pieces are written: whole things, then whole sections.
    pub fn between(from: &Value, to: &Value) -> Self {
        let levels = [usize::MAX, 2, 1];
        let tried = levels.into_iter().map(|deeper| {
            let mut operations = Vec::new();
            differ("", from, to, deeper, &mut operations);
            Self { operations }
        });
        let whole = || Self::new([Operation::Replace { path: String::new(), value: to.clone() }]);
        tried.into_iter().find(|edit| edit.check().is_ok()).unwrap_or_else(whole)
    }
}

/// Operations that make `to` of `from`, the value at a pointer, looking so many levels deeper.
fn differ(at: &str, from: &Value, to: &Value, deeper: usize, operations: &mut Vec<Operation>) {
    match (from, to) {
        (Value::Object(was), Value::Object(is)) if deeper > 0 && in_order(at, was, is) => {
            let gone = was.keys().filter(|key| !is.contains_key(key.as_str()));
            operations.extend(gone.map(|key| Operation::Remove { path: child(at, key) }));
            // Backwards: the key that a new one stands in front of is there by then.
            let mut next: Option<&String> = None;
            for (key, value) in is.iter().rev() {
                let path = child(at, key);
                match was.get(key) {
                    Some(old) => differ(&path, old, value, deeper - 1, operations),
                    None => {
                        operations.push(Operation::Add { path, value: value.clone(), before: next.cloned() })
                    }
                }
                next = Some(key);
            }
        }
        (Value::Object(was), Value::Object(is)) if from == to && in_order(at, was, is) => {}
        (Value::Object(_), Value::Object(_)) => {
            operations.push(Operation::Replace { path: at.to_owned(), value: to.clone() });
        }
        _ if from == to => {}
        _ => operations.push(Operation::Replace { path: at.to_owned(), value: to.clone() }),
    }
}

/// Whether what both tables have stands in the same order in both, where that has a meaning: for the things of a section.
fn in_order(at: &str, was: &Map<String, Value>, is: &Map<String, Value>) -> bool {
    let is_section = at.bytes().filter(|b| *b == b'/').count() == 1;
    !is_section
        || was
            .keys()
            .filter(|key| is.contains_key(key.as_str()))
            .eq(is.keys().filter(|key| was.contains_key(key.as_str())))
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_limits::EDIT_OPERATIONS;
    use proptest::prelude::*;
    use serde_json::json;

    /// A document as a text, which has an order.
    fn text(document: &Value) -> String {
        document.to_string()
    }

    fn things() -> impl Strategy<Value = Value> {
        let field = prop_oneof![
            Just(json!(1)),
            Just(json!("x")),
            Just(json!([1, 2])),
            Just(json!({ "a": 1 })),
            Just(json!({ "a": 2, "b": [0] }))
        ];
        let thing = prop::collection::btree_map("[a-c]", field, 0..3).prop_map(|m| json!(m));
        let section = prop::collection::vec(("[A-D/~]", thing), 0..4).prop_map(|things| {
            let map: Map<String, Value> = things.into_iter().collect();
            Value::Object(map)
        });
        prop::collection::btree_map("[s-u]", section, 0..3).prop_map(|m| json!(m))
    }

    proptest! {
        /// Carried out, and compared with what was wanted: the same, things in the same order.
        #[test]
        fn it_makes_the_one_of_the_other(from in things(), to in things()) {
            let edit = Edit::between(&from, &to);
            let mut made = from.clone();
            let back = edit.apply(&mut made).unwrap();
            prop_assert_eq!(&made, &to);
            for (section, things) in to.as_object().unwrap() {
                let wanted: Vec<&String> = things.as_object().unwrap().keys().collect();
                let found: Vec<&String> = made[section.as_str()].as_object().unwrap().keys().collect();
                prop_assert_eq!(found, wanted);
            }
            back.apply(&mut made).unwrap();
            prop_assert_eq!(text(&made), text(&from));
            prop_assert!(from != to || edit.operations.len() <= from.as_object().unwrap().len());
        }
    }

    #[test]
    fn what_stays_the_same_is_not_written() {
        let from = json!({ "job": { "name": "a" }, "walls": { "w": { "height": 1 }, "x": { "height": 2 } } });
        let to = json!({ "job": { "name": "a" }, "walls": { "v": { "height": 9 }, "w": { "height": 3 } } });
        let wanted: Edit = serde_json::from_value(json!([
            { "op": "remove", "path": "/walls/x" },
            { "op": "replace", "path": "/walls/w/height", "value": 3 },
            { "op": "add", "path": "/walls/v", "value": { "height": 9 }, "before": "w" },
        ]))
        .unwrap();
        assert_eq!(Edit::between(&from, &to), wanted);
        assert_eq!(Edit::between(&to, &to), Edit::default());
    }

    #[test]
    fn too_many_places_are_written_in_larger_pieces() {
        let many = |n: usize| -> Value {
            let fields: Map<String, Value> =
                (0..EDIT_OPERATIONS.most() + 1).map(|i| (format!("f{i}"), json!(n))).collect();
            json!({ "things": { "a": fields, "b": 1 } })
        };
        let edit = Edit::between(&many(1), &many(2));
        assert_eq!(edit.operations.len(), 1);
        let mut made = many(1);
        edit.apply(&mut made).unwrap();
        assert_eq!(made, many(2));
    }
}
