//! Whether two edits made from the same state can both take effect, in either order.

use super::patch::{Edit, Operation};
use serde_json::Value;
use std::collections::BTreeSet;

/// Whether two edits, made without knowledge of each other, get in each other's way: one of them writes a place
/// that the other writes or relies on, or something above or below it. Edits of different keys never do. Lists are
/// one place as a whole when items come or go, since that moves the others.
pub fn conflicts(a: &Edit, b: &Edit) -> bool {
    conflicting_place(a, b).is_some()
}

/// Where two edits get in each other's way, as [`conflicts`] has it: the first such place of `a`. Cost: n log n in the
/// places of both, so that an edit on an old revision can be held against every later one.
pub fn conflicting_place(a: &Edit, b: &Edit) -> Option<String> {
    meeting_place(a, b, &|_| true)
}

/// Where an edit that takes an earlier one back meets one that was made after that: the first such place of `back`. Nowhere
/// exactly where the two commute: neither writes a place that the other writes or relies on, or something above or below it;
/// items of one list of the document `now` are one place. What the pointers do not say, that a thing is named by its id
/// elsewhere, the check of the job says.
pub fn place_built_upon(back: &Edit, later: &Edit, now: &Value) -> Option<String> {
    // What is not there any more may have been a list.
    meeting_place(back, later, &|container| now.pointer(container).is_none_or(Value::is_array))
}

fn meeting_place(a: &Edit, b: &Edit, is_list: &dyn Fn(&str) -> bool) -> Option<String> {
    let (wa, ra) = places(a, is_list);
    let (wb, rb) = places(b, is_list);
    let (written, read) = (Places::of(&wb), Places::of(&rb));
    let meet = |x: &[String], y: &Places<'_>| x.iter().find(|p| y.overlap(p)).cloned();
    meet(&wa, &written).or_else(|| meet(&wa, &read)).or_else(|| meet(&ra, &written))
}

/// Places that can be asked whether one of them is, holds or lies within another.
struct Places<'e>(BTreeSet<&'e str>);

impl<'e> Places<'e> {
    fn of(places: &'e [String]) -> Self {
        Self(places.iter().map(String::as_str).collect())
    }

    fn overlap(&self, place: &str) -> bool {
        // Itself and everything above it.
        let ends = place.match_indices('/').map(|(at, _)| at).chain([place.len()]);
        if ends.into_iter().any(|end| self.0.contains(&place[..end])) {
            return true;
        }
        // Everything within it stands after it in the order, from the first that goes on with a slash.
        let inside = format!("{place}/");
        self.0.range(inside.as_str()..).next().is_some_and(|next| next.starts_with(&inside))
    }
}

/// Places an edit writes, and places it only reads; `is_list` says whether what an item would be of is a list.
fn places(edit: &Edit, is_list: &dyn Fn(&str) -> bool) -> (Vec<String>, Vec<String>) {
    let of_list = |path: &str| of_list(path, is_list);
    let (mut written, mut read) = (Vec::new(), Vec::new());
    for operation in &edit.operations {
        match operation {
            Operation::Add { path, .. } | Operation::Remove { path } => written.push(of_list(path)),
            Operation::Replace { path, .. } => written.push(path.clone()),
            Operation::Move { from, path, .. } => written.extend([of_list(from), of_list(path)]),
            Operation::Copy { from, path, .. } => {
                read.push(from.clone());
                written.push(of_list(path));
            }
            Operation::Test { path, .. } => read.push(path.clone()),
        }
    }
    (written, read)
}

/// The list itself, for a path to an item of one.
fn of_list(path: &str, is_list: &dyn Fn(&str) -> bool) -> String {
    match path.rsplit_once('/') {
        Some((list, last))
            if (last == "-" || (!last.is_empty() && last.bytes().all(|b| b.is_ascii_digit())))
                && is_list(list) =>
        {
            list.to_owned()
        }
        _ => path.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use serde_json::json;

    /// The definition, place by place.
    fn overlap(a: &str, b: &str) -> bool {
        let within = |inner: &str, outer: &str| {
            inner.strip_prefix(outer).is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
        };
        within(a, b) || within(b, a)
    }

    proptest! {
        #[test]
        fn sorted_places_meet_where_the_definition_says(
            places in prop::collection::vec("(/[a-b./]{0,2}){0,4}", 0..9), asked in "(/[a-b./]{0,2}){0,4}",
        ) {
            let plain = places.iter().any(|p| overlap(p, &asked));
            prop_assert_eq!(Places::of(&places).overlap(&asked), plain);
        }
    }

    fn edit(v: serde_json::Value) -> Edit {
        serde_json::from_value(v).unwrap()
    }

    #[test]
    fn different_paths_do_not_meet_and_nested_ones_do() {
        let tap = edit(json!([{ "op": "replace", "path": "/loudspeakers/L1/tap", "value": 10 }]));
        let aim = edit(json!([{ "op": "replace", "path": "/loudspeakers/L1/bearing", "value": 90 }]));
        let gone = edit(json!([{ "op": "remove", "path": "/loudspeakers/L1" }]));
        let other = edit(json!([{ "op": "remove", "path": "/loudspeakers/L10" }]));
        assert!(!conflicts(&tap, &aim) && !conflicts(&gone, &other));
        assert!(conflicts(&tap, &gone) && conflicts(&gone, &aim) && conflicts(&tap, &tap));
    }

    #[test]
    fn a_test_only_minds_writing() {
        let careful = edit(json!([
            { "op": "test", "path": "/loudspeakers/L1/line", "value": "A" },
            { "op": "replace", "path": "/loudspeakers/L2/tap", "value": 5 }
        ]));
        let looks = edit(json!([{ "op": "test", "path": "/loudspeakers/L1/line", "value": "A" }]));
        let moves = edit(json!([{ "op": "replace", "path": "/loudspeakers/L1/line", "value": "B" }]));
        assert!(!conflicts(&careful, &looks));
        assert!(conflicts(&careful, &moves));
        assert_eq!(conflicting_place(&careful, &moves).as_deref(), Some("/loudspeakers/L1/line"));
    }

    #[test]
    fn items_of_one_list_meet() {
        let corner =
            |i: u32| edit(json!([{ "op": "add", "path": format!("/areas/a/outline/{i}"), "value": [0, 0] }]));
        assert!(conflicts(&corner(0), &corner(5)));
    }

    #[test]
    fn a_table_whose_ids_are_numbers_is_no_list() {
        let now = json!({ "loudspeakers": { "1": { "tap": 5 } }, "areas": { "a": { "outline": [[0, 0], [1, 0]] } } });
        let added = edit(json!([{ "op": "remove", "path": "/loudspeakers/2" }]));
        let tapped = edit(json!([{ "op": "replace", "path": "/loudspeakers/1/tap", "value": 10 }]));
        assert!(conflicts(&added, &tapped), "without the document it might be a list");
        assert_eq!(place_built_upon(&added, &tapped, &now), None);
        let corner = edit(json!([{ "op": "remove", "path": "/areas/a/outline/2" }]));
        let moved = edit(json!([{ "op": "replace", "path": "/areas/a/outline/0/0", "value": 3 }]));
        assert_eq!(place_built_upon(&corner, &moved, &now).as_deref(), Some("/areas/a/outline"));
        let gone = edit(json!([{ "op": "remove", "path": "/areas/b/outline/1" }]));
        let whole = edit(json!([{ "op": "remove", "path": "/areas/b" }]));
        assert!(place_built_upon(&gone, &whole, &now).is_some());
    }
}
