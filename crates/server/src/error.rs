//! What goes wrong, as a browser is told.

use crate::error_code::ErrorCode;
pub use crate::problem::{Conflict, ErrorBody, FieldProblem, Problem};
use crate::random::NoRandom;
use crate::store::StoreError;
use axum::Json;
use axum::http::StatusCode;
use axum::http::header::RETRY_AFTER;
use axum::response::{IntoResponse, Response};
use loamline_limits::{Exceeded, Over, PROBLEMS_COUNTED, Unit, VALUE_REPEATED};
pub use loamline_model::exceeded;
use loamline_model::{EditError, PatchError, Report};
use loamline_study::StudyError;
use loamline_terms::{Sentence, capitalised, say};
use std::collections::BTreeMap;

/// Seconds after which a store that did not answer is worth asking again: a database started anew needs a few.
const STORE_AGAIN_S: u64 = 2;

/// A refusal.
#[derive(Debug, Clone, PartialEq)]
pub struct ApiError {
    /// HTTP status.
    pub status: StatusCode,
    /// What happened and what to do; boxed, since refusals are rare and every answer has room for one.
    pub problem: Box<Problem>,
}

impl ApiError {
    /// A refusal without places.
    pub fn new(status: StatusCode, code: ErrorCode, message: impl Into<Sentence>) -> Self {
        let problem = Problem {
            code,
            message: message.into(),
            measures: Vec::new(),
            spoken: BTreeMap::new(),
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
            say!("This could not be worked out: something inside the program gave up. Nothing was changed."),
        )
    }

    /// Too many wait for the same kind of work.
    pub fn busy(more: &Exceeded, retry_after_s: u64) -> Self {
        let why = say!(
            "{reason}. Try again in {seconds} s.",
            reason = exceeded(more).capitalised(),
            seconds = retry_after_s.to_string()
        );
        let mut e = Self::new(StatusCode::SERVICE_UNAVAILABLE, ErrorCode::Busy, why);
        e.problem.retry_after_s = Some(retry_after_s);
        e
    }

    /// It took longer than its kind of work may: the sentence of the bound.
    pub fn took_too_long(more: &Exceeded) -> Self {
        Self::new(StatusCode::UNPROCESSABLE_ENTITY, ErrorCode::TooLarge, exceeded(more).capitalised() + ".")
    }

    /// The same for a time of its own: what is left before it was done, as a sentence, and why.
    pub fn out_of_time(what: Sentence, over: Over) -> Self {
        let why =
            say!("{what}: {why}. Ask for less of it, or for more time.", what = what, why = over_told(over));
        Self::new(StatusCode::UNPROCESSABLE_ENTITY, ErrorCode::TooLarge, why)
    }

    /// There is no such thing.
    pub fn not_found(what: impl Into<Sentence>) -> Self {
        let what = what.into();
        // What was sent goes into no sentence as it is.
        let told = shown(&what);
        let what = if what == told { what } else { told.into() };
        Self::new(StatusCode::NOT_FOUND, ErrorCode::NotFound, say!("There is no {what}.", what = what))
    }

    /// The job as sent or as edited makes no sense, or a value does not.
    pub fn invalid(message: impl Into<Sentence>, problems: Vec<FieldProblem>) -> Self {
        let mut e = Self::new(StatusCode::UNPROCESSABLE_ENTITY, ErrorCode::Invalid, message);
        e.problem.problems = problems;
        e
    }

    /// One value makes no sense.
    pub fn field(path: impl Into<String>, message: impl Into<Sentence>) -> Self {
        let problem = FieldProblem::new(path, message);
        Self::invalid(problem.message.clone(), vec![problem])
    }

    /// Two edits of the same thing.
    pub fn conflict(conflict: Conflict) -> Self {
        let message = say!(
            "{thing} was changed by {who} meanwhile; choose which of the two is to stand.",
            thing = thing_of(&conflict.path),
            who = somebody(&conflict.theirs_who)
        );
        let mut e = Self::new(StatusCode::CONFLICT, ErrorCode::Conflict, message);
        e.problem.conflict = Some(conflict);
        e
    }

    /// More than is taken: the sentence of the bound, about a place.
    pub fn too_large(path: impl Into<String>, more: Exceeded) -> Self {
        let sentence = exceeded(&more).capitalised() + ".";
        let mut e = Self::new(StatusCode::PAYLOAD_TOO_LARGE, ErrorCode::TooLarge, sentence.clone());
        e.problem.problems = vec![FieldProblem::new(path, sentence)];
        e
    }

    /// The same, naming what it is about.
    #[must_use]
    pub fn about(mut self, name: &str) -> Self {
        let said = std::mem::take(&mut self.problem.message);
        self.problem.message = Sentence::from(shown(name) + ": ") + said;
        self
    }

    /// A result that a job does not give: what an engine says, with what to do about it.
    pub fn study(path: impl Into<String>, why: &StudyError) -> Self {
        let told = why.told().capitalised();
        let end = if told.ends_with('.') { "" } else { "." };
        let mut e = Self::field(path, told.clone() + end);
        if let Some(hint) = why.hint() {
            let end = if hint.ends_with(['.', '?']) { "" } else { "." };
            e.problem.message = told + "; " + hint.clone() + end;
            e.problem.problems.iter_mut().for_each(|p| p.suggestion = Some(hint.clone()));
        }
        e
    }

    /// A report on a job's files or document.
    pub fn report(message: impl Into<Sentence>, report: &Report) -> Self {
        Self::invalid(message, problems_of(report))
    }
}

/// What a person calls the thing at a pointer of the document: its tag, else the part of the job.
fn thing_of(path: &str) -> Sentence {
    let mut parts = loamline_terms::pointer::keys(path);
    match (parts.next(), parts.next()) {
        (Some(table), Some(id)) if !matches!(&*table, "job" | "brief" | "site") => shown(&id).into(),
        (Some(table), _) => match &*table {
            "brief" => say!("The brief"),
            "site" => say!("The site"),
            "work" => say!("The plan of work"),
            "" | "job" => say!("The job"),
            other => format!("The {}", shown(&other.replace('_', " "))).into(),
        },
        _ => say!("The job"),
    }
}

/// Why work was left, to be said in any language.
fn over_told(over: Over) -> Sentence {
    match over {
        Over::Stopped => say!("it was stopped before it was done"),
        Over::OutOfTime { after } => {
            let tenths = (after.as_secs_f64() * 10.0).round() / 10.0;
            say!("it was not done within {seconds} s", seconds = tenths.to_string())
        }
    }
}

/// Somebody by the name they gave.
fn somebody(who: &str) -> Sentence {
    if who.is_empty() { say!("somebody else") } else { who.into() }
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
            expected: p.problem.kind.expected(),
            suggestion: if p.file.is_empty() {
                p.problem.hint.clone()
            } else {
                p.hint.clone().map(Into::into)
            },
            ..FieldProblem::new(
                p.pointer.clone(),
                match (p.file.as_str(), p.line) {
                    ("", _) => p.problem.kind.told(),
                    (file, Some(line)) => format!("{file}, line {line}: {}", p.message).into(),
                    (file, None) => format!("{file}: {}", p.message).into(),
                },
            )
        })
        .collect();
    if report.more > 0 {
        let told = report.problems.len();
        let all = told + report.more;
        let sentence = if PROBLEMS_COUNTED.check(all + 1).is_err() {
            say!(
                "In all more than {most} problems; the first {told} are told here.",
                most = PROBLEMS_COUNTED.shown(),
                told = told.to_string()
            )
        } else {
            let count = Unit::Count.show(u64::try_from(all).unwrap_or(u64::MAX));
            say!(
                "In all {count} problems; the first {told} are told here.",
                count = count,
                told = told.to_string()
            )
        };
        problems.push(FieldProblem::new("", sentence));
    }
    problems
}

impl From<Box<FieldProblem>> for ApiError {
    fn from(problem: Box<FieldProblem>) -> Self {
        Self::invalid(problem.message.clone(), vec![*problem])
    }
}

impl From<EditError> for ApiError {
    fn from(e: EditError) -> Self {
        let message = e.to_string();
        match e {
            EditError::Invalid(report) => {
                let first = report.problems.first();
                let message = first.map_or_else(|| message.into(), |p| p.problem.kind.told());
                Self::report(message, &report)
            }
            EditError::Null { path } => Self::field(path, message),
            EditError::CannotWrite => Self::field(
                "",
                say!(
                    "This change cannot be kept without losing something of the job; make it in smaller steps."
                ),
            ),
            EditError::TooLarge(more) | EditError::Patch(PatchError::TooLarge(more)) => {
                Self::too_large("", more)
            }
            EditError::Patch(p) => match &p {
                PatchError::NothingThere { path } => {
                    let thing = thing_of(path);
                    Self::field(
                        path,
                        say!(
                            "{thing} is not there any more; it may have been taken out meanwhile.",
                            thing = thing
                        ),
                    )
                }
                PatchError::TestFailed { path, .. } => {
                    let thing = thing_of(path);
                    Self::field(
                        path,
                        say!(
                            "{thing} was changed meanwhile; look at it again and repeat the change.",
                            thing = thing
                        ),
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
            let message = say!(
                "This job keeps {kept} MB of plans and photos; with {wanted} MB more it would pass the {most} MB one job may keep. Take away what is no longer needed, or send a smaller picture.",
                kept = loamline_terms::fixed(mb(kept), 1),
                wanted = loamline_terms::fixed(mb(wanted), 1),
                most = loamline_terms::fixed(mb(most), 0)
            );
            return Self::new(StatusCode::PAYLOAD_TOO_LARGE, ErrorCode::JobFull, message);
        }
        if let StoreError::TooMany(more) = e {
            let message = exceeded(&more).capitalised() + ".";
            return Self::new(StatusCode::PAYLOAD_TOO_LARGE, ErrorCode::JobFull, message);
        }
        if matches!(e, StoreError::TakenOver) {
            let why = say!("Nothing was changed: {why}.", why = e.to_string());
            return Self::new(StatusCode::SERVICE_UNAVAILABLE, ErrorCode::TakenOver, why);
        }
        if matches!(e, StoreError::Away(_)) {
            let why = say!(
                "{reason}. Try again in {seconds} s.",
                reason = capitalised(&e.to_string()),
                seconds = STORE_AGAIN_S.to_string()
            );
            let mut busy = Self::new(StatusCode::SERVICE_UNAVAILABLE, ErrorCode::Busy, why);
            busy.problem.retry_after_s = Some(STORE_AGAIN_S);
            return busy;
        }
        let why = say!("Nothing was changed: {why}.", why = e.to_string());
        Self::new(StatusCode::INTERNAL_SERVER_ERROR, ErrorCode::Store, why)
    }
}

impl From<NoRandom> for ApiError {
    fn from(e: NoRandom) -> Self {
        let why = say!("Nothing was changed: {why}.", why = e.to_string());
        Self::new(StatusCode::INTERNAL_SERVER_ERROR, ErrorCode::Store, why)
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
    not_yet(why.to_string())
}

/// The same in a sentence that is said in any language.
pub fn not_yet(why: impl Into<Sentence>) -> ApiError {
    ApiError::new(StatusCode::CONFLICT, ErrorCode::NotYet, why)
}
