//! What can go wrong between a job and its papers.

use loamline_limits::{PROBLEMS_TOLD, Unit};
use thiserror::Error;

/// Why papers could not be made.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum PapersError {
    /// A template does not typeset.
    #[error("the template {template} does not typeset: {reasons}")]
    Template {
        /// Which template.
        template: String,
        /// What the typesetting library says, with line numbers.
        reasons: String,
    },
    /// A language file cannot be used.
    #[error("the language file cannot be used: {reason}")]
    Language {
        /// What is wrong and where.
        reason: LanguageError,
    },
    /// A firm profile cannot be used.
    #[error("the firm profile cannot be used: {reason}")]
    Firm {
        /// What is wrong and where.
        reason: String,
    },
    /// A price book cannot be used.
    #[error("the price book cannot be used, {}", lines(problems))]
    PriceBook {
        /// One sentence per line that is wrong, with its number.
        problems: Vec<String>,
    },
    /// Options to put side by side cannot be used.
    #[error("the options cannot be used: {}", problems.join("; "))]
    Options {
        /// One sentence per value that is wrong.
        problems: Vec<String>,
    },
    /// Cable cannot be cut from the spools it is sold on.
    #[error("cable {0}")]
    CutList(#[from] loamline_study::CableOrderError),
    /// A sum of money is too large to be added up exactly.
    #[error("{what} is too large an amount of money to be added up to the cent")]
    Amount {
        /// Which sum.
        what: String,
    },
    /// A name that is no part of the pack.
    #[error("there is no paper called {name}; choose from {known}")]
    UnknownPaper {
        /// What was asked for.
        name: String,
        /// What there is.
        known: String,
    },
}

/// How many lines are wrong, and the first of them.
fn lines(problems: &[String]) -> String {
    let most = PROBLEMS_TOLD.most();
    let count = Unit::Count.show(u64::try_from(problems.len()).unwrap_or(u64::MAX));
    let are = if problems.len() == 1 { "line is" } else { "lines are" };
    let told = problems.iter().take(most).map(String::as_str).collect::<Vec<_>>().join("\n");
    let more = if problems.len() > most { format!("\nThese are the first {most}.") } else { String::new() };
    format!("{count} {are} wrong:\n{told}{more}")
}

/// What is wrong with a language file.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LanguageError {
    /// It is no TOML.
    #[error(transparent)]
    Toml(#[from] toml_edit::TomlError),
    /// A list with something else in it.
    #[error("{place} must be a list of texts")]
    NotTexts {
        /// The key, from the top.
        place: String,
    },
    /// A number, a date, ...
    #[error("{place} must be a text or a list of texts")]
    NoText {
        /// The key, from the top.
        place: String,
    },
    /// Keys that are missing, or have lost a `{name}`.
    #[error("{}", .0.join("; "))]
    Keys(Vec<String>),
}
