//! Where the map goes inside a drawing.

use super::request::Reader;
use crate::drawing::furniture::GRID_MARGIN;
use crate::drawing::spot::Frame;

pub(super) const STRIP_GAP: f64 = 2.0;
const SCALE_BAR_ROOM: f64 = 6.5;

/// Where the map goes inside a drawing of a size, with this key. Only a crew's plan has figures of a grid beside it.
pub fn map_frame(reader: Reader, size_mm: (f64, f64), key_height_mm: f64) -> Frame {
    let (left, figures) = match reader {
        Reader::Crew => (GRID_MARGIN + 2.0, GRID_MARGIN),
        Reader::Client | Reader::Owner => (0.3, STRIP_GAP),
    };
    let bottom = size_mm.1 - figures - STRIP_GAP - SCALE_BAR_ROOM - key_height_mm;
    Frame::new(left, 0.3, size_mm.0 - 0.3, bottom)
}
