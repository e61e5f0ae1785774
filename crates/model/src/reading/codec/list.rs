//! Lists of values.

use super::refused::{fail, wrong_kind};
use crate::reading::contract::{Codec, Definitions};
use crate::reading::node::{DocumentPlace, Node, NodeValue};
use crate::reading::problem::{Problem, ProblemKind, enough};
use serde_json::{Value, json};
use std::ops::RangeInclusive;

/// A list of values.
pub struct List<C>(C, RangeInclusive<usize>);

/// A list of values, with the allowed number of items.
pub fn list<C: Codec>(item: C, count: RangeInclusive<usize>) -> List<C> {
    List(item, count)
}

impl<C: Codec> Codec for List<C> {
    type Out = Vec<C::Out>;
    fn decode(
        &self,
        node: &Node,
        at: &DocumentPlace<'_>,
        problems: &mut Vec<Problem>,
    ) -> Option<Vec<C::Out>> {
        let NodeValue::List(l) = &node.value else { return wrong_kind(self, node, at, problems) };
        if !self.1.contains(&l.len()) {
            let expected = match *self.1.end() {
                most if l.len() > most => format!("a list of at most {most} items"),
                _ => self.expected(),
            };
            return fail(at, ProblemKind::WrongCount { expected, found: l.len() }, problems);
        }
        // Read every item even after one has failed, so that all problems are reported.
        let read: Vec<Option<C::Out>> = l
            .iter()
            .enumerate()
            .map(|(i, n)| if enough(problems) { None } else { self.0.decode(n, &at.index(i), problems) })
            .collect();
        read.into_iter().collect()
    }
    fn expected(&self) -> String {
        match (*self.1.start(), *self.1.end()) {
            (0, _) => format!("a list, each item {}", self.0.expected()),
            (n, m) if n == m => format!("a list of {n} items, each {}", self.0.expected()),
            (n, _) => format!("a list of at least {n} items, each {}", self.0.expected()),
        }
    }
    fn schema(&self, defs: &mut Definitions) -> Value {
        json!({ "type": "array", "items": self.0.schema(defs), "minItems": self.1.start() })
    }
}
