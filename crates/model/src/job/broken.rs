//! Reports a rule that is broken.

use crate::reading::{Problem, ProblemKind};

/// Adds the problem of a broken rule.
pub(super) fn broken(problems: &mut Vec<Problem>, pointer: impl Into<String>, rule: String) {
    problems.push(Problem::new(pointer, ProblemKind::Rule(rule)));
}

/// Adds the problem of a broken rule and what would mend it.
pub(super) fn broken_with_hint(
    problems: &mut Vec<Problem>,
    pointer: impl Into<String>,
    rule: String,
    hint: String,
) {
    problems.push(Problem::new(pointer, ProblemKind::Rule(rule)).hint(hint));
}
