//! Guides: lines along which the loudspeakers of an area may stand in a row.
//!
//! Round each area the outline is drawn larger, and each of its sides is drawn again farther out; walls and eaves that face
//! the area are guides too. A guide is cut into even steps, and a step where no loudspeaker may stand is a gap. Only the
//! nearest few guides of each side that have room are kept. Between two areas that face each other runs a guide for both, so that
//! two loudspeakers may stand back to back on one stake. Single places near the area stand beside them, for areas that
//! one or two loudspeakers fill.

use crate::back_to_back::Between;
use crate::mirror::Axis;
use crate::outline::{FARTHEST_M, OFFSET_STEP_M, along, larger, outwards, straight_sides};
use crate::places::{REACH_M, Rules, Spot, nearest_in};
use loamline_geometry::{Point2, Polygon, direction};
use loamline_limits::{go_on, lent};
use rayon::prelude::*;

/// Guides of one side lie at least this far behind each other, metres, and so many are kept.
const BEHIND_M: f64 = 1.5;
const KEPT_OF_A_SIDE: usize = 2;
/// Part of a guide where loudspeakers may stand, at least.
const LEAST_ROOM: f64 = 0.25;
/// Sides shorter than this have no guide of their own, metres: the one round the whole area passes them.
const SHORTEST_SIDE_M: f64 = 2.0;
/// Single places looked at for each area, beside those on its axes.
const SINGLES: usize = 12;
/// Steps in which places are looked for along an axis, metres, and how far from the middle of the area.
const AXIS_STEP_M: f64 = 0.25;
const ALONG_AXIS_M: f64 = 40.0;
/// Steps of guides tried, metres: the first with few enough places in all is taken.
const STEPS_M: [f64; 6] = [0.5, 0.75, 1.0, 1.5, 2.0, 3.0];

/// A line along which loudspeakers of an area may stand.
pub(crate) struct Guide {
    /// The area it is for.
    pub zone: usize,
    /// Places one step apart, by their place among all; none where no loudspeaker may stand.
    pub places: Vec<Option<usize>>,
    /// Whether the last place is beside the first.
    pub closed: bool,
    /// Distance from one place to the next, metres.
    pub step_m: f64,
}

/// Guides of all areas, and the places on them.
pub(crate) struct Guides {
    pub all: Vec<Guide>,
    pub spots: Vec<Spot>,
    /// Lines that each area is mirrored over.
    pub axes: Vec<Vec<Axis>>,
}

/// A guide before its places are numbered.
struct Drawn {
    zone: usize,
    places: Vec<Option<Spot>>,
    closed: bool,
    step_m: f64,
}

impl Rules<'_> {
    /// The guides of every area, with at most about so many places in all; `spots` are the places that there are anyway, `axes`
    /// the lines that areas are mirrored over.
    pub fn guides(&self, spots: &[Spot], most: usize, axes: &[Vec<Axis>]) -> Guides {
        let zones: Vec<&Polygon> = self.job.document().areas.values().map(|a| &a.outline).collect();
        let mut drawn: Vec<Drawn> = Vec::new();
        let leave = lent();
        for step_m in STEPS_M {
            let axis = |z: usize| axes.get(z).and_then(|a| a.first());
            let of_area =
                |(z, outline): (usize, &&Polygon)| leave.lend(|| self.of_area(z, outline, axis(z), step_m));
            let each = zones.par_iter().enumerate().map(of_area);
            drawn = each.collect::<Vec<_>>().into_iter().flatten().collect();
            for Between { zones: of, places, step_m } in self.between(&zones, step_m) {
                let both = of.into_iter().zip(places);
                drawn.extend(both.map(|(zone, places)| Drawn { zone, places, closed: false, step_m }));
            }
            let places: usize = drawn.iter().map(|g| g.places.iter().flatten().count()).sum();
            if places + zones.len() * SINGLES <= most {
                break;
            }
        }
        for (z, outline) in zones.iter().enumerate() {
            let one = |spot: Spot| Drawn { zone: z, places: vec![Some(spot)], closed: false, step_m: 0.0 };
            drawn.extend(singles(outline, spots).into_iter().map(one));
            let own = axes.get(z).into_iter().flatten();
            drawn.extend(own.flat_map(|a| self.on_axis(outline, a)).map(one));
        }
        let mut guides = Guides { all: Vec::new(), spots: Vec::new(), axes: axes.to_vec() };
        for d in drawn {
            let mut places = Vec::with_capacity(d.places.len());
            for place in d.places {
                places.push(place.map(|spot| {
                    guides.spots.push(spot);
                    guides.spots.len() - 1
                }));
            }
            guides.all.push(Guide { zone: d.zone, places, closed: d.closed, step_m: d.step_m });
        }
        guides
    }

    fn of_area(&self, zone: usize, outline: &Polygon, axis: Option<&Axis>, step_m: f64) -> Vec<Drawn> {
        let mut out = Vec::new();
        // Begun on the axis, the places of a closed line are mirrored over it.
        let round = |d: f64| axis.map_or_else(|| larger(outline, d), |a| begun_on(larger(outline, d), a));
        out.extend(self.nearest(zone, outline, (&round, true), step_m));
        for side in straight_sides(outline).into_iter().filter(|s| s.length() >= SHORTEST_SIDE_M) {
            let beside = |d: f64| {
                let by = outwards(side) * d;
                vec![side.a + by, side.b + by]
            };
            out.extend(self.nearest(zone, outline, (&beside, false), step_m));
        }
        out.extend(self.on_faces(zone, outline, step_m.max(0.75)));
        out
    }

    /// The nearest of some lines, each farther out, that have room.
    fn nearest(
        &self,
        zone: usize,
        outline: &Polygon,
        (line, closed): (&dyn Fn(f64) -> Vec<Point2>, bool),
        step_m: f64,
    ) -> Vec<Drawn> {
        let near_m = self.job.document().brief.nearest_listener_m;
        let mut kept: Vec<Drawn> = Vec::new();
        let mut last_m = f64::NEG_INFINITY;
        let mut at_m = near_m + 0.02;
        while at_m <= FARTHEST_M && kept.len() < KEPT_OF_A_SIDE {
            go_on();
            if at_m - last_m >= BEHIND_M {
                let (points, step) = along(&line(at_m), closed, step_m);
                let free = |at: &Point2| outline.distance_to_outline(*at) >= at_m - 0.05 && self.in_bed(*at);
                let places: Vec<Option<Spot>> =
                    points.iter().map(|p| free(p).then(|| self.on_ground(*p))).collect();
                let room = places.iter().flatten().count() as f64 / places.len().max(1) as f64;
                if room >= LEAST_ROOM {
                    kept.push(Drawn { zone, places, closed, step_m: step });
                    last_m = at_m;
                }
            }
            at_m += OFFSET_STEP_M;
        }
        kept
    }

    /// The nearest places on the ground on either side of an area along an axis: one loudspeaker alone stands there.
    fn on_axis(&self, outline: &Polygon, axis: &Axis) -> Vec<Spot> {
        let steps = (ALONG_AXIS_M / AXIS_STEP_M) as usize;
        let free = |at: &Point2| {
            !outline.contains(*at) && outline.distance_to_outline(*at) <= FARTHEST_M && self.in_bed(*at)
        };
        let nearest = |sign: f64| {
            let mut all = (1..=steps).map(|k| axis.through + axis.along * (sign * AXIS_STEP_M * k as f64));
            all.find(free).map(|at| self.on_ground(at))
        };
        [1.0, -1.0].into_iter().filter_map(nearest).collect()
    }

    /// Guides along walls and eaves that take loudspeakers, on the sides that face an area.
    fn on_faces(&self, zone: usize, outline: &Polygon, step_m: f64) -> Vec<Drawn> {
        let mut out = Vec::new();
        for (side, spot) in self.bracket_sides() {
            let facing = |at: Point2| {
                let nearest = nearest_in(outline, at);
                let away = nearest.distance(at);
                away <= REACH_M && (away < 1e-6 || (nearest - at).dot(spot.out) > 0.5 * away)
            };
            let (points, step) = along(&[side.a, side.b], false, step_m);
            let place = |foot: &Point2| {
                let at = *foot + spot.out * crate::places::OFF_WALL_M;
                (facing(at) && self.face(at)).then(|| spot.at(self, at))
            };
            let places: Vec<Option<Spot>> = points.iter().map(place).collect();
            // What does not face the area is no gap but the end of the guide.
            let Some(first) = places.iter().position(Option::is_some) else { continue };
            let last = places.iter().rposition(Option::is_some).unwrap_or(first);
            let places = places[first..=last].to_vec();
            out.push(Drawn { zone, places, closed: false, step_m: step });
        }
        out
    }

    /// Whether a loudspeaker may stand on the ground at a place, away from the edge of its bed where that is wide enough.
    pub fn in_bed(&self, at: Point2) -> bool {
        let least_m = self.job.document().brief.wishes.edge_setback_m;
        self.ground(at) && (least_m <= 0.0 || self.off_edge(at, least_m))
    }

    /// Whether the bed goes on for a distance all round a place, or is narrower than that both ways.
    fn off_edge(&self, at: Point2, least_m: f64) -> bool {
        if loamline_adapt::on_lawn_edge(self.job, at) {
            return true;
        }
        let goes_on =
            |deg: f64| self.job.ground(at + direction(deg, 0.0).plan() * least_m).takes_loudspeakers;
        (0..4).all(|k| {
            let deg = 45.0 * f64::from(k);
            goes_on(deg) == goes_on(deg + 180.0)
        })
    }
}

/// A closed line begun anew where an axis leaves it.
fn begun_on(line: Vec<Point2>, axis: &Axis) -> Vec<Point2> {
    let n = line.len();
    let leaves = |i: usize| {
        let (a, b) = (line[i], line[(i + 1) % n]);
        let (before, behind) = (axis.beside(a), axis.beside(b));
        if (before <= 0.0) == (behind <= 0.0) {
            return None;
        }
        let at = a.lerp(b, before / (before - behind));
        ((at - axis.through).dot(axis.along) > 0.0).then_some((i, at))
    };
    let Some((i, at)) = (0..n).find_map(leaves) else { return line };
    std::iter::once(at).chain((1..=n).map(|k| line[(i + k) % n])).collect()
}

/// Places near an area, far from each other, the nearest first.
fn singles(outline: &Polygon, spots: &[Spot]) -> Vec<Spot> {
    let away = |s: &Spot| nearest_in(outline, s.at).distance(s.at);
    let mut left: Vec<&Spot> = spots.iter().filter(|s| away(s) <= FARTHEST_M).collect();
    let mut kept: Vec<Spot> = Vec::new();
    while kept.len() < SINGLES && !left.is_empty() {
        let gap = |s: &Spot| kept.iter().map(|k| k.at.distance(s.at)).fold(12.0, f64::min);
        let worth = |s: &Spot| gap(s) - 0.8 * away(s);
        let best = (0..left.len()).reduce(|a, b| if worth(left[b]) > worth(left[a]) + 1e-9 { b } else { a });
        let Some(i) = best else { break };
        kept.push(*left.remove(i));
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square() -> Polygon {
        Polygon::rectangle(Point2::new(0.0, 0.0), Point2::new(4.0, 4.0)).unwrap()
    }

    #[test]
    fn a_line_begun_on_an_axis_has_mirrored_places() {
        let axis = Axis { through: Point2::new(2.0, 2.0), along: Point2::new(0.0, 1.0) };
        let line = begun_on(larger(&square(), 1.0), &axis);
        assert!((line[0].x - 2.0).abs() < 1e-9 && line[0].y > 4.0, "{:?}", line[0]);
        let (points, _) = along(&line, true, 0.7);
        let has = |at: Point2| points.iter().any(|p| p.distance(at) < 1e-6);
        assert!(points.iter().all(|p| has(axis.image(*p))));
    }
}
