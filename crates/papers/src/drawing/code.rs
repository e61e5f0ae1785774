//! A square code (ISO/IEC 18004) as a drawing.

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
    for (i, _) in colours.iter().enumerate().filter(|(_, c)| **c == Color::Dark) {
        let at = |k: usize| (k + QUIET) as f64 * module;
        let f = Frame::new(at(i % width), at(i / width), at(i % width) + module, at(i / width) + module);
        // Four decimals: a module must meet its neighbour without a gap.
        path.push_str(&format!("M{:.4} {:.4}H{:.4}V{:.4}H{:.4}Z", f.left, f.top, f.right, f.bottom, f.left));
    }
    svg.path(&path, &Paint::fill("#000000"));
    Some(svg.finish(title))
}
