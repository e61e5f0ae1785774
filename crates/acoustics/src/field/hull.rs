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

/// Length of a string pulled tight round all points. The points are sorted on the way.
pub(crate) fn perimeter(points: &mut [Point2]) -> f64 {
    if let [a, b, c] = *points {
        return apart(a, b) + apart(b, c) + apart(c, a);
    }
    points.sort_by(|p, q| p.x.total_cmp(&q.x).then(p.y.total_cmp(&q.y)));
    let mut length = 0.0;
    // Lower chain left to right, then upper chain right to left (Andrew 1979), keeping only the chain's length.
    let mut chain: Vec<Point2> = Vec::with_capacity(points.len());
    for pass in 0..2 {
        chain.clear();
        let mut add = |p: Point2| {
            while chain.len() > 1 && turn(chain[chain.len() - 2], chain[chain.len() - 1], p) <= 0.0 {
                chain.pop();
            }
            chain.push(p);
        };
        if pass == 0 {
            points.iter().for_each(|p| add(*p));
        } else {
            points.iter().rev().for_each(|p| add(*p));
        }
        length += chain.windows(2).map(|w| apart(w[0], w[1])).sum::<f64>();
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
    fn a_string_round_a_square_and_a_line() {
        let mut square = [p(0.0, 0.0), p(2.0, 0.0), p(1.0, 1.0), p(2.0, 2.0), p(0.0, 2.0)];
        assert!((perimeter(&mut square) - 8.0).abs() < 1e-12);
        assert!((perimeter(&mut [p(0.0, 0.0), p(3.0, 0.0)]) - 6.0).abs() < 1e-12);
        assert!((perimeter(&mut [p(0.0, 0.0), p(3.0, 0.0), p(1.0, 0.0), p(2.0, 0.0)]) - 6.0).abs() < 1e-12);
    }
}
