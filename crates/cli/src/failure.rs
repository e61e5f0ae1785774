//! Why a command gave nothing, and how a command that did ends.

use std::process::ExitCode;

/// How a command that did its work ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verdict {
    /// Nothing is wrong.
    Fine,
    /// There are findings of severity error.
    Errors,
}

impl From<Verdict> for ExitCode {
    fn from(verdict: Verdict) -> Self {
        match verdict {
            Verdict::Fine => Self::SUCCESS,
            Verdict::Errors => Self::from(1),
        }
    }
}

/// A command that could not do its work.
#[derive(Debug, thiserror::Error)]
pub enum Failure {
    /// What was typed, or a file, cannot be used.
    #[error("{0}")]
    Input(String),
    /// A job's files have problems, all of them in one report.
    #[error("{0}")]
    Job(Box<loamline_model::Report>),
    /// A file cannot be read.
    #[error("{path} cannot be read: {error}")]
    Read {
        /// The file.
        path: String,
        /// Why.
        error: std::io::Error,
    },
    /// It took longer than it may.
    #[error(
        "{over}, and is left at this: {at}. Nothing is written. Give it more time with --within, or ask for less"
    )]
    OutOfTime {
        /// What was being done, as progress tells it.
        at: String,
        /// How long it was given.
        over: loamline_limits::Over,
    },
    /// The output cannot be written.
    #[error("the output cannot be written: {0}")]
    Write(std::io::Error),
}

impl Failure {
    /// Bad input, in one or several sentences.
    pub fn input(message: impl ToString) -> Self {
        Self::Input(message.to_string())
    }

    /// A result a job does not give, with what to do about it.
    pub fn study(error: loamline_study::StudyError) -> Self {
        Self::Input(match error.hint() {
            Some(hint) => format!("{error}; {hint}"),
            None => error.to_string(),
        })
    }

    /// Work that took longer than it may, with how far it was.
    pub fn out_of_time(over: loamline_limits::Over) -> Self {
        Self::OutOfTime { at: crate::output::under_way(), over }
    }

    /// A file or folder that cannot be written.
    pub fn unwritable(path: &std::path::Path, error: &std::io::Error) -> Self {
        Self::input(format!("{} cannot be written: {error}", path.display()))
    }
}
