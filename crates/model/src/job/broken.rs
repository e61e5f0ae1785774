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

/// As [`broken_with_hint`], with the way out in plain words and by the keys of the file.
pub(super) fn broken_with_hints(
    problems: &mut Vec<Problem>,
    pointer: impl Into<String>,
    rule: String,
    plain: impl Into<String>,
    by_key: String,
) {
    problems.push(Problem::new(pointer, ProblemKind::Rule(rule)).hint(plain.into()).key_hint(by_key));
}

/// Reports a range of temperature that ends before it begins; nothing where one end is not known.
pub(super) fn coldest_before_hottest(
    at: &str,
    coldest_c: Option<f64>,
    hottest_c: Option<f64>,
    problems: &mut Vec<Problem>,
) {
    if let (Some(coldest), Some(hottest)) = (coldest_c, hottest_c)
        && coldest >= hottest
    {
        let rule = format!("the coldest, {coldest} C, is not below the hottest, {hottest} C");
        broken(problems, format!("{at}/coldest"), rule);
    }
}
