//! What lies behind what: the plan cut along everything that stands upright on it.
//!
//! A binary space partition (Fuchs, Kedem and Naylor 1980) in two dimensions. All that hides anything here stands upright or
//! lies level, so that a cut of the plan cuts space along an upright plane, and nothing beyond that plane can hide what is on
//! the side of the eye. Taken from the far side to the near one, the parts come in an order in which each may be painted over
//! those before. A piece that a cut crosses is parted there; a cut runs along a piece, so that there is always one.
//!
//! Left out: what slopes. Cost: at worst pieces squared; that of gardens some times their logarithm.

use loamline_geometry::Point2;
use loamline_limits::go_on;

/// Nearer to a cut than this lies on it, metres. Smaller parts pieces by rounding; larger moves what is seen.
const ON_M: f64 = 1e-6;
/// How many pieces are tried as the next cut: more cuts less to pieces and takes longer.
const TRIED: usize = 7;
/// What a piece more weighs against one step of a lopsided tree.
const PARTED_WEIGHT: usize = 8;

/// A part of something upright, by its foot in plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece {
    pub from: Point2,
    pub to: Point2,
    /// Which of the things the tree was made of.
    pub of: usize,
}

/// A part of the plan with what is in it, as it comes from behind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Part<'t> {
    /// A convex part that nothing upright crosses, by its number and its corners counter-clockwise; it may have none.
    Cell(usize, &'t [Point2]),
    /// Pieces on one cut.
    Upright(&'t [Piece]),
}

#[derive(Debug)]
enum Node {
    Cell(Vec<Point2>),
    Cut { at: Point2, along: Point2, pieces: Vec<Piece>, left: usize, right: usize },
}

/// The plan, cut.
#[derive(Debug)]
pub struct PlanTree {
    nodes: Vec<Node>,
}

impl PlanTree {
    /// Cuts the rectangle between two corners along pieces.
    pub fn new(pieces: Vec<Piece>, low: Point2, high: Point2) -> Self {
        let whole = vec![low, Point2::new(high.x, low.y), high, Point2::new(low.x, high.y)];
        let long = |p: &Piece| p.from.distance(p.to) > ON_M;
        let mut nodes = vec![Node::Cell(Vec::new())];
        let mut open = vec![(0, pieces.into_iter().filter(long).collect::<Vec<_>>(), whole)];
        while let Some((slot, pieces, region)) = open.pop() {
            go_on();
            let Some(cut) = best_cut(&pieces) else {
                nodes[slot] = Node::Cell(region);
                continue;
            };
            let (at, along) = (cut.from, direction(&cut));
            let (mut on, mut left, mut right) = (Vec::new(), Vec::new(), Vec::new());
            for piece in pieces {
                match parted(&piece, at, along) {
                    Sides::On => on.push(piece),
                    Sides::Left => left.push(piece),
                    Sides::Right => right.push(piece),
                    Sides::Both(l, r) => {
                        left.extend(Some(l).filter(long));
                        right.extend(Some(r).filter(long));
                    }
                }
            }
            let (l, r) = (nodes.len(), nodes.len() + 1);
            nodes.push(Node::Cell(Vec::new()));
            nodes.push(Node::Cell(Vec::new()));
            nodes[slot] = Node::Cut { at, along, pieces: on, left: l, right: r };
            open.push((l, left, half(&region, at, along)));
            open.push((r, right, half(&region, at, along * -1.0)));
        }
        Self { nodes }
    }

    /// Every part, those first that others may hide from an eye above this place.
    pub fn back_to_front(&self, eye: Point2) -> Vec<Part<'_>> {
        enum Next {
            Node(usize),
            Pieces(usize),
        }
        let (mut next, mut parts) = (vec![Next::Node(0)], Vec::new());
        while let Some(step) = next.pop() {
            match step {
                Next::Pieces(slot) => {
                    if let Node::Cut { pieces, .. } = &self.nodes[slot] {
                        parts.push(Part::Upright(pieces));
                    }
                }
                Next::Node(slot) => match &self.nodes[slot] {
                    Node::Cell(corners) => parts.push(Part::Cell(slot, corners)),
                    Node::Cut { at, along, left, right, .. } => {
                        let eye_left = along.cross(eye - *at) >= 0.0;
                        let (near, far) = if eye_left { (*left, *right) } else { (*right, *left) };
                        // The last to be laid down is taken up first.
                        next.extend([Next::Node(near), Next::Pieces(slot), Next::Node(far)]);
                    }
                },
            }
        }
        parts
    }

    /// The number of the cell a place lies in; on a cut, that on its left.
    pub fn cell_of(&self, place: Point2) -> usize {
        let mut slot = 0;
        while let Node::Cut { at, along, left, right, .. } = &self.nodes[slot] {
            slot = if along.cross(place - *at) >= 0.0 { *left } else { *right };
        }
        slot
    }
}

fn direction(piece: &Piece) -> Point2 {
    let d = piece.to - piece.from;
    d * (1.0 / d.norm().max(ON_M))
}

enum Sides {
    On,
    Left,
    Right,
    Both(Piece, Piece),
}

fn parted(piece: &Piece, at: Point2, along: Point2) -> Sides {
    let (a, b) = (along.cross(piece.from - at), along.cross(piece.to - at));
    if a.abs() <= ON_M && b.abs() <= ON_M {
        return Sides::On;
    }
    if a >= -ON_M && b >= -ON_M {
        return Sides::Left;
    }
    if a <= ON_M && b <= ON_M {
        return Sides::Right;
    }
    let middle = piece.from.lerp(piece.to, a / (a - b));
    let (first, second) = (Piece { to: middle, ..*piece }, Piece { from: middle, ..*piece });
    if a > 0.0 { Sides::Both(first, second) } else { Sides::Both(second, first) }
}

/// The piece that parts the fewest others and leaves about as many on either side, of some tried; none of none.
fn best_cut(pieces: &[Piece]) -> Option<Piece> {
    let every = pieces.len().div_ceil(TRIED).max(1);
    let price = |cut: &Piece| {
        let (at, along) = (cut.from, direction(cut));
        let (mut left, mut right, mut both) = (0usize, 0usize, 0usize);
        for piece in pieces {
            match parted(piece, at, along) {
                Sides::On => {}
                Sides::Left => left += 1,
                Sides::Right => right += 1,
                Sides::Both(..) => both += 1,
            }
        }
        PARTED_WEIGHT * both + left.abs_diff(right)
    };
    pieces.iter().step_by(every).min_by_key(|cut| price(cut)).copied()
}

/// The part of a ring on the left of a line (Sutherland and Hodgman 1974). Of a ring that is not convex, parts may hang
/// together by edges along the line, which enclose nothing.
pub fn half(ring: &[Point2], at: Point2, along: Point2) -> Vec<Point2> {
    let mut kept = Vec::with_capacity(ring.len() + 2);
    for (i, &a) in ring.iter().enumerate() {
        let b = ring[(i + 1) % ring.len()];
        let (da, db) = (along.cross(a - at), along.cross(b - at));
        if da >= 0.0 {
            kept.push(a);
        }
        if (da > 0.0 && db < 0.0) || (da < 0.0 && db > 0.0) {
            kept.push(a.lerp(b, da / (da - db)));
        }
    }
    if kept.len() < 3 { Vec::new() } else { kept }
}

/// The part of a ring inside a convex ring that runs counter-clockwise.
pub fn inside(ring: &[Point2], convex: &[Point2]) -> Vec<Point2> {
    let mut left = ring.to_vec();
    for (i, &a) in convex.iter().enumerate() {
        if left.is_empty() {
            break;
        }
        left = half(&left, a, convex[(i + 1) % convex.len()] - a);
    }
    left
}

/// The part of a straight piece inside a convex ring that runs counter-clockwise.
pub fn piece_inside(a: Point2, b: Point2, convex: &[Point2]) -> Option<(Point2, Point2)> {
    let (mut enter, mut leave) = (0.0f64, 1.0f64);
    for (i, &at) in convex.iter().enumerate() {
        let along = convex[(i + 1) % convex.len()] - at;
        let (da, db) = (along.cross(a - at), along.cross(b - at));
        if da < 0.0 && db < 0.0 {
            return None;
        }
        if da < 0.0 {
            enter = enter.max(da / (da - db));
        } else if db < 0.0 {
            leave = leave.min(da / (da - db));
        }
    }
    (leave > enter).then(|| (a.lerp(b, enter), a.lerp(b, leave)))
}

/// Area of a ring, positive when it runs counter-clockwise, m2.
pub fn area_m2(ring: &[Point2]) -> f64 {
    let twice: f64 = ring.iter().enumerate().map(|(i, a)| a.cross(ring[(i + 1) % ring.len()])).sum();
    twice / 2.0
}

#[cfg(test)]
#[path = "plan_tree_tests.rs"]
mod tests;
