//! The key under a plan: samples of lines and symbols with their meaning, set in rows.

use super::measure::{CAP_HEIGHT, Face, LEAST_TEXT_MM};
use super::palette::{self, LineStyle};
use super::spot::{Frame, Spot};
use super::svg::{Align, Lettering, Paint, Svg};
use super::symbols;
use loamline_model::Units;
use loamline_model::document::{JointKind, ServiceKind, SurfaceKind};

/// Height of a row, millimetres.
const ROW: f64 = 4.4;
const SAMPLE: f64 = 7.0;
/// A sample of a line is long enough to show its dashes on both sides of its letter.
const LINE_SAMPLE: f64 = 17.0;
const GAP: f64 = 4.0;

/// What an entry of the key shows.
#[derive(Debug, Clone, PartialEq)]
pub enum Sample {
    /// A line of loudspeakers with its letter.
    Line(LineStyle, String),
    /// A loudspeaker, by the name of its symbol.
    Loudspeaker(&'static str),
    /// A joint.
    Joint(JointKind),
    Rack,
    Stub,
    Existing,
    Mark,
    Sleeve,
    Passage,
    /// A buried service, in the units of whoever reads the plan.
    Service(ServiceKind, Units),
    NoGo,
    Area,
    Neighbour,
    Hedge,
    Masonry,
    Fence,
    Surface(SurfaceKind),
    /// A band of levels.
    Level(&'static str),
    /// A note without a sample.
    Note,
}

/// An entry of the key.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    pub sample: Sample,
    pub text: String,
}

/// Where each entry goes in a strip of a width, and how high the strip is.
pub fn layout(entries: &[Entry], width: f64) -> (Vec<Spot>, f64) {
    let mut spots = Vec::with_capacity(entries.len());
    let mut at = Spot::new(0.0, 0.0);
    for entry in entries {
        let needs = sample_width(&entry.sample) + 1.2 + Face::Regular.width(&entry.text, LEAST_TEXT_MM);
        if at.x > 0.0 && at.x + needs > width - 1.5 {
            at = Spot::new(0.0, at.y + ROW);
        }
        spots.push(at);
        at.x += needs + GAP;
    }
    (spots, if entries.is_empty() { 0.0 } else { at.y + ROW })
}

/// Draws the key with its top left corner at `corner`.
pub fn draw(svg: &mut Svg, corner: Spot, entries: &[Entry], spots: &[Spot]) {
    svg.open("key");
    for (entry, &at) in entries.iter().zip(spots) {
        let at = corner + at;
        sample(svg, at, &entry.sample);
        let style = Lettering {
            face: Face::Regular,
            size_mm: LEAST_TEXT_MM,
            colour: palette::INK,
            align: Align::Start,
            halo: None,
        };
        svg.text(at + Spot::new(sample_width(&entry.sample) + 1.2, ROW / 2.0 + 0.8), &entry.text, style);
    }
    svg.close();
}

fn sample_width(sample: &Sample) -> f64 {
    match sample {
        Sample::Line(..) => LINE_SAMPLE,
        Sample::Note => 0.0,
        _ => SAMPLE,
    }
}

fn sample(svg: &mut Svg, at: Spot, sample: &Sample) {
    let width = sample_width(sample);
    let middle = at + Spot::new(width / 2.0, ROW / 2.0);
    let (west, east) = (Spot::new(at.x, middle.y), Spot::new(at.x + width, middle.y));
    let swatch = Frame::new(at.x, at.y + 0.8, at.x + SAMPLE, at.y + ROW - 0.8);
    match sample {
        Sample::Line(style, letter) => {
            svg.segment(west, east, &Paint::stroke(style.colour, CABLE_WIDTH).dashed(style.dash_mm));
            pill(svg, middle, letter, style.colour);
        }
        Sample::Loudspeaker(name) => {
            // What has one flare is set back by half of it.
            let back = if matches!(*name, "pair" | "bollard" | "subwoofer") { 0.0 } else { 1.0 };
            symbols::loudspeaker(svg, middle - Spot::new(back, 0.0), 90.0, name, palette::INK);
        }
        Sample::Joint(kind) => symbols::joint(svg, middle, *kind, palette::INK),
        Sample::Rack => symbols::rack(svg, middle),
        Sample::Stub => symbols::stub(svg, middle),
        Sample::Existing => existing(svg, &[west, east]),
        Sample::Mark => symbols::mark(svg, middle),
        Sample::Sleeve => sleeve(svg, &[west, east], SLEEVE_MM.0),
        Sample::Passage => symbols::passage(svg, middle),
        Sample::Service(kind, units) => {
            let colour = symbols::service_colour(*kind, *units);
            service(svg, &[west, east], colour);
            service_letter(svg, middle, symbols::service_letter(*kind), colour);
        }
        Sample::NoGo => no_go(svg, &corners(swatch)),
        Sample::Area => area(svg, &corners(swatch)),
        Sample::Neighbour => symbols::neighbour(svg, middle),
        Sample::Hedge => hedge(svg, &[west, east]),
        Sample::Masonry => masonry(svg, &[west, east]),
        Sample::Fence => fence(svg, &[west, east]),
        Sample::Surface(kind) => surface(svg, &corners(swatch), *kind, true),
        Sample::Note => {}
        Sample::Level(colour) => {
            svg.rectangle(swatch, 0.0, &Paint::fill(colour).and_stroke(palette::QUIET, 0.12));
        }
    }
}

fn corners(f: Frame) -> [Spot; 4] {
    [
        Spot::new(f.left, f.top),
        Spot::new(f.right, f.top),
        Spot::new(f.right, f.bottom),
        Spot::new(f.left, f.bottom),
    ]
}

/// Width of cable on a drawing, millimetres.
pub const CABLE_WIDTH: f64 = 0.42;

/// Height of a tag, millimetres.
pub const TAG_HEIGHT: f64 = 3.2;

/// Width of a tag, millimetres.
pub fn tag_width(text: &str) -> f64 {
    Face::SemiBold.width(text, LEAST_TEXT_MM) + 1.5
}

/// A tag: text in a rounded frame.
pub fn pill(svg: &mut Svg, centre: Spot, text: &str, colour: &str) {
    let f = Frame::centred(centre, tag_width(text), TAG_HEIGHT);
    svg.rectangle(f, TAG_HEIGHT / 2.0, &Paint::fill(palette::SHEET).and_stroke(colour, 0.22));
    let style =
        Lettering { face: Face::SemiBold, size_mm: LEAST_TEXT_MM, colour, align: Align::Middle, halo: None };
    svg.text(centre + Spot::new(0.0, LEAST_TEXT_MM * CAP_HEIGHT / 2.0), text, style);
}

/// A piece of ground.
pub fn surface(svg: &mut Svg, outline: &[Spot], kind: SurfaceKind, filled: bool) {
    let (fill, pattern) = palette::ground(kind);
    let edge = "#b7ab97";
    if !filled {
        svg.outline(outline, &Paint::stroke(edge, 0.14));
        return;
    }
    svg.outline(outline, &Paint::fill(fill).and_stroke(edge, 0.14));
    if let Some(pattern) = pattern {
        svg.outline(outline, &Paint::fill(&format!("url(#{pattern})")));
    }
}

/// A place where nothing may be put.
pub fn no_go(svg: &mut Svg, outline: &[Spot]) {
    svg.outline(outline, &Paint::fill("url(#p-nogo)").and_stroke(palette::WARNING, 0.3));
}

/// A listening area.
pub fn area(svg: &mut Svg, outline: &[Spot]) {
    svg.outline(outline, &Paint::stroke(palette::AREA, 0.28).dashed(&[1.4, 1.0]));
}

/// Width of a sleeve where there is room, and its least, millimetres; and what it may cover of the ground, metres: at a small
/// scale it would lie over walls, beds and labels that it has nothing to do with.
const SLEEVE_MM: (f64, f64) = (3.4, 1.2);
const SLEEVE_M: f64 = 0.3;
/// Width of its rails, millimetres.
const RAIL_MM: f64 = 0.2;

/// Width of a sleeve at a scale, millimetres.
pub fn sleeve_width(mm_per_m: f64) -> f64 {
    (SLEEVE_M * mm_per_m).clamp(SLEEVE_MM.1, SLEEVE_MM.0)
}

/// A sleeve so wide: two thin rails.
pub fn sleeve(svg: &mut Svg, line: &[Spot], width_mm: f64) {
    svg.polyline(line, &Paint::stroke(palette::QUIET, width_mm));
    svg.polyline(line, &Paint::stroke("#f3efe6", width_mm - 2.0 * RAIL_MM));
}

/// Existing cable: which two things it joins; its way is not known.
pub fn existing(svg: &mut Svg, line: &[Spot]) {
    svg.polyline(line, &Paint::stroke(palette::QUIET, CABLE_WIDTH).dashed(&[2.2, 1.4]));
}

/// A buried service.
pub fn service(svg: &mut Svg, line: &[Spot], colour: &str) {
    svg.polyline(line, &Paint::stroke(colour, 0.28).dashed(&[3.0, 0.7, 0.3, 0.7, 0.3, 0.7]));
}

/// The letter of a buried service, on its line.
pub fn service_letter(svg: &mut Svg, at: Spot, letter: &str, colour: &str) {
    let style = Lettering {
        face: Face::SemiBold,
        size_mm: LEAST_TEXT_MM,
        colour,
        align: Align::Middle,
        halo: Some(palette::SHEET),
    };
    svg.text(at + Spot::new(0.0, LEAST_TEXT_MM * CAP_HEIGHT / 2.0), letter, style);
}

/// A hedge.
pub fn hedge(svg: &mut Svg, line: &[Spot]) {
    svg.polyline(line, &Paint::stroke(palette::HEDGE, 2.0).round());
    svg.polyline(line, &Paint::stroke("#c5cfb2", 1.2).dashed(&[0.4, 1.1]).round());
}

/// A masonry wall.
pub fn masonry(svg: &mut Svg, line: &[Spot]) {
    svg.polyline(line, &Paint::stroke(palette::MASONRY, 1.0));
}

/// A solid fence.
pub fn fence(svg: &mut Svg, line: &[Spot]) {
    svg.polyline(line, &Paint::stroke(palette::MASONRY, 0.35));
    svg.polyline(line, &Paint::stroke(palette::MASONRY, 1.1).dashed(&[0.35, 2.2]));
}

#[cfg(test)]
mod tests {
    use super::sleeve_width;

    /// At 1:50 (20 mm to the metre) as ever; at 1:360 it was 3.4 mm, 1.2 m of ground.
    #[test]
    fn a_sleeve_covers_little_ground_at_a_small_scale() {
        assert!((sleeve_width(20.0) - 3.4).abs() < 1e-9);
        let small = 1000.0 / 360.0;
        assert!(sleeve_width(small) / small < 0.5, "{} mm", sleeve_width(small));
        assert!((sleeve_width(10.0) - 3.0).abs() < 1e-9, "0.3 m at 1:100");
    }
}
