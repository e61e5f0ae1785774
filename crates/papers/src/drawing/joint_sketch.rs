//! A sketch of a joint: cable from the rack on the left, cables onward and the loudspeaker on the right, one
//! connector for each conductor, a service loop in every cable.

use super::key;
use super::measure::Face;
use super::palette;
use super::spot::{Frame, Spot};
use super::svg::{Align, Lettering, Paint, Svg, number};
use crate::quantities::JointNeed;

const WIDTH: f64 = 84.0;
const ROW: f64 = 7.0;
const END: f64 = 11.0;

/// Size of the sketch of a joint, millimetres.
pub fn size_mm(joint: &JointNeed) -> (f64, f64) {
    let rows = joint.conductors.len() as f64 * ROW;
    let ends = right_ends(joint) as f64 * END;
    (WIDTH, rows.max(ends).max(END) + 5.0)
}

fn right_ends(joint: &JointNeed) -> usize {
    joint.onward.len() + usize::from(joint.loudspeaker)
}

/// Draws the joint in the colour of its line. `capped` is the word at a conductor that goes no further.
pub fn draw(joint: &JointNeed, line_colour: &str, capped: &str, title: &str) -> String {
    let (width, height) = size_mm(joint);
    let mut svg = Svg::new(width, height);
    let middle = height / 2.0;
    let row = |k: usize| middle + (k as f64 - (joint.conductors.len() as f64 - 1.0) / 2.0) * ROW;
    let ends = right_ends(joint);
    let right = |k: usize| middle + (k as f64 - (ends as f64 - 1.0) / 2.0) * END;
    let (sheath_left, sheath_right, connector) = (24.0, 60.0, 42.0);
    cable(&mut svg, Spot::new(0.5, middle), Spot::new(sheath_left, middle), line_colour);
    key::pill(&mut svg, Spot::new(8.0, middle), &joint.from_rack, line_colour);
    for (k, run) in joint.onward.iter().enumerate() {
        cable(&mut svg, Spot::new(width - 0.5, right(k)), Spot::new(sheath_right, right(k)), line_colour);
        key::pill(&mut svg, Spot::new(width - 8.0, right(k)), run, line_colour);
    }
    let speaker_y = right(joint.onward.len());
    if joint.loudspeaker {
        key::pill(&mut svg, Spot::new(width - 8.0, speaker_y), &joint.at, palette::INK);
    }
    for (k, conductor) in joint.conductors.iter().enumerate() {
        let y = row(k);
        let at = Spot::new(connector, y);
        let colour = conductor_colour(&conductor.colour);
        if conductor.runs.contains(&joint.from_rack) {
            wire(&mut svg, Spot::new(sheath_left, middle), at, colour);
        }
        for (e, run) in joint.onward.iter().enumerate() {
            if conductor.runs.contains(run) {
                wire(&mut svg, at, Spot::new(sheath_right, right(e)), colour);
            }
        }
        if let Some(terminal) = conductor.terminal {
            let to = Spot::new(width - 17.0, speaker_y + if terminal == '+' { -1.8 } else { 1.8 });
            wire(&mut svg, at, to, colour);
            let sign = if terminal == '+' { "+" } else { "\u{2212}" };
            note(&mut svg, to + Spot::new(0.6, 0.9), sign, Face::SemiBold, Align::Start, 3.0);
        }
        let body = Frame::centred(at, 6.0, 3.4);
        svg.rectangle(body, 1.2, &Paint::fill("#e9e2d4").and_stroke(palette::INK, 0.25));
        let wires = conductor.wires();
        let inside = if wires > 1 { wires.to_string() } else { "\u{00d7}".to_owned() };
        note(&mut svg, at + Spot::new(0.0, 0.85), &inside, Face::SemiBold, Align::Middle, 2.4);
        note(&mut svg, at + Spot::new(0.0, -2.3), &conductor.colour, Face::Regular, Align::Middle, 2.1);
        if wires < 2 {
            note(&mut svg, at + Spot::new(4.0, 0.8), capped, Face::Italic, Align::Start, 2.1);
        }
    }
    svg.finish(title)
}

fn note(svg: &mut Svg, at: Spot, text: &str, face: Face, align: Align, size_mm: f64) {
    let style = Lettering { face, size_mm, colour: palette::INK, align, halo: Some(palette::SHEET) };
    svg.text(at, text, style);
}

/// A cable in its sheath with a service loop in it, and a strain tie where the conductors leave it.
fn cable(svg: &mut Svg, from: Spot, to: Spot, colour: &str) {
    let paint = Paint::stroke(colour, 1.1).round();
    svg.segment(from, to, &paint);
    let middle = from.lerp(to, 0.72);
    let r = 2.0;
    let loop_path =
        format!("M{x} {y}a{r} {r} 0 1 1 0.1 0", x = number(middle.x), y = number(middle.y), r = number(r));
    svg.path(&loop_path, &Paint::stroke(colour, 0.8));
    let inward = (from - to).unit() * 1.2;
    svg.rectangle(Frame::centred(to + inward, 0.9, 2.6), 0.2, &Paint::fill(palette::INK));
}

/// A conductor: its colour inside a dark edge, so that white shows on paper.
fn wire(svg: &mut Svg, from: Spot, to: Spot, colour: &str) {
    let bend = (to.x - from.x) * 0.5;
    let path = format!(
        "M{} {}C{} {} {} {} {} {}",
        number(from.x),
        number(from.y),
        number(from.x + bend),
        number(from.y),
        number(to.x - bend),
        number(to.y),
        number(to.x),
        number(to.y)
    );
    svg.path(&path, &Paint::stroke(palette::INK, 0.95).round());
    svg.path(&path, &Paint::stroke(colour, 0.6).round());
}

/// Colour of a conductor by its name in the catalogue; ink for a name that is no plain colour.
fn conductor_colour(name: &str) -> &'static str {
    const COLOURS: [(&str, &str); 11] = [
        ("red", "#b5362b"),
        ("black", "#2b2622"),
        ("white", "#ffffff"),
        ("green", "#4a7d3c"),
        ("blue", "#2f5f9a"),
        ("yellow", "#d8b236"),
        ("brown", "#74502f"),
        ("orange", "#cf7a2c"),
        ("grey", "#8d8880"),
        ("gray", "#8d8880"),
        ("violet", "#6b4a86"),
    ];
    COLOURS.iter().find(|(n, _)| n.eq_ignore_ascii_case(name)).map_or(palette::INK, |(_, colour)| colour)
}
