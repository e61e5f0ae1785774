//! The shape of an edit, for the description of interfaces that take or give one.

use super::patch::Edit;
use serde_json::Value;
use utoipa::openapi::{ArrayBuilder, Ref, RefOr, Schema};
use utoipa::{PartialSchema, ToSchema};

/// One operation of JSON Patch (RFC 6902).
#[derive(Debug, ToSchema)]
pub struct PatchOperation {
    /// `add`, `remove`, `replace`, `move`, `copy` or `test`.
    pub op: PatchWord,
    /// RFC 6901 pointer into the document as typed.
    pub path: String,
    /// For `move` and `copy`: where from.
    pub from: Option<String>,
    /// For `add`, `replace` and `test`.
    #[schema(value_type = Option<Value>)]
    pub value: Option<Value>,
    /// For `add`, `move` and `copy` of a new key: the key it goes in front of.
    pub before: Option<String>,
}

/// What an operation does.
#[derive(Debug, Clone, Copy, ToSchema)]
#[schema(rename_all = "lowercase")]
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

impl PartialSchema for Edit {
    fn schema() -> RefOr<Schema> {
        ArrayBuilder::new()
            .items(Ref::from_schema_name(PatchOperation::name()))
            .description(Some("A JSON Patch (RFC 6902): operations that take effect together or not at all."))
            .into()
    }
}

impl ToSchema for Edit {
    fn schemas(schemas: &mut Vec<(String, RefOr<Schema>)>) {
        schemas.push((PatchOperation::name().into(), PatchOperation::schema()));
        PatchOperation::schemas(schemas);
    }
}
