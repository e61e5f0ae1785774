//! What a receiver hears, and what of it each source gives.

use super::octave_levels::OctaveLevels;
use super::propagation::ISO_OCTAVES;
use super::reflection::Reflection;
use super::site::FaceOf;
use crate::level::{energy_from_db, sum_db};
use loamline_geometry::Point3;
use serde::Serialize;

/// What one source gives at one receiver, and why.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SourceContribution {
    /// Place of the source in the scene, from 0.
    pub source: usize,
    /// Its name, if it has one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub id: Option<String>,
    /// Its programme, if it has one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub programme: Option<usize>,
    /// What comes straight and by faces together.
    #[serde(flatten)]
    pub levels: OctaveLevels,
    /// A-weighted level of what comes straight (over and round what stands between), dBA.
    pub straight_dba: f64,
    /// Octave levels of what comes straight, 63 Hz to 8 kHz, dB.
    pub straight_bands_db: [f64; ISO_OCTAVES],
    /// What comes by way of faces, in the order of the scene.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub reflections: Vec<Reflection>,
    /// Straight distance, m. This and what follows is of the straight way.
    pub distance_m: f64,
    /// Divergence, 20 lg d + 11, dB.
    pub divergence_db: f64,
    /// Air absorption over the distance, 63 Hz to 8 kHz, dB.
    pub air_db: [f64; ISO_OCTAVES],
    /// Ground attenuation, dB; negative where the ground adds.
    pub ground_db: [f64; ISO_OCTAVES],
    /// Loss by screening, all ways round and over together, dB.
    pub screening_db: [f64; ISO_OCTAVES],
    /// Directivity correction used, dB.
    pub directivity_db: [f64; ISO_OCTAVES],
}

/// Level at a receiver.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReceiverLevel {
    /// Its name, if it has one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub id: Option<String>,
    /// Where.
    pub position: Point3,
    /// What comes from all sources, added in energy.
    #[serde(flatten)]
    pub levels: OctaveLevels,
    /// How many of the octaves, from 63 Hz, may be in step.
    pub in_step_octaves: usize,
    /// Octave levels at worst, dB: sources on one programme add in amplitude in those octaves, all else in energy.
    pub in_step_bands_db: [f64; ISO_OCTAVES],
    /// 31.5 Hz octave at worst, dB; absent where no source gives its power.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub in_step_extension_31_hz_db: Option<f64>,
    /// A-weighted level at worst, dBA.
    pub in_step_dba: f64,
    /// Standard uncertainty of the dBA level and of each octave, +- dB (ISO 9613-2 Table 5 and beyond).
    pub standard_uncertainty_db: f64,
    /// Every source, in the order of the scene; none where only sums are told ([`ReceiverLevel::summed`]).
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub contributions: Vec<SourceContribution>,
}

impl ReceiverLevel {
    /// The same without what each source gives of it, which is nearly all of its memory.
    pub fn summed(&self) -> Self {
        Self {
            id: self.id.clone(),
            position: self.position,
            levels: self.levels.clone(),
            in_step_octaves: self.in_step_octaves,
            in_step_bands_db: self.in_step_bands_db,
            in_step_extension_31_hz_db: self.in_step_extension_31_hz_db,
            in_step_dba: self.in_step_dba,
            standard_uncertainty_db: self.standard_uncertainty_db,
            contributions: Vec::new(),
        }
    }

    /// The contribution that gives the most: dBA, or dB of one octave (0 is 63 Hz).
    pub fn loudest(&self, octave: Option<usize>) -> Option<&SourceContribution> {
        loudest(&self.contributions, octave)
    }

    /// What the faces of each thing add to the level, dB: the A-weighted one, or one octave (0 is 63 Hz). The most first.
    /// What they add together is shared out by their energies, so that the parts add up to
    /// [`all_reflected_db`](Self::all_reflected_db).
    pub fn reflected_db(&self, octave: Option<usize>) -> Vec<(FaceOf, f64)> {
        let of = |r: &Reflection| energy_from_db(r.levels.level(octave));
        let mut by_face: Vec<(FaceOf, f64)> = Vec::new();
        for r in self.contributions.iter().flat_map(|c| &c.reflections) {
            match by_face.iter_mut().find(|f| f.0 == r.face) {
                Some(f) => f.1 += of(r),
                None => by_face.push((r.face, of(r))),
            }
        }
        let energy: f64 = by_face.iter().map(|f| f.1).sum();
        let all_db = self.all_reflected_db(octave);
        by_face.iter_mut().for_each(|f| f.1 *= all_db / energy);
        by_face.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        by_face
    }

    /// What all faces together add to the level, dB: the A-weighted one, or one octave (0 is 63 Hz).
    pub fn all_reflected_db(&self, octave: Option<usize>) -> f64 {
        let straight = |c: &SourceContribution| octave.map_or(c.straight_dba, |o| c.straight_bands_db[o]);
        self.levels.level(octave) - sum_db(self.contributions.iter().map(straight))
    }
}

/// The contribution of some that gives the most: dBA, or dB of one octave (0 is 63 Hz).
pub(super) fn loudest(all: &[SourceContribution], octave: Option<usize>) -> Option<&SourceContribution> {
    let level = |c: &SourceContribution| c.levels.level(octave);
    // The first of equals, so that the answer does not hang on the order of a search.
    all.iter().rev().max_by(|a, b| level(a).total_cmp(&level(b)))
}
