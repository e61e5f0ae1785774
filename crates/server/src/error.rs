//! What goes wrong, as a browser is told.

use crate::error_code::ErrorCode;
use crate::random::NoRandom;
use crate::store::StoreError;
use axum::Json;
use axum::http::StatusCode;
use axum::http::header::RETRY_AFTER;
use axum::response::{IntoResponse, Response};
use loamline_limits::{Exceeded, Over, VALUE_REPEATED};
use loamline_model::{EditError, PatchError, Report};
use loamline_study::StudyError;
use loamline_terms::capitalised;
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;

/// Seconds after which a store that did not answer is worth asking again: a database started anew needs a few.
const STORE_AGAIN_S: u64 = 2;

/// One thing wrong with what was sent, at one place of it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FieldProblem {
    /// RFC 6901 pointer to the value: in the job's document for edits, in the body otherwise; the name of a query
    /// parameter after `?`.
    pub path: String,
    /// What is wrong.
    pub message: String,
    /// What should stand there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub expected: Option<String>,
    /// A way out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub suggestion: Option<String>,
}

impl FieldProblem {
    /// A problem with a sentence.
    pub fn new(path: impl Into<String>, message: impl Into<String>) -> Self {
        Self { path: path.into(), message: message.into(), expected: None, suggestion: None }
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

/// A refusal.
#[derive(Debug, Clone, PartialEq)]
pub struct ApiError {
    /// HTTP status.
    pub status: StatusCode,
    /// What happened and what to do; boxed, since refusals are rare and every answer has room for one.
    pub problem: Box<Problem>,
}

/// What is wrong and what to do.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Problem {
    /// A word for programs.
    pub code: ErrorCode,
    /// A sentence for people.
    pub message: String,
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

/// The body of every refusal.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ErrorBody {
    /// What is wrong.
    pub error: Problem,
}

impl ApiError {
    /// A refusal without places.
    pub fn new(status: StatusCode, code: ErrorCode, message: impl Into<String>) -> Self {
        let problem = Problem {
            code,
            message: message.into(),
            problems: Vec::new(),
            conflict: None,
            retry_after_s: None,
        };
        Self { status, problem: Box::new(problem) }
    }

    /// Something inside the program gave up.
    pub fn gave_up() -> Self {
        Self::new(
            StatusCode::INTERNAL_SERVER_ERROR,
            ErrorCode::Failed,
            "This could not be worked out: something inside the program gave up. Nothing was changed.",
        )
    }

    /// Too many wait for the same kind of work.
    pub fn busy(more: &Exceeded, retry_after_s: u64) -> Self {
        let why = format!("{}. Try again in {retry_after_s} s.", capitalised(&more.to_string()));
        let mut e = Self::new(StatusCode::SERVICE_UNAVAILABLE, ErrorCode::Busy, why);
        e.problem.retry_after_s = Some(retry_after_s);
        e
    }

    /// It took longer than its kind of work may: the sentence of the bound.
    pub fn took_too_long(more: &Exceeded) -> Self {
        let why = format!("{}.", capitalised(&more.to_string()));
        Self::new(StatusCode::UNPROCESSABLE_ENTITY, ErrorCode::TooLarge, why)
    }

    /// The same for a time of its own.
    pub fn out_of_time(what: &str, over: Over) -> Self {
        let why = format!("{what} is left: {over}. Ask for less of it, or for more time.");
        Self::new(StatusCode::UNPROCESSABLE_ENTITY, ErrorCode::TooLarge, why)
    }

    /// There is no such thing.
    pub fn not_found(what: impl std::fmt::Display) -> Self {
        Self::new(
            StatusCode::NOT_FOUND,
            ErrorCode::NotFound,
            format!("There is no {}.", shown(&what.to_string())),
        )
    }

    /// The job as sent or as edited makes no sense, or a value does not.
    pub fn invalid(message: impl Into<String>, problems: Vec<FieldProblem>) -> Self {
        let mut e = Self::new(StatusCode::UNPROCESSABLE_ENTITY, ErrorCode::Invalid, message);
        e.problem.problems = problems;
        e
    }

    /// One value makes no sense.
    pub fn field(path: impl Into<String>, message: impl Into<String>) -> Self {
        let problem = FieldProblem::new(path, message);
        Self::invalid(problem.message.clone(), vec![problem])
    }

    /// Two edits of the same thing.
    pub fn conflict(conflict: Conflict) -> Self {
        let who = if conflict.theirs_who.is_empty() { "somebody else" } else { &conflict.theirs_who };
        let message = format!(
            "{} was changed by {who} meanwhile; choose which of the two is to stand.",
            thing_of(&conflict.path)
        );
        let mut e = Self::new(StatusCode::CONFLICT, ErrorCode::Conflict, message);
        e.problem.conflict = Some(conflict);
        e
    }

    /// More than is taken: the sentence of the bound, about a place.
    pub fn too_large(path: impl Into<String>, more: Exceeded) -> Self {
        let told = more.to_string();
        let sentence = format!("{}.", capitalised(&told));
        let mut e = Self::new(StatusCode::PAYLOAD_TOO_LARGE, ErrorCode::TooLarge, sentence.clone());
        e.problem.problems = vec![FieldProblem::new(path, sentence)];
        e
    }

    /// The same, naming what it is about.
    #[must_use]
    pub fn about(mut self, name: &str) -> Self {
        self.problem.message = format!("{}: {}", shown(name), self.problem.message);
        self
    }

    /// A result that a job does not give: what an engine says, with what to do about it.
    pub fn study(path: impl Into<String>, why: &StudyError) -> Self {
        let told = capitalised(why.to_string().trim_end_matches('.'));
        let mut e = Self::field(path, format!("{told}."));
        if let Some(hint) = why.hint() {
            let end = if hint.ends_with(['.', '?']) { "" } else { "." };
            e.problem.message = format!("{told}; {hint}{end}");
            e.problem.problems.iter_mut().for_each(|p| p.suggestion = Some(hint.clone()));
        }
        e
    }

    /// A report on a job's files or document.
    pub fn report(message: impl Into<String>, report: &Report) -> Self {
        Self::invalid(message, problems_of(report))
    }
}

/// What a person calls the thing at a pointer of the document: its tag, else the part of the job.
fn thing_of(path: &str) -> String {
    let mut parts = loamline_terms::pointer::keys(path);
    match (parts.next(), parts.next()) {
        (Some(table), Some(id)) if !matches!(&*table, "job" | "brief" | "site") => shown(&id),
        (Some(table), _) if !table.is_empty() => format!("The {}", shown(&table.replace('_', " "))),
        _ => "The job".to_owned(),
    }
}

/// What somebody sent, as a sentence may repeat it: not endless, and nothing in it that no one can see.
pub fn shown(sent: &str) -> String {
    let letter = |c: char| if c.is_control() { c.escape_unicode().to_string() } else { c.to_string() };
    let mut shown: String = sent.chars().take(VALUE_REPEATED.most()).map(letter).collect();
    if sent.chars().nth(VALUE_REPEATED.most()).is_some() {
        shown.push_str("...");
    }
    shown
}

/// The problems of a report, place by place: of a file with its lines and keys, of an edit in plain words, since whoever
/// makes it sees no file; last, how many more there are.
pub fn problems_of(report: &Report) -> Vec<FieldProblem> {
    let mut problems: Vec<FieldProblem> = report
        .problems
        .iter()
        .map(|p| FieldProblem {
            path: p.pointer.clone(),
            message: match (p.file.as_str(), p.line) {
                ("", _) => p.problem.kind.plain(),
                (file, Some(line)) => format!("{file}, line {line}: {}", p.message),
                (file, None) => format!("{file}: {}", p.message),
            },
            expected: p.problem.kind.expected(),
            suggestion: if p.file.is_empty() { p.problem.hint.clone() } else { p.hint.clone() },
        })
        .collect();
    if report.more > 0 {
        let told = report.problems.len();
        problems.push(FieldProblem::new(
            "",
            format!("In all {}; the first {told} are told here.", report.count()),
        ));
    }
    problems
}

impl From<EditError> for ApiError {
    fn from(e: EditError) -> Self {
        let message = e.to_string();
        match e {
            EditError::Invalid(report) => {
                let first = report.problems.first();
                let message = first.map_or(message, |p| p.problem.kind.plain());
                Self::report(message, &report)
            }
            EditError::Null { path } => Self::field(path, message),
            EditError::CannotWrite => Self::field(
                "",
                "This change cannot be kept without losing something of the job; make it in smaller steps.",
            ),
            EditError::TooLarge(more) | EditError::Patch(PatchError::TooLarge(more)) => {
                Self::too_large("", more)
            }
            EditError::Patch(p) => match &p {
                PatchError::NothingThere { path } => {
                    let thing = thing_of(path);
                    Self::field(
                        path,
                        format!("{thing} is not there any more; it may have been taken out meanwhile."),
                    )
                }
                PatchError::TestFailed { path, .. } => {
                    let thing = thing_of(path);
                    Self::field(
                        path,
                        format!("{thing} was changed meanwhile; look at it again and repeat the change."),
                    )
                }
                PatchError::BadPath { path }
                | PatchError::BadIndex { path, .. }
                | PatchError::IntoItself { path, .. } => Self::field(path, message),
                PatchError::TooLarge(_) => Self::field("", message),
            },
        }
    }
}

impl From<StoreError> for ApiError {
    fn from(e: StoreError) -> Self {
        if let StoreError::Full { kept, wanted, most } = e {
            let mb = |bytes: u64| bytes as f64 / 1e6;
            let message = format!(
                "This job keeps {:.1} MB of plans and photos; with {:.1} MB more it would pass the {:.0} MB one job may keep. Take away what is no longer needed, or send a smaller picture.",
                mb(kept),
                mb(wanted),
                mb(most)
            );
            return Self::new(StatusCode::PAYLOAD_TOO_LARGE, ErrorCode::JobFull, message);
        }
        if let StoreError::TooMany(more) = e {
            let message = format!("{}.", capitalised(&more.to_string()));
            return Self::new(StatusCode::PAYLOAD_TOO_LARGE, ErrorCode::JobFull, message);
        }
        if matches!(e, StoreError::TakenOver) {
            let why = format!("Nothing was changed: {e}.");
            return Self::new(StatusCode::SERVICE_UNAVAILABLE, ErrorCode::TakenOver, why);
        }
        if matches!(e, StoreError::Away(_)) {
            let why = format!("{}. Try again in {STORE_AGAIN_S} s.", capitalised(&e.to_string()));
            let mut busy = Self::new(StatusCode::SERVICE_UNAVAILABLE, ErrorCode::Busy, why);
            busy.problem.retry_after_s = Some(STORE_AGAIN_S);
            return busy;
        }
        Self::new(StatusCode::INTERNAL_SERVER_ERROR, ErrorCode::Store, format!("Nothing was changed: {e}."))
    }
}

impl From<NoRandom> for ApiError {
    fn from(e: NoRandom) -> Self {
        Self::new(StatusCode::INTERNAL_SERVER_ERROR, ErrorCode::Store, format!("Nothing was changed: {e}."))
    }
}

impl IntoResponse for ApiError {
    fn into_response(self) -> Response {
        let retry = self.problem.retry_after_s.map(|s| [(RETRY_AFTER, s.to_string())]);
        let refusal = (self.status, Json(ErrorBody { error: *self.problem }));
        match retry {
            Some(header) => (header, refusal).into_response(),
            None => refusal.into_response(),
        }
    }
}

/// A job as it stands does not allow an answer; `why` says what is in the way.
pub fn cannot(why: impl ToString) -> ApiError {
    ApiError::new(StatusCode::CONFLICT, ErrorCode::NotYet, why.to_string())
}
