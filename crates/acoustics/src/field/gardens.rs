//! Gardens, points in them and levels there: what the checks of the field are made on.

use super::{IncrementalField, Points, field};
use crate::scene::{Building, Scene, SceneInput, Source, Surface, Wall};
use crate::{
    Aim, Air, BAND_COUNT, Band, CoveragePoint, DEFAULT_REAR_FLOOR_DB, Directivity, Ground, PistonRear,
    Programme,
};
use loamline_chance::Draws;
use loamline_geometry::{Point2, Point3, Polygon};
use loamline_terms::FlowClass;
use std::sync::Arc;

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
        foot_m: None,
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
    let mut dice = Draws::new(7);
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

pub(super) fn random_points(n: usize, seed: u64) -> Vec<Point3> {
    let mut dice = Draws::new(seed);
    (0..n)
        .map(|_| Point3::new(dice.between(0.0, 38.0), dice.between(0.0, 26.0), dice.between(1.0, 1.7)))
        .collect()
}

pub(super) fn levels(scene: &Scene, points: &[Point3]) -> Vec<[f64; BAND_COUNT]> {
    let points = Points::new(scene, points.to_vec()).unwrap();
    let f = field(scene, &points);
    (0..points.len()).map(|i| f.band_levels_db(i)).collect()
}

pub(super) fn most_apart(a: &[[f64; BAND_COUNT]], b: &[[f64; BAND_COUNT]]) -> f64 {
    a.iter().zip(b).flat_map(|(a, b)| a.iter().zip(b).map(|(x, y)| (x - y).abs())).fold(0.0, f64::max)
}

pub(super) fn most_off(kept: &IncrementalField) -> f64 {
    let anew = field(kept.scene(), kept.points());
    let mut most = 0.0f64;
    for i in 0..kept.points().len() {
        for b in Band::all() {
            most = most.max((kept.field().band_level_db(i, b) - anew.band_level_db(i, b)).abs());
        }
    }
    most
}
