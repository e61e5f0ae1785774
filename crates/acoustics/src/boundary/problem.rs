//! What may be wrong with a scene, in words.

use loamline_geometry::{OutlineError, Point3};
use thiserror::Error;

/// One thing wrong with a scene. Things are counted from 1, as a person would.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum BoundaryProblem {
    /// No sources or no receivers.
    #[error("the scene has no {what}; give at least one")]
    Missing {
        /// What is missing.
        what: &'static str,
    },
    /// A position that is not finite, below ground or absurdly far away.
    #[error("{what} {number}: its position must be finite, on or above the ground ({ground_m} m or more) and within 1000 km; x {:.3} m, y {:.3} m, height {:.3} m is not", at.x, at.y, at.z)]
    Position {
        /// Source or receiver.
        what: &'static str,
        /// Which, from 1.
        number: usize,
        /// Where.
        at: Point3,
        /// Elevation of the ground there, m.
        ground_m: f64,
    },
    /// A power or directivity value that is not finite or beyond any loudspeaker.
    #[error(
        "source {number}: power levels and directivity must lie in -300 to 200 dB; {value_db} dB does not"
    )]
    Power {
        /// Which source, from 1.
        number: usize,
        /// What was given, dB.
        value_db: f64,
    },
    /// Rows of directivity that do not match the receivers.
    #[error(
        "source {number}: {rows} rows of directivity for {receivers} receivers; give one row per receiver or none"
    )]
    DirectivityRows {
        /// Which source, from 1.
        number: usize,
        /// Rows given.
        rows: usize,
        /// Receivers in the scene.
        receivers: usize,
    },
    /// A receiver on top of a source.
    #[error(
        "receiver {receiver} is {distance_m:.3} m from source {source_number}; the method needs at least 0.1 m between them"
    )]
    TooClose {
        /// Which receiver, from 1.
        receiver: usize,
        /// Which source, from 1.
        source_number: usize,
        /// How far apart, m.
        distance_m: f64,
    },
    /// Ground factor outside 0 to 1.
    #[error("{place}: a ground factor lies between 0 (hard) and 1 (porous); {g} does not")]
    GroundFactor {
        /// Which ground.
        place: String,
        /// What was given.
        g: f64,
    },
    /// Reflection coefficient outside 0 to 1.
    #[error("{what} {number}: its faces reflect a share of energy between 0 and 1; {rho} is not")]
    Reflection {
        /// Screen or building.
        what: &'static str,
        /// Which, from 1.
        number: usize,
        /// What was given.
        rho: f64,
    },
    /// A region or building without a usable outline.
    #[error("{what} {number}: {source}")]
    Outline {
        /// Ground region or building.
        what: &'static str,
        /// Which, from 1.
        number: usize,
        /// Why it is not usable.
        source: OutlineError,
    },
    /// A height that is not a height.
    #[error(
        "{what} {number}: its height above its foot must be more than 0 m and at most 1000 m; {height_m} m is not"
    )]
    Height {
        /// Screen, building or step.
        what: &'static str,
        /// Which, from 1.
        number: usize,
        /// What was given, m.
        height_m: f64,
    },
    /// A screen or step without length.
    #[error("{what} {number}: its line needs at least two different points, all finite")]
    ScreenLine {
        /// Screen or step.
        what: &'static str,
        /// Which, from 1.
        number: usize,
    },
    /// A source or receiver inside a building.
    #[error(
        "{what} {number} is inside building {building} (height {height_m} m); move it out or onto the roof"
    )]
    Inside {
        /// Source or receiver.
        what: &'static str,
        /// Which, from 1.
        number: usize,
        /// Which building, from 1.
        building: usize,
        /// Its roof, m.
        height_m: f64,
    },
}

/// Everything wrong with a scene.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("{}", problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
pub struct BoundarySceneError {
    /// The problems, in the order of the scene.
    pub problems: Vec<BoundaryProblem>,
}
