//! Holes for what stands in the ground: size to dig, gravel under it.
//!
//! Room on each side and the bed of gravel are common practice, no source: 75 mm and 100 mm.

use loamline_model::Job;
use loamline_model::catalogue::LoudspeakerModel;
use loamline_model::document::Mount;
use loamline_routing::Hole;

/// Room dug on each side of what goes into the hole, metres (common practice, no source).
pub const OVERDIG_M: f64 = 0.075;
/// Depth of the bed of gravel under it, metres (common practice, no source).
pub const GRAVEL_M: f64 = 0.1;

/// A hole to dig.
#[derive(Debug, Clone, PartialEq)]
pub struct HoleNeed {
    /// Tag of the loudspeaker.
    pub loudspeaker: String,
    /// Length to dig, room on both sides included, metres.
    pub length_m: f64,
    /// Width to dig, metres.
    pub width_m: f64,
    /// Depth to dig, gravel included, metres.
    pub depth_m: f64,
    /// Soil dug out, cubic metres.
    pub soil_m3: f64,
    /// Gravel put in, cubic metres.
    pub gravel_m3: f64,
    /// The same, kilograms.
    pub gravel_kg: f64,
}

/// Holes of every loudspeaker that is mounted in the ground or on a base in the ground and whose model states a hole.
pub fn hole_needs(job: &Job) -> Vec<HoleNeed> {
    job.loudspeakers().filter_map(|l| hole_of(l.id, l.model, l.mount)).collect()
}

/// The hole that a loudspeaker wants, as it is mounted; none where it wants none.
pub fn hole_of(tag: &str, model: &LoudspeakerModel, mount: Mount) -> Option<HoleNeed> {
    let hole = model.hole.as_ref().filter(|_| matches!(mount, Mount::InGround | Mount::Base))?;
    let dug = Hole {
        length_m: hole.length_m,
        width_m: hole.width_m,
        depth_m: hole.depth_m,
        overdig_m: OVERDIG_M,
        gravel_depth_m: GRAVEL_M,
    };
    let digging = dug.digging().ok()?;
    Some(HoleNeed {
        loudspeaker: tag.to_owned(),
        length_m: hole.length_m + 2.0 * OVERDIG_M,
        width_m: hole.width_m + 2.0 * OVERDIG_M,
        depth_m: hole.depth_m + GRAVEL_M,
        soil_m3: digging.excavation_m3,
        gravel_m3: digging.gravel_m3,
        gravel_kg: digging.gravel_kg,
    })
}
