//! How large a document is and gets: counted before anything is made, so that a small edit cannot ask for more memory
//! than there is.
//!
//! An edit is charged for what it puts into the document and for what it takes out, which is kept for undoing. So the
//! edit that undoes it is charged the same, and what could be done can be undone.

use loamline_limits::{
    DOCUMENT_BYTES, DOCUMENT_DEPTH, EDIT_BYTES, EDIT_DOCUMENT_VALUES, EDIT_VALUES, Exceeded,
};
use serde_json::Value;

/// Values in a value (itself included) and about how many bytes it takes as text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Size {
    pub values: usize,
    pub bytes: usize,
    /// Values one inside the other; 1 for a plain one.
    pub depth: usize,
}

impl Size {
    /// Of a value. Cost: one look at every value in it.
    pub fn of(value: &Value) -> Self {
        let inside = |all: &mut dyn Iterator<Item = (usize, &Value)>| {
            let mut size = Self { values: 1, bytes: 2, depth: 0 };
            for (key_bytes, v) in all {
                let one = Self::of(v);
                size.values += one.values;
                size.bytes += one.bytes + key_bytes;
                size.depth = size.depth.max(one.depth);
            }
            size.depth += 1;
            size
        };
        match value {
            // Quotes, a colon and a comma.
            Value::Object(o) => inside(&mut o.iter().map(|(k, v)| (k.len() + 4, v))),
            Value::Array(a) => inside(&mut a.iter().map(|v| (1, v))),
            Value::String(s) => Self { values: 1, bytes: s.len() + 2, depth: 1 },
            Value::Null | Value::Bool(_) | Value::Number(_) => Self { values: 1, bytes: 8, depth: 1 },
        }
    }
}

/// What an edit has made so far.
pub(super) struct Meter {
    document: Size,
    work: Size,
}

impl Meter {
    /// Before an edit of a document.
    pub fn new(document: &Value) -> Self {
        Self { document: Size::of(document), work: Size::default() }
    }

    /// Asks whether a value may be put `below` levels down, in the place of `old` when there is one, and takes it as
    /// put.
    ///
    /// # Errors
    /// The bound it would pass; nothing counts as put then.
    pub fn put(&mut self, new: Size, below: usize, old: Option<Size>) -> Result<(), Exceeded> {
        DOCUMENT_DEPTH.check(below + new.depth)?;
        let old = old.unwrap_or_default();
        let document = Size {
            values: (self.document.values + new.values).saturating_sub(old.values),
            bytes: (self.document.bytes + new.bytes).saturating_sub(old.bytes),
            depth: 0,
        };
        EDIT_DOCUMENT_VALUES.check(document.values)?;
        DOCUMENT_BYTES.check(document.bytes)?;
        self.charge(new.values + old.values, new.bytes + old.bytes)?;
        self.document = document;
        Ok(())
    }

    /// Asks whether a value may be taken out and kept, and takes it as taken.
    ///
    /// # Errors
    /// The bound it would pass.
    pub fn remove(&mut self, old: Size) -> Result<(), Exceeded> {
        self.charge(old.values, old.bytes)?;
        self.document.values = self.document.values.saturating_sub(old.values);
        self.document.bytes = self.document.bytes.saturating_sub(old.bytes);
        Ok(())
    }

    fn charge(&mut self, values: usize, bytes: usize) -> Result<(), Exceeded> {
        let (values, bytes) = (self.work.values + values, self.work.bytes + bytes);
        EDIT_VALUES.check(values)?;
        EDIT_BYTES.check(bytes)?;
        (self.work.values, self.work.bytes) = (values, bytes);
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use serde_json::json;

    #[test]
    fn sizes_count_every_value_and_level() {
        let size = Size::of(&json!({"a": [1, 2, {"b": "four"}], "c": null}));
        assert_eq!((size.values, size.depth), (7, 4));
        assert_eq!(Size::of(&json!("four")).bytes, 6);
    }

    /// Any document of a few levels.
    fn document() -> impl Strategy<Value = Value> {
        let leaf = prop_oneof![
            Just(json!(null)),
            any::<i32>().prop_map(|n| json!(n)),
            "[a-z]{0,9}".prop_map(|s| json!(s))
        ];
        leaf.prop_recursive(5, 60, 6, |inner| {
            prop_oneof![
                prop::collection::vec(inner.clone(), 0..6).prop_map(|v| json!(v)),
                prop::collection::btree_map("[a-z]{1,4}", inner, 0..6).prop_map(|m| json!(m)),
            ]
        })
    }

    proptest! {
        /// Against the text itself: of the same order, so that a bound in bytes means bytes.
        #[test]
        fn bytes_are_about_those_of_the_text(value in document()) {
            let text = serde_json::to_string(&value).unwrap().len();
            let counted = Size::of(&value).bytes;
            prop_assert!(counted + 2 >= text - text / 3 && counted <= 9 * text, "{counted} for {text}");
        }
    }
}
