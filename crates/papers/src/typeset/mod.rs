//! Turns a template and its data into a PDF.
//!
//! The typesetting library sees a world of memory only: the templates of this crate, one JSON file of data and
//! the drawings as SVG. Virtual paths are fixed (`/data.json`, `/drawings/0.svg`, ...), because the library keeps
//! every path it ever saw for the life of the process. PDFs are tagged and carry their fonts.

mod fonts;
mod templates;
mod world;

pub use fonts::{FAMILY, REGULAR, SEMI_BOLD};

use crate::error::PapersError;
use typst_layout::PagedDocument;
use typst_pdf::PdfOptions;
use world::PapersWorld;

/// Compilations after which a memoised result of the typesetting library that was not used again is dropped.
/// Larger keeps more memory in a server; smaller typesets unchanged pages anew.
const KEEP_FOR_COMPILATIONS: usize = 12;

/// Typesets the template `main` (for example `crew.typ`) with `data` and the drawings, which the template finds
/// as `/drawings/0.svg`, `/drawings/1.svg`, ... in the order given.
pub fn typeset(
    main: &'static str,
    data: &serde_json::Value,
    drawings: &[String],
) -> Result<Vec<u8>, PapersError> {
    let world = PapersWorld::new(main, data, drawings)?;
    let document: PagedDocument =
        typst::compile(&world).output.map_err(|problems| fail(main, &world, &problems))?;
    let pdf = typst_pdf::pdf(&document, &PdfOptions::default())
        .map_err(|problems| fail(main, &world, &problems))?;
    typst::comemo::evict(KEEP_FOR_COMPILATIONS);
    Ok(pdf)
}

fn fail(template: &str, world: &PapersWorld, problems: &[typst::diag::SourceDiagnostic]) -> PapersError {
    let reasons = problems
        .iter()
        .map(|p| format!("{}{}", world.place(p.span), p.message))
        .collect::<Vec<_>>()
        .join("; ");
    PapersError::Template { template: template.to_owned(), reasons }
}
