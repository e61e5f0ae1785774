//! Tables: of known keys, and of things under their ids.

use super::refused::{fail, wrong_kind};
use crate::reading::contract::{Codec, Definitions, Field, Record, Table};
use crate::reading::field::{AsField as _, WithDefault};
use crate::reading::node::{DocumentPlace, Node, NodeValue};
use crate::reading::problem::{Problem, ProblemKind, enough, short};
use indexmap::IndexMap;
use loamline_limits::{Bound, ENTRIES, ID_CHARACTERS};
use serde_json::{Value, json};
use std::marker::PhantomData;

/// A nested table.
pub struct Nested<T>(PhantomData<T>);

/// A nested table of known keys.
pub fn nested<T: Record>() -> Nested<T> {
    Nested(PhantomData)
}

impl<T: Record> Codec for Nested<T> {
    type Out = T;
    fn decode(&self, node: &Node, at: &DocumentPlace<'_>, problems: &mut Vec<Problem>) -> Option<T> {
        T::read(node, at, problems)
    }
    fn expected(&self) -> String {
        "a table".into()
    }
    fn schema(&self, defs: &mut Definitions) -> Value {
        T::schema(defs)
    }
}

/// A nested table read as if empty when absent.
pub struct NestedOrEmpty<T>(PhantomData<T>);

/// A nested table of known keys that is read as if empty when absent.
pub fn nested_or_empty<T: Record>() -> NestedOrEmpty<T> {
    NestedOrEmpty(PhantomData)
}

impl<T: Record> Field for NestedOrEmpty<T> {
    type Out = T;
    fn read(
        &self,
        table: &Table,
        key: &str,
        at: &DocumentPlace<'_>,
        problems: &mut Vec<Problem>,
    ) -> Option<T> {
        let empty = Node::without_place(NodeValue::Table(IndexMap::new()));
        T::read(table.get(key).unwrap_or(&empty), &at.key(key), problems)
    }
    fn schema(&self, defs: &mut Definitions) -> Value {
        T::schema(defs)
    }
}

/// A map of things named by id, and no more than a bound allows.
pub struct Named<C>(C, &'static Bound);

/// A map of records, each under its id; empty when absent.
pub fn map_of<T: Record>() -> WithDefault<Named<Nested<T>>> {
    at_most::<T>(&ENTRIES)
}

/// A map of records, each under its id, and no more than a bound allows; empty when absent.
pub fn at_most<T: Record>(most: &'static Bound) -> WithDefault<Named<Nested<T>>> {
    Named(nested::<T>(), most).or(IndexMap::new())
}

/// Whether a text can be an id on a tag: letters, digits, `.`, `_` or `-`, starting with a letter or digit, and no more of
/// them than fit on it.
fn is_id(id: &str) -> bool {
    (1..=ID_CHARACTERS.most()).contains(&id.chars().count())
        && id.starts_with(|c: char| c.is_alphanumeric())
        && id.chars().all(|c| c.is_alphanumeric() || matches!(c, '.' | '_' | '-'))
}

impl<C: Codec> Codec for Named<C> {
    type Out = IndexMap<String, C::Out>;
    fn decode(&self, node: &Node, at: &DocumentPlace<'_>, problems: &mut Vec<Problem>) -> Option<Self::Out> {
        let NodeValue::Table(t) = &node.value else { return wrong_kind(self, node, at, problems) };
        if let Err(more) = self.1.check(t.len()) {
            return fail(at, more.into(), problems);
        }
        let mut all = IndexMap::with_capacity(t.len());
        let mut complete = true;
        for (id, n) in t {
            if enough(problems) {
                return None;
            }
            let place = at.key(id);
            if !is_id(id) {
                complete = false;
                let whole = short(id);
                let is_endless = whole != *id;
                problems.push(Problem::with_key(place.to_string(), ProblemKind::BadId { id: whole }));
                // Every problem below would repeat it.
                if is_endless {
                    continue;
                }
            }
            match self.0.decode(n, &place, problems) {
                Some(v) => {
                    all.insert(id.clone(), v);
                }
                None => complete = false,
            }
        }
        complete.then_some(all)
    }
    fn expected(&self) -> String {
        "a table of named things".into()
    }
    fn schema(&self, defs: &mut Definitions) -> Value {
        json!({ "type": "object", "additionalProperties": self.0.schema(defs) })
    }
}
