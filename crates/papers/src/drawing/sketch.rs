//! What the sketches of joints and leads share: a note, and the way of a conductor.

use super::measure::Face;
use super::palette;
use super::spot::Spot;
use super::svg::{Align, Lettering, Svg, number};

pub fn note(svg: &mut Svg, at: Spot, text: &str, face: Face, align: Align, size_mm: f64) {
    let style = Lettering { face, size_mm, colour: palette::INK, align, halo: Some(palette::SHEET) };
    svg.text(at, text, style);
}

/// A conductor from one contact to another as a path, level at both ends.
pub fn way(from: Spot, to: Spot) -> String {
    let bend = (to.x - from.x) * 0.5;
    format!(
        "M{} {}C{} {} {} {} {} {}",
        number(from.x),
        number(from.y),
        number(from.x + bend),
        number(from.y),
        number(to.x - bend),
        number(to.y),
        number(to.x),
        number(to.y)
    )
}
