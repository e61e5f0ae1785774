//! What can be wrong with a row of a price book.

use thiserror::Error;

/// Why a row of a price book cannot be taken.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub(crate) enum RowProblem {
    /// A currency that is none.
    #[error("currency is {found}; write its three letters, such as EUR")]
    Currency {
        /// As the row has it.
        found: String,
    },
    /// A price of nothing.
    #[error("the price {price} has no code")]
    NoCode {
        /// The price.
        price: String,
    },
    /// A price that is no number.
    #[error("the price of {code} is not a number: {price}")]
    NoNumber {
        /// What it is of.
        code: String,
        /// As the row has it.
        price: String,
    },
    /// A price below zero.
    #[error("the price of {code} is below zero: {price}")]
    BelowZero {
        /// What it is of.
        code: String,
        /// As the row has it.
        price: String,
    },
    /// A margin or a tax of more than five times.
    #[error("{code} is {price}; write a fraction such as 0.18, or a percentage such as 18 %")]
    Fraction {
        /// Which of them.
        code: String,
        /// As the row has it.
        price: String,
    },
    /// A percentage where an amount is wanted.
    #[error("the price of {code} is a percentage: {price}")]
    Percentage {
        /// What it is of.
        code: String,
        /// As the row has it.
        price: String,
    },
    /// A price of a length by something that is none.
    #[error("the price of {code} is by \"{unit}\"; write m for a price by the metre, ft for one by the foot")]
    Unit {
        /// What it is of.
        code: String,
        /// As the row has it.
        unit: String,
    },
    /// A second price of one thing.
    #[error("{code} stands in the book twice")]
    Twice {
        /// The thing.
        code: String,
    },
}
