//! A garden from above and aside: the plan tilted, what stands on it standing up, the sound painted on the ground.
//!
//! Painted from behind: [`plan_tree`] gives the order in which nothing is painted over that is before it. The ground is level
//! between its steps and lies below the eye, so that each part of it is painted before what stands on it. Left out: slopes,
//! eaves, openings in walls; and what lies below ground.

mod camera;
mod ground;
mod names;
mod painter;
mod plan_tree;
mod request;
mod standing;
mod things;

use super::key::{self, Entry, Sample};
use super::labels::Occupied;
use super::legend::level_entries;
use super::level_colours::{self, Band, Painted};
use super::spot::{Frame, Spot};
use super::svg::Svg;
use super::symbols;
use camera::Camera;
use indexmap::IndexMap;
use loamline_geometry::{Point2, Point3, bearing_between};
use loamline_limits::{PERSPECTIVE_PIECES, go_on};
use loamline_model::document::Neighbour;
use loamline_model::{Job, PlacedLoudspeaker};
use painter::Painter;
use plan_tree::{Part, PlanTree};
pub use request::{NeighbourMark, PerspectiveRequest};
use standing::{Face, Faces, Look};
use things::Thing;

/// Neighbours farther from the site than this share of its diagonal are told beside the picture: drawn, they would make the
/// garden small.
const NEAR_SHARE: f64 = 0.4;
/// Room round the picture for labels, millimetres.
const AROUND_MM: f64 = 5.0;

/// Most of the height that the key may take, and the same of what is told under the picture: the garden has the rest.
const KEY_SHARE: f64 = 0.4;
const TOLD_SHARE: f64 = 0.2;

/// The bearing along which a garden is usually shown: with the largest house at the back, where there is none the first neighbour.
pub fn usual_bearing_deg(job: &Job) -> f64 {
    let (low, high) = super::extent(job);
    let middle = low.lerp(high, 0.5);
    let d = job.document();
    let houses = d.buildings.values().max_by(|a, b| a.outline.area().total_cmp(&b.outline.area()));
    let back = houses.map(|b| b.outline.centroid()).or_else(|| d.neighbours.values().find_map(place_of));
    let bearing = back.filter(|b| b.distance(middle) > 1.0).map_or(0.0, |b| bearing_between(middle, b));
    // A little from the side, so that two faces of the house are seen.
    (bearing + 25.0).rem_euclid(360.0).round()
}

/// How far down one usually looks, degrees: high enough to see the ground behind a house, low enough that it stands; steeper
/// where walls round a small place would hide it.
const USUAL_TILT_DEG: f64 = 35.0;
const STEEPEST_USUAL_DEG: f64 = 60.0;
/// Share of the narrow side of a site that its highest wall may hide on the usual picture.
const HIDDEN_SHARE: f64 = 0.3;

/// How far down one usually looks at a garden, degrees below the horizon.
pub fn usual_tilt_deg(job: &Job) -> f64 {
    let (low, high) = super::extent(job);
    let narrow_m = (high.x - low.x).min(high.y - low.y);
    let highest_m = job.document().walls.values().map(|w| w.height_m).fold(0.0, f64::max);
    // A wall hides as much ground as it is high, over the tangent of the tilt.
    let needed_deg = highest_m.atan2(HIDDEN_SHARE * narrow_m).to_degrees();
    needed_deg.clamp(USUAL_TILT_DEG, STEEPEST_USUAL_DEG).round()
}

/// Draws the picture.
pub fn draw(request: &PerspectiveRequest<'_>) -> String {
    let near = near_neighbours(request);
    let mut beyond = names::beyond(request, &near);
    beyond.truncate((TOLD_SHARE * request.size_mm.1 / names::ROW_MM) as usize);
    let bands = painted_bands(request);
    let entries = key_that_fits(request, &bands);
    let (spots, key_mm) = key::layout(&entries, request.size_mm.0);
    let told_mm = beyond.len() as f64 * names::ROW_MM;
    let frame = Frame::new(0.3, 0.3, request.size_mm.0 - 0.3, request.size_mm.1 - key_mm - told_mm - 1.5);
    let camera = Camera::fitting(
        request.bearing_deg,
        request.tilt_deg,
        &seen(request, &near),
        frame.grown(-AROUND_MM),
    );
    let mut faces = Faces::of(request.job);
    for (mark, neighbour) in &near {
        let (foot_m, top_m) = things::boundary_heights_m(request.job, neighbour);
        let look = Look::Boundary(*mark);
        faces.line(Face { foot_m, top_m, look, one_sided: false }, &neighbour.line);
    }
    let whole_floor = ground::lies_on_one_floor(request.job);
    if let Some(site) = request.job.document().site.outline.as_ref().filter(|_| !whole_floor) {
        faces.along(Face { foot_m: 0.0, top_m: 0.0, look: Look::Edge, one_sided: false }, site.sides());
    }
    let (low, high) = plan_of(&faces, request.job);
    let tree = PlanTree::new(faces.pieces, low, high);
    let svg = Svg::new(request.size_mm.0, request.size_mm.1);
    let svg = if request.alone { svg.holding_widths() } else { svg };
    let occupied = Occupied { frame: frame.grown(-0.5), ..Occupied::default() };
    let mut painter =
        Painter { request, camera, svg, bands, faces: faces.faces, wanted: Vec::new(), occupied };
    painter.svg.define_clip("garden-frame", frame);
    painter.svg.open_clipped("garden", "garden-frame");
    if whole_floor {
        painter.whole_floor();
    }
    painter.back_to_front(&tree, whole_floor, &near);
    painter.svg.close();
    painter.names(&near);
    let mut svg = painter.svg;
    let told_at = request.size_mm.1 - key_mm - told_mm;
    names::write_rows(&mut svg, told_at, &beyond);
    key::draw(&mut svg, Spot::new(0.0, request.size_mm.1 - key_mm), &entries, &spots);
    svg.finish(request.title)
}

/// Whether so much stands on a site that no picture is made of it.
///
/// # Errors
/// The bound it passes.
pub fn can_be_drawn(job: &Job) -> Result<(), loamline_limits::Exceeded> {
    let d = job.document();
    let corners: usize = d.buildings.values().map(|b| b.outline.corners().len()).sum();
    let walls: usize = d.walls.values().map(|w| w.line.len()).sum();
    let lines: usize = d.neighbours.values().map(|n| n.line.len()).sum();
    let stepped = standing::has_steps(job);
    let ground: usize = d.surfaces.values().filter(|_| stepped).map(|s| s.outline.corners().len()).sum();
    PERSPECTIVE_PIECES.check(corners + walls + lines + ground)
}

impl Painter<'_, '_> {
    fn back_to_front(&mut self, tree: &PlanTree, whole_floor: bool, near: &[(usize, &Neighbour)]) {
        let eye = self.camera.eye.plan();
        let mut standing: IndexMap<usize, Vec<Thing>> = IndexMap::new();
        for thing in things::things(self.request, near) {
            standing.entry(tree.cell_of(thing.at().plan())).or_default().push(thing);
        }
        for part in tree.back_to_front(eye) {
            go_on();
            match part {
                Part::Cell(slot, corners) => {
                    self.cell(corners, whole_floor);
                    if let Some(mut here) = standing.swap_remove(&slot) {
                        here.sort_by(|a, b| {
                            self.camera.depth_m(b.at()).total_cmp(&self.camera.depth_m(a.at()))
                        });
                        here.iter().for_each(|thing| self.thing(thing));
                    }
                    self.roof(corners);
                }
                Part::Upright(pieces) => self.upright(pieces, eye),
            }
        }
    }
}

/// A place of a neighbour.
fn place_of(n: &Neighbour) -> Option<Point2> {
    n.points.first().or(n.line.first()).copied()
}

/// Neighbours near enough to be drawn, with their place among the marks.
fn near_neighbours<'a>(request: &PerspectiveRequest<'a>) -> Vec<(usize, &'a Neighbour)> {
    let (low, high) = super::extent(request.job);
    let reach = low.distance(high) * NEAR_SHARE;
    let off = |v: f64, low: f64, high: f64| (low - v).max(v - high).max(0.0);
    let is_near = |p: &Point2| off(p.x, low.x, high.x).hypot(off(p.y, low.y, high.y)) <= reach;
    let known = request.neighbours.iter().enumerate();
    let found = known.filter_map(|(k, m)| Some((k, request.job.document().neighbours.get(&m.id)?)));
    found.filter(|(_, n)| n.points.iter().chain(&n.line).all(is_near)).collect()
}

/// Every place that must be in the picture.
fn seen(request: &PerspectiveRequest<'_>, near: &[(usize, &Neighbour)]) -> Vec<Point3> {
    let d = request.job.document();
    let (low, high) = super::extent(request.job);
    let mut seen: Vec<Point3> = match &d.site.outline {
        Some(site) => site.corners().iter().map(|c| c.at_height(0.0)).collect(),
        None => [low, Point2::new(high.x, low.y), high, Point2::new(low.x, high.y)]
            .map(|c| c.at_height(0.0))
            .to_vec(),
    };
    for (b, foot_m) in d.buildings.values().zip(standing::building_feet_m(request.job)) {
        let both = |c: &Point2| [c.at_height(foot_m), c.at_height(foot_m + b.height_m)];
        seen.extend(b.outline.corners().iter().flat_map(both));
    }
    for w in d.walls.values() {
        seen.extend(w.line.iter().map(|&c| request.job.above_ground(c, w.height_m)));
    }
    for (_, n) in near {
        let (_, top_m) = things::boundary_heights_m(request.job, n);
        seen.extend(n.points.iter().chain(&n.line).map(|c| c.at_height(top_m)));
        seen.extend(n.points.iter().chain(&n.line).map(|&c| request.job.above_ground(c, 0.0)));
    }
    for l in request.job.loudspeakers() {
        seen.extend([l.position, l.position.plan().at_height(l.position.z - l.height_m)]);
    }
    seen
}

/// The rectangle of plan that everything stands in.
fn plan_of(faces: &Faces, job: &Job) -> (Point2, Point2) {
    let (mut low, mut high) = super::extent(job);
    let surfaces = job.document().surfaces.values().flat_map(|s| s.outline.corners().iter().copied());
    for p in faces.pieces.iter().flat_map(|p| [p.from, p.to]).chain(surfaces) {
        low = Point2::new(low.x.min(p.x), low.y.min(p.y));
        high = Point2::new(high.x.max(p.x), high.y.max(p.y));
    }
    let around = Point2::new(1.0, 1.0);
    (low - around, high + around)
}

/// The bands that are somewhere on the ground, the quietest first.
fn painted_bands(request: &PerspectiveRequest<'_>) -> Vec<Painted> {
    let Some(field) = request.field else { return Vec::new() };
    let top_db = request.top_db.or_else(|| level_colours::top_db(field));
    top_db.map(|top_db| level_colours::painted(field, top_db, request.turned_down_db)).unwrap_or_default()
}

/// The key; on a small picture the levels alone, on the smallest none.
fn key_that_fits(request: &PerspectiveRequest<'_>, bands: &[Painted]) -> Vec<Entry> {
    let mut entries = if request.key { key_entries(request, bands) } else { Vec::new() };
    let fits = |entries: &[Entry]| key::layout(entries, request.size_mm.0).1 <= KEY_SHARE * request.size_mm.1;
    if !fits(&entries) {
        entries.retain(|e| matches!(e.sample, Sample::Level(_)));
    }
    if !fits(&entries) {
        entries.clear();
    }
    entries
}

fn key_entries(request: &PerspectiveRequest<'_>, bands: &[Painted]) -> Vec<Entry> {
    let words = request.words;
    let mut entries = Vec::new();
    let mut add = |sample: Sample, text: String| entries.push(Entry { sample, text });
    let symbol = |l: &PlacedLoudspeaker<'_>| symbols::loudspeaker_symbol(l.model.kind, l.mount);
    for name in symbols::LOUDSPEAKERS {
        if request.job.loudspeakers().any(|l| symbol(&l) == name) {
            add(Sample::Loudspeaker(name), words.get(&format!("plan.symbol.{name}")).to_owned());
        }
    }
    if !request.neighbours.is_empty() {
        add(Sample::Neighbour, words.get("plan.neighbour").to_owned());
    }
    let bands: Vec<Band> = bands.iter().map(|p| p.band.clone()).collect();
    entries.extend(level_entries(&bands, words));
    entries
}

#[cfg(test)]
#[path = "tests.rs"]
mod tests;
