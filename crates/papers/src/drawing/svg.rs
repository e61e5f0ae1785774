//! Writes SVG. Coordinates are millimetres to the hundredth, so that equal drawings give equal bytes.

use super::measure::Face;
use super::spot::{Frame, Spot};
use std::fmt::Write;

/// How a shape is painted.
#[derive(Debug, Clone, Default)]
pub struct Paint {
    fill: Option<String>,
    stroke: Option<String>,
    width: f64,
    dash: Option<String>,
    opacity: Option<f64>,
    round: bool,
}

impl Paint {
    pub fn fill(colour: &str) -> Self {
        Self { fill: Some(colour.to_owned()), ..Self::default() }
    }

    pub fn stroke(colour: &str, width_mm: f64) -> Self {
        Self { stroke: Some(colour.to_owned()), width: width_mm, ..Self::default() }
    }

    pub fn and_stroke(mut self, colour: &str, width_mm: f64) -> Self {
        self.stroke = Some(colour.to_owned());
        self.width = width_mm;
        self
    }

    /// Lengths of dashes and gaps, millimetres; none for a solid line.
    pub fn dashed(mut self, dash_mm: &[f64]) -> Self {
        self.dash =
            (!dash_mm.is_empty()).then(|| dash_mm.iter().map(|&d| number(d)).collect::<Vec<_>>().join(" "));
        self
    }

    pub fn opacity(mut self, share: f64) -> Self {
        self.opacity = Some(share);
        self
    }

    /// Round ends and corners.
    pub fn round(mut self) -> Self {
        self.round = true;
        self
    }

    fn write(&self, out: &mut String) {
        let _ = write!(out, " fill=\"{}\"", self.fill.as_deref().unwrap_or("none"));
        if let Some(stroke) = &self.stroke {
            let _ = write!(out, " stroke=\"{stroke}\" stroke-width=\"{}\"", number(self.width));
            if self.round {
                out.push_str(" stroke-linecap=\"round\" stroke-linejoin=\"round\"");
            }
            if let Some(dash) = &self.dash {
                let _ = write!(out, " stroke-dasharray=\"{dash}\"");
            }
        }
        if let Some(share) = self.opacity {
            let _ = write!(out, " opacity=\"{}\"", number(share));
        }
    }
}

/// Where text stands relative to its position.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    Start,
    Middle,
    End,
}

/// Text on a drawing.
#[derive(Debug, Clone, Copy)]
pub struct Lettering<'a> {
    pub face: Face,
    pub size_mm: f64,
    pub colour: &'a str,
    pub align: Align,
    /// Colour of a halo round the letters, for text over a busy ground.
    pub halo: Option<&'a str>,
}

/// A drawing under way.
#[derive(Debug)]
pub struct Svg {
    width_mm: f64,
    height_mm: f64,
    definitions: String,
    body: String,
    depth: usize,
    holds_widths: bool,
}

impl Svg {
    pub fn new(width_mm: f64, height_mm: f64) -> Self {
        let (definitions, body) = (String::new(), String::new());
        Self { width_mm, height_mm, definitions, body, depth: 1, holds_widths: false }
    }

    /// A drawing that is read by itself, with whatever letters its reader has: each text keeps the width it was given room for.
    /// On papers the letters are known, and a width beside them could only be at odds with them.
    pub fn holding_widths(self) -> Self {
        Self { holds_widths: true, ..self }
    }

    /// Adds text to the definitions (patterns).
    pub fn define(&mut self, text: &str) {
        self.definitions.push_str("    ");
        self.definitions.push_str(text);
        self.definitions.push('\n');
    }

    /// Defines a rectangle that [`Svg::open_clipped`] clips to.
    pub fn define_clip(&mut self, id: &str, f: Frame) {
        let text = format!(
            "<clipPath id=\"{id}\"><rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/></clipPath>",
            number(f.left),
            number(f.top),
            number(f.width()),
            number(f.height())
        );
        self.define(&text);
    }

    /// Defines a closed outline to clip to.
    pub fn define_clip_outline(&mut self, id: &str, corners: &[Spot]) {
        let text = format!("<clipPath id=\"{id}\"><path d=\"{}\"/></clipPath>", path_data(corners, true));
        self.define(&text);
    }

    fn line(&mut self, text: &str) {
        for _ in 0..self.depth {
            self.body.push_str("  ");
        }
        self.body.push_str(text);
        self.body.push('\n');
    }

    /// Opens a group with an id; close it with [`Svg::close`].
    pub fn open(&mut self, id: &str) {
        self.line(&format!("<g id=\"{}\">", escape(id)));
        self.depth += 1;
    }

    /// Opens a group that is clipped to a definition.
    pub fn open_clipped(&mut self, id: &str, clip: &str) {
        self.line(&format!("<g id=\"{}\" clip-path=\"url(#{clip})\">", escape(id)));
        self.depth += 1;
    }

    /// Opens a group whose own middle is at a place and that is turned clockwise.
    pub fn open_placed(&mut self, at: Spot, turn_deg: f64) {
        let turn = if turn_deg == 0.0 {
            String::new()
        } else {
            format!(" rotate({})", number(turn_deg.rem_euclid(360.0)))
        };
        self.line(&format!("<g transform=\"translate({} {}){turn}\">", number(at.x), number(at.y)));
        self.depth += 1;
    }

    pub fn close(&mut self) {
        self.depth -= 1;
        self.line("</g>");
    }

    fn shape(&mut self, name: &str, attributes: &str, paint: &Paint) {
        let mut text = format!("<{name} {attributes}");
        paint.write(&mut text);
        text.push_str("/>");
        self.line(&text);
    }

    pub fn outline(&mut self, corners: &[Spot], paint: &Paint) {
        self.shape("path", &format!("d=\"{}\"", path_data(corners, true)), paint);
    }

    pub fn polyline(&mut self, points: &[Spot], paint: &Paint) {
        self.shape("path", &format!("d=\"{}\"", path_data(points, false)), paint);
    }

    /// Several closed rings as one shape, filled by the even-odd rule.
    pub fn rings(&mut self, rings: &[Vec<Spot>], paint: &Paint) {
        let data: String = rings.iter().map(|r| path_data(r, true)).collect();
        self.shape("path", &format!("d=\"{data}\" fill-rule=\"evenodd\""), paint);
    }

    /// A path in SVG's own notation.
    pub fn path(&mut self, data: &str, paint: &Paint) {
        self.shape("path", &format!("d=\"{data}\""), paint);
    }

    pub fn segment(&mut self, a: Spot, b: Spot, paint: &Paint) {
        self.polyline(&[a, b], paint);
    }

    pub fn circle(&mut self, at: Spot, radius: f64, paint: &Paint) {
        let attributes = format!("cx=\"{}\" cy=\"{}\" r=\"{}\"", number(at.x), number(at.y), number(radius));
        self.shape("circle", &attributes, paint);
    }

    pub fn rectangle(&mut self, f: Frame, corner_radius: f64, paint: &Paint) {
        let mut attributes = format!(
            "x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"",
            number(f.left),
            number(f.top),
            number(f.width()),
            number(f.height())
        );
        if corner_radius > 0.0 {
            let _ = write!(attributes, " rx=\"{}\"", number(corner_radius));
        }
        self.shape("rect", &attributes, paint);
    }

    /// Text on its base line.
    pub fn text(&mut self, at: Spot, text: &str, style: Lettering<'_>) {
        self.text_turned(at, 0.0, text, style);
    }

    /// Text on its base line, turned clockwise about its position.
    pub fn text_turned(&mut self, at: Spot, turn_deg: f64, text: &str, style: Lettering<'_>) {
        let anchor = match style.align {
            Align::Start => "start",
            Align::Middle => "middle",
            Align::End => "end",
        };
        let mut tag = format!(
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\" text-anchor=\"{anchor}\" fill=\"{}\"{}",
            number(at.x),
            number(at.y),
            number(style.size_mm),
            style.colour,
            style.face.attributes(),
        );
        if turn_deg != 0.0 {
            let _ =
                write!(tag, " transform=\"rotate({} {} {})\"", number(turn_deg), number(at.x), number(at.y));
        }
        if self.holds_widths && !text.is_empty() {
            let width = number(style.face.width(text, style.size_mm));
            let _ = write!(tag, " textLength=\"{width}\" lengthAdjust=\"spacingAndGlyphs\"");
        }
        if let Some(halo) = style.halo {
            let _ = write!(
                tag,
                " stroke=\"{halo}\" stroke-width=\"{}\" stroke-linejoin=\"round\" paint-order=\"stroke\"",
                number(style.size_mm * 0.3)
            );
        }
        self.line(&format!("{tag}>{}</text>", escape(text)));
    }

    /// The finished file, with a title for those who cannot see it.
    pub fn finish(self, title: &str) -> String {
        let (w, h) = (number(self.width_mm), number(self.height_mm));
        let mut out = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {w} {h}\" \
             font-family=\"{}, sans-serif\" role=\"img\">\n  <title>{}</title>\n",
            crate::typeset::FAMILY,
            escape(title)
        );
        if !self.definitions.is_empty() {
            let _ = write!(out, "  <defs>\n{}  </defs>\n", self.definitions);
        }
        out.push_str(&self.body);
        out.push_str("</svg>\n");
        out
    }
}

fn path_data(points: &[Spot], closed: bool) -> String {
    let mut data = String::with_capacity(points.len() * 12);
    for (i, p) in points.iter().enumerate() {
        let _ = write!(data, "{}{} {}", if i == 0 { 'M' } else { 'L' }, number(p.x), number(p.y));
    }
    if closed {
        data.push('Z');
    }
    data
}

/// At most two decimals, no trailing zeros, no negative zero.
pub fn number(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// Text with the characters XML reserves written as entities.
pub fn escape(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
