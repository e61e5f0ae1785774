//! The field over many points at once.

use super::cut_off::{Kept, slope};
use super::ops::Row;
use super::points::Points;
use super::result::Field;
use super::tile::{Tables, Work, alone, one_source};
use crate::directivity::TABLE_LANES;
use crate::scene::Scene;
use pulp::{Arch, Simd, WithSimd};
use rayon::prelude::*;

/// Levels at all points from all loudspeakers. Runs on all cores; the result does not depend on how many. Memory: 136
/// bytes per point besides the points themselves.
pub fn field(scene: &Scene, points: &Points) -> Field {
    let tables = Tables::new(scene);
    let mut energy = vec![[0.0; TABLE_LANES]; points.receivers.len()];
    for_each_patch(scene, points, &mut energy, |work, patch, rows| {
        let job = Total { scene, tables: &tables, points, patch, rows, work, without: None, waves: None };
        Arch::new().dispatch(job);
    });
    Field::new(points, energy)
}

/// Runs a job on every patch with its rows of the output, on all cores.
pub(crate) fn for_each_patch<T: Send>(
    scene: &Scene,
    points: &Points,
    rows: &mut [T],
    job: impl Fn(&mut Work, usize, &mut [T]) + Sync,
) {
    let mut rest = rows;
    let mut parts = Vec::with_capacity(points.patches.len());
    let per_point = if points.receivers.is_empty() { 0 } else { rest.len() / points.receivers.len() };
    for (range, _) in &points.patches {
        let (head, tail) = rest.split_at_mut(range.len() * per_point);
        parts.push(head);
        rest = tail;
    }
    let lines = scene.settings.lines_per_band;
    parts
        .into_par_iter()
        .enumerate()
        .for_each_init(|| Work::new(lines), |work, (patch, part)| job(work, patch, part));
}

/// Everything that sounds, over one patch.
pub(crate) struct Total<'a> {
    pub(crate) scene: &'a Scene,
    pub(crate) tables: &'a Tables,
    pub(crate) points: &'a Points,
    pub(crate) patch: usize,
    /// Energy per band of each point of the patch.
    pub(crate) rows: &'a mut [Row],
    pub(crate) work: &'a mut Work,
    /// A loudspeaker to leave out.
    pub(crate) without: Option<usize>,
    /// Where to leave the sum of waves of the left-out loudspeaker's programme instead of adding its energy.
    pub(crate) waves: Option<&'a mut [f32]>,
}

impl WithSimd for Total<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(mut self, simd: S) {
        let range = &self.points.patches[self.patch].0;
        let scene = self.scene;
        let kept = Kept::choose(scene, self.points, self.patch, self.without, self.work);
        let far = Far::new(simd, scene, self.tables, &kept, self.work);
        let coherent = scene.lines.coherent;
        let own = self.without.map(|s| scene.placed[s].source.programme);
        let lines = scene.settings.lines_per_band;
        let mut sum_re = vec![[0.0f32; TABLE_LANES]; lines];
        let mut sum_im = sum_re.clone();
        for (i, receiver) in self.points.receivers[range.clone()].iter().enumerate() {
            if receiver.indoors {
                continue;
            }
            let mut total = far.at(receiver.at.plan() - kept.middle.at.plan());
            for programme in 0..scene.programmes.len() {
                sum_re.fill([0.0; TABLE_LANES]);
                sum_im.fill([0.0; TABLE_LANES]);
                for &(index, nearby) in kept.of_programme(programme) {
                    let source = &scene.placed[index as usize];
                    let above =
                        one_source(simd, scene, self.tables, source, receiver, nearby as usize, self.work);
                    for b in 0..TABLE_LANES {
                        total[b] += above[b] * source.energy[b];
                    }
                    let (re, im) = self.work.transfer();
                    for l in 0..lines {
                        add_driven(
                            (&source.drive_re[l], &source.drive_im[l]),
                            (&re[l], &im[l]),
                            (&mut sum_re[l], &mut sum_im[l]),
                            coherent,
                        );
                    }
                }
                if own == Some(programme)
                    && let Some(waves) = self.waves.as_deref_mut()
                {
                    let each = waves.len() / self.rows.len();
                    let mut into = &mut waves[i * each..(i + 1) * each];
                    for l in 0..lines {
                        let first = scene.lines.first_band(l).min(coherent);
                        let count = coherent - first;
                        let (part, tail) = into.split_at_mut(2 * count);
                        part[..count].copy_from_slice(&sum_re[l][first..coherent]);
                        part[count..].copy_from_slice(&sum_im[l][first..coherent]);
                        into = tail;
                    }
                } else {
                    for l in 0..lines {
                        for b in scene.lines.first_band(l)..coherent {
                            total[b] += sum_re[l][b] * sum_re[l][b] + sum_im[l][b] * sum_im[l][b];
                        }
                    }
                }
            }
            self.rows[i] = total;
        }
    }
}

/// Energy of all lumped loudspeakers at the middle of a patch, and its slopes.
struct Far {
    energy: Row,
    east: Row,
    north: Row,
}

impl Far {
    #[inline(always)]
    fn new<S: Simd>(simd: S, scene: &Scene, tables: &Tables, kept: &Kept, work: &mut Work) -> Self {
        let zero = [0.0; TABLE_LANES];
        let mut far = Self { energy: zero, east: zero, north: zero };
        if kept.far.is_empty() {
            return far;
        }
        // Past the list of those that count, so as not to disturb what was gathered for them.
        let slot = work.nearby.len();
        work.nearby.push(Default::default());
        work.nearby[slot].clear();
        let alpha = &scene.lines.absorption_np_per_m;
        for &i in &kept.far {
            let source = &scene.placed[i as usize];
            let energy = alone(simd, scene, tables, source, &kept.middle, slot, work);
            let (away, spreading) = slope(source, &kept.middle);
            let (x, y, spreading) = (away.x as f32, away.y as f32, spreading as f32);
            for b in 0..TABLE_LANES {
                let falls = energy[b] * (spreading + 2.0 * alpha[b]);
                far.energy[b] += energy[b];
                far.east[b] -= falls * x;
                far.north[b] -= falls * y;
            }
        }
        work.nearby.pop();
        far
    }

    /// At an offset from the middle.
    #[inline(always)]
    fn at(&self, offset: loamline_geometry::Point2) -> Row {
        let (x, y) = (offset.x as f32, offset.y as f32);
        let mut row = self.energy;
        for ((v, east), north) in row.iter_mut().zip(&self.east).zip(&self.north) {
            *v = (*v + east * x + north * y).max(0.0);
        }
        row
    }
}

/// sum += drive x transfer over whole vectors of bands; lanes past the coherent bands are not read again.
#[inline(always)]
pub(crate) fn add_driven(
    drive: (&Row, &Row),
    heard: (&Row, &Row),
    sum: (&mut Row, &mut Row),
    coherent: usize,
) {
    let used = coherent.next_multiple_of(8).min(TABLE_LANES);
    for b in 0..used {
        sum.0[b] += drive.0[b] * heard.0[b] - drive.1[b] * heard.1[b];
        sum.1[b] += drive.0[b] * heard.1[b] + drive.1[b] * heard.0[b];
    }
}
