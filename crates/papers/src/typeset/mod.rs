//! Turns a template and its data into a PDF, or into pages for a screen.
//!
//! The typesetting library sees a world of memory only: the templates of this crate, one JSON file of data,
//! the drawings as SVG and the firm's logo. Virtual paths are fixed (`/data.json`, `/drawings/0.svg`, ...), because the library keeps
//! every path it ever saw for the life of the process. PDFs carry their fonts and, but for a crew's lists of a large estate, are
//! tagged: of 300 loudspeakers tags are more than half of the file.

mod filling;
mod fonts;
mod templates;
mod world;

pub use filling::Filling;
pub use fonts::{FAMILY, REGULAR, SEMI_BOLD};

use crate::error::PapersError;
use loamline_limits::COMPILATIONS_KEPT;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};
use typst::diag::SourceResult;
use typst_layout::PagedDocument;
use typst_pdf::PdfOptions;
use typst_svg::SvgOptions;
use world::PapersWorld;

/// When a paper was last typeset; none when nothing is remembered of it.
static LAST_SET: Mutex<Option<Instant>> = Mutex::new(None);

/// Forgets what is remembered of papers typeset before, some hundred megabytes for large jobs, where none was typeset for so
/// long. The next ones are typeset anew, and are the same.
pub fn let_go_of_typesetting(unused_for: Duration) {
    let mut last = LAST_SET.lock().unwrap_or_else(PoisonError::into_inner);
    if last.is_some_and(|at| at.elapsed() >= unused_for) {
        typst::comemo::evict(0);
        *last = None;
    }
}

impl Filling<'_> {
    /// Typesets the paper as a PDF.
    ///
    /// # Errors
    /// [`PapersError::Template`] when it does not typeset.
    pub fn pdf(&self) -> Result<Vec<u8>, PapersError> {
        let options = PdfOptions { tagged: self.tagged, ..PdfOptions::default() };
        self.set(|document| typst_pdf::pdf(document, &options))
    }

    /// Typesets the paper as pages for a screen: an SVG drawing each, letters as outlines.
    ///
    /// # Errors
    /// [`PapersError::Template`] when it does not typeset.
    pub fn pages(&self) -> Result<Vec<String>, PapersError> {
        let options = SvgOptions::default();
        self.set(|document| Ok(document.pages().iter().map(|page| typst_svg::svg(page, &options)).collect()))
    }

    fn set<T>(&self, write: impl FnOnce(&PagedDocument) -> SourceResult<T>) -> Result<T, PapersError> {
        let world = PapersWorld::new(self)?;
        let document: PagedDocument =
            typst::compile(&world).output.map_err(|problems| fail(self.template, &world, &problems))?;
        let out = write(&document).map_err(|problems| fail(self.template, &world, &problems))?;
        typst::comemo::evict(COMPILATIONS_KEPT.most());
        *LAST_SET.lock().unwrap_or_else(PoisonError::into_inner) = Some(Instant::now());
        Ok(out)
    }
}

fn fail(template: &str, world: &PapersWorld, problems: &[typst::diag::SourceDiagnostic]) -> PapersError {
    let reasons = problems
        .iter()
        .map(|p| format!("{}{}", world.place(p.span), p.message))
        .collect::<Vec<_>>()
        .join("; ");
    PapersError::Template { template: template.to_owned(), reasons }
}
