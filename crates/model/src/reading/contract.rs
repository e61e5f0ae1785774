//! What codecs, keys, records and choices promise each other.

use super::node::{DocumentPlace, Node};
use super::problem::Problem;
use indexmap::IndexMap;
use serde_json::{Map, Value};

/// How a value of a document is read and described.
pub trait Codec {
    /// The Rust type read.
    type Out;
    /// Reads a value. `None` means that a problem has been reported.
    fn decode(&self, node: &Node, at: &DocumentPlace<'_>, problems: &mut Vec<Problem>) -> Option<Self::Out>;
    /// What is wanted, for messages: "a length, e.g. 3.8 m".
    fn expected(&self) -> String;
    /// JSON Schema of the value.
    fn schema(&self, defs: &mut Definitions) -> Value;
}

/// A default that a schema can show.
pub trait SchemaDefault {
    /// The value as JSON, where it has a plain form.
    fn schema_default(&self) -> Option<Value>;
}

/// How one key of a record is read and described.
pub trait Field {
    /// The Rust type of the field.
    type Out;
    /// Reads the field from its table. `None` means that a problem has been reported.
    fn read(
        &self,
        table: &Table,
        key: &str,
        at: &DocumentPlace<'_>,
        problems: &mut Vec<Problem>,
    ) -> Option<Self::Out>;
    /// JSON Schema of the value.
    fn schema(&self, defs: &mut Definitions) -> Value;
    /// Whether the key must be there.
    fn is_required(&self) -> bool {
        false
    }
}

/// The keys and values of a table node.
pub type Table = IndexMap<String, Node>;

/// JSON Schema definitions gathered while a schema is written, by record name.
pub type Definitions = Map<String, Value>;

/// A table with known keys.
pub trait Record: Sized {
    /// Name of the type, used in the schema.
    const NAME: &'static str;
    /// Keys the table knows, in the order they are documented.
    const KEYS: &'static [&'static str];
    /// Reads the record, reporting every problem found. `None` only when at least one was reported.
    fn read(node: &Node, at: &DocumentPlace<'_>, problems: &mut Vec<Problem>) -> Option<Self>;
    /// JSON Schema of the table.
    fn schema(defs: &mut Definitions) -> Value;
}

/// One of several words.
pub trait Choice: Sized + Copy + PartialEq + 'static {
    /// Every choice with its word and a line of description.
    const ALL: &'static [(Self, &'static str, &'static str)];
    /// The word in the document.
    fn word(self) -> &'static str {
        Self::ALL.iter().find(|c| c.0 == self).map_or("", |c| c.1)
    }
}
