//! Names on a drawing: a first line that stands out, what is said below it smaller and slanted.

use super::labels::{Anchor, Label};
use super::measure::{CAP_HEIGHT, Face, LEAST_TEXT_MM};
use super::palette;
use super::spot::{Frame, Spot};
use super::svg::{Align, Lettering, Svg};

/// Height of the letters of a name, millimetres.
pub const NAME_SIZE: f64 = 2.7;
/// The same of what stands below it.
pub const SMALL_SIZE: f64 = LEAST_TEXT_MM;
/// Mark in front of a text that is set small.
pub const SMALL: char = '\u{2009}';

/// The room a name takes.
pub fn label(text: &str, anchor: Anchor) -> Label {
    let lines = text.lines().count().max(1) as f64;
    let first = text.lines().next().unwrap_or_default();
    let widest = Face::SemiBold.width(first, NAME_SIZE);
    let rest = text.lines().skip(1).map(|l| Face::Italic.width(l, SMALL_SIZE)).fold(0.0, f64::max);
    let height = NAME_SIZE * CAP_HEIGHT + 1.0 + (lines - 1.0) * NAME_SIZE * 1.15;
    Label { width: widest.max(rest) + 0.8, height, anchor }
}

/// Writes a name where its label was placed.
pub fn write(svg: &mut Svg, frame: Frame, text: &str, colour: &str) {
    for (k, line) in text.lines().enumerate() {
        let size = if k == 0 { size(text) } else { SMALL_SIZE };
        let face = if k == 0 { Face::SemiBold } else { Face::Italic };
        let base = frame.top + self::size(text) * CAP_HEIGHT + 0.5 + k as f64 * NAME_SIZE * 1.15;
        let style =
            Lettering { face, size_mm: size, colour, align: Align::Middle, halo: Some(palette::SHEET) };
        svg.text(Spot::new(frame.centre().x, base), line, style);
    }
}

fn size(text: &str) -> f64 {
    if text.starts_with(SMALL) { SMALL_SIZE } else { NAME_SIZE }
}
