//! What any set of loudspeakers makes at the points of a patch: energies where they add in energy, waves where they
//! add as waves. Loudspeakers can be added and taken away again.

use super::bundle::Tables;
use super::distant::DistantSources;
use super::local_expansion::LocalExpansion;
use super::ops::Row;
use super::over_patch::{PointResponse, Work, alone_at, over_patch};
use super::points::Points;
use super::wave::{NO_WAVE, Wave, add_energy_of_waves, eight};
use crate::directivity::TABLE_LANES;
use crate::scene::{Placed, Scene, SpectralLines};
use loamline_limits::go_on;
use pulp::{Simd, WithSimd};

/// A remainder below this share of what was taken away carries its rounding: 1e-4 of an energy in 32-bit numbers is
/// good to 0.003 dB. Larger would compute more patches anew; smaller would show rounding as sound.
const LEAST_SHARE: f32 = 1e-4;
/// The same for the energy of waves, whose rounding is that of amplitudes.
const LEAST_WAVE_SHARE: f32 = 1e-8;

/// Sums at the points of a patch.
pub(crate) struct Superposition<'a> {
    /// Per point, energies: above the transition, and in all bands of what is lumped.
    pub(crate) energy: &'a mut [Row],
    /// Per point and programme: of each eight bands up to the transition, each line.
    pub(crate) waves: &'a mut [Wave],
}

impl Superposition<'_> {
    pub(crate) fn clear(&mut self) {
        self.energy.fill([0.0; TABLE_LANES]);
        self.waves.fill(NO_WAVE);
    }
}

/// Adds loudspeakers to the sums at a patch, or takes them away.
pub(crate) struct Superpose<'a> {
    pub(crate) scene: &'a Scene,
    pub(crate) tables: &'a Tables,
    pub(crate) points: &'a Points,
    pub(crate) patch: usize,
    /// Loudspeakers with +1 or -1.
    pub(crate) which: &'a [(usize, f32)],
    /// What of them is lumped for many patches.
    pub(crate) distant: &'a DistantSources,
    pub(crate) sums: Superposition<'a>,
    pub(crate) work: &'a mut Work,
}

impl WithSimd for Superpose<'_> {
    /// Whether what was taken away left so little that its rounding shows: then the sums must be computed anew.
    type Output = bool;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> bool {
        let Self { scene, tables, points, patch: number, which, distant, sums, work } = self;
        let (range, patch) = &points.patches[number];
        let receivers = &points.receivers[range.clone()];
        let lines = &*scene.lines;
        let each = lines.waves_per_point();
        let programmes = scene.programmes.len();
        let mut expansion = LocalExpansion::new(scene, &points.middles[number]);
        let mut rounding = false;
        for (place, &(index, sign)) in which.iter().enumerate() {
            if distant.takes(points, number, place) {
                continue;
            }
            go_on();
            let source = &*scene.placed[index];
            work.nearby.gather(&scene.world, source, patch);
            if expansion.takes(source, &work.nearby) {
                let energy = alone_at(scene, tables, source, &expansion.middle, work);
                expansion.add(scene, source, &energy, sign);
                continue;
            }
            over_patch(simd, scene, tables, source, receivers, work, |i, heard| {
                let start = (i * programmes + source.source.programme) * each;
                let waves = &mut sums.waves[start..start + each];
                add(lines, source, sign, &heard, &mut sums.energy[i], waves);
                if sign < 0.0 {
                    rounding |= leaves_rounding(lines, source, &heard, &sums.energy[i], waves);
                }
            });
        }
        for expansion in distant.over(points, number).chain([&expansion]) {
            expansion.spread(receivers, sums.energy);
            rounding |= expansion.leaves_rounding(receivers, sums.energy, LEAST_SHARE);
        }
        rounding
    }
}

/// Adds one loudspeaker to the sums at a point.
#[inline(always)]
fn add(
    lines: &SpectralLines,
    source: &Placed,
    sign: f32,
    heard: &PointResponse,
    energy: &mut Row,
    waves: &mut [Wave],
) {
    for ((sum, above), full) in energy.iter_mut().zip(&heard.above).zip(&source.energy) {
        *sum += sign * above * full;
    }
    let mut kept = waves.iter_mut();
    for e in 0..lines.eights() {
        for (l, [re, im]) in (0..lines.in_vector(e, 8)).zip(&mut kept) {
            let (d_re, d_im) = (eight(&source.drive_re[l], e), eight(&source.drive_im[l], e));
            let (h_re, h_im) = (eight(&heard.re[l], e), eight(&heard.im[l], e));
            for b in 0..8 {
                re[b] += sign * (d_re[b] * h_re[b] - d_im[b] * h_im[b]);
                im[b] += sign * (d_re[b] * h_im[b] + d_im[b] * h_re[b]);
            }
        }
    }
}

/// Whether so little is left in some band after a loudspeaker was taken away that it may be rounding.
fn leaves_rounding(
    lines: &SpectralLines,
    source: &Placed,
    heard: &PointResponse,
    energy: &Row,
    waves: &[Wave],
) -> bool {
    let taken = heard.alone(lines, source);
    let mut left = [0.0; TABLE_LANES];
    add_energy_of_waves(lines, waves, &mut left);
    (0..TABLE_LANES).any(|b| {
        if b < lines.coherent {
            left[b] < LEAST_WAVE_SHARE * taken[b]
        } else {
            energy[b] < LEAST_SHARE * taken[b]
        }
    })
}
