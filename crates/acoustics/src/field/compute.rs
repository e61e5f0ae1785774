//! The field over many points at once.

use super::bundle::Tables;
use super::distant::DistantSources;
use super::ops::Row;
use super::over_patch::Work;
use super::paths::Patch;
use super::points::Points;
use super::result::Field;
use super::superposition::{Superpose, Superposition};
use super::wave::{NO_WAVE, Wave, add_energy_of_waves};
use crate::directivity::TABLE_LANES;
use crate::scene::Scene;
use loamline_limits::lent;
use pulp::Arch;
use rayon::prelude::*;

/// Levels at all points from all loudspeakers. Runs on all cores; the result does not depend on how many. Memory: 136
/// bytes per point besides the points themselves. To change one loudspeaker after another, keep the field:
/// [`IncrementalField`](crate::IncrementalField).
pub fn field(scene: &Scene, points: &Points) -> Field {
    let tables = Tables::new(scene);
    let each = scene.lines.waves_per_point() * scene.programmes.len();
    let all: Vec<(usize, f32)> = (0..scene.placed.len()).map(|i| (i, 1.0)).collect();
    let distant = DistantSources::new(scene, &tables, points, &all);
    let mut energy = vec![[0.0; TABLE_LANES]; points.receivers.len()];
    for_each_patch(scene, points, &mut energy, |work, patch, rows| {
        let mut waves = std::mem::take(&mut work.waves);
        waves.clear();
        waves.resize(rows.len() * each, NO_WAVE);
        Arch::new().dispatch(Superpose {
            scene,
            tables: &tables,
            points,
            patch,
            which: &all,
            distant: &distant,
            sums: Superposition { energy: rows, waves: &mut waves },
            work,
        });
        add_waves(scene, &waves, rows);
        work.waves = waves;
    });
    Field::new(points, energy)
}

/// As [`field`], of the loudspeakers within `reach_m` of the points, in plan: for places that a near loudspeaker drowns everything
/// far away at. Cost grows with what is around the points, not with the scene.
pub fn field_within(scene: &Scene, points: &Points, reach_m: f64) -> Field {
    let Some(around) = Patch::around_all(&points.receivers) else { return field(scene, points) };
    let outside = |v: f64, low: f64, high: f64| (low - v).max(v - high).max(0.0);
    let near = |i: &usize| {
        let at = scene.placed[*i].at.plan();
        let east_m = outside(at.x, around.low.x, around.high.x);
        east_m.hypot(outside(at.y, around.low.y, around.high.y)) <= reach_m
    };
    let which: Vec<usize> = (0..scene.placed.len()).filter(near).collect();
    field(&scene.of_some(&which), points)
}

/// Adds the energies of the waves of all programmes to the rows of points.
pub(crate) fn add_waves(scene: &Scene, waves: &[Wave], rows: &mut [Row]) {
    let each = scene.lines.waves_per_point();
    if each == 0 {
        return;
    }
    for (row, waves) in rows.iter_mut().zip(waves.chunks_exact(each * scene.programmes.len())) {
        for of_programme in waves.chunks_exact(each) {
            add_energy_of_waves(&scene.lines, of_programme, row);
        }
    }
}

/// Splits what is kept per point into the parts of the patches.
pub(crate) fn by_patch<'a, T>(points: &Points, rows: &'a mut [T]) -> Vec<&'a mut [T]> {
    let mut rest = rows;
    let mut parts = Vec::with_capacity(points.patches.len());
    let per_point = if points.receivers.is_empty() { 0 } else { rest.len() / points.receivers.len() };
    for (range, _) in &points.patches {
        let (head, tail) = rest.split_at_mut(range.len() * per_point);
        parts.push(head);
        rest = tail;
    }
    parts
}

/// Runs a job on every patch with its rows of the output, on all cores.
pub(crate) fn for_each_patch<T: Send>(
    scene: &Scene,
    points: &Points,
    rows: &mut [T],
    job: impl Fn(&mut Work, usize, &mut [T]) + Sync,
) {
    let (lines, leave) = (scene.settings.lines_per_band, lent());
    by_patch(points, rows)
        .into_par_iter()
        .enumerate()
        .for_each_init(|| Work::new(lines), |work, (patch, part)| leave.lend(|| job(work, patch, part)));
}
