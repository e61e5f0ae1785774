//! Cable from a rack inside a building against closed forms: out by a passage, by a new hole, or not at all.

mod common;

use common::*;
use loamline_geometry::Polygon;
use loamline_routing::{
    Building, GroundMap, GroundPlan, LineCable, LineProblem, Method, Mode, OuterWall, Passage, RouteError,
    Terminal,
};

const INDOORS: f64 = 2.0;
const LAWN: f64 = 5.0;

/// A house of 20 x 10 m with a rack in its middle, on a lawn.
fn house(outline: Polygon, hole_price: Option<f64>, passages: &[(f64, f64)]) -> GroundPlan {
    let mut g = plan(0.0, 0.0, 40.0, 30.0, LAWN);
    g.buildings.push(Building {
        id: "house".into(),
        outline,
        indoor_price_per_m: INDOORS,
        outer_wall: Some(OuterWall { thickness_m: 0.05, hole_price }),
        clip: None,
    });
    g.passages =
        (1..).zip(passages).map(|(i, &(x, y))| Passage { id: format!("W{i}"), at: p(x, y) }).collect();
    g
}

fn square() -> Polygon {
    rect(10.0, 10.0, 30.0, 20.0)
}

/// The rack, and a loudspeaker north of the house.
const RACK: (f64, f64) = (20.0, 15.0);
const LAWN_NORTH: (f64, f64) = (20.0, 25.0);

/// Closed form: straight to the east wall's passage, round the corner, to the loudspeaker. The passage may be used 0.1 m
/// either way.
fn by_the_passage() -> f64 {
    let (passage, corner) = ((30.0, 15.0), (30.0, 20.0));
    let d = |a: (f64, f64), b: (f64, f64)| (a.0 - b.0).hypot(a.1 - b.1);
    INDOORS * d(RACK, passage) + LAWN * (d(passage, corner) + d(corner, LAWN_NORTH))
}

#[test]
fn where_no_hole_may_be_made_cable_leaves_by_the_passage() {
    let ground = GroundMap::new(house(square(), None, &[(30.0, 15.0)])).unwrap();
    let w = way(&ground, RACK, LAWN_NORTH);
    let exact = by_the_passage();
    assert!((w.laying_price / exact - 1.0).abs() < 0.01, "{} against {exact}", w.laying_price);
    let out = w.waypoints.iter().map(|w| w.at).find(|at| at.x > 29.9).unwrap();
    assert!((out.y - 15.0).abs() <= 0.1 + 1e-6, "{out:?}");
    assert_eq!(w.stretches[0].method, Method::Indoors);
    // And the same way back.
    let back = way(&ground, LAWN_NORTH, RACK);
    assert!((back.laying_price - w.laying_price).abs() < 1e-6);
}

#[test]
fn a_hole_is_made_where_it_costs_less_than_the_way_round() {
    // Straight north: 5 m indoors, 5 m of lawn and the hole.
    let straight = 5.0 * INDOORS + 5.0 * LAWN;
    let balance = by_the_passage() - straight;
    for (hole, through_the_wall) in [(0.9 * balance, true), (1.1 * balance, false)] {
        let ground = GroundMap::new(house(square(), Some(hole), &[(30.0, 15.0)])).unwrap();
        let w = way(&ground, RACK, LAWN_NORTH);
        let exact = if through_the_wall { straight + hole } else { by_the_passage() };
        assert!((w.laying_price / exact - 1.0).abs() < 0.01, "{} against {exact}", w.laying_price);
    }
}

#[test]
fn without_passage_or_hole_the_wall_stands_in_the_way() {
    // Turned inwards, outwards and with a corner that is no right angle: no gap at any corner.
    let angled =
        Polygon::new([p(10.0, 10.0), p(30.0, 10.0), p(28.0, 20.0), p(21.0, 16.0), p(12.0, 20.0)]).unwrap();
    let hooked = Polygon::new([
        p(10.0, 10.0),
        p(30.0, 10.0),
        p(30.0, 20.0),
        p(25.0, 20.0),
        p(25.0, 14.0),
        p(15.0, 14.0),
        p(15.0, 20.0),
        p(10.0, 20.0),
    ])
    .unwrap();
    for outline in [square(), angled, hooked] {
        let ground = GroundMap::new(house(outline, None, &[])).unwrap();
        let error =
            ground.path(&place("rack R1", 20.0, 12.0), &place("L1", 20.0, 25.0), &FREE_CABLE).unwrap_err();
        let RouteError::NoWay { barriers, .. } = &error else { panic!("{error}") };
        assert_eq!(barriers, &["the outer wall of building house"]);
    }
}

#[test]
fn the_wall_is_no_hindrance_to_what_is_inside() {
    let ground = GroundMap::new(house(square(), None, &[])).unwrap();
    let w = way(&ground, RACK, (11.0, 11.0));
    assert!((w.laying_price - INDOORS * 9f64.hypot(4.0)).abs() < 1e-6);
}

/// Two lines from the rack, one straight north to a loudspeaker 9 m off the wall, one to a loudspeaker 5 m off it and
/// `aside` metres to the east.
fn two_lines(aside: f64) -> LineProblem {
    let terminal =
        |id: &str, x, y| Terminal { line: Some(id.to_lowercase()), ..terminal_at(id, p(x, y), 1.0) };
    let feed = |id: &str| feed_at(id, p(RACK.0, RACK.1), 10.0);
    let terminals = vec![terminal("A", 20.0, 29.0), terminal("B", 20.0 + aside, 25.0)];
    LineProblem {
        cable: LineCable { price_per_m: 0.0, outside_diameter_mm: 8.0 },
        ..lines_of(Mode::Chain, vec![feed("a"), feed("b")], terminals)
    }
}

/// The second line's way with a hole of its own: through every place of the wall, by the millimetre.
fn by_its_own_hole(aside: f64) -> f64 {
    let through = |x: f64| INDOORS * x.hypot(5.0) + LAWN * (aside - x).hypot(5.0);
    (0..=3000).map(|mm| through(f64::from(mm) * aside / 3000.0)).fold(f64::INFINITY, f64::min)
}

#[test]
fn one_hole_serves_two_cables_where_the_way_to_it_costs_less_than_another() {
    let aside = 3.0;
    let (own, shared) = (by_its_own_hole(aside), 5.0 * INDOORS + LAWN * aside.hypot(5.0));
    let first = 5.0 * INDOORS + 9.0 * LAWN;
    for (hole, holes) in [(0.9 * (shared - own), 2), (1.1 * (shared - own), 1)] {
        let mut g = house(square(), Some(hole), &[]);
        // Cable staked to the lawn opens nothing: what is shared is the hole alone.
        g.default_lay.method = Method::Staked;
        let ground = GroundMap::new(g).unwrap();
        let lines = ground.lines(&two_lines(aside), None).unwrap();
        let exact = first + hole + if holes == 1 { shared } else { own + hole };
        let laying = lines.totals.laying_price;
        assert!((laying / exact - 1.0).abs() < 0.005, "{laying} against {exact}");
        assert_eq!(lines.opened().holes.len(), holes);
        // Cable of another type comes after: it finds the hole open, and pays no more than the way to it.
        let mut later = two_lines(aside);
        (later.terminals, later.feeds) = (later.terminals.split_off(1), later.feeds.split_off(1));
        later.open = lines.opened();
        let laying = ground.lines(&later, None).unwrap().totals.laying_price;
        let exact = if holes == 1 { shared } else { own };
        assert!((laying / exact - 1.0).abs() < 0.005, "{laying} against {exact}");
    }
}
