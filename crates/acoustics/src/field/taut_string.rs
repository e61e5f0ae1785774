//! Taut strings: over points in a vertical plane, and round points in plan.

use loamline_geometry::Point2;

fn turn(a: Point2, b: Point2, c: Point2) -> f64 {
    (b - a).cross(c - a)
}

/// Square root of the sum of squares; sites are far too small to overflow it.
#[inline]
pub(crate) fn length(x: f64, y: f64) -> f64 {
    (x * x + y * y).sqrt()
}

/// Distance between two places in plan.
#[inline]
pub(crate) fn apart(a: Point2, b: Point2) -> f64 {
    length(a.x - b.x, a.y - b.y)
}

/// Length of the shortest line from `a` to `b` (left to right) that passes over all the points.
pub(crate) fn way_over(a: Point2, b: Point2, points: &mut Vec<Point2>) -> f64 {
    points.sort_by(|p, q| p.x.total_cmp(&q.x).then(p.y.total_cmp(&q.y)));
    points.push(b);
    // The chain so far lies in points[..top], with `a` before it.
    let mut top = 0;
    for i in 0..points.len() {
        let p = points[i];
        while top > 0 {
            let before = if top > 1 { points[top - 2] } else { a };
            if turn(before, points[top - 1], p) >= 0.0 { top -= 1 } else { break }
        }
        points[top] = p;
        top += 1;
    }
    let mut length = 0.0;
    let mut last = a;
    for &p in &points[..top] {
        length += apart(last, p);
        last = p;
    }
    length
}

/// Length of a string pulled tight from `a` to `b` round points that all lie on the left of that line.
pub(crate) fn way_round(a: Point2, b: Point2, points: &[Point2]) -> f64 {
    let (mut at, mut length) = (a, 0.0);
    // From corner to corner, each time the one that leaves all others on the right (Jarvis 1973).
    for _ in 0..=points.len() {
        let mut next = b;
        for &p in points {
            let t = turn(at, next, p);
            if t > 0.0 || (t == 0.0 && apart(at, p) > apart(at, next)) {
                next = p;
            }
        }
        length += apart(at, next);
        at = next;
        if at == b {
            break;
        }
    }
    length
}

#[cfg(test)]
mod tests {
    use super::*;

    fn p(x: f64, y: f64) -> Point2 {
        Point2::new(x, y)
    }

    #[test]
    fn a_string_over_two_posts() {
        // 3-4-5 triangles either side of a 6 m span, a low post between that the string does not touch.
        let mut posts = vec![p(10.0, 4.0), p(4.0, 4.0), p(7.0, 3.0)];
        assert!((way_over(p(1.0, 0.0), p(13.0, 0.0), &mut posts) - 16.0).abs() < 1e-12);
        assert!((way_over(p(0.0, 0.0), p(3.0, 4.0), &mut Vec::new()) - 5.0).abs() < 1e-12);
    }

    #[test]
    fn a_string_round_corners() {
        let round = |b: Point2, points: &[Point2]| way_round(p(0.0, 0.0), b, points);
        // Three sides of a square of 2 m, whatever lies inside it.
        assert!((round(p(2.0, 0.0), &[p(2.0, 2.0), p(1.0, 1.0), p(0.0, 2.0)]) - 6.0).abs() < 1e-12);
        assert!((round(p(2.0, 0.0), &[]) - 2.0).abs() < 1e-12);
        // Corners beyond both ends: 3-4-5 triangles and 16 m between.
        assert!((round(p(10.0, 0.0), &[p(13.0, 4.0), p(-3.0, 4.0)]) - 26.0).abs() < 1e-12);
        // In one line, and twice the same corner.
        assert!((round(p(4.0, 0.0), &[p(1.0, 1.0), p(2.0, 2.0), p(2.0, 2.0)]) - 32f64.sqrt()).abs() < 1e-12);
    }
}
