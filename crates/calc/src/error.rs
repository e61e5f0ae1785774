//! What can be wrong with a calculator's arguments. All problems of a call are reported together.

use crate::answer::Answer;
use loamline_model::QuantityError;
use std::fmt;

/// What a calculator's function returns.
pub type Outcome = Result<Answer, Refusal>;

/// An engine's sentence on why it will not calculate. Any error converts into it, so `?` works.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal {
    /// The sentence.
    pub message: String,
}

impl Refusal {
    /// A refusal in a calculator's own words.
    pub fn new(message: impl Into<String>) -> Self {
        Self { message: message.into() }
    }
}

impl<E: std::error::Error> From<E> for Refusal {
    fn from(error: E) -> Self {
        Self::new(error.to_string())
    }
}

/// Why a calculator gave no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CalcError {
    /// There is no calculator of that name.
    #[error("there is no calculator \"{name}\"{}`loamline calc list` shows them all", did_you_mean(.suggestion.as_deref()))]
    UnknownCalculator {
        /// The name typed.
        name: String,
        /// The nearest name.
        suggestion: Option<String>,
    },
    /// The arguments are not what the calculator needs.
    #[error("{}", sentences(.calculator, .problems))]
    Inputs {
        /// The calculator.
        calculator: &'static str,
        /// Everything that is wrong, in the order of the arguments, then what is missing.
        problems: Vec<InputProblem>,
    },
    /// The values are readable, but there is no answer for them.
    #[error("{calculator}: {message}")]
    Refused {
        /// The calculator.
        calculator: &'static str,
        /// Why.
        message: String,
    },
}

fn sentences(calculator: &str, problems: &[InputProblem]) -> String {
    let lines = problems.iter().map(|problem| format!("{calculator}: {problem}")).collect::<Vec<_>>();
    lines.join("\n")
}

/// The end of a sentence and, if there is a suggestion, a question.
fn did_you_mean(suggestion: Option<&str>) -> String {
    suggestion.map_or_else(|| "; ".to_owned(), |word| format!("; did you mean \"{word}\"? "))
}

/// One thing that is wrong with the arguments.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum InputProblem {
    /// An argument is not `key=value`.
    NotKeyValue(String),
    /// The key is unknown.
    UnknownKey {
        /// The key typed.
        key: String,
        /// The nearest key.
        suggestion: Option<String>,
        /// The keys understood.
        known: Vec<&'static str>,
    },
    /// The key is given twice.
    Twice(String),
    /// A value is missing.
    Missing {
        /// The key.
        key: &'static str,
        /// What the value is, in a few words.
        description: &'static str,
        /// How to type it.
        example: String,
    },
    /// Exactly one of several sets of keys is wanted.
    Alternatives {
        /// The sets.
        sets: &'static [&'static [&'static str]],
        /// The keys of them that were given.
        given: Vec<&'static str>,
    },
    /// The value is not the quantity wanted.
    Quantity {
        /// The key.
        key: &'static str,
        /// What is wrong.
        error: QuantityError,
    },
    /// The value is out of range.
    Range {
        /// The key.
        key: &'static str,
        /// The value, as read, with its unit.
        value: String,
        /// The range allowed, in words.
        allowed: String,
        /// What may have been meant.
        hint: Option<String>,
    },
    /// The word is not one of those understood.
    Choice {
        /// The key.
        key: &'static str,
        /// The word typed.
        word: String,
        /// The nearest word.
        suggestion: Option<String>,
        /// The words understood.
        words: &'static [&'static str],
    },
    /// The JSON value is of another type.
    Json {
        /// The key.
        key: String,
        /// What was wanted.
        wanted: String,
        /// What was found.
        found: &'static str,
    },
    /// The calculator works on a document, and none was given, or the other way round.
    Document(String),
}

impl fmt::Display for InputProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotKeyValue(text) => {
                write!(f, "\"{text}\" is not key=value; write for example length=30 or \"length=98 ft\"")
            }
            Self::UnknownKey { key, suggestion, known } => write!(
                f,
                "there is no input \"{key}\"{}the inputs are {}",
                did_you_mean(suggestion.as_deref()),
                known.join(", ")
            ),
            Self::Twice(key) => write!(f, "{key} is given twice"),
            Self::Missing { key, description, example } => {
                write!(f, "{key} is missing ({description}); give for example {key}={example}")
            }
            Self::Alternatives { sets, given } => {
                let choices = sets.iter().map(|set| set.join(" and ")).collect::<Vec<_>>().join(", or ");
                if given.is_empty() {
                    write!(f, "give {choices}")
                } else {
                    write!(f, "give {choices}; {} given", and_are(given))
                }
            }
            Self::Quantity { key, error } => write!(f, "{key}: {error}"),
            Self::Range { key, value, allowed, hint } => {
                write!(f, "{key} must be {allowed}; {value} is not")?;
                match hint {
                    Some(hint) => write!(f, "; {hint}"),
                    None => Ok(()),
                }
            }
            Self::Choice { key, word, suggestion, words } => write!(
                f,
                "{key} cannot be \"{word}\"{}it is one of {}",
                did_you_mean(suggestion.as_deref()),
                words.join(", ")
            ),
            Self::Json { key, wanted, found } => {
                write!(f, "{key} must be {wanted}; the document has {found}")
            }
            Self::Document(sentence) => f.write_str(sentence),
        }
    }
}

fn and_are(keys: &[&str]) -> String {
    match keys {
        [one] => format!("only {one} is"),
        several => format!("{} are", several.join(" and ")),
    }
}
