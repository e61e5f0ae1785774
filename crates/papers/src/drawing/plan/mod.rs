//! The plan: site, system and labels at a true scale, with grid, scale bar, north and key.

mod land;
mod lettering;
pub(super) mod map_frame;
mod neighbours;
mod pen;
pub(super) mod request;
mod services;

pub use neighbours::floor_by_id;
pub use request::{PlanRequest, Reader};

use crate::drawing::cables::side_by_side;
use crate::drawing::furniture::{self, GRID_MARGIN};
use crate::drawing::key;
use crate::drawing::labels::{self, Anchor, Occupied};
use crate::drawing::legend::key_entries;
use crate::drawing::measure::Face;
use crate::drawing::name::SMALL_SIZE;
use crate::drawing::palette::{self, line_style};
use crate::drawing::spot::{Frame, Spot, View};
use crate::drawing::svg::{Paint, Svg};
use crate::drawing::symbols;
use loamline_geometry::{Point2, Polygon};
use loamline_model::PlacedLoudspeaker;
use loamline_model::document::WallKind;
use map_frame::{STRIP_GAP, map_frame};
use pen::Pen;

/// A finished plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// The drawing.
    pub svg: String,
    /// Tags that stand on it.
    pub tags: Vec<String>,
    /// Tags whose thing is on it, but for whose label there was no room.
    pub without_label: Vec<String>,
}

/// A request whose scale and middle make the whole site fill the drawing: for plans that carry a scale bar, not a scale
/// to measure by.
pub fn filled(request: PlanRequest<'_>) -> PlanRequest<'_> {
    let (low, high) = crate::drawing::extent(request.job);
    filled_with(request, low, high)
}

/// The same for a part of the site, given by two corners.
pub fn filled_with(request: PlanRequest<'_>, low: Point2, high: Point2) -> PlanRequest<'_> {
    let key_height = key::layout(&key_entries(&request), request.size_mm.0).1;
    let frame = map_frame(request.reader, request.size_mm, key_height);
    let mm_per_m = (frame.width() / (high.x - low.x)).min(frame.height() / (high.y - low.y));
    PlanRequest { centre: low.lerp(high, 0.5), mm_per_m, ..request }
}

/// Height at which the whole site fills a drawing of the request's width, key and scale bar included, millimetres.
pub fn height_filled_mm(request: &PlanRequest<'_>) -> f64 {
    let (low, high) = crate::drawing::extent(request.job);
    let key_height = key::layout(&key_entries(request), request.size_mm.0).1;
    let frame = map_frame(request.reader, (request.size_mm.0, 0.0), key_height);
    // Of a drawing without height the frame ends above where it begins, by what stands under the map.
    frame.width() * (high.y - low.y) / (high.x - low.x) + frame.top - frame.bottom
}

/// Draws a plan.
pub fn draw(request: &PlanRequest<'_>) -> Plan {
    let entries = key_entries(request);
    let (spots, key_height) = key::layout(&entries, request.size_mm.0);
    let frame = map_frame(request.reader, request.size_mm, key_height);
    let view = View { centre: request.centre, mm_per_m: request.mm_per_m, frame };
    let mut svg = Svg::new(request.size_mm.0, request.size_mm.1);
    for pattern in palette::PATTERNS {
        svg.define(pattern);
    }
    svg.define_clip("map-frame", frame);
    let mut pen = Pen { request, view, svg, wanted: Vec::new(), occupied: Occupied::default() };
    pen.occupied.frame = frame.grown(-0.6);
    pen.svg.open_clipped("map", "map-frame");
    pen.land();
    pen.built();
    if request.reader == Reader::Crew {
        pen.underground();
    }
    pen.areas();
    let ways = if request.reader.sees_the_system() { pen.cables() } else { Vec::new() };
    pen.equipment();
    if request.reader == Reader::Owner {
        // What each cable is called stands on the as-built plan: a gardener wants to know where it lies.
        pen.line_tags();
    } else if request.parts.is_empty() {
        pen.run_tags(&ways);
        pen.series_notes();
    } else {
        pen.line_tags();
        pen.parts();
    }
    pen.numbers();
    let (tags, without_label) = pen.labels();
    pen.svg.close();
    let mut svg = pen.svg;
    if request.reader == Reader::Crew {
        furniture::grid_figures(&mut svg, &view, request.units);
    }
    svg.rectangle(frame, 0.0, &Paint::stroke(palette::INK, 0.3));
    let below = frame.bottom + if request.reader == Reader::Crew { GRID_MARGIN } else { STRIP_GAP };
    let bar = furniture::scale_bar(&mut svg, Spot::new(frame.left, below), request.mm_per_m, request.units);
    let north = Spot::new(frame.left + bar + 16.0, below + 2.6);
    furniture::north(
        &mut svg,
        north,
        request.job.document().site.true_north_deg,
        request.words.get("plan.north"),
    );
    key::draw(&mut svg, Spot::new(0.0, request.size_mm.1 - key_height), &entries, &spots);
    Plan { svg: svg.finish(request.title), tags, without_label }
}

impl Pen<'_, '_> {
    fn outline(&self, polygon: &Polygon) -> Vec<Spot> {
        self.view.spots(polygon.corners())
    }

    fn crew(&self) -> bool {
        self.request.reader == Reader::Crew
    }

    /// Buildings, walls, fences, hedges.
    fn built(&mut self) {
        let document = self.request.job.document();
        self.svg.open("built");
        for building in document.buildings.values() {
            let outline = self.outline(&building.outline);
            let edge = Paint::fill(palette::BUILDING).and_stroke(palette::MASONRY, 0.4);
            self.svg.outline(&outline, &edge);
            self.svg.outline(&outline, &Paint::fill("url(#p-building)"));
            if !building.name.is_empty() {
                let spots = self.inside(&building.outline);
                self.name(&building.name, palette::INK, Anchor::Inside(spots));
            }
        }
        for wall in document.walls.values() {
            let line = self.view.spots(&wall.line);
            match wall.kind {
                WallKind::Masonry => key::masonry(&mut self.svg, &line),
                WallKind::Fence => key::fence(&mut self.svg, &line),
                WallKind::Hedge => key::hedge(&mut self.svg, &line),
            }
            self.strokes(&line);
        }
        self.svg.close();
    }

    /// What is there already and must be known before a spade goes in; the grid for finding it.
    fn underground(&mut self) {
        let document = self.request.job.document();
        furniture::grid_lines(&mut self.svg, &self.view, self.request.units);
        self.svg.open("underground");
        for (id, sleeve) in &document.sleeves {
            let line = self.view.spots(&sleeve.line);
            key::sleeve(&mut self.svg, &line, key::sleeve_width(self.request.mm_per_m));
            self.strokes(&line);
            self.small(id, palette::QUIET, Anchor::Along(line));
        }
        for stub in document.stubs.values() {
            let rack = document.rack_of_stub(stub).and_then(|rack| document.racks.get(rack));
            if let Some(rack) = rack {
                let line = self.view.spots(&[rack.position, stub.position]);
                key::existing(&mut self.svg, &line);
                self.strokes(&line);
            }
        }
        for (id, no_go) in &document.no_go {
            let outline = self.outline(&no_go.outline);
            key::no_go(&mut self.svg, &outline);
            self.hatched(&outline);
            let spots = self.inside(&no_go.outline);
            let beside = Anchor::Symbol {
                at: self.view.spot(no_go.outline.centroid()),
                radius: outline_radius(&outline),
            };
            let fits = Face::Italic.width(id, SMALL_SIZE) + 1.0 < 2.0 * outline_radius(&outline);
            self.small(id, palette::WARNING, if fits { Anchor::Inside(spots) } else { beside });
        }
        for passage in document.passages.values() {
            let at = self.view.spot(passage.position);
            symbols::passage(&mut self.svg, at);
            if self.view.frame.contains(at) {
                self.occupied.blocks.push(Frame::centred(at, PASSAGE_MM.0, PASSAGE_MM.1));
            }
        }
        self.services();
        self.svg.close();
    }

    fn areas(&mut self) {
        let document = self.request.job.document();
        self.svg.open("areas");
        for area in document.areas.values() {
            let outline = self.outline(&area.outline);
            if self.request.field.is_some() {
                // Seen on the darkest band too.
                self.svg.outline(&outline, &Paint::stroke(palette::SHEET, AREA_HALO).opacity(0.75));
            }
            key::area(&mut self.svg, &outline);
            self.strokes_closed(&outline);
        }
        self.svg.close();
        for (id, area) in &document.areas {
            let name = if area.name.is_empty() { id } else { &area.name };
            let target = loamline_terms::fixed(area.target_dba, 0);
            let text = self.request.words.fill("plan.area_label", &[("name", name), ("level", &target)]);
            let spots = self.inside(&area.outline);
            self.name(&text, palette::AREA, Anchor::Inside(spots));
        }
    }

    fn shown_line(&self, line: Option<&str>) -> bool {
        self.request.only_line.is_none_or(|only| line == Some(only))
    }

    /// Cables, side by side where they share a way. Comes back with the tag of every cable, the colour and way of its first
    /// run here.
    fn cables(&mut self) -> Vec<(String, &'static str, Vec<Spot>)> {
        let job = self.request.job;
        let mut tags = Vec::new();
        let mut ways = Vec::new();
        for (i, line) in job.lines().enumerate() {
            if !self.shown_line(Some(line.id)) {
                continue;
            }
            for run in job.runs(line.id) {
                tags.push((line.id, run.id, i));
                ways.push(self.view.spots(&run.way));
            }
        }
        let ways = side_by_side(&ways);
        self.svg.open("cables");
        for ((_, _, line), way) in tags.iter().zip(&ways) {
            let style = line_style(*line);
            self.svg.polyline(way, &Paint::stroke(palette::SHEET, CABLE_HALO).opacity(0.75).round());
            self.svg.polyline(way, &Paint::stroke(style.colour, key::CABLE_WIDTH).dashed(style.dash_mm));
        }
        self.svg.close();
        for way in &ways {
            self.strokes(way);
        }
        let mut told: Vec<(String, &'static str, Vec<Spot>)> = Vec::new();
        for ((line, run, style), way) in tags.into_iter().zip(ways) {
            let cable = self.request.laid.iter().find(|c| c.holds(line, run));
            let tag = cable.map_or(run, |c| c.tag.as_str());
            if !told.iter().any(|(other, ..)| other == tag) {
                told.push((tag.to_owned(), line_style(style).colour, way));
            }
        }
        told
    }

    fn equipment(&mut self) {
        let job = self.request.job;
        let document = job.document();
        let colours: Vec<(&str, &'static str)> =
            job.lines().enumerate().map(|(i, l)| (l.id, line_style(i).colour)).collect();
        let colour_of = |line: Option<&str>| {
            let found = line.and_then(|line| colours.iter().find(|(id, _)| *id == line));
            found.map_or(palette::INK, |(_, colour)| colour)
        };
        self.svg.open("equipment");
        if self.crew() {
            for (id, mark) in &document.marks {
                let at = self.view.spot(mark.position);
                symbols::mark(&mut self.svg, at);
                self.symbol(id, at, symbols::SMALL_RADIUS, palette::INK);
            }
            for (id, stub) in &document.stubs {
                let at = self.view.spot(stub.position);
                symbols::stub(&mut self.svg, at);
                self.symbol(id, at, symbols::SMALL_RADIUS, palette::INK);
            }
        }
        if self.request.reader.sees_the_system() {
            for (id, joint) in &document.joints {
                let line = job.lines().find(|l| l.tree.nodes().any(|n| n == id)).map(|l| l.id);
                if !self.shown_line(line) {
                    continue;
                }
                let at = self.view.spot(joint.position);
                symbols::joint(&mut self.svg, at, joint.kind, colour_of(line));
                if !self.crew() || !self.request.parts.is_empty() {
                    continue;
                }
                self.symbol(id, at, symbols::SMALL_RADIUS, colour_of(line));
            }
            for (id, rack) in &document.racks {
                let at = self.view.spot(rack.position);
                symbols::rack(&mut self.svg, at);
                self.symbol(id, at, symbols::RACK_RADIUS, palette::INK);
            }
        }
        self.neighbours();
        let all: Vec<PlacedLoudspeaker<'_>> = job.loudspeakers().collect();
        for speaker in &all {
            if !self.shown_line(speaker.placed.line.as_deref()) {
                continue;
            }
            let at = self.view.spot(speaker.placed.position);
            let system = self.request.reader.sees_the_system();
            let colour = if system { colour_of(speaker.placed.line.as_deref()) } else { palette::INK };
            let bearing = speaker.placed.bearing_deg;
            let mate = all.iter().find(|other| symbols::back_to_back(speaker, other));
            let place = |id: &str| document.loudspeakers.get_index_of(id);
            let name = match &mate {
                Some(_) => "pair",
                None => symbols::loudspeaker_symbol(speaker.model.kind, speaker.mount),
            };
            // One symbol stands for both of a pair: that of the first.
            if mate.is_none_or(|mate| place(speaker.id) < place(mate.id)) {
                symbols::loudspeaker(&mut self.svg, at, bearing, name, colour);
            }
            if symbols::has_flare(speaker.model.kind) && self.view.frame.contains(at) {
                let flare = at + Spot::towards(bearing) * 1.7;
                self.occupied.blocks.push(Frame::centred(flare, 2.2, 2.2));
            }
            if system && self.request.parts.is_empty() {
                self.symbol(speaker.id, at, symbols::LOUDSPEAKER_RADIUS, colour);
            } else if system && all.len() <= TAGGED_ON_OVERVIEW {
                self.symbol_close(speaker.id, at, symbols::LOUDSPEAKER_RADIUS, colour);
            }
        }
        self.svg.close();
    }

    fn strokes(&mut self, line: &[Spot]) {
        self.occupied.strokes.extend(line.windows(2).map(|p| (p[0], p[1])));
    }

    fn strokes_closed(&mut self, outline: &[Spot]) {
        self.strokes(outline);
        if let (Some(&last), Some(&first)) = (outline.last(), outline.first()) {
            self.occupied.strokes.push((last, first));
        }
    }

    /// Makes it dear for a name to cover a hatched outline.
    fn hatched(&mut self, outline: &[Spot]) {
        self.strokes_closed(outline);
        let (low, high) = outline.iter().fold((f64::MAX, f64::MIN), |(l, h), s| (l.min(s.y), h.max(s.y)));
        let (west, east) = outline.iter().fold((f64::MAX, f64::MIN), |(l, h), s| (l.min(s.x), h.max(s.x)));
        for k in 1..6 {
            let y = low + (high - low) * f64::from(k) / 6.0;
            self.occupied.strokes.push((Spot::new(west, y), Spot::new(east, y)));
        }
    }

    /// The part of a way from its first to its last point on the map.
    fn visible(&self, way: &[Spot]) -> Vec<Spot> {
        let total: f64 = way.windows(2).map(|p| p[0].distance(p[1])).sum();
        let steps = ((total / 1.0).ceil() as usize).clamp(1, 2000);
        let at = |k: usize| labels::point_at(way, total * k as f64 / steps as f64);
        (0..=steps).filter_map(at).filter(|&p| self.view.frame.contains(p)).collect()
    }

    /// Spots inside an outline, from its middle outwards.
    fn inside(&self, polygon: &Polygon) -> Vec<Spot> {
        let middle = polygon.centroid();
        let (low, high) = polygon.bounds();
        let mut points: Vec<Point2> = (0..=16)
            .flat_map(|i| (0..=16).map(move |j| (f64::from(i) / 16.0, f64::from(j) / 16.0)))
            .map(|(u, v)| Point2::new(low.x + (high.x - low.x) * u, low.y + (high.y - low.y) * v))
            .chain([middle])
            .filter(|&p| polygon.contains(p))
            .collect();
        points.sort_by(|a, b| a.distance(middle).total_cmp(&b.distance(middle)));
        self.view.spots(&points)
    }
}

const CABLE_HALO: f64 = 0.75;
const AREA_HALO: f64 = 0.7;
/// Most loudspeakers that have their tags on a plan of the parts too, where they fit: more would hide the lines it is for.
const TAGGED_ON_OVERVIEW: usize = 40;
/// Width and height of a passage's symbol, millimetres.
const PASSAGE_MM: (f64, f64) = (3.8, 3.0);

/// Half the smaller side of an outline's bounds, millimetres.
fn outline_radius(outline: &[Spot]) -> f64 {
    let range = |f: fn(&Spot) -> f64| {
        let values = outline.iter().map(f);
        let (low, high) = values.fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(v), h.max(v)));
        high - low
    };
    range(|s| s.x).min(range(|s| s.y)) / 2.0
}
