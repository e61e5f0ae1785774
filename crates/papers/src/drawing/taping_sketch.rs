//! A sketch of how a loudspeaker is taped in: fixed points, tapes, distances. Not to scale.

use super::key;
use super::labels::{self, Anchor, Label, Occupied};
use super::measure::{CAP_HEIGHT, Face};
use super::palette;
use super::spot::{Frame, Spot, View};
use super::svg::{Align, Lettering, Paint, Svg};
use super::symbols;
use crate::taping::Taping;
use loamline_geometry::Point2;
use loamline_model::document::WallKind;
use loamline_model::{Job, PlacedLoudspeaker};

/// Size of the sketch, millimetres.
pub const SIZE_MM: (f64, f64) = (70.0, 41.0);

/// Size of the letters of a distance, millimetres.
const DISTANCE_SIZE: f64 = 2.5;

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
    for mark in &spots[1..] {
        svg.segment(*mark, spots[0], &Paint::stroke(palette::INK, 0.25).dashed(&[1.2, 0.6]));
        symbols::mark(&mut svg, *mark);
    }
    let placed = speaker.placed;
    let stake = job.stake_of(speaker.id).unwrap_or(speaker.id);
    let on_it = |o: &PlacedLoudspeaker<'_>| o.id == stake || job.stake_of(o.id) == Some(stake);
    let others: Vec<PlacedLoudspeaker<'_>> =
        job.loudspeakers().filter(|o| o.id != speaker.id && on_it(o)).collect();
    // Others on the same stake, pale: this sheet is about one aim.
    for other in &others {
        let name = symbols::loudspeaker_symbol(other.model.kind, other.mount);
        symbols::loudspeaker(&mut svg, spots[0], other.placed.bearing_deg, name, palette::HAIR);
    }
    let name = symbols::loudspeaker_symbol(speaker.model.kind, speaker.mount);
    symbols::loudspeaker(&mut svg, spots[0], placed.bearing_deg, name, colour);
    let bearings = others.iter().map(|o| o.placed.bearing_deg).chain([placed.bearing_deg]);
    let flares = bearings.map(|b| Frame::centred(spots[0] + Spot::towards(b) * 1.7, 2.2, 2.2));
    let occupied = Occupied {
        frame: frame.grown(-0.5),
        blocks: flares.chain(spots.iter().map(|&s| Frame::centred(s, 3.0, 3.0))).collect(),
        strokes: vec![(spots[1], spots[0]), (spots[2], spots[0])],
    };
    labels(
        &mut svg,
        &occupied,
        &spots,
        [(speaker.id, colour), (&taping.first.id, palette::INK), (&taping.second.id, palette::INK)],
        distances,
    );
    svg.close();
    svg.rectangle(frame, 0.0, &Paint::stroke(palette::HAIR, 0.3));
    svg.finish(title)
}

fn surroundings(svg: &mut Svg, view: &View, job: &Job) {
    let document = job.document();
    svg.open("surroundings");
    if let Some(site) = &document.site.outline {
        svg.rectangle(view.frame, 0.0, &Paint::fill(palette::BEYOND));
        key::surface(svg, &view.spots(site.corners()), document.site.ground, true);
    }
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

/// The three tags at their spots and the two distances on their tapes, none over another.
fn labels(svg: &mut Svg, occupied: &Occupied, spots: &[Spot], tags: [(&str, &str); 3], distances: [&str; 2]) {
    let at_symbol = |(&at, (text, _)): (&Spot, &(&str, &str))| Label {
        width: key::tag_width(text),
        height: key::TAG_HEIGHT,
        anchor: Anchor::Symbol { at, radius: symbols::LOUDSPEAKER_RADIUS },
    };
    let on_tape = |(mark, text): (&Spot, &&str)| Label {
        width: Face::SemiBold.width(text, DISTANCE_SIZE) + 1.2,
        height: DISTANCE_SIZE * CAP_HEIGHT + 1.3,
        anchor: Anchor::Along(vec![*mark, spots[0]]),
    };
    let wanted: Vec<Label> = spots
        .iter()
        .zip(&tags)
        .map(at_symbol)
        .chain(spots[1..].iter().zip(&distances).map(on_tape))
        .collect();
    for (k, placed) in labels::place(&wanted, occupied).into_iter().enumerate() {
        let Some(placed) = placed else { continue };
        if let Some((from, to)) = placed.leader {
            svg.segment(from, to, &Paint::stroke(palette::INK, 0.18));
        }
        let middle = placed.frame.centre();
        match tags.get(k) {
            Some((text, colour)) => key::pill(svg, middle, text, colour),
            None => {
                svg.rectangle(placed.frame, 0.4, &Paint::fill(palette::SHEET).opacity(0.85));
                let style = Lettering {
                    face: Face::SemiBold,
                    size_mm: DISTANCE_SIZE,
                    colour: palette::INK,
                    align: Align::Middle,
                    halo: None,
                };
                let base = middle + Spot::new(0.0, DISTANCE_SIZE * CAP_HEIGHT / 2.0);
                svg.text(base, distances[k - tags.len()], style);
            }
        }
    }
}
