//! Points spread evenly over an outline.

use loamline_geometry::{Point2, Polygon, Segment};
use loamline_limits::OUTLINE_PLACES;
use thiserror::Error;

/// Finest spacing, m.
const FINEST_M: f64 = 0.01;

/// Why an outline cannot be sampled.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum SampleError {
    /// Not a spacing.
    #[error("the spacing between points must be at least 0.01 m; {spacing_m} m is not")]
    Spacing {
        /// As given, m.
        spacing_m: f64,
    },
    /// More points than can be held.
    #[error(
        "a spacing of {spacing_m} m gives about {points:.0} points over {area_m2:.0} m2, and at most {} are held; \
         use at least {:.2} m", OUTLINE_PLACES.shown(), (area_m2 / OUTLINE_PLACES.number as f64).sqrt() * 1.1
    )]
    TooMany {
        /// As given, m.
        spacing_m: f64,
        /// About how many that would be.
        points: f64,
        /// Size of the rectangle around the outline, m2.
        area_m2: f64,
    },
}

/// A grid has a column more once this share of a spacing is left over. A half would be the obvious share, and the one that
/// drawings in whole and half metres meet exactly: a width of 15 m in steps of 2 m would have 7 or 8 columns by the last digit.
const LEFT_OVER: f64 = 0.37;

/// Where in its cell a place of the grid lies, as a share. In the middle it would lie on sides in whole and half metres within
/// an outline that has corners inwards, and be in or out by the last digit; so little off it moves a mean by nothing.
const IN_CELL: f64 = 0.4636;

/// Columns, or rows, of a grid over a length: what is left over of the last one is shared out among all.
pub fn grid_steps(length_m: f64, spacing_m: f64) -> f64 {
    (length_m / spacing_m - LEFT_OVER).ceil().max(1.0)
}

/// Points inside an outline on a grid along its own axes ([`Polygon::own_axes`]), row by row: turning or moving an outline
/// turns and moves its points with it, to the centimetre it is drawn to. The rectangle around the outline is cut into equal
/// cells of about `spacing_m` by `spacing_m`; every point stands for the same share of the area. An outline too small or
/// narrow for any point of the grid gives one point inside it; the answer is never empty.
///
/// # Errors
/// [`SampleError`] for a spacing that is none, or that gives more points around the outline than are held
/// ([`OUTLINE_PLACES`]).
pub fn sample_outline(outline: &Polygon, spacing_m: f64) -> Result<Vec<Point2>, SampleError> {
    if !(spacing_m.is_finite() && spacing_m >= FINEST_M) {
        return Err(SampleError::Spacing { spacing_m });
    }
    let axes = outline.own_axes();
    let size = axes.size;
    let (columns, rows) = (grid_steps(size.x, spacing_m), grid_steps(size.y, spacing_m));
    if columns * rows > OUTLINE_PLACES.number as f64 {
        return Err(SampleError::TooMany { spacing_m, points: columns * rows, area_m2: size.x * size.y });
    }
    let place = |index: usize, count: f64, length_m: f64| ((index as f64 + IN_CELL) / count - 0.5) * length_m;
    let mut points = Vec::new();
    for j in 0..rows as usize {
        for i in 0..columns as usize {
            let p = axes.at(place(i, columns, size.x), place(j, rows, size.y));
            if outline.contains(p) {
                points.push(p);
            }
        }
    }
    if points.is_empty() {
        points.push(inner_point(outline));
    }
    Ok(points)
}

/// A point inside an outline: its centroid, or where that lies outside, the middle of the longest stretch of a
/// line through it along either of its axes.
fn inner_point(outline: &Polygon) -> Point2 {
    let centre = outline.centroid();
    if outline.contains(centre) {
        return centre;
    }
    let axes = outline.own_axes();
    let reach = axes.size.norm();
    let along = axes.along;
    [along, Point2::new(-along.y, along.x)]
        .map(|way| Segment::new(centre - way * reach, centre + way * reach))
        .into_iter()
        .flat_map(|line| outline.inside_intervals(line).into_iter().map(move |(a, b)| (line, a, b)))
        .max_by(|x, y| ((x.2 - x.1) * x.0.length()).total_cmp(&((y.2 - y.1) * y.0.length())))
        .map_or(outline.corners()[0], |(line, a, b)| line.a.lerp(line.b, 0.5 * (a + b)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn polygon(corners: &[[f64; 2]]) -> Polygon {
        Polygon::new(corners.iter().map(|&p| p.into())).unwrap()
    }

    #[test]
    fn a_terrace_is_covered_evenly() {
        let terrace = Polygon::rectangle(Point2::new(2.0, 1.0), Point2::new(8.0, 4.0)).unwrap();
        let points = sample_outline(&terrace, 1.0).unwrap();
        assert_eq!(points.len(), 18);
        // Each stands a little off the middle of its square metre, all in the same way.
        let off = |p: Point2| Point2::new(p.x.rem_euclid(1.0), p.y.rem_euclid(1.0));
        for p in &points {
            assert!(
                off(*p).distance(off(points[0])) < 1e-9 && off(*p).distance(Point2::new(0.5, 0.5)) < 0.06
            );
        }
        let mut cells: Vec<(i64, i64)> =
            points.iter().map(|p| (p.x.floor() as i64, p.y.floor() as i64)).collect();
        cells.sort_unstable();
        cells.dedup();
        assert_eq!(cells.len(), 18);
    }

    /// A width that is no multiple of the spacing is covered to both sides: 10.9 m in steps of 1 m are eleven of 0.99 m.
    #[test]
    fn what_is_left_over_is_shared_out() {
        let strip = Polygon::rectangle(Point2::new(0.0, 0.0), Point2::new(10.9, 1.0)).unwrap();
        let mut along: Vec<f64> = sample_outline(&strip, 1.0).unwrap().iter().map(|p| p.x).collect();
        along.sort_by(f64::total_cmp);
        assert_eq!(along.len(), 11);
        assert!(along[0] < 0.55 && along[10] > 10.3);
        assert!(along.windows(2).all(|w| (w[1] - w[0] - 10.9 / 11.0).abs() < 1e-9));
    }

    #[test]
    fn tiny_and_hollow_outlines_have_a_point() {
        let tiny = polygon(&[[0.0, 0.0], [0.1, 0.0], [0.0, 0.1]]);
        assert_eq!(sample_outline(&tiny, 1.0).unwrap().len(), 1);
        // A thin U whose centre of area is in the open middle.
        let u = polygon(&[
            [0.0, 0.0],
            [9.0, 0.0],
            [9.0, 9.0],
            [8.9, 9.0],
            [8.9, 0.1],
            [0.1, 0.1],
            [0.1, 9.0],
            [0.0, 9.0],
        ]);
        let points = sample_outline(&u, 5.0).unwrap();
        assert_eq!(points.len(), 1);
        assert!(u.contains(points[0]));
    }

    #[test]
    fn bad_spacings_say_what_would_do() {
        let field = Polygon::rectangle(Point2::new(0.0, 0.0), Point2::new(1000.0, 1000.0)).unwrap();
        for spacing in [0.0, -1.0, f64::NAN] {
            assert!(matches!(sample_outline(&field, spacing), Err(SampleError::Spacing { .. })));
        }
        let text = sample_outline(&field, 0.1).unwrap_err().to_string();
        assert!(
            text.contains("about 100000000 points over 1000000 m2") && text.contains("at least 0.55 m"),
            "{text}"
        );
    }

    /// An L in whole and half metres, turned and moved and written to the centimetre: the same points, turned and moved.
    #[test]
    fn points_turn_and_move_with_their_outline() {
        let corners = [[0.0, 0.0], [24.0, 0.0], [24.0, 7.5], [11.0, 7.5], [11.0, 15.0], [0.0, 15.0]];
        let here = sample_outline(&polygon(&corners), 2.0).unwrap();
        for (degrees, by) in [(37.0f64, 0.0), (90.0, 3.3), (-128.5, 411.0), (180.0, -75.0)] {
            let (sin, cos) = degrees.to_radians().sin_cos();
            let turned = |p: Point2| Point2::new(by + p.x * cos - p.y * sin, p.x * sin + p.y * cos - by);
            let cm = |v: f64| (100.0 * v).round() / 100.0;
            let written = corners.map(|p| turned(p.into())).map(|p| [cm(p.x), cm(p.y)]);
            let there = sample_outline(&polygon(&written), 2.0).unwrap();
            assert_eq!(there.len(), here.len(), "turned by {degrees} degrees");
            for (a, b) in here.iter().zip(&there) {
                assert!(turned(*a).distance(*b) < 0.03, "{a:?} {b:?} turned by {degrees} degrees");
            }
        }
    }

    proptest! {
        #[test]
        fn points_are_inside_and_as_many_as_the_area_holds(
            radii in prop::collection::vec(3.0f64..9.0, 5..12), spacing in 0.3f64..0.6, x in -99.0f64..99.0,
        ) {
            let n = radii.len() as f64;
            let corner = |i: usize, r: f64| {
                let a = std::f64::consts::TAU * i as f64 / n;
                Point2::new(x + r * a.cos(), r * a.sin())
            };
            let outline = Polygon::new(radii.iter().enumerate().map(|(i, &r)| corner(i, r))).unwrap();
            let points = sample_outline(&outline, spacing).unwrap();
            prop_assert!(points.iter().all(|&p| outline.contains(p)));
            let expected = outline.area() / (spacing * spacing);
            let slack = 1.5 * outline.perimeter() / spacing;
            prop_assert!((points.len() as f64 - expected).abs() < slack);
        }
    }
}
