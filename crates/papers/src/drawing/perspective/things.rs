//! What stands on the ground: faces of houses and walls, roofs, loudspeakers, the windows of neighbours.

use super::ground::middle_of;
use super::painter::Painter;
use super::plan_tree::Piece;
use super::request::PerspectiveRequest;
use super::standing::{self, Face, Look};
use crate::drawing::palette;
use crate::drawing::spot::{Frame, Spot};
use crate::drawing::svg::Paint;
use crate::drawing::symbols;
use loamline_geometry::{Point2, Point3, direction};
use loamline_model::Job;
use loamline_model::catalogue::LoudspeakerKind;
use loamline_model::document::{Neighbour, WallKind};

/// Colour of walls of houses in full light, and of their roofs.
const HOUSE: &str = "#e4dccf";
const ROOF: &str = "#cfc4b3";
const STONE: &str = "#b3a796";
const BOARDS: &str = "#c9b79c";
const LEAVES: &str = "#a3b18b";
const BANK: &str = "#c8bba6";
/// Share of its colour that a face keeps whose back is to the light. Darker hides what is on it.
const SHADE_SHARE: f64 = 0.74;
/// Least and most radius of a loudspeaker in the picture, millimetres: seen at arm's length, and not larger than the thing.
const RADIUS_MM: (f64, f64) = (0.9, 2.0);
/// Radius of a loudspeaker on site, metres (common practice, no source).
const RADIUS_M: f64 = 0.14;
/// Posts lower than this are not drawn, metres.
const LEAST_POST_M: f64 = 0.05;

/// Something that stands at one place.
pub enum Thing {
    Loudspeaker {
        at: Point3,
        ground_m: f64,
        bearing_deg: f64,
        kind: LoudspeakerKind,
    },
    /// A place of a neighbour, with its number among the marks.
    Window {
        at: Point3,
        ground_m: f64,
        mark: usize,
    },
}

impl Thing {
    pub const fn at(&self) -> Point3 {
        match self {
            Self::Loudspeaker { at, .. } | Self::Window { at, .. } => *at,
        }
    }
}

/// Heights between which a neighbour's boundary is drawn, above the datum, metres: from the lowest ground on it to the highest
/// place at which it is judged.
pub fn boundary_heights_m(job: &Job, neighbour: &Neighbour) -> (f64, f64) {
    let places = neighbour.points.iter().chain(&neighbour.line);
    let ground = places.map(|&p| job.ground(p).elevation_m);
    let (low, high) = ground.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), e| (l.min(e), h.max(e)));
    let above_m = neighbour.levels_m().into_iter().map(|l| l.1).fold(0.0, f64::max);
    if low.is_finite() { (low, high + above_m) } else { (0.0, above_m) }
}

/// Everything that stands at one place.
pub fn things(request: &PerspectiveRequest<'_>, near: &[(usize, &Neighbour)]) -> Vec<Thing> {
    let job = request.job;
    let speakers = job.loudspeakers().map(|l| {
        let ground_m = l.position.z - l.height_m;
        let at = standing::loudspeaker_at(job, &l);
        Thing::Loudspeaker {
            // What lies in the ground is seen by its lid.
            at: at.plan().at_height(at.z.max(ground_m)),
            ground_m,
            bearing_deg: l.placed.bearing_deg,
            kind: l.model.kind,
        }
    });
    let windows = near.iter().flat_map(|&(mark, n)| {
        let (_, top_m) = boundary_heights_m(job, n);
        n.points.iter().map(move |&p| Thing::Window {
            at: p.at_height(top_m),
            ground_m: job.ground(p).elevation_m,
            mark,
        })
    });
    speakers.chain(windows).collect()
}

impl Painter<'_, '_> {
    /// Pieces of faces on one cut, those that are seen.
    pub(super) fn upright(&mut self, pieces: &[Piece], eye: Point2) {
        for piece in pieces {
            let face = self.faces[piece.of];
            let turned_away = (piece.to - piece.from).cross(eye - piece.from) > 0.0;
            let [a, b] = [piece.from, piece.to];
            let (top_a, top_b) = (a.at_height(face.top_m), b.at_height(face.top_m));
            let top = [self.camera.spot(top_a), self.camera.spot(top_b)];
            if !(face.one_sided && turned_away) && face.top_m > face.foot_m {
                let foot =
                    [self.camera.spot(b.at_height(face.foot_m)), self.camera.spot(a.at_height(face.foot_m))];
                let corners = [top[0], top[1], foot[0], foot[1]];
                if let Some(paint) = self.paint_of(&face, piece, turned_away) {
                    self.svg.outline(&corners, &paint);
                }
                if face.look == Look::Building {
                    self.occupied.strokes.push((top[0], top[1]));
                }
            }
            match face.look {
                Look::Building => self.svg.polyline(&top, &Paint::stroke(palette::MASONRY, 0.22)),
                Look::Wall(WallKind::Masonry) => {
                    self.svg.polyline(&top, &Paint::stroke(palette::MASONRY, 0.45).round());
                }
                Look::Wall(_) => self.svg.polyline(&top, &Paint::stroke(palette::MASONRY, 0.2)),
                Look::Boundary(mark) => {
                    let colour = self.colour_of_mark(mark);
                    self.svg.polyline(&top, &Paint::stroke(colour, 0.5).dashed(&[1.2, 0.9]));
                }
                Look::Step => self.svg.polyline(&top, &Paint::stroke(palette::QUIET, 0.16)),
                Look::Edge => {}
            }
        }
    }

    /// How a face is painted in the light it has.
    fn paint_of(&self, face: &Face, piece: &Piece, turned_away: bool) -> Option<Paint> {
        let colour = match face.look {
            Look::Building => HOUSE,
            Look::Wall(WallKind::Masonry) => STONE,
            Look::Wall(WallKind::Fence) => BOARDS,
            Look::Wall(WallKind::Hedge) => LEAVES,
            Look::Step => BANK,
            Look::Boundary(mark) => {
                return Some(Paint::fill(self.colour_of_mark(mark)).opacity(0.16));
            }
            Look::Edge => return None,
        };
        let along = piece.to - piece.from;
        let seen_side = if turned_away { -1.0 } else { 1.0 };
        // Away from the right hand of the foot; light comes from the left of who looks, a little from behind.
        let away = Point2::new(along.y, -along.x) * (seen_side / along.norm().max(1e-9));
        let right = self.camera.right_in_plan();
        let behind = Point2::new(right.y, -right.x);
        let light = (behind * 0.6 - right * 0.8).dot(away);
        let share = SHADE_SHARE + (1.0 - SHADE_SHARE) * 0.5 * (1.0 + light);
        let lit = darkened(colour, share);
        Some(Paint::fill(&lit).and_stroke(&lit, 0.08))
    }

    fn colour_of_mark(&self, mark: usize) -> &'static str {
        let kept = self.request.neighbours.get(mark).is_none_or(|m| m.kept);
        if kept { palette::AREA } else { palette::WARNING }
    }

    /// The roof over a part of the plan, where a house stands and the eye is above it.
    pub(super) fn roof(&mut self, corners: &[Point2]) {
        let Some(middle) = middle_of(corners) else { return };
        let houses = self.request.job.document().buildings.values().zip(&self.faces);
        let over = houses.filter(|(b, _)| b.outline.contains(middle));
        let Some(top_m) =
            over.map(|(_, face)| face.top_m).reduce(f64::max).filter(|&top_m| top_m < self.camera.eye.z)
        else {
            return;
        };
        let outline = self.camera.spots(corners, top_m);
        self.svg.outline(&outline, &Paint::fill(ROOF).and_stroke(ROOF, 0.1));
    }

    pub(super) fn thing(&mut self, thing: &Thing) {
        match *thing {
            Thing::Loudspeaker { at, ground_m, bearing_deg, kind } => {
                self.post(at, ground_m, palette::INK);
                self.loudspeaker(at, bearing_deg, kind);
            }
            Thing::Window { at, ground_m, mark } => {
                self.post(at, ground_m, self.colour_of_mark(mark));
                let spot = self.camera.spot(at);
                symbols::neighbour(&mut self.svg, spot);
                self.occupied.blocks.push(Frame::centred(spot, 3.0, 3.0));
            }
        }
    }

    fn post(&mut self, at: Point3, ground_m: f64, colour: &'static str) {
        if at.z - ground_m > LEAST_POST_M {
            let foot = self.camera.spot(at.plan().at_height(ground_m));
            let top = self.camera.spot(at);
            self.svg.segment(foot, top, &Paint::stroke(colour, 0.3));
        }
    }

    fn loudspeaker(&mut self, at: Point3, bearing_deg: f64, kind: LoudspeakerKind) {
        let spot = self.camera.spot(at);
        let per_m = self.camera.mm_per_m(at);
        let radius = (RADIUS_M * per_m).clamp(RADIUS_MM.0, RADIUS_MM.1);
        let all_round = matches!(kind, LoudspeakerKind::Subwoofer | LoudspeakerKind::Bollard);
        if !all_round {
            let reach_m = 2.6 * radius / per_m;
            let ahead = |turn_deg: f64| {
                let to = direction(bearing_deg + turn_deg, 0.0).plan() * reach_m;
                self.camera.spot((at.plan() + to).at_height(at.z))
            };
            let flare = [spot, ahead(-32.0), ahead(32.0)];
            self.svg.outline(&flare, &Paint::fill(palette::SHEET).and_stroke(palette::INK, 0.18));
        }
        let body = Paint::fill(palette::INK).and_stroke(palette::SHEET, 0.2);
        if kind == LoudspeakerKind::Subwoofer {
            self.svg.rectangle(Frame::centred(spot, 2.0 * radius, 2.0 * radius), 0.2, &body);
        } else {
            self.svg.circle(spot, radius, &body);
        }
        self.occupied.blocks.push(Frame::centred(spot, 2.2 * radius, 2.2 * radius));
    }

    /// Spots of the part of an outline at a height that is in a part of the picture, from its middle outwards: where a name
    /// may stand.
    pub(super) fn spots_in(&self, ring: &[Point2], middle: Point2, height_m: f64) -> Vec<Spot> {
        let mut places = vec![middle];
        for share in [0.25, 0.5, 0.75] {
            places.extend(ring.iter().map(|&c| middle.lerp(c, share)));
        }
        self.camera.spots(&places, height_m)
    }
}

/// A colour with a share of its light.
fn darkened(colour: &str, share: f64) -> String {
    let part = |k: usize| u8::from_str_radix(colour.get(k..k + 2).unwrap_or("80"), 16).unwrap_or(0x80);
    let dark = |k: usize| (f64::from(part(k)) * share).round() as u8;
    format!("#{:02x}{:02x}{:02x}", dark(1), dark(3), dark(5))
}
