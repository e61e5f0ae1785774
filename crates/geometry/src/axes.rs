//! The axes of an outline: a rectangle around it that turns and moves with it.

use crate::{Point2, Polygon};

/// Sides that fall short of the longest by no more than this count as long as the longest, metres: drawings are written to the
/// centimetre, and turning one changes the difference of two lengths by up to three. Were it smaller, the sides of a square
/// would take turns at being the longest.
const AS_LONG_M: f64 = 0.05;

/// The rectangle around an outline along its longest side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OwnAxes {
    /// Its middle.
    pub middle: Point2,
    /// Unit vector along the longest side; the other axis lies 90 degrees anticlockwise of it.
    pub along: Point2,
    /// Its sides, along and across, metres.
    pub size: Point2,
}

impl OwnAxes {
    /// The place so far along and across from the middle, metres.
    #[must_use]
    pub fn at(&self, along_m: f64, across_m: f64) -> Point2 {
        self.middle + self.along * along_m + across(self.along) * across_m
    }
}

fn across(along: Point2) -> Point2 {
    Point2::new(-along.y, along.x)
}

impl Polygon {
    /// The rectangle around the outline along its longest side, the first of those that are as long. It turns and moves with
    /// the outline, whatever that is drawn to.
    #[must_use]
    pub fn own_axes(&self) -> OwnAxes {
        let longest = self.sides().map(|s| s.length()).fold(0.0, f64::max);
        let side = self.sides().find(|s| s.length() >= longest - AS_LONG_M);
        let along = side.map_or(Point2::new(1.0, 0.0), |s| {
            let way = s.b - s.a;
            way * (1.0 / way.norm())
        });
        let (mut low, mut high) = (Point2::new(0.0, 0.0), Point2::new(0.0, 0.0));
        // From a corner, so that what is far from the datum loses no digits.
        let origin = self.corners()[0];
        for p in self.corners() {
            let off = *p - origin;
            let own = Point2::new(off.dot(along), off.dot(across(along)));
            low = Point2::new(low.x.min(own.x), low.y.min(own.y));
            high = Point2::new(high.x.max(own.x), high.y.max(own.y));
        }
        let middle = low.lerp(high, 0.5);
        let middle = origin + along * middle.x + across(along) * middle.y;
        OwnAxes { middle, along, size: high - low }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn polygon(corners: &[[f64; 2]]) -> Polygon {
        Polygon::new(corners.iter().map(|&p| p.into())).unwrap()
    }

    #[test]
    fn a_rectangle_is_its_own() {
        let axes = polygon(&[[2.0, 1.0], [2.0, 4.0], [8.0, 4.0], [8.0, 1.0]]).own_axes();
        assert_eq!((axes.middle, axes.size), (Point2::new(5.0, 2.5), Point2::new(6.0, 3.0)));
        assert!((axes.along.x.abs() - 1.0).abs() < 1e-12 && axes.along.y.abs() < 1e-12);
        assert_eq!(axes.at(0.0, 0.0), axes.middle);
    }

    #[test]
    fn a_thin_triangle_lies_along_its_long_side() {
        // 3-4-5: the rectangle along the side of 5 is as high as the triangle over it, 12/5.
        let axes = polygon(&[[0.0, 0.0], [4.0, 0.0], [0.0, 3.0]]).own_axes();
        assert!((axes.size.x - 5.0).abs() < 1e-12 && (axes.size.y - 2.4).abs() < 1e-12);
    }

    proptest! {
        /// Turned, moved and written to the centimetre it is the same rectangle, turned and moved.
        #[test]
        fn they_turn_and_move_with_the_outline(
            width in 1.0f64..40.0, depth in 1.0f64..40.0, bite in 0.2f64..0.8, turn in -3.1f64..3.1,
            x in -900.0f64..900.0, y in -900.0f64..900.0,
        ) {
            let cm = |v: f64| (100.0 * v).round() / 100.0;
            let (w, d) = (cm(width), cm(depth));
            let (bx, by) = (cm(bite * w), cm(bite * d));
            let corners = [[0.0, 0.0], [w, 0.0], [w, by], [bx, by], [bx, d], [0.0, d]];
            let lengths = [w, by, w - bx, d - by, bx, d];
            let longest = lengths.iter().copied().fold(0.0, f64::max);
            // Just at the edge of being as long, either may be taken.
            prop_assume!(lengths.iter().all(|l| (longest - l - AS_LONG_M).abs() > 0.03));
            let turned = |p: Point2| {
                let (sin, cos) = turn.sin_cos();
                Point2::new(x + p.x * cos - p.y * sin, y + p.x * sin + p.y * cos)
            };
            let here = polygon(&corners).own_axes();
            let written = corners.map(|p| turned(p.into())).map(|p| [cm(p.x), cm(p.y)]);
            let there = polygon(&written).own_axes();
            prop_assert!((there.size - here.size).norm() < 0.05);
            for (a, b) in [(0.0, 0.0), (0.5, 0.0), (0.0, 0.5), (-0.5, 0.5)] {
                let (a, b) = (a * here.size.x, b * here.size.y);
                // A centimetre at each end of a side turns it by no more than the ratio of both to its length.
                let slack = 0.04 + 0.03 * (here.size.norm() / longest);
                prop_assert!(there.at(a, b).distance(turned(here.at(a, b))) < slack);
            }
        }
    }
}
