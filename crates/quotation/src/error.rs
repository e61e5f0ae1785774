//! What can go wrong between a job and its price.

use loamline_limits::{PROBLEMS_TOLD, Unit};
use thiserror::Error;

/// Why there is no price.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum QuotationError {
    /// A price book cannot be used.
    #[error("the price book cannot be used, {}", lines(problems))]
    PriceBook {
        /// One sentence per line that is wrong, with its number.
        problems: Vec<String>,
    },
    /// Prices of two currencies would be added.
    #[error("{}", currencies(wanted, found, of))]
    Currency {
        /// The job's currency.
        wanted: String,
        /// That of the prices.
        found: String,
        /// Codes of the catalogue's prices that the price book has none for; none where it is the book itself.
        of: Vec<String>,
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
}

/// Which prices are in another currency, and what to do about it.
fn currencies(wanted: &str, found: &str, of: &[String]) -> String {
    if of.is_empty() {
        return format!(
            "the price book is in {found} and the job in {wanted}: take a book in {wanted}, or have the job count in {found}"
        );
    }
    let most = PROBLEMS_TOLD.most();
    let told = of.iter().take(most).map(String::as_str).collect::<Vec<_>>().join(", ");
    let more = if of.len() > most { format!(" and {} more", of.len() - most) } else { String::new() };
    format!(
        "the catalogue's prices are in {found} and the job in {wanted}; the price book has none in {wanted} for {told}{more}"
    )
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
