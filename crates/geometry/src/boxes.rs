//! Many things in plan by the boxes around them: which of them a line may meet, without looking at all.

use crate::{Point2, Segment};
use rstar::{AABB, RTree, RTreeObject, SelectionFunction};

/// How near a line must come to a box to be said to meet it, metres: far above rounding at kilometres from the datum and above
/// what counts as touching anywhere, far below what is built.
const NEAR_M: f64 = 1e-3;

/// A box and the number of what is in it.
#[derive(Debug, Clone)]
struct Numbered {
    number: usize,
    low: Point2,
    high: Point2,
}

impl RTreeObject for Numbered {
    type Envelope = AABB<[f64; 2]>;

    fn envelope(&self) -> Self::Envelope {
        AABB::from_corners(self.low.into(), self.high.into())
    }
}

/// Boxes around things, numbered from 0.
#[derive(Debug, Clone, Default)]
pub struct Boxes(RTree<Numbered>);

impl Boxes {
    /// Boxes around things, each given by its corners; a thing without corners is never met.
    pub fn around<'p>(things: impl IntoIterator<Item = &'p [Point2]>) -> Self {
        let boxed = |(number, corners): (usize, &[Point2])| {
            let (&first, rest) = corners.split_first()?;
            let (low, high) = rest.iter().fold((first, first), |(low, high), p| {
                (Point2::new(low.x.min(p.x), low.y.min(p.y)), Point2::new(high.x.max(p.x), high.y.max(p.y)))
            });
            Some(Numbered { number, low, high })
        };
        Self(RTree::bulk_load(things.into_iter().enumerate().filter_map(boxed).collect()))
    }

    /// Numbers of the things whose boxes a line passes through or touches, ascending. Nothing that lies on the line is left out;
    /// some of what is found may lie beside it.
    pub fn along(&self, line: Segment) -> Vec<usize> {
        let mut met: Vec<usize> =
            self.0.locate_with_selection_function(Along(line)).map(|one| one.number).collect();
        met.sort_unstable();
        met
    }

    /// Numbers of the things whose boxes overlap or touch a box, given by its south-west and north-east corners, ascending.
    pub fn within(&self, low: Point2, high: Point2) -> Vec<usize> {
        let mut met: Vec<usize> =
            self.0.locate_with_selection_function(Over { low, high }).map(|one| one.number).collect();
        met.sort_unstable();
        met
    }

    /// Numbers of the things whose boxes hold a place, ascending.
    pub fn at(&self, place: Point2) -> Vec<usize> {
        self.along(Segment::new(place, place))
    }
}

/// Chooses boxes that a box comes near.
struct Over {
    low: Point2,
    high: Point2,
}

impl Over {
    fn meets(&self, low: [f64; 2], high: [f64; 2]) -> bool {
        self.low.x <= high[0] + NEAR_M
            && self.high.x >= low[0] - NEAR_M
            && self.low.y <= high[1] + NEAR_M
            && self.high.y >= low[1] - NEAR_M
    }
}

impl SelectionFunction<Numbered> for Over {
    fn should_unpack_parent(&self, envelope: &AABB<[f64; 2]>) -> bool {
        self.meets(envelope.lower(), envelope.upper())
    }

    fn should_unpack_leaf(&self, leaf: &Numbered) -> bool {
        self.meets(leaf.low.into(), leaf.high.into())
    }
}

/// Chooses boxes that a line comes near.
struct Along(Segment);

impl Along {
    fn meets(&self, low: [f64; 2], high: [f64; 2]) -> bool {
        let (a, b) = (self.0.a, self.0.b);
        let apart = a.x.min(b.x) > high[0] + NEAR_M
            || a.x.max(b.x) < low[0] - NEAR_M
            || a.y.min(b.y) > high[1] + NEAR_M
            || a.y.max(b.y) < low[1] - NEAR_M;
        if apart {
            return false;
        }
        // All four corners on one side of the line, and farther than that from it.
        let along = b - a;
        let near = NEAR_M * along.norm();
        let sides = [[low[0], low[1]], [high[0], low[1]], [high[0], high[1]], [low[0], high[1]]]
            .map(|corner| along.cross(Point2::from(corner) - a));
        !(sides.iter().all(|side| *side > near) || sides.iter().all(|side| *side < -near))
    }
}

impl SelectionFunction<Numbered> for Along {
    fn should_unpack_parent(&self, envelope: &AABB<[f64; 2]>) -> bool {
        self.meets(envelope.lower(), envelope.upper())
    }

    fn should_unpack_leaf(&self, leaf: &Numbered) -> bool {
        self.meets(leaf.low.into(), leaf.high.into())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Polygon, segments_cross};
    use proptest::prelude::*;

    #[test]
    fn a_line_meets_what_it_crosses_and_touches() {
        let square = |x: f64, y: f64| {
            [[x, y], [x + 1.0, y], [x + 1.0, y + 1.0], [x, y + 1.0]].map(Point2::from).to_vec()
        };
        let things = [square(0.0, 0.0), square(5.0, 0.0), square(0.0, 5.0), Vec::new(), square(5.0, 5.0)];
        let boxes = Boxes::around(things.iter().map(Vec::as_slice));
        let line = |a: [f64; 2], b: [f64; 2]| boxes.along(Segment::new(a.into(), b.into()));
        assert_eq!(line([-1.0, 0.5], [9.0, 0.5]), [0, 1]);
        assert_eq!(line([0.5, 0.5], [5.5, 5.5]), [0, 4]);
        // Along a side, and at a corner.
        assert_eq!(line([-1.0, 1.0], [9.0, 1.0]), [0, 1]);
        assert_eq!(line([6.0, 6.0], [9.0, 9.0]), [4]);
        assert!(line([2.0, 2.0], [4.0, 4.0]).is_empty());
        assert_eq!((boxes.at(Point2::new(0.2, 5.9)), boxes.at(Point2::new(3.0, 3.0))), (vec![2], Vec::new()));
        let within = |low: [f64; 2], high: [f64; 2]| boxes.within(low.into(), high.into());
        assert_eq!(
            (within([0.5, 0.5], [5.0, 0.6]), within([2.0, 2.0], [4.0, 4.0])),
            (vec![0, 1], Vec::new())
        );
        assert!(Boxes::default().along(Segment::new(Point2::default(), Point2::new(1.0, 1.0))).is_empty());
    }

    proptest! {
        /// Against looking at everything: whatever a line crosses or begins in is found.
        #[test]
        fn nothing_on_the_line_is_left_out(
            places in prop::collection::vec((-900.0f64..900.0, -900.0f64..900.0, 0.1f64..60.0, 0.1f64..60.0), 1..60),
            a in (-1000.0f64..1000.0, -1000.0f64..1000.0), b in (-1000.0f64..1000.0, -1000.0f64..1000.0),
        ) {
            let outlines: Vec<Polygon> = places
                .iter()
                .map(|&(x, y, w, d)| Polygon::rectangle(Point2::new(x, y), Point2::new(x + w, y + d)).unwrap())
                .collect();
            let boxes = Boxes::around(outlines.iter().map(Polygon::corners));
            let line = Segment::new(Point2::new(a.0, a.1), Point2::new(b.0, b.1));
            let found = boxes.along(line);
            for (i, outline) in outlines.iter().enumerate() {
                let meets = outline.contains(line.a) || outline.sides().any(|s| segments_cross(line, s).is_some());
                prop_assert!(!meets || found.contains(&i), "{i} is met and not found");
            }
            prop_assert!(found.windows(2).all(|w| w[0] < w[1]));
        }
    }
}
