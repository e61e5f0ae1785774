//! From sources and what lies between to octave levels and dBA at receivers.

use super::contribution::{ReceiverLevel, SourceContribution, loudest};
use super::in_step::{in_step_bands_db, in_step_extension_db, in_step_octaves};
use super::octave_levels::OctaveLevels;
use super::problem::BoundarySceneError;
use super::propagation::{Way, a_weighted, losses};
use super::reflection::reflections;
use super::scene::{BoundaryReceiver, BoundaryScene, BoundarySource};
use super::screening::End;
use super::site::Site;
use super::towards::octave_directivity_db;
use crate::air::Air;
use crate::bands::Octave;
use loamline_geometry::Point3;
use loamline_limits::{go_on, lent};
use rayon::prelude::*;

/// Levels at all receivers of a scene, by ISO 9613-2. Cost grows with sources times receivers, and for each pair with
/// the faces of the scene and what stands along the way.
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
    earlier: Option<(&BoundaryScene, &[&ReceiverLevel])>,
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
                None => contribution(&site, &absorption, (s, source), (r, receiver)),
            })
            .collect();
        let low = in_step_octaves(scene.in_step_to_hz);
        let in_step_bands_db = in_step_bands_db(&contributions, low);
        ReceiverLevel {
            id: receiver.id.clone(),
            position: receiver.position,
            levels: OctaveLevels::sum(contributions.iter().map(|c| &c.levels)),
            in_step_octaves: low,
            in_step_bands_db,
            in_step_extension_31_hz_db: in_step_extension_db(&contributions),
            in_step_dba: a_weighted(&in_step_bands_db),
            standard_uncertainty_db: uncertainty_db(scene, receiver, &contributions),
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
    levels: &[&'l ReceiverLevel],
) -> Vec<Option<Vec<&'l SourceContribution>>> {
    let same = scene.atmosphere == before.atmosphere
        && scene.ground == before.ground
        && scene.receivers == before.receivers
        && scene.screens == before.screens
        && scene.buildings == before.buildings
        && scene.steps == before.steps;
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
    (r, receiver): (usize, &BoundaryReceiver),
) -> SourceContribution {
    go_on();
    let from = End { at: source.position, ground_m: source.ground_m };
    let to = End { at: receiver.position, ground_m: receiver.ground_m };
    let directivity = towards_db(source, r, receiver.position);
    let way = Way { from, to, plan: vec![from.at.plan(), to.at.plan()] };
    let losses = losses(site, site.seen(), absorption_db_per_m, &way);
    let power = &source.sound_power_db;
    let straight = OctaveLevels::of(
        std::array::from_fn(|b| losses.level(power.bands_db[b] + directivity[b + 1], b + 1)),
        power.extension_db.map(|p| losses.level(p + directivity[0], 0)),
    );
    let reflections = reflections(site, absorption_db_per_m, source, (from, to));
    let octaves = |all: [f64; 9]| std::array::from_fn(|b| all[b + 1]);
    SourceContribution {
        source: s,
        id: source.id.clone(),
        programme: source.programme,
        levels: OctaveLevels::sum(reflections.iter().map(|r| &r.levels).chain([&straight])),
        straight_dba: straight.total_dba,
        straight_bands_db: straight.bands_db,
        reflections,
        distance_m: losses.distance_m,
        divergence_db: losses.divergence_db,
        air_db: octaves(losses.air),
        ground_db: octaves(losses.ground),
        screening_db: octaves(losses.screening),
        directivity_db: octaves(directivity),
    }
}

/// Directivity correction of a source straight towards a receiver, octaves 31.5 Hz to 8 kHz, dB.
fn towards_db(source: &BoundarySource, receiver: usize, at: Point3) -> [f64; 9] {
    match &source.aimed {
        Some(a) => octave_directivity_db(&a.table, &a.aim, source.position, at),
        None => source.directivity_db.get(receiver).copied().unwrap_or([0.0; 9]),
    }
}

/// Standard uncertainty at a receiver: that of the source that gives most.
///
/// ISO 9613-2:1996 Table 5: 3 dB up to 1 km and 30 m mean height, 1 dB within 100 m for mean heights of 5 to 30 m.
/// Outside it (common practice, no source): 10 lg(distance / 1 km) more, and 2 dB more above 30 m.
fn uncertainty_db(
    scene: &BoundaryScene,
    receiver: &BoundaryReceiver,
    contributions: &[SourceContribution],
) -> f64 {
    let Some(main) = loudest(contributions, None) else { return 3.0 };
    let source = &scene.sources[main.source];
    let height_m = 0.5 * (source.position.z - source.ground_m + receiver.position.z - receiver.ground_m);
    let near_and_high = main.distance_m < 100.0 && (5.0..30.0).contains(&height_m);
    let base = if near_and_high { 1.0 } else { 3.0 };
    let far = if main.distance_m > 1000.0 { 10.0 * (main.distance_m / 1000.0).log10() } else { 0.0 };
    let high = if height_m > 30.0 { 2.0 } else { 0.0 };
    base + far + high
}
