//! What a refusal says, as it is written: in English, with what other languages say beside it.

use crate::error_code::ErrorCode;
use loamline_terms::{InLanguage, PlacedMeasure, Sentence, in_languages};
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeMap;
use utoipa::ToSchema;

/// One thing wrong with what was sent, at one place of it. It is written in English, with what other languages say beside it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[serde(into = "SentProblem")]
pub struct FieldProblem {
    /// RFC 6901 pointer to the value: in the job's document for edits, in the body otherwise; the name of a query
    /// parameter after `?`.
    pub path: String,
    /// What is wrong.
    #[schema(value_type = String)]
    pub message: Sentence,
    /// The measures in the message, for an app that shows them in other units; none where it has none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub measures: Vec<PlacedMeasure>,
    /// What should stand there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub expected: Option<String>,
    /// A way out.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub suggestion: Option<Sentence>,
    /// The same in the languages that say it otherwise, by their names: the message as `sentence`, the way out as `mend`. Filled
    /// when it is written.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub spoken: BTreeMap<String, InLanguage>,
}

impl FieldProblem {
    /// A problem with a sentence.
    pub fn new(path: impl Into<String>, message: impl Into<Sentence>) -> Self {
        Self {
            path: path.into(),
            message: message.into(),
            measures: Vec::new(),
            expected: None,
            suggestion: None,
            spoken: BTreeMap::new(),
        }
    }
}

/// A problem as it is written.
#[derive(Serialize)]
struct SentProblem {
    path: String,
    message: Sentence,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    measures: Vec<PlacedMeasure>,
    #[serde(skip_serializing_if = "Option::is_none")]
    expected: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    suggestion: Option<Sentence>,
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    spoken: BTreeMap<String, InLanguage>,
}

impl From<FieldProblem> for SentProblem {
    fn from(p: FieldProblem) -> Self {
        Self {
            measures: p.message.placed(),
            spoken: in_languages(&p.message, p.suggestion.as_ref()),
            path: p.path,
            message: p.message,
            expected: p.expected,
            suggestion: p.suggestion,
        }
    }
}

/// Two edits of the same thing.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Conflict {
    /// RFC 6901 pointer to the thing.
    pub path: String,
    /// What this edit would have put there; null when it would have taken it away.
    #[schema(value_type = Option<Value>)]
    pub mine: Option<Value>,
    /// What is there now; null when it is gone.
    #[schema(value_type = Option<Value>)]
    pub theirs: Option<Value>,
    /// Who put it there.
    pub theirs_who: String,
    /// Revision of the job now.
    pub revision: u64,
}

/// What is wrong and what to do, in English, with what other languages say beside it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[serde(into = "SentRefusal")]
pub struct Problem {
    /// A word for programs.
    pub code: ErrorCode,
    /// A sentence for people.
    #[schema(value_type = String)]
    pub message: Sentence,
    /// The measures in the message, for an app that shows them in other units; none where it has none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub measures: Vec<PlacedMeasure>,
    /// The message in the languages that say it otherwise, by their names. Filled when it is written.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub spoken: BTreeMap<String, InLanguage>,
    /// Everything wrong, place by place.
    pub problems: Vec<FieldProblem>,
    /// With the code `conflict`: what met what.
    #[serde(flatten, skip_serializing_if = "Option::is_none")]
    #[schema(inline)]
    pub conflict: Option<Conflict>,
    /// With the code `busy`: seconds after which asking again is worth while.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub retry_after_s: Option<u64>,
}

/// A refusal as it is written.
#[derive(Serialize)]
struct SentRefusal {
    code: ErrorCode,
    message: Sentence,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    measures: Vec<PlacedMeasure>,
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    spoken: BTreeMap<String, InLanguage>,
    problems: Vec<FieldProblem>,
    #[serde(flatten, skip_serializing_if = "Option::is_none")]
    conflict: Option<Conflict>,
    #[serde(skip_serializing_if = "Option::is_none")]
    retry_after_s: Option<u64>,
}

impl From<Problem> for SentRefusal {
    fn from(p: Problem) -> Self {
        Self {
            measures: p.message.placed(),
            spoken: in_languages(&p.message, None),
            code: p.code,
            message: p.message,
            problems: p.problems,
            conflict: p.conflict,
            retry_after_s: p.retry_after_s,
        }
    }
}

/// The body of every refusal.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ErrorBody {
    /// What is wrong.
    pub error: Problem,
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_terms::say;

    /// The message and the way out stand in every language beside the English, and only there where they say it otherwise.
    #[test]
    fn a_problem_is_written_in_every_language() {
        let gone = say!("There is no {what}.", what = say!("job \"{id}\"", id = "j1"));
        let known = FieldProblem { suggestion: Some("J2?".into()), ..FieldProblem::new("/id", gone) };
        let written = serde_json::to_value(&known).unwrap();
        assert_eq!(written["message"], "There is no job \"j1\".");
        let spanish = &written["spoken"]["es"];
        assert_eq!(spanish["sentence"], "No existe la obra \"j1\".");
        assert_eq!(spanish["mend"], "J2?");
        let plain = serde_json::to_value(FieldProblem::new("/id", "1.5 is no integer.")).unwrap();
        assert_eq!(plain, serde_json::json!({ "path": "/id", "message": "1.5 is no integer." }));
    }
}
