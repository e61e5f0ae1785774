//! Scenes for the benchmarks: the shipped examples as the program turns them into scenes, and open lawns of any size.

use loamline_acoustics::{
    Aim, Air, Directivity, DirectivityError, Ground, GroundError, PistonRear, Programme, Scene, SceneInput,
    Source, SourceError,
};
use loamline_adapt::SoundErrors;
use loamline_geometry::Point3;
use loamline_model::{LoadError, load_job};
use loamline_study::Study;
use std::path::Path;
use std::sync::Arc;

/// Why a scene could not be made.
#[derive(Debug, thiserror::Error)]
pub enum GardenError {
    /// An example's files.
    #[error(transparent)]
    Job(#[from] LoadError),
    /// An example's scene.
    #[error("{0}")]
    Scene(#[from] SoundErrors),
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

fn lawn() -> Result<SceneInput, GardenError> {
    let mut scene = SceneInput::open(Air::default(), Ground::new(500.0)?);
    scene.programmes.push(Programme::pink(12.0)?);
    Ok(scene)
}

/// A shipped example, as the program turns it into a scene: its ground, walls and buildings, every loudspeaker on the
/// voltage that reaches it, filters, gains and delays as set.
///
/// # Errors
/// [`GardenError`] when the example cannot be read or made a scene of.
pub fn example(name: &str) -> Result<Scene, GardenError> {
    let folder = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../examples")).join(name);
    let study = Study::new(load_job(&folder)?);
    match &*study.sound() {
        Ok(sound) => Ok(sound.scene.clone()),
        Err(problems) => Err(GardenError::Scene(problems.clone())),
    }
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
