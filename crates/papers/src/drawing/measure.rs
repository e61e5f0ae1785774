//! Widths of text as it will be set: sums of the font's advance widths.

use crate::typeset::{REGULAR, SEMI_BOLD};
use std::sync::LazyLock;
use ttf_parser::Face as FontFace;

/// Faces used on drawings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Face {
    Regular,
    SemiBold,
    /// Measured as [`Face::Regular`]: the slanted letters are as wide to within a few percent.
    Italic,
}

/// Height of capitals, as a share of the font size.
pub const CAP_HEIGHT: f64 = 0.7;

/// Smallest letters on a drawing, millimetres: 7 pt are 2.47 mm, which is read at arm's length (common practice, no source).
pub const LEAST_TEXT_MM: f64 = 2.5;
const _: () = assert!(LEAST_TEXT_MM >= 7.0 * 25.4 / 72.0);

/// Share of the size taken for a letter the font does not have.
const UNKNOWN_ADVANCE: f64 = 0.6;

static FACES: LazyLock<[Option<FontFace<'static>>; 2]> =
    LazyLock::new(|| [FontFace::parse(REGULAR, 0).ok(), FontFace::parse(SEMI_BOLD, 0).ok()]);

impl Face {
    /// Attributes that select it in SVG.
    pub fn attributes(self) -> &'static str {
        match self {
            Self::Regular => "",
            Self::SemiBold => " font-weight=\"600\"",
            Self::Italic => " font-style=\"italic\"",
        }
    }

    /// Width of a line of text, in the unit of `size`.
    pub fn width(self, text: &str, size: f64) -> f64 {
        let face = match self {
            Self::Regular | Self::Italic => &FACES[0],
            Self::SemiBold => &FACES[1],
        };
        let advance = |letter: char| {
            let face = face.as_ref()?;
            let glyph = face.glyph_index(letter)?;
            Some(f64::from(face.glyph_hor_advance(glyph)?) / f64::from(face.units_per_em()))
        };
        text.chars().map(|c| advance(c).unwrap_or(UNKNOWN_ADVANCE)).sum::<f64>() * size
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wider_text_measures_wider() {
        assert!(Face::SemiBold.width("L12", 10.0) > Face::SemiBold.width("L1", 10.0));
        let m = Face::Regular.width("M", 10.0);
        assert!((6.0..11.0).contains(&m), "{m}");
        assert_eq!(Face::Regular.width("", 10.0), 0.0);
    }
}
