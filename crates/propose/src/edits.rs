//! Edits of one step.

use loamline_model::{Edit, Operation};

/// An edit that sets one value.
pub(crate) fn set(path: &str, value: serde_json::Value) -> Edit {
    Edit::new([Operation::Add { path: path.to_owned(), value, before: None }])
}
