//! From sources and what lies between to octave levels and dBA at receivers.

use super::ground::ground_attenuation_db;
use super::scene::{BoundaryReceiver, BoundaryScene, BoundarySceneError, BoundarySource, Site};
use super::screening::screening;
use crate::air::Air;
use crate::bands::Octave;
use crate::directivity::{Aim, DirectivityTable};
use crate::level::{db_from_energy, energy_from_db, mean_db, sum_db};
use loamline_geometry::Point3;
use loamline_limits::{go_on, lent};
use loamline_terms::A_OCTAVES_DB;
use rayon::prelude::*;
use serde::Serialize;

/// Octaves of the method, 63 Hz to 8 kHz.
pub const ISO_OCTAVES: usize = 8;
/// Their nominal frequencies, Hz; wavelengths are 340 m/s over these.
pub const ISO_OCTAVES_HZ: [f64; ISO_OCTAVES] = [63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0];
/// Nominal frequency of the extension, Hz.
const EXTENSION_HZ: f64 = 31.5;

/// What one source gives at one receiver, and why.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SourceContribution {
    /// Place of the source in the scene, from 0.
    pub source: usize,
    /// Its name, if it has one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub id: Option<String>,
    /// Octave levels 63 Hz to 8 kHz, dB.
    pub bands_db: [f64; ISO_OCTAVES],
    /// 31.5 Hz octave, an extension beyond the standard, dB; absent where its power was not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub extension_31_hz_db: Option<f64>,
    /// A-weighted level, dBA.
    pub total_dba: f64,
    /// Straight distance, m.
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
    /// Octave levels 63 Hz to 8 kHz, dB.
    pub bands_db: [f64; ISO_OCTAVES],
    /// 31.5 Hz octave, an extension beyond the standard, dB; absent where no source gives its power.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub extension_31_hz_db: Option<f64>,
    /// A-weighted level from the octaves 63 Hz to 8 kHz, dBA.
    pub total_dba: f64,
    /// Standard uncertainty of the dBA level and of each octave, +- dB (ISO 9613-2 Table 5 and beyond).
    pub standard_uncertainty_db: f64,
    /// Every source, in the order of the scene.
    pub contributions: Vec<SourceContribution>,
}

impl ReceiverLevel {
    /// The contribution that gives the most dBA.
    pub fn loudest(&self) -> Option<&SourceContribution> {
        // The first of equals, so that the answer does not hang on the order of a search.
        self.contributions.iter().rev().max_by(|a, b| a.total_dba.total_cmp(&b.total_dba))
    }

    /// The contribution that gives the most in the 63 Hz octave.
    pub fn loudest_at_63_hz(&self) -> Option<&SourceContribution> {
        self.contributions.iter().rev().max_by(|a, b| a.bands_db[0].total_cmp(&b.bands_db[0]))
    }
}

/// Levels at all receivers of a scene, by ISO 9613-2. Cost grows with sources times receivers times obstacles.
///
/// # Errors
/// [`BoundarySceneError`] lists everything wrong with the scene.
pub fn boundary_levels(scene: &BoundaryScene) -> Result<Vec<ReceiverLevel>, BoundarySceneError> {
    boundary_levels_after(scene, None)
}

/// As [`boundary_levels`], taking over from an earlier scene and its levels what every source gives that is the same in
/// both: moving one of many sources costs that one. The figures are the same to the last bit.
///
/// # Errors
/// [`BoundarySceneError`] lists everything wrong with the scene.
pub fn boundary_levels_after(
    scene: &BoundaryScene,
    earlier: Option<(&BoundaryScene, &[ReceiverLevel])>,
) -> Result<Vec<ReceiverLevel>, BoundarySceneError> {
    let site = Site::new(scene)?;
    let known = earlier.map_or_else(Vec::new, |(before, levels)| unchanged(scene, before, levels));
    let known = |s: usize, r: usize| known.get(s)?.as_ref()?.get(r).copied();
    let absorption = octave_absorption_db_per_m(&scene.atmosphere);
    let leave = lent();
    let level = |r: usize, receiver: &BoundaryReceiver| {
        let contributions: Vec<SourceContribution> = scene
            .sources
            .iter()
            .enumerate()
            .map(|(s, source)| match known(s, r) {
                Some(known) => SourceContribution { source: s, ..known.clone() },
                None => contribution(&site, &absorption, (s, source), (r, receiver.position)),
            })
            .collect();
        let extension: Vec<f64> = contributions.iter().filter_map(|c| c.extension_31_hz_db).collect();
        let bands_db = std::array::from_fn(|b| sum_db(contributions.iter().map(|c| c.bands_db[b])));
        ReceiverLevel {
            id: receiver.id.clone(),
            position: receiver.position,
            bands_db,
            extension_31_hz_db: (!extension.is_empty()).then(|| sum_db(extension.iter().copied())),
            total_dba: a_weighted(&bands_db),
            standard_uncertainty_db: uncertainty_db(scene, receiver.position, &contributions),
            contributions,
        }
    };
    Ok(scene
        .receivers
        .par_iter()
        .enumerate()
        .map(|(r, receiver)| leave.lend(|| level(r, receiver)))
        .collect())
}

/// For every source of a scene, what it gave at each receiver in a scene before; none for one that stands there anew, and
/// none at all where anything else differs.
fn unchanged<'l>(
    scene: &BoundaryScene,
    before: &BoundaryScene,
    levels: &'l [ReceiverLevel],
) -> Vec<Option<Vec<&'l SourceContribution>>> {
    let same = scene.atmosphere == before.atmosphere
        && scene.ground == before.ground
        && scene.receivers == before.receivers
        && scene.screens == before.screens
        && scene.buildings == before.buildings;
    if !same {
        return Vec::new();
    }
    let place = |(s, source): (usize, &BoundarySource)| {
        let stays = before.sources.get(s).is_some_and(|b| b == source);
        stays.then_some(s).or_else(|| before.sources.iter().position(|b| b == source))
    };
    let given = |s: usize| levels.iter().map(|r| r.contributions.get(s)).collect();
    scene.sources.iter().enumerate().map(|source| place(source).and_then(given)).collect()
}

/// Directivity correction from a source with a table and an aim towards a place, octaves 31.5 Hz to 8 kHz, dB re
/// the axis: energy means of three third octaves. Power levels that go with it are on-axis level at 1 m + 11 dB:
/// the correction then is the level towards the receiver relative to the axis; with a power level proper, add the
/// directivity index.
pub fn octave_directivity_db(table: &DirectivityTable, aim: &Aim, from: Point3, to: Point3) -> [f64; 9] {
    let v = aim.to_local(to - from);
    let row = table.amplitudes(v.x as f32, v.y as f32, v.z as f32);
    let mut octaves = Octave::all();
    std::array::from_fn(|_| {
        octaves
            .next()
            .map_or(0.0, |o| mean_db(o.bands().map(|b| db_from_energy(f64::from(row[b.index()]).powi(2)))))
    })
}

/// Absorption at the exact octave centres 31.5 Hz to 8 kHz.
fn octave_absorption_db_per_m(air: &Air) -> [f64; 9] {
    let bands = air.band_absorption_db_per_m();
    let mut octaves = Octave::all();
    std::array::from_fn(|_| octaves.next().map_or(0.0, |o| bands[o.bands()[1].index()]))
}

fn contribution(
    site: &Site,
    absorption_db_per_m: &[f64; 9],
    (s, source): (usize, &BoundarySource),
    (r, receiver): (usize, Point3),
) -> SourceContribution {
    go_on();
    let from = source.position;
    let d = from.distance(receiver);
    let divergence_db = 20.0 * d.log10() + 11.0;
    let air = absorption_db_per_m.map(|a| a * d);
    let ground = ground_attenuation_db(site, (from.plan(), from.z), (receiver.plan(), receiver.z));
    let directivity = source.directivity_db.get(r).copied().unwrap_or([0.0; 9]);
    let between = screening(site, from, receiver);
    let screening: [f64; 9] = std::array::from_fn(|i| {
        let Some(between) = between else { return 0.0 };
        let frequency_hz = if i == 0 { EXTENSION_HZ } else { ISO_OCTAVES_HZ[i - 1] };
        let wavelength_m = 340.0 / frequency_hz;
        let dz = between.over_top.top_attenuation_db(wavelength_m, d);
        let top = (dz - ground[i].max(0.0)).max(0.0);
        let ends = between.round_ends.iter().flatten().map(|e| e.side_attenuation_db(wavelength_m));
        let energy: f64 = ends.chain([top]).map(|loss| energy_from_db(-loss)).sum();
        // The ways together never give more than no obstacle at all.
        -db_from_energy(energy.min(1.0))
    });
    let level =
        |power: f64, i: usize| power + directivity[i] - divergence_db - air[i] - ground[i] - screening[i];
    let power = &source.sound_power_db;
    let bands_db = std::array::from_fn(|b| level(power.bands_db[b], b + 1));
    let octaves = |all: [f64; 9]| std::array::from_fn(|b| all[b + 1]);
    SourceContribution {
        source: s,
        id: source.id.clone(),
        bands_db,
        extension_31_hz_db: power.extension_db.map(|p| level(p, 0)),
        total_dba: a_weighted(&bands_db),
        distance_m: d,
        divergence_db,
        air_db: octaves(air),
        ground_db: octaves(ground),
        screening_db: octaves(screening),
        directivity_db: octaves(directivity),
    }
}

fn a_weighted(bands_db: &[f64; ISO_OCTAVES]) -> f64 {
    sum_db(bands_db.iter().zip(A_OCTAVES_DB).map(|(l, a)| l + a))
}

/// Standard uncertainty at a receiver: that of the source that gives most.
///
/// ISO 9613-2:1996 Table 5: 3 dB up to 1 km and 30 m mean height, 1 dB within 100 m for mean heights of 5 to 30 m.
/// Outside it (common practice, no source): 10 lg(distance / 1 km) more, and 2 dB more above 30 m.
fn uncertainty_db(scene: &BoundaryScene, receiver: Point3, contributions: &[SourceContribution]) -> f64 {
    let Some(main) = contributions.iter().rev().max_by(|a, b| a.total_dba.total_cmp(&b.total_dba)) else {
        return 3.0;
    };
    let height_m = 0.5 * (scene.sources[main.source].position.z + receiver.z);
    let near_and_high = main.distance_m < 100.0 && (5.0..30.0).contains(&height_m);
    let base = if near_and_high { 1.0 } else { 3.0 };
    let far = if main.distance_m > 1000.0 { 10.0 * (main.distance_m / 1000.0).log10() } else { 0.0 };
    let high = if height_m > 30.0 { 2.0 } else { 0.0 };
    base + far + high
}
