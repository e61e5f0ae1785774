//! The field of the shipped examples against the same field on four times the lines per band, every loudspeaker followed to
//! every point. Reference: the dense-line coherent sum asked for by the project's own method, 0.5 dB at 95 % of points.

use loamline_acoustics::{Band, Points, Scene, Settings, field};
use loamline_geometry::Point3;
use loamline_model::JobFile;
use loamline_study::Study;
use std::path::Path;

/// Points of a job: `per_area` in every listening area, at ear height, spread by a low-discrepancy sequence (R2, Roberts
/// 2018) over the box round each.
fn listeners(study: &Study, scene: &Scene, per_area: usize) -> Vec<Point3> {
    let mut points = Vec::new();
    for area in study.job().document().areas.values() {
        let (low, high) = area.outline.bounds();
        let mut found = 0;
        for k in 1.. {
            let (u, v) = ((0.754_877_67 * k as f64).fract(), (0.569_840_29 * k as f64).fract());
            let at =
                loamline_geometry::Point2::new(low.x + u * (high.x - low.x), low.y + v * (high.y - low.y));
            if area.outline.contains(at) {
                points.push(at.at_height(1.2 + scene.ground_elevation_m(at)));
                found += 1;
            }
            if found == per_area || k > 100 * per_area {
                break;
            }
        }
    }
    points
}

#[expect(clippy::panic, reason = "the body of the tests below")]
fn check(name: &str, per_area: usize, within_db: f64) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name);
    let file = JobFile::open(&folder).unwrap_or_else(|e| panic!("{name}: {e}"));
    let study = Study::new(file.job().clone());
    let sound = study.sound();
    let sound = sound.as_ref().as_ref().unwrap_or_else(|e| panic!("{name}: {e:?}"));
    let scene = sound.scene.clone();
    let places = listeners(&study, &scene, per_area);
    let mut input = scene.input();
    input.settings = Settings { lines_per_band: 64, cut_off_db: 0.0, ..input.settings };
    let dense = Scene::new(input).unwrap_or_else(|e| panic!("{name}: {e:?}"));
    let levels = |scene: &Scene| {
        let points = Points::new(scene, places.clone()).unwrap_or_else(|e| panic!("{name}: {e}"));
        let field = field(scene, &points);
        (0..places.len()).map(|i| field.band_levels_db(i)).collect::<Vec<_>>()
    };
    let (fast, plain) = (levels(&scene), levels(&dense));
    assert!(places.len() > 50, "{name}: {} points", places.len());
    for band in Band::all() {
        let b = band.index();
        let mut off: Vec<f64> = fast.iter().zip(&plain).map(|(f, p)| (f[b] - p[b]).abs()).collect();
        off.sort_by(f64::total_cmp);
        let most = off[off.len() * 95 / 100];
        assert!(most < within_db, "{name}, {}: 95 % of points within {most:.3} dB", band.label());
    }
}

#[test]
fn the_field_of_guesthouse_garden_meets_dense_lines() {
    check("guesthouse-garden", 60, 0.5);
}

#[test]
fn the_field_of_walled_courtyard_meets_dense_lines() {
    check("walled-courtyard", 60, 0.5);
}

/// More of its places lie behind a house between two levels, where few ways reach and two of them may cancel.
#[test]
fn the_field_of_quayside_hotel_meets_dense_lines() {
    check("quayside-hotel", 20, 0.75);
}
