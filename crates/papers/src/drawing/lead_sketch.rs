//! A sketch of a lead: contacts of the source's connector on the left, of the amplifier's input on the right, and a line
//! for each conductor. The screen is dashed; what is joined at the amplifier has a bridge between its contacts.

use super::measure::{Face, LEAST_TEXT_MM};
use super::palette;
use super::sketch::{note, way};
use super::spot::{Frame, Spot};
use super::svg::{Align, Paint, Svg};
use crate::pins::{LeadWiring, Purpose};
use crate::words::Words;

const WIDTH: f64 = 84.0;
const ROW: f64 = 6.0;
const TOP: f64 = 6.0;
/// Width of a connector, and of the room beside it for the bridge.
const CONNECTOR: f64 = 23.0;
const BRIDGE: f64 = 4.0;

/// Size of the sketch of a lead, millimetres.
pub fn size_mm(wiring: &LeadWiring) -> (f64, f64) {
    (WIDTH, TOP + wiring.source.len().max(wiring.amplifier.len()) as f64 * ROW + 1.0)
}

/// Draws a lead; `ends` are what stands over the two connectors.
pub fn draw(wiring: &LeadWiring, ends: [&str; 2], words: &Words, title: &str) -> String {
    let (width, height) = size_mm(wiring);
    let mut svg = Svg::new(width, height);
    let middle = TOP + (height - TOP) / 2.0;
    let row = |k: usize, count: usize| middle + (k as f64 - (count as f64 - 1.0) / 2.0) * ROW;
    let left = |k| Spot::new(CONNECTOR, row(k, wiring.source.len()));
    let right = |k| Spot::new(width - CONNECTOR, row(k, wiring.amplifier.len()));
    for (from, to) in &wiring.wires {
        let screen = wiring.source[*from].purpose == Purpose::Screen;
        conductor(&mut svg, left(*from), right(*to), screen);
    }
    if wiring.joined {
        let of = |purpose| wiring.amplifier.iter().position(|c| c.purpose == purpose);
        if let (Some(minus), Some(screen)) = (of(Purpose::Minus), of(Purpose::Screen)) {
            let (a, b) = (right(minus), right(screen));
            let x = a.x - BRIDGE;
            let bridge = [a, Spot::new(x, a.y), Spot::new(x, b.y), b];
            svg.polyline(&bridge, &Paint::stroke(palette::INK, 0.6).round());
            let at = Spot::new(x - 1.2, (a.y + b.y) / 2.0 + 0.8);
            note(&mut svg, at, words.get("pin.joined"), Face::Italic, Align::End, LEAST_TEXT_MM);
        }
    }
    let columns = [(&wiring.source, ends[0], true), (&wiring.amplifier, ends[1], false)];
    for (contacts, end, is_left) in columns {
        let (from, to) = if is_left { (0.3, CONNECTOR) } else { (width - CONNECTOR, width - 0.3) };
        let frame = Frame { left: from, top: TOP - 1.0, right: to, bottom: height - 0.5 };
        svg.rectangle(frame, 1.2, &Paint::fill("#f4efe6").and_stroke(palette::INK, 0.25));
        let over = Spot::new(if is_left { 0.3 } else { width - 0.3 }, TOP - 2.4);
        note(
            &mut svg,
            over,
            end,
            Face::SemiBold,
            if is_left { Align::Start } else { Align::End },
            LEAST_TEXT_MM,
        );
        for (k, c) in contacts.iter().enumerate() {
            let at = if is_left { left(k) } else { right(k) };
            svg.circle(at, 1.0, &Paint::fill(palette::SHEET).and_stroke(palette::INK, 0.4));
            let (x, align) = if is_left { (at.x - 2.2, Align::End) } else { (at.x + 2.2, Align::Start) };
            note(&mut svg, Spot::new(x, at.y + 0.8), words.get(c.name), Face::Regular, align, LEAST_TEXT_MM);
        }
    }
    svg.finish(title)
}

fn conductor(svg: &mut Svg, from: Spot, to: Spot, screen: bool) {
    let path = way(from, to);
    let paint = Paint::stroke(palette::INK, if screen { 0.9 } else { 0.6 });
    svg.path(&path, &if screen { paint.dashed(&[1.6, 1.0]) } else { paint });
}
