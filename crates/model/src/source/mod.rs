//! From text to documents: TOML with places, and a report that shows a person every problem where it stands.

mod measure;
mod report;
mod text;
mod tree;

pub use report::{Report, ReportEntry};
pub use text::SourceFile;
pub(crate) use tree::parse_recovering;

use loamline_limits::{Exceeded, JOB_FILE_BYTES};

/// Asks whether a text may be read at all: no longer than a job file, with no more in it than is worked with.
///
/// # Errors
/// The bound it passes.
pub(crate) fn readable(text: &str) -> Result<(), Exceeded> {
    JOB_FILE_BYTES.check(text.len())?;
    measure::measure(text)
}
