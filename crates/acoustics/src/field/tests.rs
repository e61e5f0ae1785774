use super::*;
use crate::scene::{Building, Scene, SceneInput, Source, Surface, Wall};
use crate::{
    Aim, Air, BAND_COUNT, Band, CoveragePoint, DEFAULT_REAR_FLOOR_DB, Directivity, Ground, PistonRear,
    Programme, SILENCE_DB, Weighting,
};
use loamline_geometry::{Point2, Point3, Polygon};
use loamline_terms::FlowClass;
use std::sync::Arc;

/// Numbers that look random and never change (a linear congruential generator, Numerical Recipes constants).
pub(super) struct Dice(u64);
impl Dice {
    pub(super) fn new(seed: u64) -> Self {
        Self(seed)
    }
    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + (high - low) * ((self.0 >> 11) as f64 / (1u64 << 53) as f64)
    }
}

pub(super) fn lawn() -> SceneInput {
    let mut s = SceneInput::open(Air::default(), Ground::of_class(FlowClass::E));
    s.programmes.push(Programme::pink(12.0).unwrap());
    s
}

/// A garden of 38 m by 26 m: house in the north-west, a wall, a fence, a terrace, a court; loudspeakers all round.
pub(super) fn garden(loudspeakers: usize) -> SceneInput {
    let mut s = lawn();
    let rect =
        |a: f64, b: f64, c: f64, d: f64| Polygon::rectangle(Point2::new(a, b), Point2::new(c, d)).unwrap();
    s.ground = [(rect(4.0, 12.0, 16.0, 18.0), 20_000.0), (rect(22.0, 3.0, 32.0, 9.0), 2000.0)]
        .map(|(outline, flow)| Surface { outline, ground: Ground::new(flow).unwrap(), elevation_m: 0.0 })
        .to_vec();
    s.buildings.push(Building {
        outline: rect(2.0, 18.0, 18.0, 25.0),
        height_m: 5.5,
        absorption: [0.06; 31],
    });
    let wall = |line: &[[f64; 2]], height_m, absorption| Wall {
        line: line.iter().map(|p| (*p).into()).collect(),
        height_m,
        absorption: [absorption; 31],
    };
    s.walls.push(wall(&[[20.0, 14.0], [20.0, 22.0], [26.0, 24.0]], 1.8, 0.05));
    s.walls.push(wall(&[[0.5, 0.5], [37.5, 0.5]], 1.5, 0.15));
    let wide = Arc::new(Directivity::piston(0.16, PistonRear::Baffle).unwrap());
    let horn = Arc::new(
        Directivity::coverage(
            vec![
                CoveragePoint { frequency_hz: 500.0, horizontal_deg: 150.0, vertical_deg: 110.0 },
                CoveragePoint { frequency_hz: 8000.0, horizontal_deg: 80.0, vertical_deg: 60.0 },
            ],
            DEFAULT_REAR_FLOOR_DB,
        )
        .unwrap(),
    );
    let mut dice = Dice::new(7);
    for i in 0..loudspeakers {
        let a = std::f64::consts::TAU * i as f64 / loudspeakers as f64;
        let at = Point2::new(19.0 + 16.5 * a.cos(), 9.5 + 8.0 * a.sin());
        let mut source = Source::omni(at.at_height(dice.between(0.2, 1.2)), 98.0 + dice.between(-3.0, 3.0));
        source.aim = Aim::new(270.0 - a.to_degrees() + dice.between(-20.0, 20.0), 0.0, 0.0);
        source.directivity = if i % 2 == 0 { wide.clone() } else { horn.clone() };
        source.delay_s = dice.between(0.0, 0.02);
        s.sources.push(source);
    }
    s
}

fn random_points(n: usize, seed: u64) -> Vec<Point3> {
    let mut dice = Dice::new(seed);
    (0..n)
        .map(|_| Point3::new(dice.between(0.0, 38.0), dice.between(0.0, 26.0), dice.between(1.0, 1.7)))
        .collect()
}

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

fn levels(scene: &Scene, points: &[Point3]) -> Vec<[f64; BAND_COUNT]> {
    let points = Points::new(scene, points.to_vec()).unwrap();
    let f = field(scene, &points);
    (0..points.len()).map(|i| f.band_levels_db(i)).collect()
}

fn most_apart(a: &[[f64; BAND_COUNT]], b: &[[f64; BAND_COUNT]]) -> f64 {
    a.iter().zip(b).flat_map(|(a, b)| a.iter().zip(b).map(|(x, y)| (x - y).abs())).fold(0.0, f64::max)
}

fn most_off(kept: &IncrementalField) -> f64 {
    let anew = field(kept.scene(), kept.points());
    let mut most = 0.0f64;
    for i in 0..kept.points().len() {
        for b in Band::all() {
            most = most.max((kept.field().band_level_db(i, b) - anew.band_level_db(i, b)).abs());
        }
    }
    most
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
    let mut dice = Dice::new(31);
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
fn two_sources_interfere_in_closed_form() {
    // Two alike sources high above the ground of a moss bed are nearly in the open; in step, level over one alone is
    // |1/r1 exp(i k r1) + 1/r2 exp(i k r2)|^2, here by its mean over the band.
    let mut s = SceneInput::open(Air::default(), Ground::of_class(FlowClass::A));
    s.programmes.push(Programme::pink(12.0).unwrap());
    for x in [-0.9, 0.9] {
        s.sources.push(Source::omni(Point3::new(x, 0.0, 3000.0), 100.0));
    }
    for reversed in [false, true] {
        s.sources[1].reversed = reversed;
        let scene = Scene::new(s.clone()).unwrap();
        let spots: Vec<Point3> =
            (0..24).map(|i| Point3::new(f64::from(i) * 0.3 - 3.0, 4.0, 3000.5)).collect();
        let got = levels(&scene, &spots);
        let (one, shares) = (100.0 - 12.0 + crate::SINE_CREST_DB, 31f64.recip());
        for (spot, got) in spots.iter().zip(&got) {
            for b in Band::all().take(14) {
                let lines = 4000;
                let mut energy = 0.0;
                for l in 0..lines {
                    let f =
                        b.centre_hz() * 10f64.powf(((f64::from(l) + 0.5) / f64::from(lines) - 0.5) / 10.0);
                    let k = std::f64::consts::TAU * f / 343.2;
                    let (r1, r2) =
                        (spot.distance(s.sources[0].position), spot.distance(s.sources[1].position));
                    let sign = if reversed { -1.0 } else { 1.0 };
                    energy += (1.0 / r1).powi(2)
                        + (1.0 / r2).powi(2)
                        + sign * 2.0 / (r1 * r2) * (k * (r1 - r2)).cos();
                }
                let expected = one + 10.0 * (energy / f64::from(lines) * shares).log10();
                // Air takes under 0.02 dB here; deep nulls are finite in the closed form too, but rest on small numbers.
                if energy / f64::from(lines) > 1e-4 {
                    let off = got[b.index()] - expected;
                    assert!(off.abs() < 0.1, "{spot:?} {} {reversed}: {off}", b.label());
                }
            }
        }
    }
}

#[test]
fn a_source_over_a_rigid_plane_is_that_of_the_closed_form() {
    let mut s = SceneInput::open(Air::default(), Ground::new(1e6).unwrap());
    s.programmes.push(Programme::pink(12.0).unwrap());
    s.sources.push(Source::omni(Point3::new(0.0, 0.0, 0.8), 100.0));
    let scene = Scene::new(s).unwrap();
    let spots: Vec<Point3> = (2..30).map(|i| Point3::new(f64::from(i) * 0.5, 0.0, 1.4)).collect();
    let got = levels(&scene, &spots);
    let alpha = Air::default().band_absorption_db_per_m();
    for (spot, got) in spots.iter().zip(&got) {
        let (r1, r2) = (spot.x.hypot(0.6), spot.x.hypot(2.2));
        for b in Band::all() {
            let mut energy = 0.0;
            for l in 0..2000 {
                let f = b.centre_hz() * 10f64.powf(((f64::from(l) + 0.5) / 2000.0 - 0.5) / 10.0);
                let k = std::f64::consts::TAU * f / 343.2;
                energy += r1.powi(-2) + r2.powi(-2) + 2.0 / (r1 * r2) * (k * (r2 - r1)).cos();
            }
            let mean = energy / 2000.0;
            // Leave out nulls more than 15 dB deep, where even the hardest ground is not rigid.
            if mean * r1 * r1 > 0.03 {
                let expected = 100.0 - 12.0 + crate::SINE_CREST_DB + 10.0 * (mean / 31.0).log10();
                let off = got[b.index()] - expected + alpha[b.index()] * 0.5 * (r1 + r2);
                assert!(off.abs() < 0.3, "{} m, {}: {off}", spot.x, b.label());
            }
        }
    }
}

#[test]
fn source_and_listener_may_change_places() {
    let mut s = garden(0);
    let mut dice = Dice::new(11);
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

#[test]
fn two_woofers_far_apart_cancel_where_the_waves_say() {
    let mut s = lawn();
    for x in [0.0, 8.0] {
        s.sources.push(Source::omni(Point3::new(x, 0.0, 0.3), 110.0));
    }
    let scene = Scene::new(s).unwrap();
    // Half a wave apart at 50 Hz: path difference 3.43 m.
    let spots: Vec<Point3> = (0..80).map(|i| Point3::new(f64::from(i) * 0.1, 4.0, 1.2)).collect();
    let points = Points::new(&scene, spots).unwrap();
    let w = waves(&scene, &points).unwrap();
    let total = field(&scene, &points);
    let band = Band::containing(50.0).unwrap();
    let pair = [0, 1].map(|candidate| crate::SubwooferSetting { candidate, reversed: false, delay_s: 0.0 });
    let searched = crate::bass_levels(&w.bass_field().unwrap(), &pair).unwrap();
    let place = searched.bands.iter().position(|b| b.band == band).unwrap();
    let mut least = f64::INFINITY;
    for i in 0..points.len() {
        let both = w.band_levels_db(&[0, 1], i)[band.index()];
        let one = w.band_levels_db(&[0], i)[band.index()];
        let other = w.band_levels_db(&[1], i)[band.index()];
        assert!((searched.point_bands_db[i][place] - both).abs() < 0.01, "{searched:?}");
        least = least.min(both - crate::sum_db([one, other]));
        assert!((both - total.band_level_db(i, band)).abs() < 0.05);
    }
    assert!(least < -6.0, "the deepest place lies only {least} dB below the energy sum");
}

#[test]
fn sound_between_two_walls_follows_the_images_of_second_order() {
    // Two rigid walls 6 m apart, 60 m long; in the open above absorbing ground high up, so that only images count. By
    // the method of images, of order two or less: sources at -a, a, 2 W - a and a - 2 W, a + 2 W for walls at 0 and W.
    let (width, high) = (6.0, 400.0);
    let mut s = SceneInput::open(Air::default(), Ground::of_class(FlowClass::A));
    s.programmes.push(Programme::pink(12.0).unwrap());
    for x in [0.0, width] {
        let line = vec![Point2::new(x, -30.0), Point2::new(x, 30.0)];
        s.walls.push(Wall { line, height_m: 500.0, absorption: [0.0; 31] });
    }
    let a = 2.2;
    s.sources.push(Source::omni(Point3::new(a, 0.0, high), 100.0));
    s.settings.second_order = true;
    let alpha = Air::default().band_absorption_db_per_m();
    let spots: Vec<Point3> =
        [(1.0, 2.5), (4.9, -1.0), (3.0, 6.0)].map(|(x, y)| Point3::new(x, y, high + 0.3)).to_vec();
    let got = levels(&Scene::new(s.clone()).unwrap(), &spots);
    s.settings.second_order = false;
    let first_only = levels(&Scene::new(s).unwrap(), &spots);
    let mut largest = 0.0f64;
    for ((spot, got), first_only) in spots.iter().zip(&got).zip(&first_only) {
        let images = [a, -a, 2.0 * width - a, a - 2.0 * width, a + 2.0 * width];
        let lengths = images.map(|x| spot.distance(Point3::new(x, 0.0, high)));
        for b in Band::all() {
            let lines = 2000;
            let mut energy = 0.0;
            for l in 0..lines {
                let f = b.centre_hz() * 10f64.powf(((f64::from(l) + 0.5) / f64::from(lines) - 0.5) / 10.0);
                let k = std::f64::consts::TAU * f / 343.2;
                let part = |g: fn(f64) -> f64| {
                    let wave = |r: &f64| g(k * r) / r * 10f64.powf(-alpha[b.index()] * r / 20.0);
                    lengths.iter().map(wave).sum::<f64>()
                };
                energy += part(f64::cos).powi(2) + part(f64::sin).powi(2);
            }
            let mean = energy / f64::from(lines);
            let expected = 100.0 - 12.0 + crate::SINE_CREST_DB + 10.0 * (mean / 31.0).log10();
            let off = got[b.index()] - expected;
            assert!(off.abs() < 0.35, "{spot:?} {}: {off}", b.label());
            largest = largest.max((first_only[b.index()] - expected).abs());
        }
    }
    assert!(largest > 1.0, "first order alone would do: {largest} dB");
}

#[test]
fn a_large_site_lumps_by_groups_within_the_stated_error() {
    // Loudspeakers 14 m apart over 700 m, points over all of it: most of them are far from most points.
    let mut s = lawn();
    let cone = Arc::new(Directivity::piston(0.16, PistonRear::Enclosure).unwrap());
    for i in 0..2500 {
        let at = Point3::new(14.0 * f64::from(i % 50), 14.0 * f64::from(i / 50), 0.4);
        let mut source = Source::omni(at, 98.0);
        source.aim = Aim::new(137.5 * f64::from(i), 0.0, 0.0);
        source.directivity = cone.clone();
        s.sources.push(source);
    }
    s.settings.coherent_to_hz = 20.0;
    let mut spots: Vec<Point3> =
        (0..400).map(|i| Point3::new(f64::from(i % 20) * 3.0, f64::from(i / 20) * 3.0, 1.2)).collect();
    // A few far ones make the groups large.
    spots.extend((0..40).map(|i| Point3::new(700.0, f64::from(i) * 3.0, 1.2)));
    s.settings.cut_off_db = 0.1;
    let lumped = Scene::new(s.clone()).unwrap();
    s.settings.cut_off_db = 0.0;
    let each = levels(&Scene::new(s).unwrap(), &spots);
    let mut worst = [0.0f64; BAND_COUNT];
    for (a, b) in levels(&lumped, &spots).iter().zip(&each) {
        assert!((Weighting::A.level_db(a) - Weighting::A.level_db(b)).abs() < 0.1);
        for ((worst, a), b) in worst.iter_mut().zip(a).zip(b) {
            *worst = worst.max((a - b).abs());
        }
    }
    // 20 Hz is still added as waves, which lumped loudspeakers are not; from 8 kHz lobes are finer than a patch.
    assert!(worst[1..=25].iter().all(|w| *w < 0.1) && worst[26..].iter().all(|w| *w < 0.4), "{worst:?}");
    assert!(worst[1..].iter().any(|w| *w > 0.0), "nothing was lumped");
    // Kept and changed, it stays the field computed anew.
    let mut kept = IncrementalField::new(&lumped, Points::new(&lumped, spots).unwrap());
    let mut source = lumped.source(1200).unwrap().clone();
    source.gain_db = -6.0;
    kept.set_source(1200, source).unwrap();
    assert!(most_off(&kept) < 0.01, "{}", most_off(&kept));
}

#[test]
fn lumped_far_loudspeakers_stay_within_the_stated_error() {
    // Two hundred loudspeakers over 800 m by 300 m, points at the edge where far ones do not balance.
    let mut s = lawn();
    let cone = Arc::new(Directivity::piston(0.16, PistonRear::Enclosure).unwrap());
    let mut dice = Dice::new(21);
    for _ in 0..200 {
        let at = Point3::new(dice.between(0.0, 800.0), dice.between(0.0, 300.0), dice.between(0.3, 1.5));
        let mut source = Source::omni(at, 100.0);
        source.aim = Aim::new(dice.between(0.0, 360.0), 0.0, 0.0);
        source.directivity = cone.clone();
        s.sources.push(source);
    }
    // Everything in energy, so that only the lumping differs.
    s.settings.coherent_to_hz = 20.0;
    let spots: Vec<Point3> =
        (0..400).map(|i| Point3::new(f64::from(i % 20) * 2.0, f64::from(i / 20) * 2.0, 1.2)).collect();
    s.settings.cut_off_db = 0.1;
    let lumped = levels(&Scene::new(s.clone()).unwrap(), &spots);
    s.settings.cut_off_db = 0.0;
    let each = levels(&Scene::new(s).unwrap(), &spots);
    assert!(most_apart(&lumped, &each) > 0.0, "nothing was lumped");
    for (i, (a, b)) in lumped.iter().zip(&each).enumerate() {
        let dba = |row| Weighting::A.level_db(row);
        assert!((dba(a) - dba(b)).abs() < 0.1, "point {i}: {} for {} dBA", dba(a), dba(b));
    }
}
