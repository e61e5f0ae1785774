//! Whether two edits made from the same state can both take effect, in either order.

use super::patch::{Edit, Operation};
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
    let (wa, ra) = places(a);
    let (wb, rb) = places(b);
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

/// Places an edit writes, and places it only reads.
fn places(edit: &Edit) -> (Vec<String>, Vec<String>) {
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
fn of_list(path: &str) -> String {
    match path.rsplit_once('/') {
        Some((list, last))
            if last == "-" || (!last.is_empty() && last.bytes().all(|b| b.is_ascii_digit())) =>
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
}
