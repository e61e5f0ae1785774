//! A key of a record: required, optional, or with a default.

use super::contract::{Codec, Definitions, Field, SchemaDefault, Table};
use super::node::{DocumentPlace, Node, NodeValue};
use super::problem::{Problem, ProblemKind};

fn present<'t>(table: &'t Table, key: &str) -> Option<&'t Node> {
    table.get(key).filter(|n| n.value != NodeValue::Nothing)
}

/// A key that must be there.
pub struct Required<C>(C);

/// A key that may be absent.
pub struct Optional<C>(C);

/// A key that takes a stated value when absent.
pub struct WithDefault<C: Codec>(C, C::Out);

/// Ways to turn a codec into a field.
pub trait AsField: Codec + Sized {
    /// The key must be there.
    fn required(self) -> Required<Self> {
        Required(self)
    }
    /// The key may be absent.
    fn optional(self) -> Optional<Self> {
        Optional(self)
    }
    /// The key takes this value when absent.
    fn or(self, default: impl Into<Self::Out>) -> WithDefault<Self> {
        WithDefault(self, default.into())
    }
}

impl<C: Codec> AsField for C {}

impl<C: Codec> Field for Required<C> {
    type Out = C::Out;
    fn read(
        &self,
        table: &Table,
        key: &str,
        at: &DocumentPlace<'_>,
        problems: &mut Vec<Problem>,
    ) -> Option<C::Out> {
        match present(table, key) {
            Some(node) => self.0.decode(node, &at.key(key), problems),
            None => {
                let kind = ProblemKind::Missing { key: key.to_owned(), expected: self.0.expected() };
                problems.push(Problem::new(at.to_string(), kind));
                None
            }
        }
    }
    fn schema(&self, defs: &mut Definitions) -> serde_json::Value {
        self.0.schema(defs)
    }
    fn is_required(&self) -> bool {
        true
    }
}

impl<C: Codec> Field for Optional<C> {
    type Out = Option<C::Out>;
    fn read(
        &self,
        table: &Table,
        key: &str,
        at: &DocumentPlace<'_>,
        problems: &mut Vec<Problem>,
    ) -> Option<Self::Out> {
        match present(table, key) {
            Some(node) => self.0.decode(node, &at.key(key), problems).map(Some),
            None => Some(None),
        }
    }
    fn schema(&self, defs: &mut Definitions) -> serde_json::Value {
        self.0.schema(defs)
    }
}

impl<C: Codec> Field for WithDefault<C>
where
    C::Out: Clone + SchemaDefault,
{
    type Out = C::Out;
    fn read(
        &self,
        table: &Table,
        key: &str,
        at: &DocumentPlace<'_>,
        problems: &mut Vec<Problem>,
    ) -> Option<C::Out> {
        match present(table, key) {
            Some(node) => self.0.decode(node, &at.key(key), problems),
            None => Some(self.1.clone()),
        }
    }
    fn schema(&self, defs: &mut Definitions) -> serde_json::Value {
        let mut s = self.0.schema(defs);
        if let (serde_json::Value::Object(o), Some(d)) = (&mut s, self.1.schema_default()) {
            o.insert("default".into(), d);
        }
        s
    }
}
