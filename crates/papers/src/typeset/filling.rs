//! What a template is filled with.

use crate::firm::Logo;
use crate::site_photo::SitePhoto;

/// What a template is filled with.
pub struct Filling<'a> {
    /// Name of the template, for example `crew.typ`.
    pub template: &'static str,
    /// Its data.
    pub data: &'a serde_json::Value,
    /// Drawings, which the template finds as `/drawings/0.svg`, `/drawings/1.svg`, ... in this order.
    pub drawings: &'a [String],
    /// The logo, `/logo.svg` or `/logo.png`.
    pub logo: Option<&'a Logo>,
    /// Photos, which the template finds as `/photos/0.jpg`, `/photos/1.png`, ... in this order.
    pub photos: &'a [SitePhoto],
    /// Whether the PDF says to programs that read aloud what is a heading, a table, a row.
    pub tagged: bool,
}
