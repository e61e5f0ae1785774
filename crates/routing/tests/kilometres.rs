//! Large ground: what costs grows with the plan and not with its metres, and what would grow too far is refused.

mod common;

use common::*;
use loamline_chance::Draws;
use loamline_geometry::Polygon;
use loamline_limits::{GROUND_CORNERS, GROUND_LINES, Leave, Over};
use loamline_routing::{GroundMap, GroundProblem, LineProblem, Method, Mode};
use std::time::{Duration, Instant};

/// Loudspeakers all over a site of 53 m x 30 m, or of so many times that, on three lines from one corner.
fn problem(times: f64, mode: Mode) -> LineProblem {
    let mut dice = Draws::new(3);
    let mut at = || p(times * dice.between(1.0, 52.0), times * dice.between(1.0, 29.0));
    let feeds = (0..3).map(|k| feed_at(&format!("F{k}"), p(times, times), 70.0)).collect();
    let terminals = (0..21).map(|k| terminal_at(&format!("L{k}"), at(), 10.0)).collect();
    LineProblem { effort: 5, ..lines_of(mode, feeds, terminals) }
}

#[test]
fn a_site_25_times_as_large_costs_25_times_as_much() {
    // Every price is one of metres: the cheapest lines of a plan blown up are those of the plan, blown up.
    for mode in [Mode::Chain, Mode::Branching] {
        let price = |times: f64| {
            let ground = GroundMap::new(plan(0.0, 0.0, 53.0 * times, 30.0 * times, 6.0)).unwrap();
            ground.lines(&problem(times, mode), None).unwrap().totals.price
        };
        // On the small one points stand every half metre, all of a triangle joined to one another.
        let small = price(4.0) / 4.0;
        let started = Instant::now();
        let large = price(100.0) / 100.0;
        // Searches of both differ in the places where runs may join open ground: 2 %, as ways are promised.
        assert!((large / small - 1.0).abs() < 0.02, "{mode:?}: {large} for {small}");
        // An unoptimised build on a busy machine; it took minutes and gigabytes with points every half metre.
        assert!(started.elapsed() < Duration::from_secs(60), "{:?}", started.elapsed());
    }
}

#[test]
fn ground_of_too_many_sides_or_corners_is_refused_before_it_is_made() {
    let refused = |plan| match GroundMap::new(plan).unwrap_err().0.as_slice() {
        [GroundProblem::TooLarge(more)] => *more,
        other => panic!("{other:?}"),
    };
    // A hundred rings of so many corners each, one in the other.
    let mut many = plan(-100.0, -100.0, 100.0, 100.0, 1.0);
    for k in 1..=100u32 {
        let corner = |i: u32| {
            let turn = f64::from(i) / 101.0 * std::f64::consts::TAU;
            p(0.9 * f64::from(k) * turn.cos(), 0.9 * f64::from(k) * turn.sin())
        };
        let ring = Polygon::new((0..101).map(corner)).unwrap();
        many.surfaces.push(surface(&format!("s{k}"), ring, Method::Slit, 1.0));
    }
    let more = refused(many);
    assert_eq!((more.bound, more.found), (&GROUND_LINES, 10_104));
    // Two hundred long beds laid across two hundred others: 800 sides each way, 160 000 crossings.
    let mut crossed = plan(-1.0, -1.0, 401.0, 401.0, 1.0);
    for k in 0..200 {
        let at = 2.0 * f64::from(k);
        crossed.surfaces.push(surface(&format!("x{k}"), rect(at, 0.0, at + 1.0, 400.0), Method::Slit, 1.0));
        crossed.surfaces.push(surface(&format!("y{k}"), rect(0.0, at, 400.0, at + 1.0), Method::Slit, 1.0));
    }
    assert_eq!(refused(crossed).bound, &GROUND_CORNERS);
}

#[test]
fn a_search_is_left_off_at_once() {
    let ground = GroundMap::new(plan(0.0, 0.0, 530.0, 300.0, 6.0)).unwrap();
    let asked = LineProblem { effort: 100_000, ..problem(10.0, Mode::Branching) };
    let started = Instant::now();
    let given = Duration::from_millis(300);
    let done = Leave::within(given).scope(|| ground.lines(&asked, None).is_ok());
    assert_eq!(done, Err(Over::OutOfTime { after: given }));
    assert!(started.elapsed() < given + Duration::from_millis(200), "{:?}", started.elapsed());
    // The map is as it was.
    assert!(ground.lines(&LineProblem { effort: 1, ..asked }, None).is_ok());
}
