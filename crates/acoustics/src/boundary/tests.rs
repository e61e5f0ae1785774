use super::*;
use crate::air::Air;
use loamline_geometry::{Point2, Point3};
use loamline_terms::{Fraction, Pascals};
use proptest::prelude::*;
use std::collections::BTreeMap;

#[derive(serde::Deserialize)]
struct Cases {
    tolerance_db: f64,
    cases: BTreeMap<String, Case>,
}

#[derive(serde::Deserialize)]
struct Case {
    scene: BoundaryScene,
    expected: Expected,
}

#[derive(serde::Deserialize)]
struct Expected {
    bands_db: [f64; 8],
    total_dba: f64,
}

/// ISO/TR 17534-3:2015, values as published: every octave and the total within 0.05 dB.
#[test]
fn the_published_cases_are_met() {
    let cases: Cases = serde_json::from_str(include_str!("fixtures/iso_tr_17534_3.json")).unwrap();
    let names: Vec<&str> = cases.cases.keys().map(String::as_str).collect();
    assert_eq!(names, ["T01", "T02", "T03", "T04", "T08", "T11"]);
    let mut missed = Vec::new();
    for (name, case) in &cases.cases {
        let got = &boundary_levels(&case.scene).unwrap()[0];
        let pairs = got
            .levels
            .bands_db
            .iter()
            .zip(&case.expected.bands_db)
            .chain([(&got.levels.total_dba, &case.expected.total_dba)]);
        for (i, (ours, published)) in pairs.enumerate() {
            if (ours - published).abs() > cases.tolerance_db + 1e-9 {
                missed.push(format!("{name} value {i}: {ours:.3} for {published}"));
            }
        }
    }
    assert!(missed.is_empty(), "{missed:#?}");
}

pub(super) fn scene(source: [f64; 3], receiver: [f64; 3]) -> BoundaryScene {
    BoundaryScene {
        atmosphere: Air::new(15.0, Fraction(0.6), Pascals(101_325.0)).unwrap(),
        ground: BoundaryGround { default_g: 0.4, regions: vec![] },
        sources: vec![BoundarySource {
            id: None,
            position: source.into(),
            ground_m: 0.0,
            sound_power_db: OctavePower { extension_db: Some(90.0), bands_db: [90.0; 8] },
            directivity_db: vec![],
            aimed: None,
            programme: None,
        }],
        receivers: vec![BoundaryReceiver { id: None, position: receiver.into(), ground_m: 0.0 }],
        screens: vec![],
        buildings: vec![],
        steps: vec![],
        in_step_to_hz: 400.0,
    }
}

pub(super) fn screen(line: &[[f64; 2]], top_m: f64) -> BoundaryScreen {
    BoundaryScreen {
        line: line.iter().map(|&p| p.into()).collect(),
        top_m,
        foot_m: 0.0,
        reflection: FaceReflection::hard_wall(),
    }
}

pub(super) fn building(outline: &[[f64; 2]], height_m: f64) -> BoundaryBuilding {
    BoundaryBuilding {
        outline: outline.iter().map(|&p| p.into()).collect(),
        height_m,
        foot_m: 0.0,
        reflection: FaceReflection::house_wall(),
    }
}

pub(super) fn one(s: &BoundaryScene) -> ReceiverLevel {
    boundary_levels(s).unwrap().remove(0)
}

/// Thin screen across the middle, everything by hand: S and R 1 m high 20 m apart, top 4 m, 400 m long.
#[test]
fn a_screen_by_hand() {
    let open = scene([0.0, 0.0, 1.0], [20.0, 0.0, 1.0]);
    let mut s = open.clone();
    s.screens.push(screen(&[[10.0, -200.0], [10.0, 200.0]], 4.0));
    let (without, with) = (one(&open), one(&s));
    let z = 2.0 * (100.0f64 + 9.0).sqrt() - 20.0;
    let kmet = (-(109.0 * 20.0 / (2.0 * z)).sqrt() / 2000.0).exp();
    let side_z = 2.0 * (100.0f64 + 40_000.0).sqrt() - 20.0;
    for (b, f) in ISO_OCTAVES_HZ.iter().enumerate() {
        let wavelength = 340.0 / f;
        let dz = (10.0 * (3.0 + 20.0 / wavelength * z * kmet).log10()).min(20.0);
        let top = (dz - without.contributions[0].ground_db[b].max(0.0)).max(0.0);
        let side = 10.0 * (3.0 + 20.0 / wavelength * side_z).log10();
        let loss = -10.0 * (10f64.powf(-top / 10.0) + 2.0 * 10f64.powf(-side / 10.0)).log10();
        assert!((without.levels.bands_db[b] - with.levels.bands_db[b] - loss).abs() < 1e-9, "{f} Hz");
    }
}

/// A screen that just touches the line of sight gives 10 lg 3 over the top, seen from either side of grazing.
#[test]
fn grazing_is_continuous() {
    let loss = |top: f64| {
        let mut s = scene([0.0, 0.0, 4.0], [40.0, 0.0, 4.0]);
        s.ground.default_g = 0.0;
        s.screens.push(screen(&[[15.0, -3000.0], [15.0, 3000.0]], top));
        one(&s).contributions[0].screening_db
    };
    let (below, at, above) = (loss(4.0 - 1e-7), loss(4.0), loss(4.0 + 1e-7));
    for b in 0..8 {
        assert!((below[b] - at[b]).abs() < 1e-3 && (above[b] - at[b]).abs() < 1e-3);
        assert!((at[b] - 10.0 * 3f64.log10()).abs() < 0.06, "the ends, far away, add a little: {}", at[b]);
    }
    assert!(loss(0.2).iter().all(|l| *l < 1e-9), "far below the line of sight nothing is lost");
}

#[test]
fn things_beside_the_line_do_not_screen() {
    let open = scene([0.0, 0.0, 1.5], [30.0, 0.0, 1.5]);
    let mut s = open.clone();
    s.screens.push(screen(&[[10.0, 0.5], [10.0, 40.0]], 6.0));
    s.screens.push(screen(&[[-5.0, -40.0], [-5.0, 40.0]], 6.0));
    s.buildings.push(building(&[[12.0, -9.0], [20.0, -9.0], [20.0, -0.1], [12.0, -0.1]], 8.0));
    assert_eq!(one(&s).contributions[0].straight_bands_db, one(&open).levels.bands_db);
}

/// Two walls that meet end to end screen like one wall bent there.
#[test]
fn joined_walls_are_one_wall() {
    let open = scene([0.0, 0.0, 1.5], [30.0, 2.0, 1.5]);
    let mut joined = open.clone();
    joined.screens.push(screen(&[[10.0, -4.0], [10.0, 3.0]], 5.0));
    joined.screens.push(screen(&[[10.0, 3.0], [12.0, 9.0]], 5.0));
    let mut bent = open;
    bent.screens.push(screen(&[[10.0, -4.0], [10.0, 3.0], [12.0, 9.0]], 5.0));
    let (a, b) = (one(&joined), one(&bent));
    for i in 0..8 {
        assert!((a.levels.bands_db[i] - b.levels.bands_db[i]).abs() < 1e-9);
    }
}

/// A wall inside the shadow of a higher one changes nothing over the top; three in line count first and last.
#[test]
fn only_edges_of_the_hull_count() {
    let with = |screens: &[(f64, f64)]| {
        let mut s = scene([0.0, 0.0, 1.0], [60.0, 0.0, 1.5]);
        for &(x, top) in screens {
            s.screens.push(screen(&[[x, -5000.0], [x, 5000.0]], top));
        }
        one(&s).levels.bands_db
    };
    let near = |a: [f64; 8], b: [f64; 8]| a.iter().zip(b).all(|(x, y)| (x - y).abs() < 0.02);
    assert!(near(with(&[(20.0, 6.0)]), with(&[(20.0, 6.0), (30.0, 3.0)])));
    assert!(near(with(&[(20.0, 6.0), (40.0, 6.0)]), with(&[(20.0, 6.0), (30.0, 6.0), (40.0, 6.0)])));
    assert!(!near(with(&[(20.0, 6.0)]), with(&[(20.0, 6.0), (40.0, 6.0)])));
}

#[test]
fn a_source_on_the_roof_has_one_edge_and_no_way_round() {
    let mut s = scene([0.0, 0.0, 6.5], [40.0, 0.0, 1.5]);
    s.buildings.push(building(&[[-8.0, -5.0], [8.0, -5.0], [8.0, 5.0], [-8.0, 5.0]], 6.0));
    let got = one(&s);
    let z = 8f64.hypot(0.5) + 32f64.hypot(4.5) - 40f64.hypot(5.0);
    assert!(z > 0.0);
    let d = 40f64.hypot(5.0);
    let kmet = (-(8f64.hypot(0.5) * 32f64.hypot(4.5) * d / (2.0 * z)).sqrt() / 2000.0).exp();
    let c = &got.contributions[0];
    for (b, f) in ISO_OCTAVES_HZ.iter().enumerate() {
        let dz = (10.0 * (3.0 + 20.0 * f / 340.0 * z * kmet).log10()).min(20.0);
        assert!((c.screening_db[b] - (dz - c.ground_db[b].max(0.0)).max(0.0)).abs() < 1e-9);
    }
}

/// It hears the fence's face: the image at no distance from it, as loud as the source (clause 7.5, rho 1).
#[test]
fn a_receiver_on_the_fence_line_is_not_behind_the_fence() {
    let open = scene([0.0, 0.0, 1.5], [20.0, 0.0, 1.5]);
    let mut s = open.clone();
    s.screens.push(screen(&[[20.0, -9.0], [20.0, 9.0]], 1.8));
    let (with, without) = (one(&s), one(&open));
    assert_eq!(with.contributions[0].straight_bands_db, without.levels.bands_db);
    for (a, b) in with.levels.bands_db.iter().zip(without.levels.bands_db) {
        assert!((a - b - 10.0 * 2f64.log10()).abs() < 1e-9);
    }
}

#[test]
fn later_regions_cover_earlier_ones_and_all_of_the_way_counts() {
    let mut s = scene([0.0, 0.0, 0.0], [10.0, 0.0, 2.0]);
    let square = |a: f64, b: f64| {
        [[a, -5.0], [b, -5.0], [b, 5.0], [a, 5.0]].iter().map(|&p| p.into()).collect::<Vec<Point2>>()
    };
    s.ground.regions = vec![
        GroundRegion { outline: square(-5.0, 15.0), g: 1.0 },
        GroundRegion { outline: square(-1.0, 4.0), g: 0.0 },
    ];
    // Source region has no length: the ground under the source. Receiver region is the whole 10 m: 6 m of G = 1.
    let mut plain = s.clone();
    plain.ground = BoundaryGround { default_g: 0.6, regions: vec![] };
    let (mixed, even) = (one(&s), one(&plain));
    let (a, b) = (mixed.contributions[0].ground_db, even.contributions[0].ground_db);
    // At 2 kHz and up Agr = -1.5 (1 - Gs) - 1.5 (1 - Gr).
    assert!((a[5] - (-1.5 - 1.5 * 0.4)).abs() < 1e-9, "{a:?}");
    assert!((b[5] - 2.0 * -1.5 * 0.4).abs() < 1e-9, "{b:?}");
}

#[test]
fn the_extension_is_apart_from_the_total() {
    let with = scene([0.0, 0.0, 1.0], [30.0, 0.0, 1.5]);
    let mut without = with.clone();
    without.sources[0].sound_power_db.extension_db = None;
    let (a, b) = (one(&with), one(&without));
    assert_eq!(a.levels.total_dba, b.levels.total_dba);
    assert!((a.levels.extension_31_hz_db.unwrap() - a.levels.bands_db[0]).abs() < 0.05);
    assert_eq!(b.levels.extension_31_hz_db, None);
}

#[test]
fn every_problem_is_told_at_once() {
    let mut s = scene([0.0, 0.0, -1.0], [0.0, 0.0, f64::NAN]);
    s.sources[0].sound_power_db.bands_db[3] = f64::NAN;
    s.ground.default_g = 1.2;
    s.screens.push(screen(&[[1.0, 1.0], [1.0, 1.0]], 2.0));
    s.screens.push(screen(&[[1.0, 1.0], [2.0, 1.0]], 0.0));
    s.buildings.push(building(&[[1.0, 1.0], [2.0, 1.0], [3.0, 1.0]], 3.0));
    let e = boundary_levels(&s).unwrap_err();
    assert_eq!(e.problems.len(), 7, "{e}");
    let text = e.to_string();
    for part in ["source 1", "receiver 1", "ground", "screen 1", "screen 2", "building 1", "encloses no area"]
    {
        assert!(text.contains(part), "{part} in {text}");
    }
    let mut inside = scene([0.0, 0.0, 1.0], [0.02, 0.0, 1.0]);
    inside.buildings.push(building(&[[-5.0, -5.0], [5.0, -5.0], [5.0, 5.0], [-5.0, 5.0]], 4.0));
    let text = boundary_levels(&inside).unwrap_err().to_string();
    assert!(text.contains("source 1 is inside building 1 (height 4 m)"), "{text}");
    assert!(text.contains("0.020 m from source 1"), "{text}");
    assert!(serde_json::from_str::<OctavePower>("[1, 2, 3]").unwrap_err().to_string().contains("3 values"));
}

#[test]
fn limits_are_judged_with_their_uncertainty() {
    let mut s = scene([0.0, 0.0, 1.0], [30.0, 0.0, 1.5]);
    s.sources.push(BoundarySource { position: Point3::new(0.0, 9.0, 1.0), ..s.sources[0].clone() });
    s.receivers = sample_line(&[Point2::new(30.0, -20.0), Point2::new(30.0, 20.0)], 5.0)
        .into_iter()
        .map(|p| BoundaryReceiver { id: None, position: p.at_height(1.5), ground_m: 0.0 })
        .collect();
    let levels = boundary_levels(&s).unwrap();
    let loudest = levels.iter().map(|l| l.levels.total_dba).fold(0.0, f64::max);
    for (room, verdict) in [(4.0, Verdict::Fine), (1.0, Verdict::WithinUncertainty), (-0.5, Verdict::Exceeds)]
    {
        let limit = NeighbourLimit { total_dba: Some(loudest + room), ..NeighbourLimit::default() };
        let j = judge(&levels, &limit).remove(0);
        assert_eq!((j.verdict, j.quantity), (verdict, LimitQuantity::TotalDba));
        assert!((j.margin_db - room).abs() < 1e-12 && (j.level_db - loudest).abs() < 1e-12);
        assert!(j.without_loudest_db < j.level_db && j.loudest_source_db < j.level_db);
    }
    // Normal distribution: one standard deviation leaves 15.87 % (any statistics table).
    let u = levels[0].standard_uncertainty_db;
    let limit =
        NeighbourLimit { total_dba: Some(loudest + u), octave_63_hz_db: Some(20.0), worst_in_step: false };
    let both = judge(&levels, &limit);
    assert!((both[0].chance_above - 0.158_655).abs() < 1e-5);
    assert_eq!((both.len(), both[1].verdict), (2, Verdict::Exceeds));
    assert!(judge(&[], &limit).is_empty() && judge(&levels, &NeighbourLimit::default()).is_empty());
}

#[test]
fn lines_are_sampled_end_to_end() {
    let p = Point2::new;
    let line = [p(0.0, 0.0), p(3.0, 0.0), p(3.0, 4.0)];
    let points = sample_line(&line, 1.0);
    assert_eq!((points.len(), points[0], points[7]), (8, line[0], line[2]));
    assert!(points[3].distance(line[1]) < 1e-12);
    assert_eq!(sample_line(&line, f64::NAN), [line[0], line[2]]);
    assert_eq!(sample_line(&line[..1], 1.0), [line[0]]);
    assert_eq!(sample_line(&[line[0], line[0]], 1.0), [line[0]]);
    assert!(sample_line(&[], 1.0).is_empty());
}

/// Far away the uncertainty grows, near and high it shrinks (ISO 9613-2:1996 Table 5 inside its range).
#[test]
fn uncertainty_follows_the_table() {
    let u = |s: [f64; 3], r: [f64; 3]| one(&scene(s, r)).standard_uncertainty_db;
    assert_eq!(u([0.0, 0.0, 1.0], [50.0, 0.0, 1.5]), 3.0);
    assert_eq!(u([0.0, 0.0, 10.0], [50.0, 0.0, 4.0]), 1.0);
    assert_eq!(u([0.0, 0.0, 10.0], [500.0, 0.0, 4.0]), 3.0);
    assert!((u([0.0, 0.0, 1.0], [2000.0, 0.0, 1.5]) - 6.0103).abs() < 1e-3);
}

pub(super) fn any_scene() -> impl Strategy<Value = BoundaryScene> {
    let place = || (-60.0f64..60.0, -60.0f64..60.0, 0.0f64..12.0).prop_map(|(x, y, z)| [x, y, z]);
    let wall = (prop::collection::vec((-60.0f64..60.0, -60.0f64..60.0), 2..5), 0.5f64..10.0);
    let block =
        (-50.0f64..50.0, -50.0f64..50.0, 2.0f64..15.0, 3usize..8, 0.0f64..6.0, 1.0f64..10.0, 0.0f64..1.0);
    (place(), place(), prop::collection::vec(wall, 0..4), prop::collection::vec(block, 0..4)).prop_map(
        |(source, receiver, walls, blocks)| {
            let mut s = scene(source, receiver);
            for (line, top) in walls {
                s.screens.push(screen(&line.iter().map(|&(x, y)| [x, y]).collect::<Vec<_>>(), top));
            }
            for (x, y, radius, corners, turn, height, g) in blocks {
                let outline: Vec<[f64; 2]> = (0..corners)
                    .map(|i| {
                        let a = turn + std::f64::consts::TAU * i as f64 / corners as f64;
                        [x + radius * a.cos(), y + radius * a.sin()]
                    })
                    .collect();
                s.ground
                    .regions
                    .push(GroundRegion { outline: outline.iter().map(|&p| p.into()).collect(), g });
                s.buildings.push(building(&outline, height));
            }
            s
        },
    )
}

/// Turns, then moves everything in plan.
fn moved(s: &BoundaryScene, turn: f64, by: Point2) -> BoundaryScene {
    let (sin, cos) = turn.sin_cos();
    let plan = |p: Point2| Point2::new(cos * p.x - sin * p.y, sin * p.x + cos * p.y) + by;
    let space = |p: Point3| plan(p.plan()).at_height(p.z);
    let mut m = s.clone();
    m.sources.iter_mut().for_each(|x| x.position = space(x.position));
    m.receivers.iter_mut().for_each(|x| x.position = space(x.position));
    m.screens.iter_mut().flat_map(|x| &mut x.line).for_each(|p| *p = plan(*p));
    m.buildings.iter_mut().flat_map(|x| &mut x.outline).for_each(|p| *p = plan(*p));
    m.ground.regions.iter_mut().flat_map(|x| &mut x.outline).for_each(|p| *p = plan(*p));
    m
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    /// Turning and moving the whole site changes nothing; every result is a number; what comes straight is never more than
    /// without obstacles.
    #[test]
    fn moving_the_site_changes_nothing(s in any_scene(), turn in 0.0f64..6.3, x in -900.0f64..900.0, y in -900.0f64..900.0) {
        let Ok(a) = boundary_levels(&s) else { return Ok(()) };
        let b = boundary_levels(&moved(&s, turn, Point2::new(x, y))).unwrap();
        let open = BoundaryScene { screens: vec![], buildings: vec![], ..s.clone() };
        let open = boundary_levels(&open).unwrap();
        for i in 0..8 {
            prop_assert!(a[0].levels.bands_db[i].is_finite());
            prop_assert!((a[0].levels.bands_db[i] - b[0].levels.bands_db[i]).abs() < 1e-5, "{} {}", a[0].levels.bands_db[i], b[0].levels.bands_db[i]);
            prop_assert!(a[0].contributions[0].straight_bands_db[i] <= open[0].levels.bands_db[i] + 1e-9);
        }
    }
}
