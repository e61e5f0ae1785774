//! A sketch of a joint: cables from the rack on the left, cables onward and the loudspeaker on the right, one
//! connector for each conductor, a service loop in every cable. A cable that carries two lines is striped in both
//! their colours.

use super::key;
use super::measure::{Face, LEAST_TEXT_MM};
use super::palette;
use super::sketch::{note, way};
use super::spot::{Frame, Spot};
use super::svg::{Align, Paint, Svg, number};
use crate::words::Words;
use loamline_adapt::LaidCable;
use loamline_quotation::{JointConductor, JointNeed};

const WIDTH: f64 = 84.0;
const ROW: f64 = 7.0;
const END: f64 = 11.0;

/// Size of the sketch of a joint, millimetres.
pub fn size_mm(joint: &JointNeed) -> (f64, f64) {
    let rows = joint.conductors.len() as f64 * ROW;
    let ends = right_ends(joint).max(joint.arriving.len()) as f64 * END;
    (WIDTH, rows.max(ends).max(END) + 5.0)
}

fn right_ends(joint: &JointNeed) -> usize {
    joint.onward.len() + usize::from(joint.loudspeaker)
}

/// Draws the joint. `colour` gives the colour of a line.
pub fn draw(
    joint: &JointNeed,
    laid: &[LaidCable],
    colour: impl Fn(&str) -> &'static str,
    words: &Words,
    title: &str,
) -> String {
    let (width, height) = size_mm(joint);
    let mut svg = Svg::new(width, height);
    let middle = height / 2.0;
    let spread = |k: usize, count: usize, step: f64| middle + (k as f64 - (count as f64 - 1.0) / 2.0) * step;
    let ends = right_ends(joint);
    let (left, right) = (|k| spread(k, joint.arriving.len(), END), |k| spread(k, ends, END));
    let (sheath_left, sheath_right, connector) = (26.0, 60.0, 43.0);
    let colours = |tag: &str| -> Vec<&'static str> {
        let cable = laid.iter().find(|c| c.tag == tag);
        let lines: Vec<&'static str> =
            cable.map(LaidCable::lines).unwrap_or_default().into_iter().map(&colour).collect();
        if lines.is_empty() { vec![palette::INK] } else { lines }
    };
    // Where the wires of a cable leave its sheath.
    let mut sheaths: Vec<(&str, Spot)> = Vec::new();
    for (k, tag) in joint.arriving.iter().enumerate() {
        let at = Spot::new(sheath_left, left(k));
        cable(&mut svg, Spot::new(0.5, left(k)), at, &colours(tag));
        key::pill(&mut svg, Spot::new(pill_room(tag), left(k)), tag, colours(tag)[0]);
        sheaths.push((tag, at));
    }
    for (k, tag) in joint.onward.iter().enumerate() {
        let at = Spot::new(sheath_right, right(k));
        cable(&mut svg, Spot::new(width - 0.5, right(k)), at, &colours(tag));
        key::pill(&mut svg, Spot::new(width - pill_room(tag), right(k)), tag, colours(tag)[0]);
        sheaths.push((tag, at));
    }
    let speaker_y = right(joint.onward.len());
    if joint.loudspeaker {
        key::pill(&mut svg, Spot::new(width - 8.0, speaker_y), &joint.at, palette::INK);
    }
    for (k, conductor) in joint.conductors.iter().enumerate() {
        let at = Spot::new(connector, spread(k, joint.conductors.len(), ROW));
        for w in &conductor.wires {
            if let Some((_, sheath)) = sheaths.iter().find(|(tag, _)| *tag == w.cable) {
                wire(&mut svg, *sheath, at, conductor_colour(&w.colour));
            }
        }
        if let Some(terminal) = conductor.terminal {
            let to = Spot::new(width - 17.0, speaker_y + if terminal == '+' { -1.8 } else { 1.8 });
            wire(&mut svg, at, to, conductor_colour(conductor.colour()));
            let sign = if terminal == '+' { "+" } else { "\u{2212}" };
            note(&mut svg, to + Spot::new(0.6, 0.9), sign, Face::SemiBold, Align::Start, 3.0);
        }
        body(&mut svg, at, joint, conductor, words);
    }
    svg.finish(title)
}

/// The connector of a conductor, with its colour, its line where several meet, and how many wires it takes.
fn body(svg: &mut Svg, at: Spot, joint: &JointNeed, conductor: &JointConductor, words: &Words) {
    svg.rectangle(Frame::centred(at, 6.0, 3.4), 1.2, &Paint::fill("#e9e2d4").and_stroke(palette::INK, 0.25));
    let count = conductor.count();
    let inside = if count > 1 { count.to_string() } else { "\u{00d7}".to_owned() };
    note(svg, at + Spot::new(0.0, 0.85), &inside, Face::SemiBold, Align::Middle, LEAST_TEXT_MM);
    let colours = || {
        let named: Vec<String> = conductor.colours().into_iter().map(|c| words.colour(c)).collect();
        named.join(" / ")
    };
    let name = match &conductor.line {
        None => format!("{} · {}", words.colour(conductor.colour()), words.get("crew.spare")),
        Some(line) if joint.lines.len() > 1 => format!("{} · {line}", colours()),
        Some(_) => colours(),
    };
    note(svg, at + Spot::new(0.0, -2.3), &name, Face::Regular, Align::Middle, LEAST_TEXT_MM);
    if count < 2 {
        note(
            svg,
            at + Spot::new(4.0, 0.8),
            words.get("crew.capped"),
            Face::Italic,
            Align::Start,
            LEAST_TEXT_MM,
        );
    }
}

/// Distance of the middle of a tag from the edge of the sketch.
fn pill_room(tag: &str) -> f64 {
    (key::tag_width(tag) / 2.0 + 2.0).max(8.0)
}

/// A cable in its sheath with a service loop in it, and a strain relief where the conductors leave it.
fn cable(svg: &mut Svg, from: Spot, to: Spot, colours: &[&'static str]) {
    let middle = from.lerp(to, 0.72);
    let r = 2.0;
    let loop_path =
        format!("M{x} {y}a{r} {r} 0 1 1 0.1 0", x = number(middle.x), y = number(middle.y), r = number(r));
    let stripe = 2.0;
    for (k, colour) in colours.iter().enumerate() {
        let dash: &[f64] = if k == 0 { &[] } else { &[stripe, stripe] };
        svg.segment(from, to, &Paint::stroke(colour, 1.1).dashed(dash));
        svg.path(&loop_path, &Paint::stroke(colour, 0.8).dashed(dash));
    }
    let inward = (from - to).unit() * 1.2;
    svg.rectangle(Frame::centred(to + inward, 0.9, 2.6), 0.2, &Paint::fill(palette::INK));
}

/// A conductor: its colour inside a dark edge, so that white shows on paper.
fn wire(svg: &mut Svg, from: Spot, to: Spot, colour: &str) {
    let path = way(from, to);
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
