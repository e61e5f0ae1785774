//! A job from the texts it is kept as.

use loamline_model::{JobFile, Report, SourceFile, catalogue_with};

/// A job from its text and its own catalogue files.
///
/// # Errors
/// Every problem of the texts.
pub(super) fn read(text: &str, catalogue: &[(String, String)]) -> Result<JobFile, Report> {
    let own: Vec<SourceFile> =
        catalogue.iter().map(|(n, t)| SourceFile::new(format!("catalogue/{n}"), t.as_str())).collect();
    JobFile::from_text(&SourceFile::new("job.toml", text), catalogue_with(&own)?)
}
