//! A QR code (ISO/IEC 18004) as a drawing.

use super::spot::Frame;
use super::svg::{Paint, Svg};
use qrcode::{Color, EcLevel, QrCode};

/// Side of the drawing, millimetres.
const SIDE_MM: f64 = 40.0;
/// Quiet zone the standard asks for, modules.
const QUIET: usize = 4;

/// The code of a text; `None` when it is too long for any.
pub fn square_code(text: &str, title: &str) -> Option<String> {
    let code = QrCode::with_error_correction_level(text.as_bytes(), EcLevel::M).ok()?;
    let width = code.width();
    let module = SIDE_MM / (width + 2 * QUIET) as f64;
    let colours = code.to_colors();
    let mut svg = Svg::new(SIDE_MM, SIDE_MM);
    let mut path = String::new();
    let at = |k: usize| (k + QUIET) as f64 * module;
    for (y, row) in colours.chunks(width.max(1)).enumerate() {
        let mut x = 0;
        // Dark modules side by side are one rectangle: sheets of labels have hundreds of codes.
        for run in row.chunk_by(|a, b| a == b) {
            if run.first() == Some(&Color::Dark) {
                let f = Frame::new(at(x), at(y), at(x + run.len()), at(y + 1));
                // Four decimals: a module must meet its neighbour without a gap.
                let (left, right) = (f.left, f.right);
                path.push_str(&format!("M{left:.4} {:.4}H{right:.4}V{:.4}H{left:.4}Z", f.top, f.bottom));
            }
            x += run.len();
        }
    }
    svg.path(&path, &Paint::fill("#000000"));
    Some(svg.finish(title))
}
