//! What makes the level at a place, with the loudspeakers by their tags.

use crate::names::named_or;
use loamline_acoustics::{Band, PathShare, Probe, Reflector, SourceShare, Way};
use loamline_adapt::sounding_walls;
use loamline_model::Job;
use serde::Serialize;

/// What makes the level at a place.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct AtPlaceReport {
    /// East, m.
    pub x_m: f64,
    /// North, m.
    pub y_m: f64,
    /// Elevation of the ears, m.
    pub z_m: f64,
    /// Whether it is inside a building, where nothing is predicted.
    pub indoors: bool,
    /// Level, dBA.
    pub level_dba: f64,
    /// Level by third octave, dB.
    pub band_levels_db: Vec<f64>,
    /// Centre frequencies of the third octaves, Hz.
    pub frequencies_hz: Vec<f64>,
    /// Every loudspeaker, loudest first.
    pub loudspeakers: Vec<LoudspeakerShare>,
}

/// A loudspeaker at a place.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct LoudspeakerShare {
    /// Which.
    pub loudspeaker: String,
    /// Its level alone, dBA.
    pub level_dba: f64,
    /// When its first sound arrives after the signal enters the channel, s.
    pub arrival_s: f64,
    /// Its level alone by third octave, dB.
    pub band_levels_db: Vec<f64>,
    /// Its paths, strongest first.
    pub paths: Vec<PathLevel>,
}

/// A path of a loudspeaker's sound.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PathLevel {
    /// The way it takes, in words.
    pub way: String,
    /// Its length, m.
    pub length_m: f64,
    /// When it arrives after the signal enters the channel, s.
    pub arrival_s: f64,
    /// Its level alone, dBA.
    pub level_dba: f64,
    /// Its level alone by third octave, dB.
    pub band_levels_db: Vec<f64>,
}

/// The way of a path in words, with walls and buildings by their names, else their ids.
#[must_use]
pub fn way_words(job: &Job, way: &Way) -> String {
    way.words(&|reflector| match reflector {
        Reflector::Wall(i) => {
            sounding_walls(job).nth(i).map_or_else(String::new, |(id, w)| named_or(&w.name, "wall", id))
        }
        Reflector::Building(i) => {
            let building = job.document().buildings.get_index(i);
            building.map_or_else(String::new, |(id, b)| named_or(&b.name, "building", id))
        }
    })
}

impl AtPlaceReport {
    /// A probe with the tags of its sources, in the order of the scene.
    #[must_use]
    pub fn of(job: &Job, probe: &Probe, tags: &[String]) -> Self {
        let path = |p: &PathShare| PathLevel {
            way: way_words(job, &p.way),
            length_m: p.length_m,
            arrival_s: p.arrival_s,
            level_dba: p.level_dba,
            band_levels_db: p.band_levels_db.to_vec(),
        };
        let share = |s: &SourceShare| LoudspeakerShare {
            loudspeaker: tags.get(s.source).cloned().unwrap_or_default(),
            level_dba: s.level_dba,
            arrival_s: s.arrival_s,
            band_levels_db: s.band_levels_db.to_vec(),
            paths: s.paths.iter().map(path).collect(),
        };
        Self {
            x_m: probe.point.x,
            y_m: probe.point.y,
            z_m: probe.point.z,
            indoors: probe.indoors,
            level_dba: probe.level_dba,
            band_levels_db: probe.band_levels_db.to_vec(),
            frequencies_hz: Band::all().map(Band::centre_hz).collect(),
            loudspeakers: probe.sources.iter().map(share).collect(),
        }
    }
}
