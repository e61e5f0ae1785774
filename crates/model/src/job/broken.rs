//! Reports a rule that is broken.

use crate::reading::{Problem, ProblemKind};
use loamline_terms::{Sentence, say};

/// Adds the problem of a broken rule.
pub(super) fn broken(problems: &mut Vec<Problem>, pointer: impl Into<String>, rule: impl Into<Sentence>) {
    problems.push(Problem::new(pointer, ProblemKind::Rule(rule.into())));
}

/// Adds the problem of a broken rule and what would mend it.
pub(super) fn broken_with_hint(
    problems: &mut Vec<Problem>,
    pointer: impl Into<String>,
    rule: impl Into<Sentence>,
    hint: impl Into<Sentence>,
) {
    problems.push(Problem::new(pointer, ProblemKind::Rule(rule.into())).hint(Some(hint)));
}

/// As [`broken_with_hint`], with the way out in plain words and by the keys of the file.
pub(super) fn broken_with_hints(
    problems: &mut Vec<Problem>,
    pointer: impl Into<String>,
    rule: impl Into<Sentence>,
    plain: impl Into<Sentence>,
    by_key: impl Into<String>,
) {
    let by_key: String = by_key.into();
    problems.push(Problem::new(pointer, ProblemKind::Rule(rule.into())).hint(Some(plain)).key_hint(by_key));
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
        let rule = say!(
            "the coldest, {coldest} C, is not below the hottest, {hottest} C",
            coldest = coldest.to_string(),
            hottest = hottest.to_string()
        );
        broken(problems, format!("{at}/coldest"), rule);
    }
}
