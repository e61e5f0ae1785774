//! Ways against closed forms and a fine grid.

mod common;

use common::*;
use loamline_chance::Draws;
use loamline_geometry::Polygon;
use loamline_routing::{
    Building, CableToLay, Clip, GroundMap, GroundProblem, Method, RouteError, RunEndError, Service, Sleeve,
    Wall,
};

/// How much dearer than the closed form a way may be: what its bends are allowed to cost.
const BENDS: f64 = 1.003;

fn assert_price(got: f64, least: f64) {
    assert!(got >= least * (1.0 - 1e-6) && got <= least * BENDS, "{got} against {least}");
}

#[test]
fn open_ground_is_crossed_straight() {
    let ground = GroundMap::new(plan(0.0, 0.0, 40.0, 30.0, 2.0)).unwrap();
    let w = way(&ground, (1.0, 2.0), (37.0, 29.0));
    assert_eq!(w.bends, 0);
    assert!((w.length_m - 45.0).abs() < 1e-9 && (w.laying_price - 90.0).abs() < 1e-6);
}

#[test]
fn a_block_is_rounded_by_its_corners() {
    // Closed form: tangent to the two lower corners.
    let mut g = plan(-5.0, -10.0, 15.0, 10.0, 1.0);
    g.no_go.push(no_go("pond", rect(4.0, -1.0, 6.0, 3.0)));
    let w = way(&GroundMap::new(g).unwrap(), (0.0, 0.0), (10.0, 0.0));
    assert!((w.length_m - (2.0 * 17f64.sqrt() + 2.0)).abs() < 1e-6, "{}", w.length_m);
    assert_eq!(w.bends, 2);
}

#[test]
fn a_slalom_of_two_screens_is_exact() {
    // Closed form: straight pieces between the free tips of two thin blocks.
    let mut g = plan(0.0, 0.0, 20.0, 10.0, 1.0);
    g.no_go.push(no_go("lower", rect(6.0, 0.0, 6.2, 7.0)));
    g.no_go.push(no_go("upper", rect(13.0, 3.0, 13.2, 10.0)));
    let w = way(&GroundMap::new(g).unwrap(), (1.0, 1.0), (19.0, 9.0));
    let d = |a: (f64, f64), b: (f64, f64)| (a.0 - b.0).hypot(a.1 - b.1);
    let tips = [(1.0, 1.0), (6.0, 7.0), (6.2, 7.0), (13.0, 3.0), (13.2, 3.0), (19.0, 9.0)];
    let exact: f64 = tips.windows(2).map(|t| d(t[0], t[1])).sum();
    assert!(w.length_m >= exact - 1e-5 && w.length_m < exact * 1.0005, "{} against {exact}", w.length_m);
}

#[test]
fn a_way_refracts_at_a_boundary() {
    // Closed form: least over the crossing point (convex), found here by ternary search.
    for (low, high) in [(1.0, 3.0), (5.0, 1.0), (2.0, 2.5), (1.0, 20.0)] {
        let mut g = plan(0.0, 0.0, 20.0, 20.0, low);
        g.surfaces.push(surface("paving", rect(0.0, 9.0, 20.0, 20.0), Method::Trench, high));
        let cost = |x: f64| low * (x - 2.0).hypot(9.0 - 1.0) + high * (18.0 - x).hypot(19.0 - 9.0);
        let (mut a, mut b) = (0.0, 20.0);
        for _ in 0..200 {
            let (u, v) = (a + (b - a) / 3.0, b - (b - a) / 3.0);
            if cost(u) < cost(v) { b = v } else { a = u }
        }
        let w = way(&GroundMap::new(g).unwrap(), (2.0, 1.0), (18.0, 19.0));
        assert_price(w.laying_price, cost(a));
        assert!(w.bends <= 1);
    }
}

#[test]
fn a_cheap_edge_is_followed_at_the_critical_angle() {
    // Beside ground that costs 1, ground that costs 4: from one place in the dear ground to another, 1 m from
    // the edge and 20 m apart, the way leaves at sin t = 1/4, follows the edge and comes back.
    let mut g = plan(0.0, 0.0, 30.0, 10.0, 1.0);
    g.surfaces.push(surface("paving", rect(0.0, 5.0, 30.0, 10.0), Method::Trench, 4.0));
    let t = 0.25f64.asin();
    let exact = 2.0 * 4.0 / t.cos() + (20.0 - 2.0 * t.tan());
    let w = way(&GroundMap::new(g).unwrap(), (5.0, 6.0), (25.0, 6.0));
    assert_price(w.laying_price, exact);
    assert_eq!(w.bends, 2);
}

#[test]
fn the_later_of_two_overlapping_surfaces_counts() {
    let mut g = plan(0.0, 0.0, 20.0, 20.0, 1.0);
    g.surfaces.push(surface("lawn", rect(0.0, 0.0, 20.0, 20.0), Method::Slit, 9.0));
    g.surfaces.push(surface("bed", rect(0.0, 0.0, 20.0, 20.0), Method::Staked, 2.0));
    let w = way(&GroundMap::new(g).unwrap(), (1.0, 1.0), (4.0, 5.0));
    assert_eq!(w.stretches.len(), 1);
    assert_eq!((w.stretches[0].over.as_deref(), w.stretches[0].method), (Some("bed"), Method::Staked));
    assert!((w.laying_price - 10.0).abs() < 1e-9);
}

fn gas(line: &[(f64, f64)], crossing_price: f64) -> Service {
    Service {
        id: "gas".into(),
        line: line.iter().map(|&(x, y)| p(x, y)).collect(),
        clearance_m: 0.5,
        crossing_price,
        hand_dig_factor: 2.0,
    }
}

#[test]
fn a_buried_service_is_crossed_once_or_rounded_when_that_is_cheaper() {
    let with = |price| {
        let mut g = plan(0.0, 0.0, 20.0, 20.0, 1.0);
        g.services.push(gas(&[(10.0, 0.0), (10.0, 15.0)], price));
        way(&GroundMap::new(g).unwrap(), (5.0, 10.0), (15.0, 10.0))
    };
    let cheap = with(3.0);
    // 9 m at 1, 1 m by hand at 2, one crossing at 3.
    assert!((cheap.laying_price - 14.0).abs() < 1e-6, "{}", cheap.laying_price);
    assert_eq!(cheap.services[0].crossings.len(), 1);
    assert!((cheap.services[0].crossings[0].1 - 90.0).abs() < 1e-6);
    assert!((cheap.services[0].hand_dig_m - 1.0).abs() < 1e-6 && !cheap.services[0].is_too_close());
    let dear = with(100.0);
    // Round the end of the clearance: corners (9.5, 15.5) and (10.5, 15.5).
    assert!((dear.laying_price - (2.0 * 4.5f64.hypot(5.5) + 1.0)).abs() < 0.01, "{}", dear.laying_price);
    assert!(dear.services.iter().all(|s| s.crossings.is_empty()));
}

#[test]
fn a_run_that_must_end_beside_a_service_is_reported_too_close() {
    let mut g = plan(0.0, 0.0, 20.0, 20.0, 1.0);
    g.services.push(gas(&[(10.0, 0.0), (10.0, 20.0)], 50.0));
    let w = way(&GroundMap::new(g).unwrap(), (5.0, 10.0), (9.8, 10.0));
    let near = &w.services[0];
    assert!(near.crossings.is_empty() && near.is_too_close());
    assert!((near.distance_m - 0.2).abs() < 1e-9);
}

fn sleeve(inside_diameter_mm: f64) -> Sleeve {
    Sleeve {
        id: "S1".into(),
        line: vec![p(8.0, 10.0), p(12.0, 10.0)],
        inside_diameter_mm,
        occupants_mm: vec![10.0],
        price_per_m: 0.5,
    }
}

#[test]
fn a_sleeve_with_room_is_used_and_a_full_one_is_not() {
    let with = |d| {
        let mut g = plan(0.0, 0.0, 20.0, 20.0, 1.0);
        g.surfaces.push(surface("terrace", rect(8.5, 0.0, 11.5, 20.0), Method::Trench, 30.0));
        g.sleeves.push(sleeve(d));
        way(&GroundMap::new(g).unwrap(), (2.0, 10.0), (18.0, 10.0))
    };
    let roomy = with(26.0);
    assert_eq!(roomy.sleeves, ["S1"]);
    assert!((roomy.laying_price - (6.0 + 2.0 + 6.0)).abs() < 1e-6, "{}", roomy.laying_price);
    // 10 mm and 8 mm in 20 mm: 164 / 400 = 41 %, over the 31 % for two.
    let full = with(20.0);
    assert!(full.sleeves.is_empty());
    assert!((full.laying_price - (13.0 + 90.0)).abs() < 1e-6);
}

#[test]
fn cable_is_clipped_along_a_wall_where_that_is_cheaper() {
    let mut g = plan(0.0, 0.0, 30.0, 10.0, 10.0);
    g.walls.push(Wall {
        id: "east".into(),
        line: vec![p(5.0, 5.0), p(25.0, 5.0)],
        thickness_m: 0.2,
        crossing_price: None,
        clip: Some(Clip { price_per_m: 1.0, height_m: 0.3, transition_price: 2.0 }),
    });
    let w = way(&GroundMap::new(g).unwrap(), (5.0, 4.0), (25.0, 4.0));
    // Straight to the face and back (0.9 m each), clipped 20 m, two transitions: less than 200 on the ground.
    assert!(w.laying_price < 2.0 * 9.0 + 20.0 + 4.0 + 0.1, "{}", w.laying_price);
    assert!(
        w.stretches.iter().any(|s| s.method == Method::Clipped && s.over.as_deref() == Some("wall east"))
    );
    assert!((w.vertical_m - 0.6).abs() < 1e-9);
}

#[test]
fn a_wall_is_passed_at_its_price_or_rounded() {
    let with = |crossing_price| {
        let mut g = plan(0.0, 0.0, 20.0, 20.0, 1.0);
        let line = vec![p(10.0, 0.0), p(10.0, 15.0)];
        g.walls.push(Wall { id: "w".into(), line, thickness_m: 0.2, crossing_price, clip: None });
        way(&GroundMap::new(g).unwrap(), (5.0, 10.0), (15.0, 10.0)).laying_price
    };
    assert!((with(Some(3.0)) - 13.0).abs() < 1e-6);
    let round = 2.0 * 4.9f64.hypot(5.1) + 0.2;
    assert!((with(Some(40.0)) - round).abs() < 0.01);
    assert!((with(None) - round).abs() < 0.01);
}

#[test]
fn a_rack_indoors_is_left_straight_through_its_own_building_only() {
    let mut g = plan(0.0, 0.0, 20.0, 20.0, 1.0);
    g.buildings.push(Building {
        id: "house".into(),
        outline: rect(5.0, 5.0, 15.0, 15.0),
        indoor_price_per_m: 3.0,
        outer_wall: None,
        clip: None,
    });
    let ground = GroundMap::new(g).unwrap();
    let out = way(&ground, (10.0, 14.0), (10.0, 18.0));
    assert!((out.laying_price - (3.0 + 3.0)).abs() < 1e-6, "{}", out.laying_price);
    assert_eq!(out.stretches[0].method, Method::Indoors);
    let back = way(&ground, (10.0, 18.0), (10.0, 14.0));
    assert!((back.laying_price - 6.0).abs() < 1e-6);
    assert_eq!(back.stretches[1].method, Method::Indoors);
    let past = way(&ground, (10.0, 18.0), (10.0, 2.0));
    assert!(past.stretches.iter().all(|s| s.method != Method::Indoors));
}

#[test]
fn depths_add_to_the_length() {
    let mut g = plan(0.0, 0.0, 20.0, 20.0, 1.0);
    let mut deep = surface("drive", rect(10.0, 0.0, 20.0, 20.0), Method::Trench, 1.0);
    deep.lay.depth_m = 0.6;
    g.default_lay.depth_m = 0.1;
    g.surfaces.push(deep);
    let w = way(&GroundMap::new(g).unwrap(), (5.0, 10.0), (15.0, 10.0));
    // Down 0.1, down 0.5 more at the drive, up 0.6.
    assert!((w.vertical_m - 1.2).abs() < 1e-9);
}

#[test]
fn what_stands_in_the_way_is_named() {
    let mut g = plan(0.0, 0.0, 20.0, 20.0, 1.0);
    g.no_go.push(no_go("roots", rect(8.0, -1.0, 9.0, 21.0)));
    g.no_go.push(no_go("pool", rect(12.0, -1.0, 13.0, 21.0)));
    let ground = GroundMap::new(g).unwrap();
    let e = ground
        .path(&place("rack R1", 2.0, 2.0), &place("loudspeaker L3", 18.0, 3.0), &FREE_CABLE)
        .unwrap_err();
    assert_eq!(
        e.to_string(),
        "there is no way for cable from rack R1 to loudspeaker L3: no-go area roots and no-go area pool stand in \
         the way. Open a gap, add a sleeve or a passage, or allow a crossing"
    );
}

#[test]
fn ends_outside_or_in_a_no_go_area_are_named() {
    let mut g = plan(0.0, 0.0, 20.0, 20.0, 1.0);
    g.no_go.push(no_go("roots", rect(8.0, 8.0, 12.0, 12.0)));
    let ground = GroundMap::new(g).unwrap();
    let inside = ground.check_place(&place("loudspeaker L3", 10.0, 9.5)).unwrap_err();
    assert_eq!(
        inside.to_string(),
        "loudspeaker L3 at x 10.00 m, y 9.50 m stands in the no-go area roots, 1.50 m from its edge"
    );
    let outside = ground.check_place(&place("rack R1", 23.0, 5.0)).unwrap_err();
    assert!(
        matches!(outside, RunEndError::OutsideSite { distance_m, .. } if (distance_m - 3.0).abs() < 1e-9)
    );
    assert!(ground.check_place(&place("on the edge", 8.0, 9.0)).is_ok());
    assert!(ground.check_place(&place("nowhere", f64::NAN, 9.0)).is_err());
    let bad = CableToLay { price_per_m: -1.0, outside_diameter_mm: 8.0 };
    let e = ground.path(&place("a", 1.0, 1.0), &place("b", 2.0, 2.0), &bad).unwrap_err();
    assert!(matches!(e, RouteError::Cable { .. }));
}

#[test]
fn every_problem_of_a_plan_is_reported_at_once() {
    let mut g = plan(0.0, 0.0, 20.0, 20.0, 1.0);
    g.default_lay.price_per_m = f64::NAN;
    g.services.push(gas(&[(1.0, 1.0), (1.0, 1.0)], -4.0));
    g.sleeves.push(sleeve(0.0));
    g.sleeves.push(sleeve(30.0));
    g.sleeves[1].line[1] = p(25.0, 10.0);
    let problems = GroundMap::new(g).unwrap_err().0;
    assert_eq!(problems.len(), 6, "{problems:?}");
    assert!(problems.iter().any(|e| matches!(e, GroundProblem::Duplicate { kind: "sleeve", .. })));
    assert!(problems.iter().any(|e| matches!(e, GroundProblem::MouthOutside { .. })));
}

/// Least price on a fine square grid with moves to all cells within three steps (32 directions: at most 0.4 %
/// dearer than a straight line), each move priced at samples of its length.
fn grid_price(
    price_at: &dyn Fn(f64, f64) -> f64,
    size: f64,
    cell: f64,
    from: (f64, f64),
    to: (f64, f64),
) -> f64 {
    let n = (size / cell).round() as i64 + 1;
    let node = |q: (f64, f64)| ((q.1 / cell).round() as i64) * n + (q.0 / cell).round() as i64;
    let mut moves = Vec::new();
    for dx in -5i64..=5 {
        for dy in -5i64..=5 {
            let gcd = |mut a: i64, mut b: i64| {
                while b != 0 {
                    (a, b) = (b, a % b);
                }
                a.abs()
            };
            if gcd(dx, dy) == 1 {
                moves.push((dx, dy));
            }
        }
    }
    let mut best = vec![f64::INFINITY; (n * n) as usize];
    let mut queue = std::collections::BinaryHeap::new();
    best[node(from) as usize] = 0.0;
    queue.push(std::cmp::Reverse((0u64, node(from))));
    while let Some(std::cmp::Reverse((bits, at))) = queue.pop() {
        let so_far = f64::from_bits(bits);
        if so_far > best[at as usize] {
            continue;
        }
        if at == node(to) {
            return so_far;
        }
        let (x, y) = (at % n, at / n);
        for &(dx, dy) in &moves {
            let (u, v) = (x + dx, y + dy);
            if u < 0 || v < 0 || u >= n || v >= n {
                continue;
            }
            let length = cell * (dx as f64).hypot(dy as f64);
            let samples = 8;
            let mean = (0..samples)
                .map(|k| {
                    let t = (f64::from(k) + 0.5) / f64::from(samples);
                    price_at((x as f64 + dx as f64 * t) * cell, (y as f64 + dy as f64 * t) * cell)
                })
                .sum::<f64>()
                / f64::from(samples);
            let to = (v * n + u) as usize;
            if so_far + length * mean < best[to] {
                best[to] = so_far + length * mean;
                queue.push(std::cmp::Reverse(((so_far + length * mean).to_bits(), to as i64)));
            }
        }
    }
    f64::INFINITY
}

#[test]
fn random_grounds_stay_within_two_per_cent_of_a_fine_grid() {
    let mut random = Draws::new(5);
    let mut worst: f64 = 0.0;
    for case in 0..8 {
        let size = 20.0;
        let base = random.between(1.0, 4.0);
        let mut g = plan(0.0, 0.0, size, size, base);
        for k in 0..6 {
            // A star-shaped piece with five to eight corners.
            let (cx, cy) = (random.between(2.0, 18.0), random.between(2.0, 18.0));
            let corners = 5 + (random.unit() * 4.0) as usize;
            let outline = Polygon::new((0..corners).map(|i| {
                let a = std::f64::consts::TAU * (i as f64 + 0.7 * random.unit()) / corners as f64;
                let r = random.between(1.5, 5.0);
                p(cx + r * a.cos(), cy + r * a.sin())
            }));
            if let Ok(outline) = outline {
                let price = if k % 3 == 0 { random.between(0.5, 2.0) } else { random.between(2.0, 15.0) };
                g.surfaces.push(surface(&format!("s{k}"), outline, Method::Slit, price));
            }
        }
        let surfaces = g.surfaces.clone();
        let price_at = |x: f64, y: f64| {
            surfaces.iter().rev().find(|s| s.outline.contains(p(x, y))).map_or(base, |s| s.lay.price_per_m)
        };
        let (a, b) = ((1.0, 1.0 + case as f64 % 5.0), (19.0, 19.0 - case as f64 % 7.0));
        // Prices on a raster of 1/32 m: the grid's moves read from it.
        let fine = 641usize;
        let raster: Vec<f64> = (0..fine * fine)
            .map(|i| price_at((i % fine) as f64 / 32.0 + 1e-4, (i / fine) as f64 / 32.0 + 1e-4))
            .collect();
        let read = |x: f64, y: f64| raster[(y * 32.0).round() as usize * fine + (x * 32.0).round() as usize];
        let grid = grid_price(&read, size, 0.125, a, b);
        let w = way(&GroundMap::new(g).unwrap(), a, b);
        worst = worst.max(w.laying_price / grid);
        assert!(w.laying_price < grid * 1.02, "case {case}: {} against {grid}", w.laying_price);
        assert!(w.laying_price > grid * 0.97, "case {case}: {} against {grid}", w.laying_price);
        assert!(w.bends < 14, "case {case}: {} bends", w.bends);
        // What the way says it goes over adds up to its price and length.
        let sum: f64 = w.stretches.iter().map(|s| s.laying_price).sum();
        assert!((sum - w.laying_price).abs() < 1e-9);
    }
    println!("dearest against the grid: {worst:.4}");
}
