//! The fonts of the papers: Barlow (SIL Open Font License 1.1, `fonts/OFL.txt`), shipped with the crate, and
//! typst's own set for anything Barlow lacks.

use std::sync::LazyLock;
use typst::foundations::Bytes;
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;

/// Family of all text, on paper and in drawings.
pub const FAMILY: &str = "Barlow";

/// Barlow Regular, also used to measure labels.
pub const REGULAR: &[u8] = include_bytes!("../../fonts/Barlow-Regular.ttf");
/// Barlow SemiBold, also used to measure tags.
pub const SEMI_BOLD: &[u8] = include_bytes!("../../fonts/Barlow-SemiBold.ttf");
const ITALIC: &[u8] = include_bytes!("../../fonts/Barlow-Italic.ttf");
const MEDIUM: &[u8] = include_bytes!("../../fonts/Barlow-Medium.ttf");

/// Fonts and their index; read once per process, they never change.
pub struct Fonts {
    pub book: LazyHash<FontBook>,
    pub fonts: Vec<Font>,
}

pub static FONTS: LazyLock<Fonts> = LazyLock::new(|| {
    let own = [REGULAR, ITALIC, MEDIUM, SEMI_BOLD];
    let fonts: Vec<Font> =
        own.into_iter().chain(typst_assets::fonts()).flat_map(|data| Font::iter(Bytes::new(data))).collect();
    Fonts { book: LazyHash::new(FontBook::from_fonts(&fonts)), fonts }
});
