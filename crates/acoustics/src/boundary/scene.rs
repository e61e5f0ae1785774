//! What the method is given, and the checks that make it usable.

use crate::air::Air;
use loamline_geometry::{OutlineError, Point2, Point3, Polygon};
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Nearest a receiver may be to a source, m: closer, a loudspeaker is no point any more.
const NEAREST_M: f64 = 0.1;
/// Farthest from the datum anything may be, m.
const FARTHEST_M: f64 = 1e6;

/// Closer than this to a source, a receiver or an outline counts as touching it, m: well above rounding at a
/// kilometre from the datum, well below anything that is built.
pub(super) const TOUCH_M: f64 = 1e-6;

/// A site with sources and receivers. Positions in the site frame, metres, heights above flat ground at 0.
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
    /// Where.
    pub position: Point3,
    /// Sound power level in octaves.
    pub sound_power_db: OctavePower,
    /// Directivity correction towards each receiver, octaves 31.5 Hz to 8 kHz, dB: one row per receiver, or
    /// empty for a source alike in all directions.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub directivity_db: Vec<[f64; 9]>,
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
    /// Where.
    pub position: Point3,
}

/// A thin solid screen on the ground.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BoundaryScreen {
    /// Line in plan through two or more points.
    pub line: Vec<Point2>,
    /// Height of its top edge, m.
    pub top_m: f64,
}

/// A solid building on the ground with a flat roof.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BoundaryBuilding {
    /// Corners in plan, in either direction.
    pub outline: Vec<Point2>,
    /// Height of its roof, m.
    pub height_m: f64,
}

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
    #[error("{what} {number}: its position must be finite, on or above the ground (height 0 m or more) and within 1000 km; x {:.3} m, y {:.3} m, height {:.3} m is not", at.x, at.y, at.z)]
    Position {
        /// Source or receiver.
        what: &'static str,
        /// Which, from 1.
        number: usize,
        /// Where.
        at: Point3,
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
    #[error("{what} {number}: its height must be more than 0 m and at most 1000 m; {height_m} m is not")]
    Height {
        /// Screen or building.
        what: &'static str,
        /// Which, from 1.
        number: usize,
        /// What was given, m.
        height_m: f64,
    },
    /// A screen without length.
    #[error("screen {number}: its line needs at least two different points, all finite")]
    ScreenLine {
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

/// A scene that has passed every check.
pub(super) struct Site {
    pub(super) default_g: f64,
    pub(super) regions: Vec<(Polygon, f64)>,
    pub(super) obstacles: Vec<Obstacle>,
}

/// Something solid that stands on the ground.
pub(super) struct Obstacle {
    pub(super) top_m: f64,
    pub(super) shape: Shape,
}

pub(super) enum Shape {
    Screen(Vec<Point2>),
    Building(Polygon),
}

impl Obstacle {
    /// Its corners in plan.
    pub(super) fn points(&self) -> &[Point2] {
        match &self.shape {
            Shape::Screen(line) => line,
            Shape::Building(outline) => outline.corners(),
        }
    }

    /// Whether a place in plan is over (or, lower than the top, in) a building, away from its outline.
    pub(super) fn is_under(&self, p: Point2) -> bool {
        match &self.shape {
            Shape::Screen(_) => false,
            Shape::Building(outline) => outline.contains_with_margin(p, TOUCH_M),
        }
    }
}

impl Site {
    pub(super) fn new(scene: &BoundaryScene) -> Result<Self, BoundarySceneError> {
        let mut problems = Vec::new();
        check_points(scene, &mut problems);
        let factor = |place: String, g: f64, problems: &mut Vec<BoundaryProblem>| {
            if !(0.0..=1.0).contains(&g) {
                problems.push(BoundaryProblem::GroundFactor { place, g });
            }
        };
        factor("ground".to_owned(), scene.ground.default_g, &mut problems);
        let mut regions = Vec::new();
        for (i, r) in scene.ground.regions.iter().enumerate() {
            factor(format!("ground region {}", i + 1), r.g, &mut problems);
            match Polygon::new(r.outline.iter().copied()) {
                Ok(outline) => regions.push((outline, r.g)),
                Err(source) => {
                    problems.push(BoundaryProblem::Outline { what: "ground region", number: i + 1, source });
                }
            }
        }
        let height = |what, number, height_m: f64, problems: &mut Vec<BoundaryProblem>| {
            if !(height_m > 0.0 && height_m <= 1000.0) {
                problems.push(BoundaryProblem::Height { what, number, height_m });
            }
        };
        let mut obstacles = Vec::new();
        for (i, s) in scene.screens.iter().enumerate() {
            height("screen", i + 1, s.top_m, &mut problems);
            let mut line = s.line.clone();
            line.dedup();
            if line.len() < 2 || line.iter().any(|p| !p.is_finite()) {
                problems.push(BoundaryProblem::ScreenLine { number: i + 1 });
            } else {
                obstacles.push(Obstacle { top_m: s.top_m, shape: Shape::Screen(line) });
            }
        }
        for (i, b) in scene.buildings.iter().enumerate() {
            height("building", i + 1, b.height_m, &mut problems);
            match Polygon::new(b.outline.iter().copied()) {
                Ok(outline) => {
                    let obstacle = Obstacle { top_m: b.height_m, shape: Shape::Building(outline) };
                    check_inside(scene, &obstacle, i + 1, &mut problems);
                    obstacles.push(obstacle);
                }
                Err(source) => {
                    problems.push(BoundaryProblem::Outline { what: "building", number: i + 1, source });
                }
            }
        }
        if problems.is_empty() {
            Ok(Self { default_g: scene.ground.default_g, regions, obstacles })
        } else {
            Err(BoundarySceneError { problems })
        }
    }
}

fn positions(scene: &BoundaryScene) -> impl Iterator<Item = (&'static str, usize, Point3)> + '_ {
    let sources = scene.sources.iter().enumerate().map(|(i, s)| ("source", i + 1, s.position));
    let receivers = scene.receivers.iter().enumerate().map(|(i, r)| ("receiver", i + 1, r.position));
    sources.chain(receivers)
}

fn check_points(scene: &BoundaryScene, problems: &mut Vec<BoundaryProblem>) {
    if scene.sources.is_empty() {
        problems.push(BoundaryProblem::Missing { what: "sources" });
    }
    if scene.receivers.is_empty() {
        problems.push(BoundaryProblem::Missing { what: "receivers" });
    }
    for (what, number, at) in positions(scene) {
        let near = [at.x, at.y, at.z].iter().all(|c| c.abs() <= FARTHEST_M);
        if !(near && at.z >= 0.0) {
            problems.push(BoundaryProblem::Position { what, number, at });
        }
    }
    for (i, s) in scene.sources.iter().enumerate() {
        let power = s.sound_power_db.bands_db.iter().chain(s.sound_power_db.extension_db.iter());
        if let Some(&value_db) =
            power.chain(s.directivity_db.iter().flatten()).find(|v| !(-300.0..=200.0).contains(*v))
        {
            problems.push(BoundaryProblem::Power { number: i + 1, value_db });
        }
        if !s.directivity_db.is_empty() && s.directivity_db.len() != scene.receivers.len() {
            problems.push(BoundaryProblem::DirectivityRows {
                number: i + 1,
                rows: s.directivity_db.len(),
                receivers: scene.receivers.len(),
            });
        }
        for (j, r) in scene.receivers.iter().enumerate() {
            let distance_m = s.position.distance(r.position);
            if distance_m < NEAREST_M {
                problems.push(BoundaryProblem::TooClose {
                    receiver: j + 1,
                    source_number: i + 1,
                    distance_m,
                });
            }
        }
    }
}

fn check_inside(
    scene: &BoundaryScene,
    obstacle: &Obstacle,
    building: usize,
    problems: &mut Vec<BoundaryProblem>,
) {
    for (what, number, at) in positions(scene) {
        if at.is_finite() && at.z < obstacle.top_m && obstacle.is_under(at.plan()) {
            problems.push(BoundaryProblem::Inside { what, number, building, height_m: obstacle.top_m });
        }
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
