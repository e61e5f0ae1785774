//! Reflections, steps and the worst case against arithmetic by hand and a site unfolded by hand.

use super::tests::{any_scene, building, one, scene, screen};
use super::*;
use crate::level::SILENCE_DB;
use loamline_geometry::{Point2, Point3};
use proptest::prelude::*;

fn step(line: &[[f64; 2]], foot_m: f64, top_m: f64) -> BoundaryStep {
    BoundaryStep { line: line.iter().map(|&p| p.into()).collect(), top_m, foot_m }
}

/// A loudspeaker 1 m before a house of 8 m by 20 m, a window 60 m off: ISO 9613-2 clause 7.5 by hand.
#[test]
fn a_house_behind_a_loudspeaker_by_hand() {
    let open = scene([1.0, 0.0, 1.5], [60.0, 0.0, 1.5]);
    let mut s = open.clone();
    s.buildings.push(building(&[[0.0, -10.0], [0.0, 10.0], [-9.0, 10.0], [-9.0, -10.0]], 8.0));
    let image = one(&scene([-1.0, 0.0, 1.5], [60.0, 0.0, 1.5]));
    let (with, without) = (one(&s), one(&open));
    let reflection = &with.contributions[0].reflections[0];
    assert_eq!((reflection.face, reflection.at), (FaceOf::Building(0), Point3::new(0.0, 0.0, 1.5)));
    assert!((reflection.distance_m - 61.0).abs() < 1e-12);
    for (b, hz) in ISO_OCTAVES_HZ.iter().enumerate() {
        // Equation 19 with l_min 8 m, beta 0, 1 m and 60 m: 340/63 m < 8^2 (61/60) / 2; all octaves reflect.
        assert!(hz / 340.0 > 2.0 / 64.0 * (60.0 / 61.0));
        assert!(
            (reflection.levels.bands_db[b] - (image.levels.bands_db[b] + 10.0 * 0.8f64.log10())).abs() < 1e-9
        );
        let sum = 10.0
            * (10f64.powf(without.levels.bands_db[b] / 10.0)
                + 10f64.powf(reflection.levels.bands_db[b] / 10.0))
            .log10();
        assert!((with.levels.bands_db[b] - sum).abs() < 1e-9);
    }
    let adds = with.levels.total_dba - without.levels.total_dba;
    assert!((2.0..3.0).contains(&adds), "{adds}");
    assert!((with.all_reflected_db(None) - adds).abs() < 1e-9);
    assert_eq!(with.reflected_db(None)[0].0, FaceOf::Building(0));
    assert!((with.reflected_db(None)[0].1 - adds).abs() < 1e-9);
}

/// Equation 19 lets a face of 2 m by 20 m reflect what is short enough: source and receiver 8 m before it, 12 m apart.
#[test]
fn a_face_reflects_only_what_is_short_against_it() {
    let mut s = scene([-6.0, 8.0, 1.0], [6.0, 8.0, 1.0]);
    s.screens.push(screen(&[[-10.0, 0.0], [10.0, 0.0]], 2.0));
    let r = &one(&s).contributions[0].reflections[0];
    // Legs of 10 m, cos beta 0.8: lambda < (2 * 0.8)^2 / (2 * 5) = 0.256 m, 1328 Hz.
    let heard: Vec<bool> = r.levels.bands_db.iter().map(|l| *l > SILENCE_DB).collect();
    assert_eq!(heard, [false, false, false, false, false, true, true, true]);
    // 4 m up the wall there is nothing to bounce off; neither where it absorbs 80 % and more.
    let mut high = s.clone();
    (high.sources[0].position.z, high.receivers[0].position.z) = (4.0, 4.0);
    assert!(one(&high).contributions[0].reflections.is_empty());
    s.screens[0].reflection = FaceReflection([0.2; 9]);
    assert!(one(&s).contributions[0].reflections.is_empty());
}

/// Faces in one plane are one face, a wall that is drawn in pieces is one wall, and a house behind a house gives nothing.
#[test]
fn a_plane_reflects_once() {
    let with = |walls: &[&[[f64; 2]]]| {
        let mut s = scene([-6.0, 8.0, 1.0], [6.0, 8.0, 1.0]);
        s.screens.extend(walls.iter().map(|w| screen(w, 2.0)));
        one(&s).levels.bands_db
    };
    let whole = with(&[&[[-10.0, 0.0], [10.0, 0.0]]]);
    assert_eq!(with(&[&[[-10.0, 0.0], [0.0, 0.0], [10.0, 0.0]]]), whole);
    let twice = with(&[&[[-10.0, 0.0], [10.0, 0.0]], &[[-10.0, 0.0], [10.0, 0.0]]]);
    assert!(twice.iter().zip(whole).all(|(a, b)| (a - b).abs() < 1e-9));
    let mut s = scene([-6.0, 8.0, 1.0], [6.0, 8.0, 1.0]);
    s.buildings.push(building(&[[-10.0, -5.0], [10.0, -5.0], [10.0, 0.0], [-10.0, 0.0]], 6.0));
    s.buildings.push(building(&[[-10.0, 0.0], [10.0, 0.0], [10.0, 2.0], [-10.0, 2.0]], 6.0));
    let faces: Vec<FaceOf> = one(&s).contributions[0].reflections.iter().map(|r| r.face).collect();
    assert_eq!(faces, [FaceOf::Building(1)]);
}

/// A retaining wall flush with ground 2 m higher, by ISO 9613-2 clause 7.4 with one edge 2 m over the low ground, in
/// elevations: source 1 m over the low ground, receiver 1.5 m over the high one.
#[test]
fn a_step_bends_like_a_wall_of_its_height() {
    let mut s = scene([0.0, 0.0, 1.0], [20.0, 0.0, 3.5]);
    s.receivers[0].ground_m = 2.0;
    let open = one(&s);
    // Southwards the low ground is on the right, in the west, where the source stands.
    s.steps.push(step(&[[4.0, 50.0], [4.0, -50.0]], 0.0, 2.0));
    let with = one(&s);
    let d = 20f64.hypot(2.5);
    // The sight passes 1.5 m over the datum at the edge, 0.5 m below it.
    let (a, b) = (4f64.hypot(1.0), 16f64.hypot(1.5));
    let z = a + b - d;
    let weather = (-(a * b * d / (2.0 * z)).sqrt() / 2000.0).exp();
    for (i, f) in ISO_OCTAVES_HZ.iter().enumerate() {
        let dz = (10.0 * (3.0 + 20.0 * f / 340.0 * z * weather).log10()).min(20.0);
        let loss = (dz - open.contributions[0].ground_db[i].max(0.0)).max(0.0);
        let c = &with.contributions[0];
        assert!((c.screening_db[i] - loss).abs() < 1e-9, "{f}: {} {loss}", c.screening_db[i]);
    }
    // From the high ground over the edge with a clear sight: nothing is lost.
    (s.sources[0].position.z, s.receivers[0].position.z) = (3.0, 3.5);
    assert_eq!(one(&s).contributions[0].screening_db, [0.0; 8]);
    // Its face reflects to the low side, and there only.
    let both = |x: f64, ground_m: f64| {
        let mut t = s.clone();
        (t.sources[0].position, t.receivers[0].position) =
            ([x, -4.0, 1.0 + ground_m].into(), [x, 4.0, 1.0 + ground_m].into());
        (t.sources[0].ground_m, t.receivers[0].ground_m) = (ground_m, ground_m);
        one(&t).contributions[0].reflections.len()
    };
    assert_eq!((both(1.0, 0.0), both(7.0, 0.0), both(7.0, 2.0)), (1, 0, 0));
}

/// Two like loudspeakers on one programme, 6.02 dB more than one at worst and 3.01 in energy; on two programmes 3.01.
#[test]
fn in_step_two_give_six_decibels() {
    let mut s = scene([0.0, 0.0, 1.0], [40.0, 0.0, 1.5]);
    let alone = one(&s);
    s.sources[0].programme = Some(0);
    s.sources.push(s.sources[0].clone());
    let pair = one(&s);
    assert_eq!(pair.in_step_octaves, 3);
    for b in 0..8 {
        let more = if b < 3 { 20.0 } else { 10.0 } * 2f64.log10();
        assert!((pair.levels.bands_db[b] - alone.levels.bands_db[b] - 10.0 * 2f64.log10()).abs() < 1e-9);
        assert!((pair.in_step_bands_db[b] - alone.levels.bands_db[b] - more).abs() < 1e-9);
    }
    let limit = NeighbourLimit { octave_63_hz_db: Some(50.0), ..NeighbourLimit::default() };
    let energy = judge(std::slice::from_ref(&pair), &limit).remove(0);
    let worst =
        judge(std::slice::from_ref(&pair), &NeighbourLimit { worst_in_step: true, ..limit }).remove(0);
    assert_eq!((energy.in_step_db, energy.energy_db), (worst.in_step_db, worst.energy_db));
    assert!((energy.level_db - pair.levels.bands_db[0]).abs() < 1e-12);
    assert!((worst.level_db - energy.level_db - 10.0 * 2f64.log10()).abs() < 1e-9);
    assert!((worst.without_loudest_db - alone.levels.bands_db[0]).abs() < 1e-9);
    s.sources[1].programme = Some(1);
    assert!((one(&s).in_step_bands_db[0] - pair.levels.bands_db[0]).abs() < 1e-9);
}

/// The site with everything mirrored in the plane x = 100 as well.
fn unfolded(s: &BoundaryScene) -> BoundaryScene {
    let mirror = |p: &Point2| Point2::new(200.0 - p.x, p.y);
    let mut u = s.clone();
    let source = &mut u.sources[0].position;
    source.x = 200.0 - source.x;
    u.screens.extend(
        s.screens.iter().map(|w| BoundaryScreen { line: w.line.iter().map(mirror).collect(), ..w.clone() }),
    );
    u.buildings.extend(
        s.buildings
            .iter()
            .map(|b| BoundaryBuilding { outline: b.outline.iter().map(mirror).collect(), ..b.clone() }),
    );
    u.ground.regions.extend(
        s.ground
            .regions
            .iter()
            .map(|g| GroundRegion { outline: g.outline.iter().map(mirror).collect(), ..g.clone() }),
    );
    u
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    /// A hard wall at x = 100 without end gives what the source's image gives in a site unfolded by hand.
    #[test]
    fn a_reflected_way_is_the_straight_way_of_the_unfolded_site(s in any_scene()) {
        let mut walled = s.clone();
        walled.screens.push(screen(&[[100.0, -5000.0], [100.0, 5000.0]], 900.0));
        let Ok(levels) = boundary_levels(&walled) else { return Ok(()) };
        let wall = FaceOf::Screen(s.screens.len());
        let reflections = &levels[0].contributions[0].reflections;
        let by_wall = reflections.iter().find(|r| r.face == wall).unwrap();
        let image = boundary_levels(&unfolded(&s)).unwrap();
        for (a, b) in by_wall.levels.bands_db.iter().zip(image[0].contributions[0].straight_bands_db) {
            prop_assert!((a - b).abs() < 1e-6, "{a} {b}");
        }
    }
}
