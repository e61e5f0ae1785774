//! Why a command gave nothing, and how a command that did ends.

use std::process::ExitCode;

/// How a command that did its work ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Nothing is wrong.
    Fine,
}

impl From<Verdict> for ExitCode {
    fn from(verdict: Verdict) -> Self {
        match verdict {
            Verdict::Fine => Self::SUCCESS,
        }
    }
}

/// A command that could not do its work.
#[derive(Debug, thiserror::Error)]
pub enum Failure {
    /// What was typed, or a file, cannot be used.
    #[error("{0}")]
    Input(String),
    /// A file cannot be read.
    #[error("{path} cannot be read: {error}")]
    Read {
        /// The file.
        path: String,
        /// Why.
        error: std::io::Error,
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

    /// The exit code: 2 for all of them.
    #[expect(clippy::unused_self, reason = "kept with the type that decides it")]
    pub fn exit_code(&self) -> ExitCode {
        ExitCode::from(2)
    }
}
