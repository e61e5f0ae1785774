//! A sketch of how a loudspeaker is taped in: fixed points, tapes, distances. Not to scale.

use super::key;
use super::measure::Face;
use super::palette;
use super::spot::{Frame, Spot, View};
use super::svg::{Align, Lettering, Paint, Svg};
use super::symbols;
use crate::taping::Taping;
use loamline_geometry::Point2;
use loamline_model::document::WallKind;
use loamline_model::{Job, PlacedLoudspeaker};

/// Size of the sketch, millimetres.
pub const SIZE_MM: (f64, f64) = (70.0, 44.0);

/// Draws the sketch. `distances` are the two distances as they are printed.
pub fn draw(
    job: &Job,
    speaker: &PlacedLoudspeaker<'_>,
    taping: &Taping,
    distances: [&str; 2],
    colour: &'static str,
    title: &str,
) -> String {
    let at = speaker.placed.position;
    let points = [at, taping.first.position, taping.second.position];
    let frame = Frame::new(0.15, 0.15, SIZE_MM.0 - 0.15, SIZE_MM.1 - 0.15);
    let (low, high) = points.iter().fold((at, at), |(l, h), p| {
        (Point2::new(l.x.min(p.x), l.y.min(p.y)), Point2::new(h.x.max(p.x), h.y.max(p.y)))
    });
    let room = |length: f64, paper: f64| (paper - 22.0) / length.max(1.0);
    let mm_per_m = room(high.x - low.x, frame.width()).min(room(high.y - low.y, frame.height() + 4.0));
    let view = View { centre: low.lerp(high, 0.5), mm_per_m, frame };
    let mut svg = Svg::new(SIZE_MM.0, SIZE_MM.1);
    for pattern in palette::PATTERNS {
        svg.define(pattern);
    }
    svg.define_clip("sketch-frame", frame);
    svg.open_clipped("sketch", "sketch-frame");
    surroundings(&mut svg, &view, job);
    let spots = view.spots(&points);
    for k in 0..2 {
        tape(&mut svg, spots[k + 1], spots[0], distances[k]);
    }
    for (point, spot) in [(&taping.first, spots[1]), (&taping.second, spots[2])] {
        symbols::mark(&mut svg, spot);
        label(&mut svg, frame, spot, view.frame.centre(), &point.id, palette::INK);
    }
    let placed = speaker.placed;
    symbols::loudspeaker(
        &mut svg,
        spots[0],
        placed.bearing_deg,
        Some(speaker.model.kind),
        Some(speaker.mount),
        colour,
    );
    let between = spots[1].lerp(spots[2], 0.5);
    label(&mut svg, frame, spots[0], between, speaker.id, colour);
    svg.close();
    svg.rectangle(frame, 0.0, &Paint::stroke(palette::HAIR, 0.3));
    svg.finish(title)
}

fn surroundings(svg: &mut Svg, view: &View, job: &Job) {
    let document = job.document();
    svg.open("surroundings");
    for surface in document.surfaces.values() {
        key::surface(svg, &view.spots(surface.outline.corners()), surface.kind, true);
    }
    for building in document.buildings.values() {
        let outline = view.spots(building.outline.corners());
        svg.outline(&outline, &Paint::fill(palette::BUILDING).and_stroke(palette::MASONRY, 0.35));
    }
    for wall in document.walls.values() {
        let line = view.spots(&wall.line);
        match wall.kind {
            WallKind::Masonry => key::masonry(svg, &line),
            WallKind::Fence => key::fence(svg, &line),
            WallKind::Hedge => key::hedge(svg, &line),
        }
    }
    svg.close();
}

fn tape(svg: &mut Svg, from: Spot, to: Spot, distance: &str) {
    svg.segment(from, to, &Paint::stroke(palette::INK, 0.25).dashed(&[1.2, 0.6]));
    let along = to - from;
    let turn = along.y.atan2(along.x).to_degrees();
    // Letters never stand on their heads.
    let turn = if turn.abs() > 90.0 { turn - 180.0 * turn.signum() } else { turn };
    let style = Lettering {
        face: Face::SemiBold,
        size_mm: 2.5,
        colour: palette::INK,
        align: Align::Middle,
        halo: Some(palette::SHEET),
    };
    let up = Spot::along(turn) * 0.8;
    svg.text_turned(from.lerp(to, 0.45) + up, turn, distance, style);
}

/// A tag beside a spot, on the side away from another, inside the frame.
fn label(svg: &mut Svg, frame: Frame, at: Spot, away_from: Spot, text: &str, colour: &str) {
    let d = (at - away_from).unit();
    let d = if d == Spot::default() { Spot::along(90.0) } else { d };
    let (w, h) = (key::tag_width(text), key::TAG_HEIGHT);
    let centre = at + Spot::new(d.x * (w / 2.0 + 2.4), d.y * (h / 2.0 + 2.6));
    let inside = Frame::new(
        frame.left + w / 2.0 + 0.5,
        frame.top + h / 2.0 + 0.5,
        frame.right - w / 2.0 - 0.5,
        frame.bottom - h / 2.0 - 0.5,
    );
    key::pill(svg, inside.nearest(centre), text, colour);
}
