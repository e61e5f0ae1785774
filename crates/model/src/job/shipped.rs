//! The catalogue that ships with the program, embedded in it.

use super::read_file::read_catalogue;
use crate::catalogue::Catalogue;
use crate::source::{Report, SourceFile};
use std::sync::{Arc, OnceLock};

/// The files of the shipped catalogue: name and text. A test compares the list with the folder.
pub const SHIPPED_CATALOGUE: &[(&str, &str)] = &[
    ("amplifiers.toml", include_str!("../../../../catalogue/amplifiers.toml")),
    ("cables.toml", include_str!("../../../../catalogue/cables.toml")),
    ("loudspeakers.toml", include_str!("../../../../catalogue/loudspeakers.toml")),
    ("prices.toml", include_str!("../../../../catalogue/prices.toml")),
];

/// The shipped catalogue, read once.
///
/// # Errors
/// Never in a release: a test reads the same texts. The report says what is wrong with them.
pub fn shipped_catalogue() -> Result<Arc<Catalogue>, Report> {
    static READ: OnceLock<Result<Arc<Catalogue>, Report>> = OnceLock::new();
    READ.get_or_init(|| {
        let files: Vec<SourceFile> = SHIPPED_CATALOGUE
            .iter()
            .map(|(name, text)| SourceFile::new(format!("catalogue/{name}"), *text))
            .collect();
        read_catalogue(&files).map(Arc::new)
    })
    .clone()
}
