//! The ground with the sound on it, part by part.

use super::painter::Painter;
use super::plan_tree::{area_m2, inside, piece_inside};
use super::standing;
use crate::drawing::level_colours::Painted;
use crate::drawing::palette;
use crate::drawing::spot::Spot;
use crate::drawing::svg::{Paint, number};
use loamline_geometry::Point2;
use loamline_limits::go_on;
use loamline_model::Job;
use loamline_model::document::SurfaceKind;
use std::fmt::Write;

/// Colour of the edges of surfaces.
const EDGE: &str = "#8f8371";
/// How much of what is under water is seen: enough to read the level, little enough to see that it is water.
const WATER_SHARE: f64 = 0.45;
/// Surfaces that differ in height by less lie on one floor, metres.
const ONE_FLOOR_M: f64 = 0.005;

/// Whether nothing of the ground lies lower than where no surface is drawn: then that is painted once, and what is higher
/// over it.
pub fn lies_on_one_floor(job: &Job) -> bool {
    !standing::has_steps(job) || job.document().surfaces.values().all(|s| s.elevation_m > -ONE_FLOOR_M)
}

impl Painter<'_, '_> {
    /// All of the property at the height of the datum.
    pub(super) fn whole_floor(&mut self) {
        let d = self.request.job.document();
        let ring = match &d.site.outline {
            Some(site) => site.corners().to_vec(),
            None => {
                let (low, high) = crate::drawing::extent(self.request.job);
                vec![low, Point2::new(high.x, low.y), high, Point2::new(low.x, high.y)]
            }
        };
        let ring = self.camera.spots(&ring, 0.0);
        self.svg.define_clip_outline("garden-floor", &ring);
        self.svg.outline(&ring, &Paint::fill(palette::ground(d.site.ground).0));
        self.svg.open_clipped("floor", "garden-floor");
        for s in d.surfaces.values().filter(|s| s.elevation_m.abs() < ONE_FLOOR_M) {
            let outline = self.camera.spots(s.outline.corners(), 0.0);
            self.svg.outline(&outline, &Paint::fill(palette::ground(s.kind).0));
        }
        for Painted { band, rings } in &self.bands {
            let rings: Vec<Vec<Spot>> = rings.iter().map(|r| self.camera.spots(r, 0.0)).collect();
            self.svg.rings(&rings, &Paint::fill(band.colour));
        }
        for s in d.surfaces.values().filter(|s| s.elevation_m.abs() < ONE_FLOOR_M) {
            let outline = self.camera.spots(s.outline.corners(), 0.0);
            if s.kind == SurfaceKind::Water {
                self.svg.outline(&outline, &Paint::fill(palette::ground(s.kind).0).opacity(WATER_SHARE));
            }
            self.svg.outline(&outline, &Paint::stroke(EDGE, 0.14));
        }
        for area in d.areas.values() {
            let outline = self.camera.spots(area.outline.corners(), 0.0);
            self.svg.outline(&outline, &area_edge());
        }
        self.svg.close();
        self.svg.outline(&ring, &Paint::stroke(palette::QUIET, 0.3));
    }

    /// A part of the ground that nothing upright crosses; what the whole floor showed already is left as it is.
    pub(super) fn cell(&mut self, corners: &[Point2], whole_floor: bool) {
        let Some(middle) = middle_of(corners) else { return };
        let job = self.request.job;
        let d = job.document();
        let here = job.ground(middle);
        let height_m = here.elevation_m;
        let on_floor = height_m.abs() < ONE_FLOOR_M;
        let beyond = d.site.outline.as_ref().is_some_and(|site| !site.contains(middle));
        if (whole_floor && on_floor) || (beyond && here.surface.is_none()) {
            return;
        }
        go_on();
        let outline = self.camera.spots(corners, height_m);
        // The thin edge of its own colour closes the gap between it and the next.
        let fill = palette::ground(d.site.ground).0;
        self.svg.outline(&outline, &Paint::fill(fill).and_stroke(fill, 0.1));
        let here = d.surfaces.values().filter(|s| (s.elevation_m - height_m).abs() < ONE_FLOOR_M);
        let here: Vec<_> = here.map(|s| (s, inside(s.outline.corners(), corners))).collect();
        for (surface, part) in here.iter().filter(|(_, part)| !part.is_empty()) {
            let fill = palette::ground(surface.kind).0;
            let part = self.camera.spots(part, height_m);
            self.svg.outline(&part, &Paint::fill(fill).and_stroke(fill, 0.1));
        }
        self.bands_on(corners, height_m);
        for (surface, part) in here.iter().filter(|(_, part)| !part.is_empty()) {
            if surface.kind == SurfaceKind::Water {
                let part = self.camera.spots(part, height_m);
                let fill = palette::ground(surface.kind).0;
                self.svg.outline(&part, &Paint::fill(fill).opacity(WATER_SHARE));
            }
            self.edges_on(surface.outline.corners(), corners, height_m, &Paint::stroke(EDGE, 0.14));
        }
        for area in d.areas.values() {
            self.edges_on(area.outline.corners(), corners, height_m, &area_edge());
        }
    }

    /// The bands of levels on a part of the ground: from the loudest that covers all of it up.
    fn bands_on(&mut self, corners: &[Point2], height_m: f64) {
        let whole_m2 = area_m2(corners);
        let clipped: Vec<(&'static str, Vec<Vec<Point2>>)> = self
            .bands
            .iter()
            .map(|Painted { band, rings }| {
                let rings = rings.iter().map(|ring| inside(ring, corners));
                (band.colour, rings.filter(|r| !r.is_empty()).collect())
            })
            .collect();
        // Rings run round what is loud one way and round what is quiet the other.
        let covers = |rings: &Vec<Vec<Point2>>| {
            rings.iter().map(|r| area_m2(r)).sum::<f64>().abs() >= whole_m2 * (1.0 - 1e-9)
        };
        let from = clipped.iter().rposition(|(_, rings)| covers(rings)).unwrap_or(0);
        for (colour, rings) in &clipped[from.min(clipped.len())..] {
            let rings: Vec<Vec<Spot>> = rings.iter().map(|r| self.camera.spots(r, height_m)).collect();
            if !rings.is_empty() {
                self.svg.rings(&rings, &Paint::fill(colour).and_stroke(colour, 0.06));
            }
        }
    }

    /// What of an outline lies on a part of the ground, as one path.
    fn edges_on(&mut self, outline: &[Point2], corners: &[Point2], height_m: f64, paint: &Paint) {
        let mut data = String::new();
        for (i, &a) in outline.iter().enumerate() {
            let b = outline[(i + 1) % outline.len()];
            let Some((a, b)) = piece_inside(a, b, corners) else { continue };
            let (a, b) = (self.camera.spot(a.at_height(height_m)), self.camera.spot(b.at_height(height_m)));
            let _ = write!(data, "M{} {}L{} {}", number(a.x), number(a.y), number(b.x), number(b.y));
        }
        if !data.is_empty() {
            self.svg.path(&data, paint);
        }
    }
}

fn area_edge() -> Paint {
    Paint::stroke(palette::AREA, 0.3).dashed(&[1.4, 1.0])
}

/// A place inside a convex ring; none of what is thinner than a hair.
pub(super) fn middle_of(corners: &[Point2]) -> Option<Point2> {
    let count = corners.len() as f64;
    let inside = corners.len() >= 3 && area_m2(corners) > 1e-6;
    inside.then(|| corners.iter().fold(Point2::default(), |a, &b| a + b) * count.recip())
}
