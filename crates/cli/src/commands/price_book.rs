//! A person's own prices, from the file `--prices` names.

use crate::failure::Failure;
use crate::output;
use crate::read::text;
use loamline_model::Catalogue;
use loamline_quotation::{PriceBook, UnknownCode};
use std::path::PathBuf;

/// The price book of a file; an empty one without.
pub fn read(path: Option<&PathBuf>) -> Result<PriceBook, Failure> {
    let Some(path) = path else { return Ok(PriceBook::default()) };
    PriceBook::read(&text(path)?).map_err(|e| Failure::input(format!("{}: {e}", path.display())))
}

/// Names every code of the book that stands for nothing, beside the answer; also as data.
pub fn name_unknown(book: &PriceBook, catalogue: &Catalogue) -> Vec<UnknownCode> {
    let unknown = book.unknown(catalogue);
    unknown.iter().for_each(|code| output::log(&code.to_string()));
    unknown
}
