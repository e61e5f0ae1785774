//! Two taped distances that place a loudspeaker.
//!
//! Two circles round two fixed points cross at two places; which of them is meant is said by the side of the line
//! between the points. How far off the place can be grows with rounding and with how flat the circles cross:
//! the worst error of the place is at most e / sin(a) * sqrt(2 + 2 |cos a|) for distances off by at most e each,
//! a the angle between the two tapes at the loudspeaker (both distance errors moved through the inverse of the
//! 2-by-2 system of the circles' normals). The pair with the least error that stays within the tape is chosen.

use loamline_geometry::Point2;
use loamline_model::document::WallKind;
use loamline_model::{Job, Units};

/// Tapes in everyday use, metres: distances within the shorter go first, those within the longer next, and what needs
/// more than a tape only where nothing nearer serves.
const TAPES_M: [f64; 2] = [30.0, 60.0];
/// Largest error of a place from rounding its distances, metres.
pub const PLACE_ERROR_M: f64 = 0.01;

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
        if across2 < 0.0 {
            return None;
        }
        let unit = base * (1.0 / length);
        let left = Point2::new(-unit.y, unit.x);
        let across = across2.sqrt() * if self.left { 1.0 } else { -1.0 };
        Some(a + unit * along + left * across)
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
        Units::Metric => format!("{:.3} m", steps * step_m(units)),
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
pub fn fixed_points(job: &Job, named: impl Fn(Feature, usize, &str, &str) -> String) -> Vec<FixedPoint> {
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
    points
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

/// Chooses two fixed points for a place. Distances within a tape go before longer ones, marks before corners of
/// buildings, then the least error counts. `None` when no two points give the place to within
/// [`PLACE_ERROR_M`].
pub fn tape(at: Point2, points: &[FixedPoint], marks: usize, units: Units) -> Option<Taping> {
    let step = step_m(units);
    let mut best: Option<((usize, bool, f64), usize, usize)> = None;
    for i in 0..points.len() {
        for j in i + 1..points.len() {
            let (a, b) = (points[i].position, points[j].position);
            // A tenth of the allowed error is kept for the second-order terms the bound leaves out.
            let error = place_error_m(at, a, b, step);
            if error > PLACE_ERROR_M * 0.9 {
                continue;
            }
            let longest = a.distance(at).max(b.distance(at));
            let long = TAPES_M.iter().filter(|&&tape| longest > tape).count();
            let rank = (long, j >= marks, error + 1e-4 * (a.distance(at) + b.distance(at)));
            if best.as_ref().is_none_or(|(r, _, _)| rank_before(rank, *r)) {
                best = Some((rank, i, j));
            }
        }
    }
    let (_, i, j) = best?;
    let (a, b) = (points[i].position, points[j].position);
    let rounded = |d: f64| (d / step).round() * step;
    Some(Taping {
        first: points[i].clone(),
        first_m: rounded(a.distance(at)),
        second: points[j].clone(),
        second_m: rounded(b.distance(at)),
        left: (b - a).cross(at - a) > 0.0,
    })
}

fn rank_before(a: (usize, bool, f64), b: (usize, bool, f64)) -> bool {
    (a.0, a.1).cmp(&(b.0, b.1)).then(a.2.total_cmp(&b.2)).is_lt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn points() -> Vec<FixedPoint> {
        [(4.0, 14.5), (22.0, 14.5), (38.0, 0.0), (0.0, 0.0), (25.5, 22.0)]
            .iter()
            .enumerate()
            .map(|(i, &(x, y))| FixedPoint {
                id: format!("M{i}"),
                name: String::new(),
                position: Point2::new(x, y),
            })
            .collect()
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

    proptest! {
        /// Two circles with the printed radii cross within 1 cm of the place.
        #[test]
        fn two_distances_give_the_place_back(x in 0.5..37.5f64, y in 0.5..25.5f64, us in any::<bool>()) {
            let units = if us { Units::Us } else { Units::Metric };
            let at = Point2::new(x, y);
            if let Some(t) = tape(at, &points(), 5, units) {
                let back = t.place().expect("circles meet");
                prop_assert!(back.distance(at) <= PLACE_ERROR_M, "{} m off", back.distance(at));
            }
        }
    }
}
