//! A value that cannot be: the problem reported, and nothing read.

use crate::reading::contract::Codec;
use crate::reading::node::{DocumentPlace, Node};
use crate::reading::problem::{Problem, ProblemKind};

pub(super) fn fail<T>(at: &DocumentPlace<'_>, kind: ProblemKind, problems: &mut Vec<Problem>) -> Option<T> {
    problems.push(Problem::new(at.to_string(), kind));
    None
}

pub(super) fn wrong_kind<T>(
    codec: &impl Codec,
    node: &Node,
    at: &DocumentPlace<'_>,
    problems: &mut Vec<Problem>,
) -> Option<T> {
    fail(at, ProblemKind::WrongKind { expected: codec.expected(), found: node.kind().into() }, problems)
}
