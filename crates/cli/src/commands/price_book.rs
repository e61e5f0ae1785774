//! A person's own prices, from the file `--prices` names.

use crate::failure::Failure;
use crate::output;
use crate::read::text;
use loamline_model::{Job, Units};
use loamline_quotation::{PriceBook, UnknownCode};
use std::path::PathBuf;

/// The price book of a file; an empty one without.
pub fn read(path: Option<&PathBuf>) -> Result<PriceBook, Failure> {
    let Some(path) = path else { return Ok(PriceBook::default()) };
    PriceBook::read(&text(path)?).map_err(|e| Failure::input(format!("{}: {e}", path.display())))
}

/// Names every code of the book that stands for nothing, beside the answer; also as data. In a job in feet it says too which
/// prices are by the metre because the book does not say by what.
pub fn name_unknown(book: &PriceBook, job: &Job) -> Vec<UnknownCode> {
    let unknown = book.unknown(job.catalogue());
    unknown.iter().for_each(|code| output::log(&code.to_string()));
    if job.document().units() == Units::Us && !book.unit_unsaid().is_empty() {
        output::log(&format!(
            "Taken by the metre: the prices of {}. For prices by the foot the price book has a column unit with ft in it.",
            book.unit_unsaid().join(", ")
        ));
    }
    unknown
}
