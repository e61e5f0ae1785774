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

/// Points inside an outline on a square grid, rows from south to north, each from west to east. The grid is centred
/// on the rectangle around the outline, so moving an outline moves its points with it (turning it does not). Every
/// point stands for about `spacing_m` squared. An outline too small or narrow for any point of the grid gives one
/// point inside it; the answer is never empty.
///
/// # Errors
/// [`SampleError`] for a spacing that is none, or that gives more points around the outline than are held
/// ([`OUTLINE_PLACES`]).
pub fn sample_outline(outline: &Polygon, spacing_m: f64) -> Result<Vec<Point2>, SampleError> {
    if !(spacing_m.is_finite() && spacing_m >= FINEST_M) {
        return Err(SampleError::Spacing { spacing_m });
    }
    let (low, high) = outline.bounds();
    let size = high - low;
    // At least one row and column; the rest in whole steps, what is left over shared by both sides.
    let steps = |length: f64| (length / spacing_m).floor().max(1.0);
    let (columns, rows) = (steps(size.x), steps(size.y));
    if columns * rows > OUTLINE_PLACES.number as f64 {
        return Err(SampleError::TooMany { spacing_m, points: columns * rows, area_m2: size.x * size.y });
    }
    let middle = low.lerp(high, 0.5);
    let place =
        |centre: f64, index: usize, count: f64| centre + (index as f64 - 0.5 * (count - 1.0)) * spacing_m;
    let mut points = Vec::new();
    for j in 0..rows as usize {
        for i in 0..columns as usize {
            let p = Point2::new(place(middle.x, i, columns), place(middle.y, j, rows));
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
/// line through it.
fn inner_point(outline: &Polygon) -> Point2 {
    let centre = outline.centroid();
    if outline.contains(centre) {
        return centre;
    }
    let (low, high) = outline.bounds();
    [
        Segment::new(Point2::new(low.x, centre.y), Point2::new(high.x, centre.y)),
        Segment::new(Point2::new(centre.x, low.y), Point2::new(centre.x, high.y)),
    ]
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
        assert_eq!((points[0], points[17]), (Point2::new(2.5, 1.5), Point2::new(7.5, 3.5)));
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
