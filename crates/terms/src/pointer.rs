//! JSON pointers (RFC 6901): how a place in a document is written.
//!
//! A pointer is empty for the whole document, else a `/` before each key; in a key `~` is written `~0` and `/` is written
//! `~1` (sections 3 and 4). Left out: the form for addresses with `#` and per cent signs (section 6).

use std::borrow::Cow;

/// A key as it stands in a pointer.
pub fn escape(key: &str) -> Cow<'_, str> {
    if key.contains(['~', '/']) {
        Cow::Owned(key.replace('~', "~0").replace('/', "~1"))
    } else {
        Cow::Borrowed(key)
    }
}

/// The key that a part of a pointer stands for.
pub fn unescape(part: &str) -> Cow<'_, str> {
    // In this order, so that `~01` becomes `~1` and not `/` (section 4).
    if part.contains('~') {
        Cow::Owned(part.replace("~1", "/").replace("~0", "~"))
    } else {
        Cow::Borrowed(part)
    }
}

/// Pointer to what stands under a key of the thing at `pointer`.
pub fn child(pointer: &str, key: &str) -> String {
    format!("{pointer}/{}", escape(key))
}

/// The keys of a pointer from the root on.
pub fn keys(pointer: &str) -> impl Iterator<Item = Cow<'_, str>> {
    pointer.split('/').skip(1).map(unescape)
}

/// Pointer to the container and the key in it; `None` for the whole document and for what is no pointer.
pub fn split_last(pointer: &str) -> Option<(&str, Cow<'_, str>)> {
    let (parent, last) = pointer.rsplit_once('/').filter(|_| pointer.starts_with('/'))?;
    Some((parent, unescape(last)))
}

/// The place in a list, from 0, that a key names: digits without a leading zero (section 4).
pub fn index(key: &str) -> Option<usize> {
    let plain = key == "0" || (!key.starts_with('0') && key.bytes().all(|b| b.is_ascii_digit()));
    key.parse().ok().filter(|_| plain)
}

/// What a pointer points at from `root`, or the nearest thing above it that exists, and whether it was found exactly. `step`
/// gives what stands under a key.
pub fn resolve<'t, T>(
    root: &'t T,
    pointer: &str,
    step: impl Fn(&'t T, &str) -> Option<&'t T>,
) -> (&'t T, bool) {
    let mut here = root;
    for key in keys(pointer) {
        match step(here, &key) {
            Some(next) => here = next,
            None => return (here, false),
        }
    }
    (here, true)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::{Value, json};

    fn step<'v>(value: &'v Value, key: &str) -> Option<&'v Value> {
        match value {
            Value::Object(o) => o.get(key),
            Value::Array(a) => a.get(index(key)?),
            _ => None,
        }
    }

    /// The document and every pointer of RFC 6901 section 5.
    #[test]
    fn the_examples_of_the_standard() {
        let document = json!({
            "foo": ["bar", "baz"], "": 0, "a/b": 1, "c%d": 2, "e^f": 3, "g|h": 4, "i\\j": 5, "k\"l": 6, " ": 7, "m~n": 8
        });
        let cases = [
            ("", document.clone()),
            ("/foo", json!(["bar", "baz"])),
            ("/foo/0", json!("bar")),
            ("/", json!(0)),
            ("/a~1b", json!(1)),
            ("/c%d", json!(2)),
            ("/e^f", json!(3)),
            ("/g|h", json!(4)),
            ("/i\\j", json!(5)),
            ("/k\"l", json!(6)),
            ("/ ", json!(7)),
            ("/m~0n", json!(8)),
        ];
        for (pointer, value) in cases {
            assert_eq!(resolve(&document, pointer, step), (&value, true), "{pointer}");
            let again = keys(pointer).fold(String::new(), |at, key| child(&at, &key));
            assert_eq!(again, pointer);
        }
        let list = &document["foo"];
        for (pointer, nearest) in
            [("/foo/2", list), ("/foo/00", list), ("/foo/-", list), ("/no/0", &document)]
        {
            assert_eq!(resolve(&document, pointer, step), (nearest, false), "{pointer}");
        }
    }

    #[test]
    fn tildes_are_taken_back_in_the_right_order() {
        // Section 4: `~01` is `~1`, never `/`.
        assert_eq!(unescape("~01"), "~1");
        for key in ["", "~", "/", "~1", "~0", "~01", "a/~b", "plain"] {
            assert_eq!(unescape(&escape(key)), key);
            assert!(!escape(key).contains('/'));
        }
    }

    #[test]
    fn the_last_key_comes_off() {
        assert_eq!(split_last("/a/b~1c"), Some(("/a", "b/c".into())));
        assert_eq!(split_last("/a"), Some(("", "a".into())));
        assert_eq!((split_last(""), split_last("a/b")), (None, None));
    }
}
