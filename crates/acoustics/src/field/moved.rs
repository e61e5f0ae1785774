//! One loudspeaker moves, the rest stays: the rest is computed once, each move costs one loudspeaker.

use super::compute::{Total, add_driven, for_each_patch};
use super::ops::Row;
use super::paths::Nearby;
use super::points::Points;
use super::result::Field;
use super::tile::{Tables, Work, one_source};
use crate::directivity::TABLE_LANES;
use crate::scene::{Problem, Scene, SceneErrors, SceneProblem, Subject};
use pulp::{Arch, Simd, WithSimd};
use rayon::prelude::*;
use std::sync::Arc;
use thiserror::Error;

/// Why a rest does not fit a scene any more: compute it anew.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum StaleRest {
    /// The points are not those the rest was computed for.
    #[error("the rest was computed for {rest} points, these are {points}")]
    Points {
        /// Points of the rest.
        rest: usize,
        /// Points given.
        points: usize,
    },
    /// Ground, walls, buildings, programmes or settings changed.
    #[error("the surroundings, programmes or settings changed since the rest was computed")]
    Surroundings,
    /// Another loudspeaker changed, or one came or went.
    #[error("a loudspeaker other than loudspeaker {} changed since the rest was computed", source_index + 1)]
    Others {
        /// The one the rest leaves out.
        source_index: usize,
    },
    /// The moved loudspeaker plays another programme.
    #[error("loudspeaker {} was put on another programme since the rest was computed", source_index + 1)]
    Programme {
        /// Which.
        source_index: usize,
    },
}

/// The field without one loudspeaker, kept so that the loudspeaker can be moved cheaply.
#[derive(Debug, Clone)]
pub struct Rest {
    scene: Scene,
    source: usize,
    tables: Arc<Tables>,
    energy: Vec<Row>,
    /// Sum of waves of the moved loudspeaker's programme: per point, per line, real parts then imaginary parts of the
    /// coherent bands the line has.
    waves: Vec<f32>,
}

/// Values kept per point.
fn per_point(scene: &Scene) -> usize {
    let lines = &scene.lines;
    (0..scene.settings.lines_per_band).map(|l| 2 * lines.coherent.saturating_sub(lines.first_band(l))).sum()
}

impl Rest {
    /// The field without loudspeaker `source`. Costs about a full field; memory per point 128 bytes and about 8 bytes
    /// for each line of each coherent band.
    ///
    /// # Errors
    /// [`SceneErrors`] when there is no such loudspeaker.
    pub fn new(scene: &Scene, points: &Points, source: usize) -> Result<Self, SceneErrors> {
        if source >= scene.placed.len() {
            let problem = Problem::NoSource { source_index: source, count: scene.placed.len() };
            return Err(SceneErrors(vec![SceneProblem { subject: Subject::Source(source), problem }]));
        }
        let tables = Arc::new(Tables::new(scene));
        let n = points.receivers.len();
        let mut kept: Vec<(Row, Vec<f32>)> = vec![([0.0; TABLE_LANES], Vec::new()); n];
        let each = per_point(scene);
        for_each_patch(scene, points, &mut kept, |work, patch, rows| {
            let mut energy = vec![[0.0; TABLE_LANES]; rows.len()];
            let mut waves = vec![0.0; rows.len() * each];
            let (without, into) = (Some(source), Some(waves.as_mut_slice()));
            let tables = &tables;
            let job = Total { scene, tables, points, patch, rows: &mut energy, work, without, waves: into };
            Arch::new().dispatch(job);
            for (i, row) in rows.iter_mut().enumerate() {
                *row = (energy[i], waves[i * each..(i + 1) * each].to_vec());
            }
        });
        let mut waves = Vec::with_capacity(n * each);
        let mut energy = Vec::with_capacity(n);
        for (row, wave) in kept {
            energy.push(row);
            waves.extend_from_slice(&wave);
        }
        Ok(Self { scene: scene.clone(), source, tables, energy, waves })
    }

    /// The loudspeaker left out.
    pub fn source(&self) -> usize {
        self.source
    }

    /// The whole field with the loudspeaker as it now is in `scene`.
    ///
    /// # Errors
    /// [`StaleRest`] when anything else changed.
    pub fn field(&self, scene: &Scene, points: &Points) -> Result<Field, StaleRest> {
        self.check(scene, points)?;
        let lines = scene.settings.lines_per_band;
        let each = per_point(scene);
        let mut energy = self.energy.clone();
        let mut rest = energy.as_mut_slice();
        let mut parts = Vec::with_capacity(points.patches.len());
        for (range, _) in &points.patches {
            let (head, tail) = rest.split_at_mut(range.len());
            parts.push(head);
            rest = tail;
        }
        parts.into_par_iter().enumerate().for_each_init(
            || Work::new(lines),
            |work, (patch, rows)| {
                let start = points.patches[patch].0.start;
                let waves = &self.waves[start * each..(start + rows.len()) * each];
                Arch::new().dispatch(Add { rest: self, scene, points, patch, rows, waves, work });
            },
        );
        Ok(Field::new(points, energy))
    }

    fn check(&self, scene: &Scene, points: &Points) -> Result<(), StaleRest> {
        let same = Arc::ptr_eq(&self.scene.world, &scene.world)
            && Arc::ptr_eq(&self.scene.lines, &scene.lines)
            && Arc::ptr_eq(&self.scene.programmes, &scene.programmes)
            && self.scene.settings == scene.settings;
        if !same {
            return Err(StaleRest::Surroundings);
        }
        if points.receivers.len() != self.energy.len() {
            return Err(StaleRest::Points { rest: self.energy.len(), points: points.receivers.len() });
        }
        let (a, b) = (&self.scene.placed, &scene.placed);
        let unchanged = |i: usize| i == self.source || Arc::ptr_eq(&a[i], &b[i]);
        if a.len() != b.len() || !(0..a.len()).all(unchanged) {
            return Err(StaleRest::Others { source_index: self.source });
        }
        if a[self.source].source.programme != b[self.source].source.programme {
            return Err(StaleRest::Programme { source_index: self.source });
        }
        Ok(())
    }
}

struct Add<'a> {
    rest: &'a Rest,
    scene: &'a Scene,
    points: &'a Points,
    patch: usize,
    rows: &'a mut [Row],
    waves: &'a [f32],
    work: &'a mut Work,
}

impl WithSimd for Add<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let scene = self.scene;
        let source = &scene.placed[self.rest.source];
        let (range, patch) = &self.points.patches[self.patch];
        if self.work.nearby.is_empty() {
            self.work.nearby.push(Nearby::default());
        }
        self.work.nearby[0].gather(&scene.world, source, patch);
        let coherent = scene.lines.coherent;
        let each = per_point(scene);
        for (i, receiver) in self.points.receivers[range.clone()].iter().enumerate() {
            if receiver.indoors {
                continue;
            }
            let above = one_source(simd, scene, &self.rest.tables, source, receiver, 0, self.work);
            let total = &mut self.rows[i];
            for b in 0..TABLE_LANES {
                total[b] += above[b] * source.energy[b];
            }
            let (re, im) = self.work.transfer();
            let mut waves = &self.waves[i * each..(i + 1) * each];
            for l in 0..scene.settings.lines_per_band {
                let first = scene.lines.first_band(l).min(coherent);
                let count = coherent - first;
                let (kept, tail) = waves.split_at(2 * count);
                waves = tail;
                let (mut sum_re, mut sum_im) = ([0.0; TABLE_LANES], [0.0; TABLE_LANES]);
                sum_re[first..first + count].copy_from_slice(&kept[..count]);
                sum_im[first..first + count].copy_from_slice(&kept[count..]);
                add_driven(
                    (&source.drive_re[l], &source.drive_im[l]),
                    (&re[l], &im[l]),
                    (&mut sum_re, &mut sum_im),
                    coherent,
                );
                for b in first..first + count {
                    total[b] += sum_re[b] * sum_re[b] + sum_im[b] * sum_im[b];
                }
            }
        }
    }
}
