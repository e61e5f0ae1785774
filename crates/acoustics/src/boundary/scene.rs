//! What the method is given: plain data.

use crate::air::Air;
use crate::directivity::{Aim, DirectivityTable};
use loamline_geometry::{Point2, Point3};
use serde::{Deserialize, Serialize};
use std::sync::Arc;
use thiserror::Error;

/// A site with sources and receivers. Positions in the site frame, metres; elevations above the datum, which is also
/// the ground wherever nothing else is said.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BoundaryScene {
    /// Still air.
    pub atmosphere: Air,
    /// Ground factors.
    pub ground: BoundaryGround,
    /// Sources, at least one.
    pub sources: Vec<BoundarySource>,
    /// Receivers, at least one.
    pub receivers: Vec<BoundaryReceiver>,
    /// Thin walls and solid fences.
    #[serde(default)]
    pub screens: Vec<BoundaryScreen>,
    /// Buildings.
    #[serde(default)]
    pub buildings: Vec<BoundaryBuilding>,
    /// Where the ground falls from one level to another.
    #[serde(default)]
    pub steps: Vec<BoundaryStep>,
    /// Octaves up to this frequency count as in step in [`ReceiverLevel::in_step_bands_db`], Hz; 400 if left out.
    ///
    /// [`ReceiverLevel::in_step_bands_db`]: super::ReceiverLevel::in_step_bands_db
    #[serde(default = "usual_in_step_to_hz")]
    pub in_step_to_hz: f64,
}

/// As the field inside the site has it unless told otherwise.
pub(super) const fn usual_in_step_to_hz() -> f64 {
    400.0
}

/// Ground factor G: 0 hard (paving, water), 1 porous (lawn, beds), between for mixed ground.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BoundaryGround {
    /// G where no region says otherwise.
    pub default_g: f64,
    /// Regions with their own G; where they overlap the later one counts.
    #[serde(default)]
    pub regions: Vec<GroundRegion>,
}

/// A piece of ground with its own factor.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GroundRegion {
    /// Corners in plan, in either direction.
    pub outline: Vec<Point2>,
    /// Ground factor, 0 to 1.
    pub g: f64,
}

/// A point source.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BoundarySource {
    /// Name carried into the results.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub id: Option<String>,
    /// Where; `z` is an elevation.
    pub position: Point3,
    /// Elevation of the ground under it, m.
    #[serde(default)]
    pub ground_m: f64,
    /// Sound power level in octaves.
    pub sound_power_db: OctavePower,
    /// Directivity correction straight towards each receiver, octaves 31.5 Hz to 8 kHz, dB: one row per receiver, or
    /// empty for a source alike in all directions. What leaves towards a reflecting face then counts with the greatest
    /// correction of all rows, and 0 dB at least, since the rows do not say: the careful side.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub directivity_db: Vec<[f64; 9]>,
    /// A whole directivity with its aim, towards receivers and faces alike; goes before `directivity_db`.
    #[serde(skip)]
    pub aimed: Option<Aimed>,
    /// Number of the programme it plays; sources on one programme may be in step. `None`: in step with no other.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub programme: Option<usize>,
}

/// A directivity and where it is aimed.
#[derive(Debug, Clone)]
pub struct Aimed {
    /// How the sound differs with direction.
    pub table: Arc<DirectivityTable>,
    /// Where straight ahead is.
    pub aim: Aim,
}

impl PartialEq for Aimed {
    /// Tables are large and shared: one that is the same in memory is not read.
    fn eq(&self, other: &Self) -> bool {
        self.aim == other.aim && (Arc::ptr_eq(&self.table, &other.table) || self.table == other.table)
    }
}

/// Octave power levels, dB re 1 pW: eight values from 63 Hz to 8 kHz, or nine from 31.5 Hz.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Vec<f64>", into = "Vec<f64>")]
pub struct OctavePower {
    /// 31.5 Hz; `None` leaves the extension out.
    pub extension_db: Option<f64>,
    /// 63 Hz to 8 kHz.
    pub bands_db: [f64; 8],
}

/// A receiver.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BoundaryReceiver {
    /// Name carried into the results.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub id: Option<String>,
    /// Where; `z` is an elevation.
    pub position: Point3,
    /// Elevation of the ground under it, m.
    #[serde(default)]
    pub ground_m: f64,
}

/// A thin solid screen on the ground.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BoundaryScreen {
    /// Line in plan through two or more points.
    pub line: Vec<Point2>,
    /// Elevation of its top edge, m.
    pub top_m: f64,
    /// Elevation of its foot, m.
    #[serde(default)]
    pub foot_m: f64,
    /// What its faces reflect; a flat hard wall if left out.
    #[serde(default = "FaceReflection::hard_wall")]
    pub reflection: FaceReflection,
}

/// A solid building on the ground with a flat roof.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BoundaryBuilding {
    /// Corners in plan, in either direction.
    pub outline: Vec<Point2>,
    /// Elevation of its roof, m.
    pub height_m: f64,
    /// Elevation of the ground it stands on, m.
    #[serde(default)]
    pub foot_m: f64,
    /// What its faces reflect; a wall with windows if left out.
    #[serde(default = "FaceReflection::house_wall")]
    pub reflection: FaceReflection,
}

/// Where the ground falls from one level to another without a slope: an edge like a wall of no thickness.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BoundaryStep {
    /// Line in plan through two or more points, the lower ground on its right.
    pub line: Vec<Point2>,
    /// Elevation of the higher ground, m.
    pub top_m: f64,
    /// Elevation of the lower ground, m.
    pub foot_m: f64,
}

/// Sound reflection coefficient of a face: the share of energy it gives back, 0 to 1, octaves 31.5 Hz to 8 kHz. Read
/// from one number for all octaves, or nine.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(from = "FlatOrOctaves", into = "FlatOrOctaves")]
pub struct FaceReflection(pub [f64; 9]);

impl FaceReflection {
    /// ISO 9613-2:1996 Table 4: flat hard walls, 1.
    pub const fn hard_wall() -> Self {
        Self([1.0; 9])
    }

    /// ISO 9613-2:1996 Table 4: walls of buildings with windows and small additions or bays, 0.8.
    pub const fn house_wall() -> Self {
        Self([0.8; 9])
    }
}

#[derive(Serialize, Deserialize)]
#[serde(untagged)]
enum FlatOrOctaves {
    Flat(f64),
    Octaves([f64; 9]),
}

impl From<FlatOrOctaves> for FaceReflection {
    fn from(given: FlatOrOctaves) -> Self {
        match given {
            FlatOrOctaves::Flat(rho) => Self([rho; 9]),
            FlatOrOctaves::Octaves(rho) => Self(rho),
        }
    }
}

impl From<FaceReflection> for FlatOrOctaves {
    fn from(r: FaceReflection) -> Self {
        Self::Octaves(r.0)
    }
}

/// A sound power with another number of octaves than there are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[error("sound power needs 8 octaves, 63 Hz to 8 kHz (or 9 from 31.5 Hz); there are {values} values")]
pub struct OctavesError {
    /// Values given.
    pub values: usize,
}

impl TryFrom<Vec<f64>> for OctavePower {
    type Error = OctavesError;
    fn try_from(v: Vec<f64>) -> Result<Self, OctavesError> {
        let (extension_db, rest) = match v.len() {
            8 => (None, &v[..]),
            9 => (Some(v[0]), &v[1..]),
            n => {
                return Err(OctavesError { values: n });
            }
        };
        let mut bands_db = [0.0; 8];
        bands_db.copy_from_slice(rest);
        Ok(Self { extension_db, bands_db })
    }
}

impl From<OctavePower> for Vec<f64> {
    fn from(p: OctavePower) -> Self {
        p.extension_db.into_iter().chain(p.bands_db).collect()
    }
}
