//! Records and choices: declared once, read, described and written from that one declaration.

use super::contract::{Definitions, Field, Table};
use super::node::{DocumentPlace, Node, NodeValue};
use super::problem::{Problem, ProblemKind, did_you_mean, enough, short};
use loamline_terms::Sentence;
use serde_json::{Map, Value, json};

/// The table a node holds, or a problem.
pub fn table_of<'n>(
    node: &'n Node,
    at: &DocumentPlace<'_>,
    problems: &mut Vec<Problem>,
) -> Option<&'n Table> {
    match &node.value {
        NodeValue::Table(t) => Some(t),
        _ => {
            let kind = ProblemKind::WrongKind { expected: "a table".into(), found: node.kind().into() };
            problems.push(Problem::new(at.to_string(), kind));
            None
        }
    }
}

/// Reports keys that a table does not know, with the nearest it does.
pub fn report_unknown_keys(
    table: &Table,
    known: &[&str],
    at: &DocumentPlace<'_>,
    problems: &mut Vec<Problem>,
) {
    for key in table.keys().filter(|k| !known.contains(&k.as_str())) {
        if enough(problems) {
            return;
        }
        let hint = id_with_a_point(table, key, at)
            .map(Sentence::from)
            .or_else(|| did_you_mean(key, known.iter().copied()))
            .or_else(|| Some(format!("the keys here are: {}", known.join(", ")).into()));
        let kind = ProblemKind::UnknownKey { key: short(key) };
        problems.push(Problem::with_key(at.key(key).to_string(), kind).hint(hint));
    }
}

/// An id with a point in it and without quotes falls into two keys: `[cables.pair-2.5mm2]`.
fn id_with_a_point(table: &Table, key: &str, at: &DocumentPlace<'_>) -> Option<String> {
    let pointer = at.to_string();
    let (above, id) = pointer.rsplit_once('/')?;
    let cut_in_two = matches!(table.get(key)?.value, NodeValue::Table(_)) && !above.is_empty();
    cut_in_two.then(|| format!("if the id is {id}.{key}, put it in quotes: \"{id}.{key}\""))
}

/// Schema of a table from its fields, stored once under its name; returns the reference to it.
pub fn object_schema(
    name: &str,
    doc: &str,
    defs: &mut Definitions,
    fields: impl FnOnce(&mut Definitions) -> Vec<(&'static str, &'static str, Value, bool)>,
) -> Value {
    let reference = json!({ "$ref": format!("#/$defs/{name}") });
    if defs.contains_key(name) {
        return reference;
    }
    defs.insert(name.to_owned(), Value::Null); // holds the place while the fields are described
    let fields = fields(defs);
    let required: Vec<&str> = fields.iter().filter(|f| f.3).map(|f| f.0).collect();
    let mut properties = Map::new();
    for (key, about, schema, _) in fields {
        properties.insert(key.to_owned(), described(schema, about));
    }
    let mut object = json!({
        "type": "object", "description": doc.trim(), "properties": properties, "additionalProperties": false,
    });
    if !required.is_empty() {
        object["required"] = json!(required);
    }
    defs.insert(name.to_owned(), object);
    reference
}

fn described(mut schema: Value, about: &str) -> Value {
    if let Value::Object(o) = &mut schema {
        o.insert("description".into(), about.trim().into());
    }
    schema
}

/// Describes one field for a schema.
pub fn field_schema<F: Field>(
    field: &F,
    key: &'static str,
    doc: &'static str,
    defs: &mut Definitions,
) -> (&'static str, &'static str, Value, bool) {
    (key, doc, field.schema(defs), field.is_required())
}

/// Declares a table of the document: the type, its reader and its schema. Each field is
/// `rust_name: Type = "key" => field`, with a doc comment that also becomes the schema's description.
macro_rules! record {
    (
        $(#[doc = $doc:literal])+
        $name:ident {
            $( $(#[doc = $fdoc:literal])+ $field:ident : $ty:ty = $key:literal => $codec:expr ),* $(,)?
        }
    ) => {
        $(#[doc = $doc])+
        #[derive(Debug, Clone, PartialEq, serde::Serialize)]
        pub struct $name {
            $( $(#[doc = $fdoc])+ #[serde(rename = $key)] pub $field: $ty, )*
        }

        impl $crate::reading::Record for $name {
            const NAME: &'static str = stringify!($name);
            const KEYS: &'static [&'static str] = &[$($key),*];

            fn read(
                node: &$crate::reading::Node,
                at: &$crate::reading::DocumentPlace<'_>,
                problems: &mut Vec<$crate::reading::Problem>,
            ) -> Option<Self> {
                use $crate::reading::{Field as _, codec::*, field::AsField as _};
                let table = $crate::reading::record::table_of(node, at, problems)?;
                $crate::reading::record::report_unknown_keys(table, Self::KEYS, at, problems);
                $( let $field = ($codec).read(table, $key, at, problems); )*
                Some(Self { $( $field: $field?, )* })
            }

            fn schema(defs: &mut $crate::reading::Definitions) -> serde_json::Value {
                use $crate::reading::{codec::*, field::AsField as _};
                $crate::reading::record::object_schema(
                    Self::NAME,
                    concat!($($doc, "\n"),+),
                    defs,
                    |defs| vec![$(
                        $crate::reading::record::field_schema(&$codec, $key, concat!($($fdoc, "\n"),+), defs)
                    ),*],
                )
            }
        }
    };
}

/// Declares a set of words: the enum, its words in the document, and a description of each.
macro_rules! choice {
    (
        $(#[doc = $doc:literal])+
        $name:ident { $( $(#[doc = $vdoc:literal])+ $variant:ident = $word:literal ),* $(,)? }
    ) => {
        $(#[doc = $doc])+
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize)]
        pub enum $name { $( $(#[doc = $vdoc])+ #[serde(rename = $word)] $variant, )* }

        impl $crate::reading::Choice for $name {
            const ALL: &'static [(Self, &'static str, &'static str)] =
                &[$( ($name::$variant, $word, concat!($($vdoc),+)) ),*];
        }

        impl $crate::reading::SchemaDefault for $name {
            fn schema_default(&self) -> Option<serde_json::Value> {
                Some($crate::reading::Choice::word(*self).into())
            }
        }
    };
}
