//! What can go wrong between a job and its papers.

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
    /// Options to put side by side cannot be used.
    #[error("the options cannot be used: {}", problems.join("; "))]
    Options {
        /// One sentence per value that is wrong.
        problems: Vec<String>,
    },
    /// A sheet of labels cannot be used.
    #[error("the sheet of labels cannot be used: {reason}")]
    Labels {
        /// What is wrong.
        reason: String,
    },
    /// A photo cannot be used.
    #[error("the photo {name} cannot be printed: {reason}")]
    Photo {
        /// Its file.
        name: String,
        /// What is wrong.
        reason: String,
    },
    /// There is no price.
    #[error(transparent)]
    Quotation(#[from] loamline_quotation::QuotationError),
    /// A name that is no part of the pack.
    #[error("there is no paper called {name}; choose from {known}")]
    UnknownPaper {
        /// What was asked for.
        name: String,
        /// What there is.
        known: String,
    },
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
    /// What a file says it is laid over is no language, or one that is itself laid over another.
    #[error("{base} is no whole language to lay words over: en and es are")]
    Base {
        /// What stands there.
        base: String,
    },
    /// Keys that are missing, or have lost a `{name}`.
    #[error("{}", .0.join("; "))]
    Keys(Vec<String>),
}
