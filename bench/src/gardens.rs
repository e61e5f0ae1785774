//! Scenes for the benchmarks, invented: what a job would turn into.

use loamline_acoustics::{
    Aim, Air, Building, Directivity, DirectivityError, Ground, GroundError, PistonRear, Programme,
    SceneInput, Source, SourceError, Surface, Wall,
};
use loamline_geometry::{OutlineError, Point2, Point3, Polygon};
use std::sync::Arc;

/// Why a scene could not be made.
#[derive(Debug, thiserror::Error)]
pub enum GardenError {
    /// An outline.
    #[error(transparent)]
    Outline(#[from] OutlineError),
    /// A ground.
    #[error(transparent)]
    Ground(#[from] GroundError),
    /// A directivity.
    #[error(transparent)]
    Directivity(#[from] DirectivityError),
    /// A source.
    #[error(transparent)]
    Source(#[from] SourceError),
}

fn rectangle(west: f64, south: f64, east: f64, north: f64) -> Result<Polygon, OutlineError> {
    Polygon::rectangle(Point2::new(west, south), Point2::new(east, north))
}

fn lawn() -> Result<SceneInput, GardenError> {
    let mut scene = SceneInput::open(Air::default(), Ground::new(500.0)?);
    scene.programmes.push(Programme::pink(12.0)?);
    Ok(scene)
}

fn facing(at: Point3, towards: Point2) -> Aim {
    let d = towards - at.plan();
    Aim::new(d.x.atan2(d.y).to_degrees(), 0.0, 0.0)
}

/// A guesthouse garden, 38 m by 26 m: house, court wall, boundary wall, terrace, gravel; twenty loudspeakers and two
/// subwoofers on one programme.
///
/// # Errors
/// [`GardenError`], never in practice.
pub fn court() -> Result<SceneInput, GardenError> {
    let mut scene = lawn()?;
    for (outline, flow) in
        [(rectangle(4.0, 12.0, 16.0, 18.0)?, 20_000.0), (rectangle(22.0, 3.0, 32.0, 9.0)?, 2000.0)]
    {
        scene.ground.push(Surface { outline, ground: Ground::new(flow)?, elevation_m: 0.0 });
    }
    scene.buildings.push(Building {
        outline: rectangle(2.0, 18.0, 18.0, 25.0)?,
        height_m: 5.5,
        absorption: [0.06; 31],
    });
    let wall = |ends: [[f64; 2]; 2], height_m, absorption| Wall {
        line: ends.map(Point2::from).to_vec(),
        height_m,
        absorption: [absorption; 31],
    };
    scene.walls.push(wall([[20.0, 14.0], [20.0, 22.0]], 1.8, 0.05));
    scene.walls.push(wall([[0.5, 0.5], [37.5, 0.5]], 1.5, 0.15));
    let cone = Arc::new(Directivity::piston(0.165, PistonRear::Enclosure)?);
    let middle = Point2::new(19.0, 9.0);
    for i in 0..20 {
        let a = std::f64::consts::TAU * f64::from(i) / 20.0;
        let at = Point3::new(19.0 + 17.0 * a.cos(), 9.0 + 7.8 * a.sin(), 0.3 + 0.2 * f64::from(i % 4));
        let mut source = Source::omni(at, 98.0 + f64::from(i % 5));
        source.aim = facing(at, middle);
        source.directivity = cone.clone();
        source.delay_s = 0.001 * f64::from(i % 7);
        scene.sources.push(source);
    }
    let omni = Arc::new(Directivity::Omni);
    for at in [Point3::new(8.0, 10.0, 0.3), Point3::new(30.0, 13.0, 0.3)] {
        let mut source = Source::omni(at, 106.0);
        source.directivity = omni.clone();
        source.response_db = std::array::from_fn(|b| if b < 9 { 0.0 } else { -4.0 * (b as f64 - 8.0) });
        scene.sources.push(source);
    }
    Ok(scene)
}

/// A hotel waterfront, 300 m by 80 m: two wings, a sea wall, water and paving; 120 loudspeakers on two programmes.
///
/// # Errors
/// [`GardenError`], never in practice.
pub fn harbour() -> Result<SceneInput, GardenError> {
    let mut scene = lawn()?;
    scene.programmes.push(Programme::pink(9.0)?);
    for (outline, flow) in [
        (rectangle(-50.0, -200.0, 350.0, 0.0)?, 200_000.0),
        (rectangle(0.0, 0.0, 300.0, 25.0)?, 20_000.0),
        (rectangle(60.0, 40.0, 240.0, 50.0)?, 2000.0),
    ] {
        scene.ground.push(Surface { outline, ground: Ground::new(flow)?, elevation_m: 0.0 });
    }
    for (west, east) in [(20.0, 130.0), (170.0, 280.0)] {
        scene.buildings.push(Building {
            outline: rectangle(west, 55.0, east, 75.0)?,
            height_m: 12.0,
            absorption: [0.05; 31],
        });
    }
    scene.walls.push(Wall {
        line: vec![Point2::new(0.0, 1.0), Point2::new(300.0, 1.0)],
        height_m: 0.9,
        absorption: [0.05; 31],
    });
    let cone = Arc::new(Directivity::piston(0.13, PistonRear::Enclosure)?);
    for i in 0..120 {
        let at = Point3::new(5.0 + 4.9 * f64::from(i / 2), if i % 2 == 0 { 6.0 } else { 38.0 }, 0.8);
        let mut source = Source::omni(at, 97.0);
        source.aim = Aim::new(if i % 2 == 0 { 0.0 } else { 180.0 }, 0.0, 0.0);
        source.directivity = cone.clone();
        source.programme = usize::from(i >= 60);
        scene.sources.push(source);
    }
    Ok(scene)
}

/// Open lawn with loudspeakers 7 m apart in a square, facing this way and that: 50 m2 each at any number.
///
/// # Errors
/// [`GardenError`], never in practice.
pub fn lawn_with(loudspeakers: usize) -> Result<SceneInput, GardenError> {
    let mut scene = lawn()?;
    let cone = Arc::new(Directivity::piston(0.165, PistonRear::Enclosure)?);
    let side = (loudspeakers as f64).sqrt().ceil() as usize;
    for i in 0..loudspeakers {
        let at = Point3::new(7.0 * (i % side) as f64, 7.0 * (i / side) as f64, 0.4);
        let mut source = Source::omni(at, 98.0);
        source.aim = Aim::new(137.5 * i as f64, 0.0, 0.0);
        source.directivity = cone.clone();
        scene.sources.push(source);
    }
    Ok(scene)
}

/// Places `columns` by `rows` evenly over a rectangle, 1.2 m up.
pub fn places(west: f64, south: f64, east: f64, north: f64, columns: usize, rows: usize) -> Vec<Point3> {
    (0..columns * rows)
        .map(|i| {
            let (c, r) = ((i % columns) as f64 + 0.5, (i / columns) as f64 + 0.5);
            Point3::new(
                west + (east - west) * c / columns as f64,
                south + (north - south) * r / rows as f64,
                1.2,
            )
        })
        .collect()
}
