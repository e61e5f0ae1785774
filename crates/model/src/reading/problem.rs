//! What can be wrong with a document: typed, with the numbers, the place and the way out.

use crate::exceeded::exceeded;
use crate::units::{QuantityError, closest};
use loamline_geometry::OutlineError;
use loamline_limits::{Exceeded, ID_CHARACTERS, PROBLEMS_COUNTED, WORD_REPEATED};
use loamline_terms::{Sentence, say};
use thiserror::Error;

/// One thing wrong with a document, at one place of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    /// RFC 6901 pointer to the value (or to the table that lacks a key).
    pub pointer: String,
    /// What is wrong.
    pub kind: ProblemKind,
    /// A way out in plain words, when there is one worth naming.
    pub hint: Option<Sentence>,
    /// The way out by the keys of the file, for whoever has the file before them; the same as `hint` when absent.
    pub key_hint: Option<String>,
    /// Whether the key is wrong, rather than the value under it.
    pub on_key: bool,
}

impl Problem {
    /// A problem with the value at `pointer`.
    pub fn new(pointer: impl Into<String>, kind: ProblemKind) -> Self {
        Self { pointer: pointer.into(), kind, hint: None, key_hint: None, on_key: false }
    }

    /// A problem with the key at `pointer`.
    pub fn with_key(pointer: impl Into<String>, kind: ProblemKind) -> Self {
        Self { on_key: true, ..Self::new(pointer, kind) }
    }

    /// The same problem with a way out.
    #[must_use]
    pub fn hint(self, hint: Option<impl Into<Sentence>>) -> Self {
        Self { hint: hint.map(Into::into), ..self }
    }

    /// The same problem with the way out by the keys of the file.
    #[must_use]
    pub fn key_hint(self, hint: impl Into<Option<String>>) -> Self {
        Self { key_hint: hint.into(), ..self }
    }

    /// The way out for whoever has the file before them.
    pub fn hint_in_file(&self) -> Option<&str> {
        self.key_hint.as_deref().or(self.hint.as_deref())
    }
}

/// What is wrong at a place of a document.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum ProblemKind {
    /// The text is not TOML at all.
    #[error("{0}")]
    Syntax(String),
    /// A key that must be there is not.
    #[error("`{key}` is missing; wanted here: {expected}")]
    Missing {
        /// The absent key.
        key: String,
        /// What should stand there.
        expected: String,
    },
    /// A key nobody asks for.
    #[error("`{key}` is not a key this table knows")]
    UnknownKey {
        /// The key.
        key: String,
    },
    /// A value of the wrong kind.
    #[error("{expected} is wanted here, this is {found}")]
    WrongKind {
        /// What should stand there.
        expected: String,
        /// What stands there.
        found: String,
    },
    /// A quantity that cannot be read.
    #[error(transparent)]
    Quantity(#[from] QuantityError),
    /// A number outside what is physically or practically possible.
    #[error("{found} is out of range; {expected}")]
    OutOfRange {
        /// What stands there, as typed.
        found: String,
        /// The range, with its unit.
        expected: String,
    },
    /// A word that is none of those offered.
    #[error("\"{found}\" is not one of: {}", offered.join(", "))]
    NotOffered {
        /// What stands there.
        found: String,
        /// The words that may.
        offered: Vec<String>,
    },
    /// An outline that cannot be used.
    #[error(transparent)]
    Outline(#[from] OutlineError),
    /// A list that is too short or too long.
    #[error("{expected} is wanted here, this list has {found}")]
    WrongCount {
        /// What should stand there.
        expected: String,
        /// How many items there are.
        found: usize,
    },
    /// An id that names nothing.
    #[error("there is no {kind} called \"{id}\"")]
    UnknownId {
        /// What sort of thing was looked for.
        kind: &'static str,
        /// The id that names nothing.
        id: String,
    },
    /// An id that cannot be printed on a tag.
    #[error(
        "\"{id}\" cannot be an id: 1 to {} letters, digits, '.', '_' or '-', starting with a letter or digit",
        ID_CHARACTERS.number
    )]
    BadId {
        /// The id.
        id: String,
    },
    /// A rule between several values is broken.
    #[error("{0}")]
    Rule(Sentence),
    /// More of something than is worked with.
    #[error(transparent)]
    TooMuch(#[from] Exceeded),
}

impl ProblemKind {
    /// The sentence for whoever does not see the file, to be said in any language: as displayed, but without the keys of the
    /// file.
    pub fn told(&self) -> Sentence {
        let words = |key: &str| key.replace('_', " ");
        match self {
            Self::Missing { key, expected } => {
                say!("the {key} is missing; wanted: {expected}", key = words(key), expected = expected)
            }
            Self::UnknownKey { key } => {
                say!("\"{key}\" is nothing that can be stated here", key = words(key))
            }
            Self::WrongKind { expected, found } => {
                say!("{expected} is wanted here, this is {found}", expected = expected, found = found)
            }
            Self::OutOfRange { found, expected } => {
                say!("{found} is out of range; {expected}", found = found, expected = expected)
            }
            Self::NotOffered { found, offered } => {
                say!("\"{found}\" is not one of: {offered}", found = found, offered = offered.join(", "))
            }
            Self::WrongCount { expected, found } => say!(
                "{expected} is wanted here, this list has {found}",
                expected = expected,
                found = found.to_string()
            ),
            Self::UnknownId { kind, id } => {
                say!("there is no {kind} called \"{id}\"", kind = kind_told(kind), id = id)
            }
            Self::BadId { id } => say!(
                "\"{id}\" cannot be an id: 1 to {most} letters, digits, '.', '_' or '-', starting with a letter or digit",
                id = id,
                most = ID_CHARACTERS.number.to_string()
            ),
            Self::TooMuch(more) => exceeded(more),
            Self::Rule(rule) => rule.clone(),
            Self::Syntax(_) | Self::Quantity(_) | Self::Outline(_) => self.to_string().into(),
        }
    }

    /// What should stand there, when that can be said apart from what is wrong.
    pub fn expected(&self) -> Option<String> {
        match self {
            Self::Missing { expected, .. }
            | Self::WrongKind { expected, .. }
            | Self::OutOfRange { expected, .. }
            | Self::WrongCount { expected, .. } => Some(expected.clone()),
            Self::NotOffered { offered, .. } => Some(offered.join(", ")),
            _ => None,
        }
    }
}

/// What an id may name, to be said in any language.
pub(crate) fn kind_told(kind: &'static str) -> Sentence {
    match kind {
        "loudspeaker model" => say!("loudspeaker model"),
        "amplifier model" => say!("amplifier model"),
        "phase" => say!("phase"),
        "programme" => say!("programme"),
        "zone" => say!("zone"),
        "cable" => say!("cable"),
        "rack" => say!("rack"),
        "line" => say!("line"),
        "channel" => say!("channel"),
        "rack or stub-out" => say!("rack or stub-out"),
        "loudspeaker, joint, rack or stub-out" => say!("loudspeaker, joint, rack or stub-out"),
        "sleeve" => say!("sleeve"),
        "amplifier" => say!("amplifier"),
        "source" => say!("source"),
        "link" => say!("link"),
        other => other.into(),
    }
}

/// A suggestion for a word that is not known, when one of the known words is near enough.
pub(crate) fn did_you_mean<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<Sentence> {
    closest(word, known).map(|k| say!("did you mean \"{word}\"?", word = k))
}

/// A text as a message repeats it: a long one is cut, so that thousands of problems never hold it thousands of times.
pub(crate) fn short(text: &str) -> String {
    match text.char_indices().nth(WORD_REPEATED.most()) {
        Some((end, _)) => format!("{}...", &text[..end]),
        None => text.to_owned(),
    }
}

/// Whether so many problems have been found that looking for more is no use.
pub(crate) fn enough(problems: &[Problem]) -> bool {
    problems.len() >= PROBLEMS_COUNTED.most()
}
