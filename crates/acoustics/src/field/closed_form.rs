//! The field against closed forms: two sources, a rigid plane, two woofers, the images of two walls.

use super::gardens::{lawn, levels};
use super::{Points, field, waves};
use crate::scene::{Scene, SceneInput, Source, Wall};
use crate::{Air, Band, Ground, Programme};
use loamline_geometry::{Point2, Point3};
use loamline_terms::FlowClass;

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
        s.walls.push(Wall { line, height_m: 500.0, foot_m: None, absorption: [0.0; 31] });
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
