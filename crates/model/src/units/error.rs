//! Errors of quantities: what was typed, what was wanted, and the way out.

use super::kinds::Quantity;
use loamline_terms::capitalised;
use std::fmt;

/// Text that is not the quantity wanted. The message names the text, what is wrong with it, and an example.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub struct QuantityError {
    /// What was typed.
    pub text: String,
    /// The quantity that was expected.
    pub wanted: Quantity,
    /// What is wrong.
    pub problem: QuantityProblem,
}

/// What is wrong with a quantity.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum QuantityProblem {
    /// Nothing was typed.
    Empty,
    /// There is no number where one is expected.
    NoNumber,
    /// The number is infinite, not a number, or divides by zero.
    NotFinite,
    /// A comma stands where a decimal point is expected; holds the text with a point.
    DecimalComma(String),
    /// The unit belongs to another quantity.
    OtherKind {
        /// The unit as typed.
        unit: String,
        /// What that unit measures.
        found: Quantity,
    },
    /// The unit is not known.
    UnknownUnit {
        /// The unit as typed.
        unit: String,
        /// The unit that may have been meant.
        suggestion: Option<String>,
    },
    /// Upper and lower case decide, and what was typed fits neither.
    AmbiguousUnit {
        /// The unit as typed.
        unit: String,
        /// The spellings that would be clear.
        choices: Vec<String>,
    },
    /// Several parts that do not make one quantity, as in `3 in 2 ft` or `5 W 3 W`.
    Parts,
    /// A wire gauge that does not exist.
    Gauge,
}

impl fmt::Display for QuantityError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { text, wanted, problem } = self;
        let (noun, example) = (wanted.with_article(), wanted.example());
        match problem {
            QuantityProblem::Empty => write!(f, "nothing was given; {noun} is wanted, e.g. {example}"),
            QuantityProblem::NoNumber => {
                write!(f, "\"{text}\" has no number where one is expected; {noun} is wanted, e.g. {example}")
            }
            QuantityProblem::NotFinite => {
                write!(f, "\"{text}\" is not a finite number; {noun} is wanted, e.g. {example}")
            }
            QuantityProblem::DecimalComma(point) => {
                write!(f, "\"{text}\" has a comma in the number; write decimals with a point: {point}")
            }
            QuantityProblem::OtherKind { found, .. } => {
                write!(f, "\"{text}\" is {}; {noun} is wanted, e.g. {example}", found.with_article())
            }
            QuantityProblem::UnknownUnit { unit, suggestion: Some(suggestion) } => write!(
                f,
                "\"{text}\" has the unknown unit \"{unit}\"; did you mean \"{suggestion}\"? {} is wanted, e.g. {example}",
                capitalised(noun)
            ),
            QuantityProblem::UnknownUnit { unit, suggestion: None } if wanted.spellings().is_empty() => {
                write!(
                    f,
                    "\"{text}\" has the unit \"{unit}\"; {noun} is wanted, without a unit, e.g. {example}"
                )
            }
            QuantityProblem::UnknownUnit { unit, suggestion: None } => write!(
                f,
                "\"{text}\" has the unknown unit \"{unit}\"; {noun} is wanted, e.g. {example}; units understood: {}",
                wanted.spellings().join(", ")
            ),
            QuantityProblem::AmbiguousUnit { unit, choices } => write!(
                f,
                "\"{text}\": \"{unit}\" could mean {}; upper and lower case decide",
                choices.join(" or ")
            ),
            QuantityProblem::Parts => {
                write!(f, "\"{text}\" has parts that do not make one value; {noun} is wanted, e.g. {example}")
            }
            QuantityProblem::Gauge => write!(
                f,
                "\"{text}\" is not a wire gauge; AWG runs from 4/0 (thick) to 40 (thin) in whole numbers, e.g. 14 AWG"
            ),
        }
    }
}
