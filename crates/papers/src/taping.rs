//! Two taped distances that place a loudspeaker.
//!
//! Two circles round two fixed points cross at two places; which of them is meant is said by the side of the line
//! between the points. How far off the place can be grows with rounding and with how flat the circles cross:
//! the worst error of the place is at most e / sin(a) * sqrt(2 + 2 |cos a|) for distances off by at most e each,
//! a the angle between the two tapes at the loudspeaker (both distance errors moved through the inverse of the
//! 2-by-2 system of the circles' normals). The pair with the least error that stays within the tape is chosen.
//!
//! No tape goes through a building. Close to the line between two fixed points, as under the eaves of a house, the tapes
//! lie too flat on each other to tell how far off that line the place is: there the distance off the line is told too.
//! The two tapes then place it along the line to within e (r1 + r2) / l, r1 and r2 being the distances and l the line's
//! length (the difference of their squares gives it), and a rule across the line does the rest.

use loamline_geometry::{Point2, Polygon, Segment};
use loamline_limits::go_on;
use loamline_model::document::WallKind;
use loamline_model::{Job, Units};

/// Tapes in everyday use, metres: distances within the shorter go first, those within the longer next, and what needs
/// more than a tape only where nothing nearer serves.
const TAPES_M: [f64; 2] = [30.0, 60.0];
/// Largest error of a place from rounding its distances, metres.
pub const PLACE_ERROR_M: f64 = 0.01;
/// Farthest a place is measured off the line between two fixed points, metres: the length of a rule (common practice, no
/// source).
const RULE_M: f64 = 1.0;
/// A tape no farther than this inside an outline lies along its face, metres: what the drawing of a face may be off.
const ALONG_FACE_M: f64 = 0.01;

/// A fixed point to tape from.
#[derive(Debug, Clone, PartialEq)]
pub struct FixedPoint {
    /// Its id as it stands on the plan, or a name made from a building's corner.
    pub id: String,
    /// What it is.
    pub name: String,
    /// Where it is.
    pub position: Point2,
}

/// A loudspeaker's place by two distances.
#[derive(Debug, Clone, PartialEq)]
pub struct Taping {
    /// First fixed point.
    pub first: FixedPoint,
    /// Distance from it in plan, as printed.
    pub first_m: f64,
    /// Second fixed point.
    pub second: FixedPoint,
    /// Distance from it in plan, as printed.
    pub second_m: f64,
    /// Whether the place is on the left hand of somebody who walks from the first point to the second.
    pub left: bool,
    /// How far off the line between the points it is, as printed, where the tapes alone do not tell.
    pub off_m: Option<f64>,
}

/// What a job gives to tape from, and what no tape goes through.
#[derive(Debug, Clone)]
pub struct FixedPoints<'a> {
    /// Marks, and after them corners of buildings and of walls.
    pub points: Vec<FixedPoint>,
    /// How many of them are marks.
    pub marks: usize,
    /// Outlines of buildings.
    pub buildings: Vec<&'a Polygon>,
}

impl Taping {
    /// The place the two distances give; `None` when the circles do not meet.
    pub fn place(&self) -> Option<Point2> {
        let (a, b) = (self.first.position, self.second.position);
        let base = b - a;
        let length = base.norm();
        if length <= 0.0 {
            return None;
        }
        let along = (self.first_m.powi(2) - self.second_m.powi(2) + length * length) / (2.0 * length);
        let across2 = self.first_m.powi(2) - along * along;
        let across = match self.off_m {
            Some(off) => off,
            None if across2 < 0.0 => return None,
            None => across2.sqrt(),
        };
        let unit = base * (1.0 / length);
        let left = Point2::new(-unit.y, unit.x);
        Some(a + unit * along + left * if self.left { across } else { -across })
    }
}

/// Smallest step of a printed distance, metres: 1 mm, or 1/8 in.
pub const fn step_m(units: Units) -> f64 {
    match units {
        Units::Metric => 0.001,
        Units::Us => 0.0254 / 8.0,
    }
}

/// A distance as it is printed: `7.432 m`, `24 ft 4 5/8 in`.
pub fn written(distance_m: f64, units: Units) -> String {
    let steps = (distance_m / step_m(units)).round();
    match units {
        Units::Metric => format!("{} m", loamline_terms::fixed(steps * step_m(units), 3)),
        Units::Us => {
            let eighths = steps as u64;
            let (feet, rest) = (eighths / 96, eighths % 96);
            let (whole, part) = (rest / 8, rest % 8);
            let fraction = match part {
                0 => String::new(),
                2 | 6 => format!(" {}/4", part / 2),
                4 => " 1/2".to_owned(),
                _ => format!(" {part}/8"),
            };
            format!("{feet} ft {whole}{fraction} in")
        }
    }
}

/// What a fixed point that has no name of its own is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Feature {
    /// Corner of a building.
    Corner,
    /// End of a wall or fence.
    End,
    /// Where a wall or fence turns.
    Bend,
}

/// Keys of the eight sides in the language file, clockwise from north.
const SIDES: [&str; 8] =
    ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"];

/// Side of a thing on which a point of it lies, as plan directions go.
fn side(of: Point2, at: Point2) -> &'static str {
    let d = at - of;
    let bearing = d.x.atan2(d.y).to_degrees().rem_euclid(360.0);
    SIDES[(bearing / 45.0).round() as usize % SIDES.len()]
}

/// The fixed points of a job: its marks, and after them the corners of buildings and of walls that do not grow.
/// `named` makes the name of a corner from what it is, its number, the side it lies on (`north`, `north-east`, ...) and
/// the name of the building or wall.
pub fn fixed_points(job: &Job, named: impl Fn(Feature, usize, &str, &str) -> String) -> FixedPoints<'_> {
    let document = job.document();
    let mut points: Vec<FixedPoint> = document
        .marks
        .iter()
        .map(|(id, mark)| FixedPoint { id: id.clone(), name: mark.name.clone(), position: mark.position })
        .collect();
    let mut add =
        |id: &str, name: &str, middle: Point2, corners: &[Point2], kind: &dyn Fn(usize) -> Feature| {
            let name = if name.is_empty() { id } else { name };
            points.extend(corners.iter().enumerate().map(|(i, &position)| FixedPoint {
                id: format!("{id}/{}", i + 1),
                name: named(kind(i), i + 1, side(middle, position), name),
                position,
            }));
        };
    for (id, building) in &document.buildings {
        let outline = &building.outline;
        add(id, &building.name, outline.centroid(), outline.corners(), &|_| Feature::Corner);
    }
    for (id, wall) in document.walls.iter().filter(|(_, w)| w.kind != WallKind::Hedge) {
        let last = wall.line.len().saturating_sub(1);
        let (Some(&a), Some(&b)) = (wall.line.first(), wall.line.last()) else { continue };
        let kind = |i: usize| if i == 0 || i == last { Feature::End } else { Feature::Bend };
        add(id, &wall.name, a.lerp(b, 0.5), &wall.line, &kind);
    }
    let buildings = document.buildings.values().map(|b| &b.outline).collect();
    FixedPoints { points, marks: document.marks.len(), buildings }
}

/// How far a place can be off when its distances are rounded to a step, metres; infinite when the tapes lie on
/// one line.
fn place_error_m(at: Point2, a: Point2, b: Point2, step_m: f64) -> f64 {
    let (u, v) = (at - a, at - b);
    let (nu, nv) = (u.norm(), v.norm());
    if nu <= 0.0 || nv <= 0.0 {
        return f64::INFINITY;
    }
    let (sin, cos) = ((u.cross(v) / (nu * nv)).abs(), (u.dot(v) / (nu * nv)).abs());
    if sin < 1e-6 { f64::INFINITY } else { step_m / 2.0 / sin * (2.0 + 2.0 * cos).sqrt() }
}

/// How far a place near the line between two points can be off when its distances from them and from the line are rounded
/// to a step, metres; infinite where it is no rule's length from the line, or beyond an end of it.
fn off_line_error_m(at: Point2, a: Point2, b: Point2, step_m: f64) -> f64 {
    let base = b - a;
    let length = base.norm();
    if length <= 0.0 {
        return f64::INFINITY;
    }
    let (along, off) = (base.dot(at - a) / length, base.cross(at - a) / length);
    if !(0.0 < along && along < length && off.abs() <= RULE_M) {
        return f64::INFINITY;
    }
    step_m / 2.0 * ((a.distance(at) + b.distance(at)) / length).hypot(1.0)
}

/// Whether a tape stretched from a place would go through a building: into it from outside, or out of it from within.
fn goes_through(tape: Segment, building: &Polygon) -> bool {
    let inside = building.inside_intervals(tape);
    if building.contains_with_margin(tape.a, ALONG_FACE_M) {
        return !inside.iter().any(|&(from, to)| from <= 1e-9 && to >= 1.0 - 1e-9);
    }
    let deep = |share: f64| building.contains_with_margin(tape.a.lerp(tape.b, share), ALONG_FACE_M);
    inside.iter().any(|&(from, to)| (1..8).any(|k| deep(from + (to - from) * f64::from(k) / 8.0)))
}

/// How good a way of taping is, the best first: within a tape in use, by the tapes alone, within the shorter tape, from
/// marks alone, and how far off it can be.
type Rank = (bool, bool, usize, bool, f64);

/// Chooses two fixed points for a place, both of them seen from it past the buildings. Distances within a tape go before
/// longer ones, marks before corners of buildings, then the least error counts. `None` when no two points give the place to
/// within [`PLACE_ERROR_M`].
pub fn tape(at: Point2, from: &FixedPoints<'_>, units: Units) -> Option<Taping> {
    go_on();
    let step = step_m(units);
    let clear = |a: Point2, b: Point2| !from.buildings.iter().any(|o| goes_through(Segment::new(a, b), o));
    let seen: Vec<(usize, Point2)> = from
        .points
        .iter()
        .map(|p| p.position)
        .enumerate()
        .filter(|&(_, position)| clear(at, position))
        .collect();
    let mut best: Option<(Rank, usize, usize)> = None;
    for (k, &(i, a)) in seen.iter().enumerate() {
        for &(j, b) in &seen[k + 1..] {
            // A tenth of the allowed error is kept for the second-order terms the bounds leave out.
            let most = PLACE_ERROR_M * 0.9;
            let crossing = place_error_m(at, a, b, step);
            let off_line = crossing > most;
            let error = if off_line { off_line_error_m(at, a, b, step) } else { crossing };
            if error > most || (off_line && !clear(a, b)) {
                continue;
            }
            let longest = a.distance(at).max(b.distance(at));
            let long = TAPES_M.iter().filter(|&&tape| longest > tape).count();
            let weighed = error + 1e-4 * (a.distance(at) + b.distance(at));
            let rank = (long == TAPES_M.len(), off_line, long, j >= from.marks, weighed);
            if best.as_ref().is_none_or(|(r, _, _)| rank_before(rank, *r)) {
                best = Some((rank, i, j));
            }
        }
    }
    let ((_, off_line, ..), i, j) = best?;
    let (a, b) = (from.points[i].position, from.points[j].position);
    let rounded = |d: f64| (d / step).round() * step;
    let across = (b - a).cross(at - a);
    Some(Taping {
        first: from.points[i].clone(),
        first_m: rounded(a.distance(at)),
        second: from.points[j].clone(),
        second_m: rounded(b.distance(at)),
        left: across > 0.0,
        off_m: off_line.then(|| rounded(across.abs() / a.distance(b))),
    })
}

fn rank_before(a: Rank, b: Rank) -> bool {
    (a.0, a.1, a.2, a.3).cmp(&(b.0, b.1, b.2, b.3)).then(a.4.total_cmp(&b.4)).is_lt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn points(at: &[(f64, f64)]) -> Vec<FixedPoint> {
        let point = |(i, &(x, y)): (usize, &(f64, f64))| FixedPoint {
            id: format!("M{i}"),
            name: String::new(),
            position: Point2::new(x, y),
        };
        at.iter().enumerate().map(point).collect()
    }

    const GARDEN: [(f64, f64); 5] = [(4.0, 14.5), (22.0, 14.5), (38.0, 0.0), (0.0, 0.0), (25.5, 22.0)];
    /// A house from x 0 to 16 and y 7 to 16, its corners the only fixed points there are.
    const HOUSE: [(f64, f64); 4] = [(0.0, 7.0), (16.0, 7.0), (16.0, 16.0), (0.0, 16.0)];

    fn house() -> Polygon {
        Polygon::new(HOUSE.map(|(x, y)| Point2::new(x, y))).unwrap()
    }

    #[test]
    fn distances_are_written_as_a_tape_reads() {
        assert_eq!(written(7.4321, Units::Metric), "7.432 m");
        assert_eq!(written(24.0 * 0.3048 + 4.625 * 0.0254, Units::Us), "24 ft 4 5/8 in");
        assert_eq!(written(0.5 * 0.0254, Units::Us), "0 ft 0 1/2 in");
        assert_eq!(written(3.0 * 0.3048, Units::Us), "3 ft 0 in");
    }

    #[test]
    fn sides_go_by_the_compass() {
        let at = |x, y| side(Point2::new(10.0, 10.0), Point2::new(x, y));
        assert_eq!([at(10.0, 15.0), at(14.0, 14.0), at(15.0, 10.0)], ["north", "north-east", "east"]);
        assert_eq!([at(9.0, 9.0), at(4.0, 10.5), at(9.9, 20.0)], ["south-west", "west", "north"]);
    }

    /// Under the eaves, 5 cm out: only the two corners of that face are seen, and 5 m and 11 m along it alone would leave
    /// the 5 cm to a hair. By Pythagoras 5.00025 m and 11.00011 m.
    #[test]
    fn a_place_close_to_a_face_is_taped_along_it() {
        let outline = house();
        let from = FixedPoints { points: points(&HOUSE), marks: 0, buildings: vec![&outline] };
        let t = tape(Point2::new(5.0, 6.95), &from, Units::Metric).unwrap();
        let told = [t.first_m, t.second_m, t.off_m.unwrap()].map(|m| written(m, Units::Metric));
        assert_eq!(told, ["5.000 m", "11.000 m", "0.050 m"]);
        assert!((t.first.id.as_str(), t.second.id.as_str(), t.left) == ("M0", "M1", false), "{t:?}");
        // Farther out the two tapes cross well enough.
        assert_eq!(tape(Point2::new(5.0, 2.0), &from, Units::Metric).unwrap().off_m, None);
        // Inside, the tape stays inside.
        assert!(tape(Point2::new(5.0, 12.0), &from, Units::Metric).is_some());
    }

    proptest! {
        /// Two circles with the printed radii cross within 1 cm of the place.
        #[test]
        fn two_distances_give_the_place_back(x in 0.5..37.5f64, y in 0.5..25.5f64, us in any::<bool>()) {
            let units = if us { Units::Us } else { Units::Metric };
            let at = Point2::new(x, y);
            let from = FixedPoints { points: points(&GARDEN), marks: 5, buildings: Vec::new() };
            if let Some(t) = tape(at, &from, units) {
                let back = t.place().expect("circles meet");
                prop_assert!(back.distance(at) <= PLACE_ERROR_M, "{} m off", back.distance(at));
            }
        }

        /// Anywhere round a house: what is taped comes back within 1 cm, and no place on the way of a tape is in the house.
        #[test]
        fn no_tape_goes_through_a_house(x in -5.0..21.0f64, y in 0.0..23.0f64, us in any::<bool>()) {
            let within = |p: Point2, by: f64| p.x.min(16.0 - p.x).min(p.y - 7.0).min(16.0 - p.y) > by;
            let at = Point2::new(x, y);
            prop_assume!(!within(at, 0.0));
            let outline = house();
            let from = FixedPoints { points: points(&HOUSE), marks: 0, buildings: vec![&outline] };
            if let Some(t) = tape(at, &from, if us { Units::Us } else { Units::Metric }) {
                let back = t.place().expect("circles meet");
                prop_assert!(back.distance(at) <= PLACE_ERROR_M, "{} m off", back.distance(at));
                for corner in [t.first.position, t.second.position] {
                    for k in 0..=100 {
                        let on_the_way = at.lerp(corner, f64::from(k) / 100.0);
                        prop_assert!(!within(on_the_way, 2.0 * ALONG_FACE_M), "{:?} from {:?}", at, corner);
                    }
                }
            }
        }
    }
}
