use super::*;
use proptest::prelude::*;

fn ring(corners: &[(f64, f64)], of: usize) -> Vec<Piece> {
    let at = |k: usize| Point2::new(corners[k % corners.len()].0, corners[k % corners.len()].1);
    (0..corners.len()).map(|k| Piece { from: at(k), to: at(k + 1), of }).collect()
}

fn tree(pieces: Vec<Piece>) -> PlanTree {
    PlanTree::new(pieces, Point2::new(-50.0, -50.0), Point2::new(50.0, 50.0))
}

/// Where a ray from the eye meets a piece, as a share of the way to its target; the plain formula for two straight lines.
fn met(eye: Point2, target: Point2, piece: &Piece) -> Option<f64> {
    let (d, e) = (target - eye, piece.to - piece.from);
    let across = d.cross(e);
    if across.abs() < 1e-9 {
        return None;
    }
    let between = piece.from - eye;
    let (t, s) = (between.cross(e) / across, between.cross(d) / across);
    ((0.0..=1.0).contains(&s) && t > 0.0).then_some(t)
}

/// Along every ray from the eye, pieces come in the order from far to near.
fn assert_in_order(tree: &PlanTree, eye: Point2) {
    let parts = tree.back_to_front(eye);
    let mut pieces = Vec::new();
    for part in &parts {
        if let Part::Upright(some) = part {
            pieces.extend(some.iter().copied());
        }
    }
    for k in 0..720 {
        let (sin, cos) = (f64::from(k) * 0.5 + 0.13).to_radians().sin_cos();
        let far = eye + Point2::new(cos, sin) * 300.0;
        let along: Vec<f64> = pieces.iter().filter_map(|p| met(eye, far, p)).collect();
        for pair in along.windows(2) {
            assert!(pair[0] >= pair[1] - 1e-6, "from {eye:?} at {k}: {along:?}");
        }
        assert!(along.iter().all(|t| t.is_finite()));
    }
}

#[test]
fn a_wall_before_a_house_comes_after_it() {
    // The house stands north of the wall; seen from the south, and from the north.
    let mut pieces = ring(&[(0.0, 10.0), (10.0, 10.0), (10.0, 15.0), (0.0, 15.0)], 0);
    pieces.push(Piece { from: Point2::new(-5.0, 5.0), to: Point2::new(15.0, 5.0), of: 1 });
    let tree = tree(pieces);
    let order = |eye: Point2| -> Vec<usize> {
        let parts = tree.back_to_front(eye);
        let of = |p: &Part<'_>| match p {
            Part::Upright(some) => some.iter().map(|p| p.of).collect(),
            Part::Cell(..) => Vec::new(),
        };
        parts.iter().flat_map(of).collect()
    };
    assert_eq!(order(Point2::new(5.0, -40.0)).last(), Some(&1));
    assert_eq!(order(Point2::new(5.0, 40.0)).first(), Some(&1));
}

#[test]
fn of_a_house_with_a_yard_the_far_side_of_the_yard_comes_before_the_near_wing() {
    // A U that is open to the south; a pavilion stands in its yard.
    let u = [
        (0.0, 0.0),
        (4.0, 0.0),
        (4.0, 8.0),
        (12.0, 8.0),
        (12.0, 0.0),
        (16.0, 0.0),
        (16.0, 12.0),
        (0.0, 12.0),
    ];
    let mut pieces = ring(&u, 0);
    pieces.extend(ring(&[(7.0, 3.0), (9.0, 3.0), (9.0, 5.0), (7.0, 5.0)], 1));
    let tree = tree(pieces);
    for eye in [(8.0, -30.0), (-30.0, 4.0), (30.0, 4.0), (8.0, 40.0), (25.0, -25.0), (7.99, -30.0)] {
        assert_in_order(&tree, Point2::new(eye.0, eye.1));
    }
}

/// Three walls of which each is before the next, round in a circle: no order of whole walls is right, so one must be parted.
#[test]
fn walls_that_each_stand_before_the_next_are_parted() {
    let wall = |k: usize| {
        let turn = 120.0 * k as f64;
        let at = |degrees: f64, r: f64| {
            let (sin, cos) = (turn + degrees).to_radians().sin_cos();
            Point2::new(cos * r, sin * r)
        };
        Piece { from: at(0.0, 4.0), to: at(100.0, 12.0), of: k }
    };
    let tree = tree((0..3).map(wall).collect());
    for degrees in (0..360).step_by(7) {
        let (sin, cos) = f64::from(degrees).to_radians().sin_cos();
        assert_in_order(&tree, Point2::new(40.0 * cos, 40.0 * sin));
    }
}

#[test]
fn cells_fill_the_plan_and_none_is_crossed() {
    let mut pieces = ring(&[(0.0, 0.0), (20.0, 3.0), (9.0, 7.0), (12.0, 20.0), (-3.0, 11.0)], 0);
    pieces.push(Piece { from: Point2::new(-20.0, 5.0), to: Point2::new(30.0, 6.0), of: 1 });
    let tree = tree(pieces.clone());
    let mut total = 0.0;
    for part in tree.back_to_front(Point2::new(3.0, -200.0)) {
        let Part::Cell(slot, corners) = part else { continue };
        if corners.is_empty() {
            continue;
        }
        total += area_m2(corners);
        let middle = corners.iter().fold(Point2::default(), |a, &b| a + b) * (1.0 / corners.len() as f64);
        assert_eq!(tree.cell_of(middle), slot);
        for p in &pieces {
            let crossed = piece_inside(p.from, p.to, corners).map_or(0.0, |(a, b)| a.distance(b));
            // What runs along its edge does not cross it.
            assert!(crossed < 1e-3 || edge_of(corners, p), "{p:?} crosses {corners:?}");
        }
    }
    assert!((total - 10_000.0).abs() < 1e-6, "{total}");
}

/// Whether all of a convex ring lies on one side of a piece's line.
fn edge_of(corners: &[Point2], p: &Piece) -> bool {
    let sides: Vec<f64> = corners.iter().map(|&c| direction(p).cross(c - p.from)).collect();
    sides.iter().all(|s| *s > -1e-5) || sides.iter().all(|s| *s < 1e-5)
}

#[test]
fn parts_of_rings_and_lines_inside_a_square() {
    let at = Point2::new;
    let square = [at(0.0, 0.0), at(4.0, 0.0), at(4.0, 4.0), at(0.0, 4.0)];
    // A U whose two arms stand in the square and whose middle does not: two times 1 by 2.
    let u = [
        at(1.0, 2.0),
        at(2.0, 2.0),
        at(2.0, 5.0),
        at(2.5, 5.0),
        at(2.5, 2.0),
        at(3.5, 2.0),
        at(3.5, 6.0),
        at(1.0, 6.0),
    ];
    assert!((area_m2(&inside(&u, &square)) - 4.0).abs() < 1e-9);
    assert_eq!(piece_inside(at(-2.0, 1.0), at(6.0, 1.0), &square), Some((at(0.0, 1.0), at(4.0, 1.0))));
    assert_eq!(piece_inside(at(-2.0, 5.0), at(6.0, 5.0), &square), None);
    assert!(inside(&[at(9.0, 9.0), at(10.0, 9.0), at(9.0, 10.0)], &square).is_empty());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    /// Houses anywhere, crossing each other or not, seen from anywhere outside.
    #[test]
    fn pieces_come_from_far_to_near(
        houses in prop::collection::vec((-20.0..20.0f64, -20.0..20.0f64, 1.0..9.0f64, 1.0..9.0f64, 0.0..90.0f64), 1..7),
        around in 0.0..360.0f64,
    ) {
        let mut pieces = Vec::new();
        for (of, (x, y, w, h, turn)) in houses.iter().enumerate() {
            let (sin, cos) = turn.to_radians().sin_cos();
            let corner = |u: f64, v: f64| (x + u * cos - v * sin, y + u * sin + v * cos);
            pieces.extend(ring(&[corner(0.0, 0.0), corner(*w, 0.0), corner(*w, *h), corner(0.0, *h)], of));
        }
        let (sin, cos) = around.to_radians().sin_cos();
        assert_in_order(&tree(pieces), Point2::new(70.0 * cos, 70.0 * sin));
    }
}
