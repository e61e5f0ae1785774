//! The field against the plain formula and against itself: kept and anew, by other threads, moved, turned, exchanged.

use super::gardens::{garden, lawn, levels, most_apart, most_off, random_points};
use super::*;
use crate::scene::{Scene, Source, Wall};
use crate::{Aim, BAND_COUNT, Band, Programme, SILENCE_DB, Weighting};
use loamline_chance::Draws;
use loamline_geometry::{Point2, Point3, Polygon};
use std::sync::Arc;

#[test]
fn the_fast_field_meets_dense_lines_by_the_plain_formula() {
    let scene = Scene::new(garden(22)).unwrap();
    let points = Points::new(&scene, random_points(80, 3)).unwrap();
    let fast = field(&scene, &points);
    let mut off: Vec<Vec<f64>> = vec![Vec::new(); BAND_COUNT];
    for (i, p) in points.places().iter().enumerate() {
        if points.is_indoors(i) {
            assert!(fast.level_db(i, Weighting::Z) <= SILENCE_DB);
            continue;
        }
        let plain = dense::band_energies(&scene, *p, 48);
        for b in Band::all() {
            off[b.index()].push((fast.band_level_db(i, b) - crate::db_from_energy(plain[b.index()])).abs());
        }
    }
    for (b, off) in Band::all().zip(&mut off) {
        off.sort_by(f64::total_cmp);
        let most = off[off.len() * 95 / 100];
        assert!(most < 0.5, "{}: 95 % of points within {most:.3} dB", b.label());
        assert!(
            off[off.len() / 2] < 0.06,
            "{}: half of the points within {:.3} dB",
            b.label(),
            off[off.len() / 2]
        );
    }
}

#[test]
fn a_kept_field_is_the_field_computed_anew() {
    let mut input = garden(8);
    input.programmes.push(Programme::pink(9.0).unwrap());
    input.sources[6].programme = 1;
    let scene = Scene::new(input.clone()).unwrap();
    let places = random_points(150, 5);
    let mut kept = IncrementalField::new(&scene, Points::new(&scene, places.clone()).unwrap());
    assert!(most_off(&kept) < 1e-6);
    // Drags through the garden, each starting with another loudspeaker, past the points and back.
    let mut dice = Draws::new(31);
    for step in 0..24 {
        let index = (step / 3) % 8;
        let mut source = kept.scene().source(index).unwrap().clone();
        let near = places[step * 5];
        source.position = Point3::new(near.x + dice.between(-0.2, 0.2), near.y, dice.between(0.2, 1.4));
        source.delay_s = dice.between(0.0, 0.02);
        source.gain_db = [0.0, -40.0, 6.0][step % 3];
        if kept.set_source(index, source).is_ok() {
            assert!(most_off(&kept) < 0.01, "step {step}: {}", most_off(&kept));
        }
    }
    // Two at once, from input as a document gives it; then another wall.
    input.sources.clear();
    input.sources.extend((0..8).map(|i| kept.scene().source(i).unwrap().clone()));
    input.sources[1].delay_s = 0.003;
    input.sources[6].reversed = true;
    input.sources[6].programme = 0;
    let next = kept.scene().with_input(input.clone()).unwrap();
    kept.set_scene(&next);
    assert!(most_off(&kept) < 0.01, "{}", most_off(&kept));
    input.walls.pop();
    let next = kept.scene().with_input(input).unwrap();
    kept.set_scene(&next);
    assert!(most_off(&kept) < 1e-6);
    // What cannot be leaves everything as it was.
    let mut inside = kept.scene().source(0).unwrap().clone();
    inside.position = Point3::new(10.0, 21.0, 1.0);
    assert!(kept.set_source(0, inside).is_err());
    assert!(most_off(&kept) < 1e-6);
}

#[test]
fn a_scene_of_input_takes_over_what_did_not_change() {
    let input = garden(6);
    let scene = Scene::new(input.clone()).unwrap();
    let mut other = input.clone();
    // A document read anew shares nothing with the scene before it.
    other.sources.iter_mut().for_each(|s| s.directivity = Arc::new((*s.directivity).clone()));
    other.sources[2].position.x += 0.5;
    let next = scene.with_input(other.clone()).unwrap();
    let same: Vec<bool> = (0..6).map(|i| Arc::ptr_eq(&scene.placed[i], &next.placed[i])).collect();
    assert_eq!(same, [true, true, false, true, true, true]);
    let spots = random_points(20, 12);
    assert_eq!(most_apart(&levels(&next, &spots), &levels(&Scene::new(other).unwrap(), &spots)), 0.0);
}

#[test]
fn loudspeakers_alone_add_up_above_the_transition() {
    let scene = Scene::new(garden(6)).unwrap();
    let points = Points::new(&scene, random_points(40, 6)).unwrap();
    let (all, each) = (field(&scene, &points), energy_matrix(&scene, &points).unwrap());
    for i in 0..points.len() {
        for b in Band::all().skip(14) {
            let sum: f32 = (0..6).map(|s| each.band_energies(i, s)[b.index()]).sum();
            let whole = all.band_energies(i)[b.index()];
            assert!((sum - whole).abs() <= 1e-5 * whole, "point {i}, {}", b.label());
        }
    }
}

#[test]
fn the_result_does_not_depend_on_the_number_of_threads() {
    let scene = Scene::new(garden(5)).unwrap();
    let points = Points::new(&scene, random_points(300, 8)).unwrap();
    let run = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| field(&scene, &points))
    };
    let (one, four) = (run(1), run(4));
    for i in 0..points.len() {
        assert_eq!(one.band_energies(i), four.band_energies(i));
    }
}

#[test]
fn source_and_listener_may_change_places() {
    let mut s = garden(0);
    let mut dice = Draws::new(11);
    for _ in 0..30 {
        let mut place = || {
            // Outside the house.
            Point3::new(dice.between(1.0, 37.0), dice.between(1.0, 17.0), dice.between(0.3, 2.5))
        };
        let (a, b) = (place(), place());
        let mut heard = |from: Point3, to: Point3| {
            s.sources = vec![Source::omni(from, 100.0)];
            levels(&Scene::new(s.clone()).unwrap(), &[to])
        };
        let apart = most_apart(&heard(a, b), &heard(b, a));
        assert!(apart < 0.05, "{a:?} and {b:?}: {apart} dB");
    }
}

#[test]
fn turning_and_moving_the_whole_site_changes_nothing() {
    let plain = garden(5);
    let spots = random_points(60, 9);
    let (angle, dx, dy) = (0.7f64, 211.0, -95.0);
    let turn = |p: Point2| {
        Point2::new(p.x * angle.cos() - p.y * angle.sin() + dx, p.x * angle.sin() + p.y * angle.cos() + dy)
    };
    let mut turned = plain.clone();
    let polygon = |p: &Polygon| Polygon::new(p.corners().iter().map(|c| turn(*c))).unwrap();
    turned.ground.iter_mut().for_each(|g| g.outline = polygon(&g.outline));
    turned.buildings.iter_mut().for_each(|b| b.outline = polygon(&b.outline));
    turned.walls.iter_mut().for_each(|w| w.line.iter_mut().for_each(|p| *p = turn(*p)));
    for source in &mut turned.sources {
        source.position = turn(source.position.plan()).at_height(source.position.z);
        let forward = source.aim.forward().plan();
        let bearing = forward.x.atan2(forward.y).to_degrees() - angle.to_degrees();
        source.aim = Aim::new(bearing, 0.0, 0.0);
    }
    let a = levels(&Scene::new(plain).unwrap(), &spots);
    let moved: Vec<Point3> = spots.iter().map(|p| turn(p.plan()).at_height(p.z)).collect();
    let b = levels(&Scene::new(turned).unwrap(), &moved);
    assert!(most_apart(&a, &b) < 0.05, "{}", most_apart(&a, &b));
}

#[test]
fn odd_input_never_gives_what_is_not_a_number() {
    let mut s = garden(4);
    s.sources[0].position = Point3::new(10.0, 5.0, -40.0);
    s.sources[1].full_scale_db = SILENCE_DB;
    let on_top = s.sources[2].position;
    let scene = Scene::new(s).unwrap();
    let spots = [
        on_top,
        Point3::new(10.0, 5.0, 0.0),
        Point3::new(10.0, 20.0, 1.2),
        Point3::new(20.0, 16.0, 1.0),
        Point3::new(20.0, 14.0, 1.8),
        Point3::new(2.0, 18.0, 1.0),
        Point3::new(40_000.0, 0.0, 1.0),
    ];
    for row in levels(&scene, &spots) {
        assert!(row.iter().all(|l| l.is_finite() && *l < 140.0), "{row:?}");
    }
    assert!(levels(&scene, &[]).is_empty());
    assert!(Points::new(&scene, vec![Point3::new(f64::NAN, 0.0, 0.0)]).is_err());
    let empty = Scene::new(lawn()).unwrap();
    assert!(levels(&empty, &spots).iter().flatten().all(|l| *l <= SILENCE_DB));
    for spot in spots {
        let p = probe(&scene, spot).unwrap();
        assert!(p.sources.iter().all(|s| s.level_dba.is_finite() && s.arrival_s.is_finite()));
    }
}

#[test]
fn a_probe_names_what_makes_the_level() {
    let mut s = lawn();
    s.walls.push(Wall {
        line: vec![Point2::new(-5.0, 3.0), Point2::new(5.0, 3.0)],
        height_m: 2.0,
        foot_m: None,
        absorption: [0.0; 31],
    });
    s.sources.push(Source::omni(Point3::new(0.0, 0.0, 1.0), 100.0));
    s.sources.push(Source::omni(Point3::new(40.0, 0.0, 1.0), 112.0));
    let scene = Scene::new(s).unwrap();
    let p = probe(&scene, Point3::new(1.0, 0.0, 1.5)).unwrap();
    let why = p.why(4);
    let text: Vec<String> = why.iter().map(ToString::to_string).collect();
    assert!(text[0].starts_with("loudspeaker 1, straight: "), "{text:?}");
    assert!(text.iter().any(|t| t.starts_with("loudspeaker 1, by wall 1: ")), "{text:?}");
    // 39 m and 1 m apart: 111 ms, too far below to matter as an echo; louder, it is one.
    assert!(!p.arrival_spread(&scene).unwrap().echo_risk);
    let mut louder = scene.source(1).unwrap().clone();
    louder.full_scale_db = 130.0;
    let mut scene = scene;
    scene.set_source(1, louder).unwrap();
    let p = probe(&scene, Point3::new(1.0, 0.0, 1.5)).unwrap();
    let echo = p.arrival_spread(&scene).unwrap();
    assert_eq!((p.sources[echo.first].source, p.sources[echo.last].source), (0, 1));
    assert!(echo.echo_risk && (echo.spread_s - 0.1105).abs() < 0.002, "{echo:?}");
    let points = Points::new(&scene, vec![Point3::new(1.0, 0.0, 1.5)]).unwrap();
    let first = arrivals(&scene, &points).unwrap()[0][0];
    let same = p.sources.iter().find(|s| s.source == 0).unwrap();
    assert!((first.time_s - same.arrival_s).abs() < 1e-9, "{first:?} {same:?}");
    assert!((first.level_db - same.level_dba).abs() < 0.01, "{first:?} {same:?}");
    // Behind the wall the way is bent.
    let behind = probe(&scene, Point3::new(0.0, 6.0, 1.2)).unwrap();
    let own = behind.sources.iter().find(|s| s.source == 0).unwrap();
    assert!(own.paths.iter().any(|p| p.way.screened_db > 5.0), "{own:?}");
}
