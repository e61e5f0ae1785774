//! Far loudspeakers lumped, against each of them followed by itself.

use super::gardens::{lawn, levels, most_apart, most_off};
use super::{IncrementalField, Points};
use crate::scene::{Scene, Source};
use crate::{Aim, BAND_COUNT, Directivity, PistonRear, Weighting};
use loamline_chance::Draws;
use loamline_geometry::Point3;
use std::sync::Arc;

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
    let mut dice = Draws::new(21);
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
