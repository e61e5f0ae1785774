//! What can be wrong with a scene; all of it is reported at once.

use crate::source::SourceError;
use std::fmt;
use thiserror::Error;

/// Which part of a scene a problem concerns, by its index.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Subject {
    /// The scene as a whole.
    Scene,
    /// A region of ground.
    Ground(usize),
    /// A wall.
    Wall(usize),
    /// A building.
    Building(usize),
    /// A loudspeaker.
    Source(usize),
    /// A listening point.
    Point(usize),
}

impl fmt::Display for Subject {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Scene => write!(f, "scene"),
            Self::Ground(i) => write!(f, "ground region {}", i + 1),
            Self::Wall(i) => write!(f, "wall {}", i + 1),
            Self::Building(i) => write!(f, "building {}", i + 1),
            Self::Source(i) => write!(f, "loudspeaker {}", i + 1),
            Self::Point(i) => write!(f, "point {}", i + 1),
        }
    }
}

/// One thing that is wrong.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum Problem {
    /// A number out of its range, or not a number.
    #[error(transparent)]
    Value(#[from] SourceError),
    /// A wall of one point, or with two points in one place.
    #[error("piece {piece} has no length (both ends at x {x} m, y {y} m); a wall needs ends apart by 1 cm")]
    NoLength {
        /// Piece, from 1.
        piece: usize,
        /// Where, metres east.
        x: f64,
        /// Where, metres north.
        y: f64,
    },
    /// A wall without a line.
    #[error("a wall needs at least 2 points; this one has {points}")]
    NoLine {
        /// Points given.
        points: usize,
    },
    /// A loudspeaker within a building.
    #[error(
        "it stands inside building {}: x {x:.2} m, y {y:.2} m, {z:.2} m up, below the roof at {roof_m:.2} m; \
         move it {inside_m:.2} m to get out", building + 1
    )]
    InsideBuilding {
        /// Which building.
        building: usize,
        /// Metres east.
        x: f64,
        /// Metres north.
        y: f64,
        /// Elevation, metres.
        z: f64,
        /// Elevation of the roof, metres.
        roof_m: f64,
        /// Distance to the nearest outside face, metres.
        inside_m: f64,
    },
    /// A loudspeaker flush in a face with no face near.
    #[error("it is said to sit flush in a wall, but no wall or building face lies within 0.5 m")]
    NoFaceNear,
    /// A programme that does not exist.
    #[error("it plays programme {}, but there are {count}", programme + 1)]
    NoProgramme {
        /// Index asked for.
        programme: usize,
        /// How many there are.
        count: usize,
    },
    /// Index of a loudspeaker that does not exist.
    #[error("there is no loudspeaker {}; the scene has {count}", source_index + 1)]
    NoSource {
        /// Index asked for.
        source_index: usize,
        /// How many there are.
        count: usize,
    },
}

/// A problem and where it is.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("{subject}: {problem}")]
pub struct SceneProblem {
    /// Where.
    pub subject: Subject,
    /// What.
    #[source]
    pub problem: Problem,
}

/// All that is wrong with a scene; never empty.
#[derive(Debug, Clone, PartialEq)]
pub struct SceneErrors(pub Vec<SceneProblem>);

impl fmt::Display for SceneErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, p) in self.0.iter().enumerate() {
            if i > 0 {
                writeln!(f)?;
            }
            write!(f, "{p}")?;
        }
        Ok(())
    }
}

impl std::error::Error for SceneErrors {}
