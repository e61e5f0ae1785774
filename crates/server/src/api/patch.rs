//! Edits as they are sent.

use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::ToSchema;

/// One operation of JSON Patch (RFC 6902).
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
pub struct PatchOperation {
    /// `add`, `remove`, `replace`, `move`, `copy` or `test`.
    op: PatchWord,
    /// RFC 6901 pointer into the document as typed.
    path: String,
    /// For `move` and `copy`: where from.
    from: Option<String>,
    /// For `add`, `replace` and `test`.
    #[schema(value_type = Object)]
    value: Option<Value>,
    /// For `add`, `move` and `copy` of a new key: the key it goes in front of.
    before: Option<String>,
}

/// What an operation does.
#[derive(Debug, Clone, Copy, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum PatchWord {
    /// Puts a value at a place.
    Add,
    /// Takes a value away.
    Remove,
    /// Puts another value in place of one that is there.
    Replace,
    /// Takes a value away and puts it elsewhere.
    Move,
    /// Puts a copy of a value elsewhere.
    Copy,
    /// Goes on only if the value is this one.
    Test,
}
