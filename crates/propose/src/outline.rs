//! Lines along an outline and round it, and places along lines.

use loamline_geometry::{Point2, Polygon, Segment};

/// How far from the edge of an area rows are looked for, and in what steps, metres.
pub(crate) const FARTHEST_M: f64 = 8.0;
pub(crate) const OFFSET_STEP_M: f64 = 0.5;
/// Corners of an outline drawn larger are rounded in steps of so many degrees.
const ROUNDED_DEG: f64 = 15.0;

/// Places along a line, centred, one step apart, and that step, metres: an odd number of them, so that one is in the middle.
pub(crate) fn along(line: &[Point2], closed: bool, step_m: f64) -> (Vec<Point2>, f64) {
    let mut sides: Vec<Segment> = line.windows(2).map(|w| Segment::new(w[0], w[1])).collect();
    if let (true, Some(first), Some(last)) = (closed, line.first(), line.last()) {
        sides.push(Segment::new(*last, *first));
    }
    let length: f64 = sides.iter().map(|s| s.length()).sum();
    let count = (length / step_m).round() as usize | 1;
    let step = length / count as f64;
    let mut points = Vec::with_capacity(count);
    let (mut passed, mut next) = (0.0, 0.5 * step);
    for side in sides {
        let l = side.length();
        while next <= passed + l && points.len() < count {
            points.push(side.a.lerp(side.b, (next - passed) / l.max(1e-9)));
            next += step;
        }
        passed += l;
    }
    (points, step)
}

/// Away from the inside of an outline whose corners run counter-clockwise.
pub(crate) fn outwards(side: Segment) -> Point2 {
    let d = side.b - side.a;
    Point2::new(d.y, -d.x) * d.norm().max(1e-9).recip()
}

/// The sides of an outline, those that go on straight taken together.
pub(crate) fn straight_sides(outline: &Polygon) -> Vec<Segment> {
    let mut out: Vec<Segment> = Vec::new();
    let straight = |a: Segment, b: Segment| outwards(a).cross(outwards(b)).abs() < 0.09;
    for side in outline.sides() {
        match out.last_mut() {
            Some(last) if straight(*last, side) => last.b = side.b,
            _ => out.push(side),
        }
    }
    if let (Some(first), Some(last), true) = (out.first().copied(), out.last().copied(), out.len() > 2)
        && straight(last, first)
    {
        out[0].a = last.a;
        out.pop();
    }
    out
}

/// An outline drawn larger by a distance, its corners rounded.
pub(crate) fn larger(outline: &Polygon, by_m: f64) -> Vec<Point2> {
    let sides: Vec<Segment> = outline.sides().collect();
    let mut out = Vec::new();
    for (i, side) in sides.iter().enumerate() {
        let (here, next) = (outwards(*side), outwards(sides[(i + 1) % sides.len()]));
        out.extend([side.a + here * by_m, side.b + here * by_m]);
        let turn = here.cross(next).atan2(here.dot(next));
        if turn > 0.0 {
            let steps = (turn.to_degrees() / ROUNDED_DEG).ceil().max(1.0) as usize;
            out.extend((1..steps).map(|k| {
                let (s, c) = (turn * k as f64 / steps as f64).sin_cos();
                side.b + Point2::new(c * here.x - s * here.y, s * here.x + c * here.y) * by_m
            }));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square() -> Polygon {
        Polygon::rectangle(Point2::new(0.0, 0.0), Point2::new(4.0, 4.0)).unwrap()
    }

    #[test]
    fn places_along_a_line_are_evenly_apart_and_centred() {
        let (points, step) = along(&[Point2::new(0.0, 0.0), Point2::new(3.0, 0.0)], false, 0.9);
        let x: Vec<f64> = points.iter().map(|p| p.x).collect();
        assert_eq!((x, step), (vec![0.5, 1.5, 2.5], 1.0));
    }

    #[test]
    fn an_outline_drawn_larger_is_as_long_as_steiner_says() {
        // Perimeter of a convex body drawn larger: that of the body and of a circle (Steiner's formula).
        let line = larger(&square(), 1.0);
        let sides = line.iter().zip(line.iter().cycle().skip(1));
        let length: f64 = sides.map(|(a, b)| a.distance(*b)).sum();
        assert!((length - (16.0 + std::f64::consts::TAU)).abs() < 0.05, "{length}");
    }

    #[test]
    fn sides_that_go_on_straight_are_one() {
        let corners = [(2.0, 0.0), (4.0, 0.0), (4.0, 4.0), (0.0, 4.0), (0.0, 0.0)];
        let outline = Polygon::new(corners.map(|(x, y)| Point2::new(x, y))).unwrap();
        let sides = straight_sides(&outline);
        assert_eq!(sides.len(), 4);
        assert!(sides.iter().all(|s| (s.length() - 4.0).abs() < 1e-9));
    }
}
