//! From text to documents: TOML with places, and a report that shows a person every problem where it stands.

mod report;
mod text;
mod tree;

pub use report::{Report, ReportEntry};
pub use text::SourceFile;
pub(crate) use tree::parse_recovering;
