//! What any set of loudspeakers makes at the points of a patch: energies where they add in energy, waves where they
//! add as waves. Loudspeakers can be added and taken away again.

use super::cut_off::Lump;
use super::ops::Row;
use super::paths::{Patch, Receiver};
use super::tile::{Heard, Tables, Work, over_patch};
use crate::directivity::TABLE_LANES;
use crate::scene::{Lines, Placed, Scene};
use pulp::{Simd, WithSimd};

/// A remainder below this share of what was taken away carries its rounding: 1e-4 of an energy in 32-bit numbers is
/// good to 0.003 dB. Larger would compute more patches anew; smaller would show rounding as sound.
const LEAST_SHARE: f32 = 1e-4;
/// The same for the energy of waves, whose rounding is that of amplitudes.
const LEAST_WAVE_SHARE: f32 = 1e-8;

/// Sums at the points of a patch.
pub(crate) struct Sums<'a> {
    /// Per point, energies: above the transition, and in all bands of what is lumped.
    pub(crate) energy: &'a mut [Row],
    /// Per point and programme, packed as [`Lines::kept_bands`] says.
    pub(crate) waves: &'a mut [f32],
}

impl Sums<'_> {
    /// The same sums, borrowed for a shorter time.
    pub(crate) fn again(&mut self) -> Sums<'_> {
        Sums { energy: self.energy, waves: self.waves }
    }

    pub(crate) fn clear(&mut self) {
        self.energy.fill([0.0; TABLE_LANES]);
        self.waves.fill(0.0);
    }
}

/// Adds loudspeakers to the sums at a patch, or takes them away.
pub(crate) struct Add<'a> {
    pub(crate) scene: &'a Scene,
    pub(crate) tables: &'a Tables,
    pub(crate) receivers: &'a [Receiver],
    pub(crate) patch: &'a Patch,
    /// Loudspeakers with +1 or -1.
    pub(crate) which: &'a [(usize, f32)],
    pub(crate) sums: Sums<'a>,
    pub(crate) work: &'a mut Work,
}

impl WithSimd for Add<'_> {
    /// Whether what was taken away left so little that its rounding shows: then the sums must be computed anew.
    type Output = bool;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> bool {
        let Self { scene, tables, receivers, patch, which, sums, work } = self;
        let lines = &*scene.lines;
        let each = lines.kept_values();
        let programmes = scene.programmes.len();
        let mut lump = Lump::new(scene, receivers);
        let mut rounding = false;
        for &(index, sign) in which {
            let source = &*scene.placed[index];
            work.nearby.gather(&scene.world, source, patch);
            if lump.takes(source, &work.nearby) {
                let mut energy = [0.0; TABLE_LANES];
                let middle = std::slice::from_ref(&lump.middle);
                over_patch(simd, scene, tables, source, middle, work, |_, heard| {
                    energy = heard.alone(lines, source);
                });
                lump.add(scene, source, &energy, sign);
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
        lump.spread(receivers, sums.energy);
        rounding | lump.leaves_rounding(receivers, sums.energy, LEAST_SHARE)
    }
}

/// Adds one loudspeaker to the sums at a point.
#[inline(always)]
fn add(lines: &Lines, source: &Placed, sign: f32, heard: &Heard, energy: &mut Row, waves: &mut [f32]) {
    for ((sum, above), full) in energy.iter_mut().zip(&heard.above).zip(&source.energy) {
        *sum += sign * above * full;
    }
    let mut rest = waves;
    for l in 0..heard.re.len() {
        let bands = lines.kept_bands(l);
        let (part, tail) = rest.split_at_mut(2 * bands.len());
        rest = tail;
        let (re, im) = part.split_at_mut(bands.len());
        let (d_re, d_im) = (&source.drive_re[l][bands.clone()], &source.drive_im[l][bands.clone()]);
        let (h_re, h_im) = (&heard.re[l][bands.clone()], &heard.im[l][bands]);
        for b in 0..re.len() {
            re[b] += sign * (d_re[b] * h_re[b] - d_im[b] * h_im[b]);
            im[b] += sign * (d_re[b] * h_im[b] + d_im[b] * h_re[b]);
        }
    }
}

/// Energies per band of waves.
#[inline(always)]
pub(crate) fn add_energy_of_waves(lines: &Lines, waves: &[f32], into: &mut Row) {
    let mut rest = waves;
    for l in 0..lines.offset.len() {
        let bands = lines.kept_bands(l);
        let (part, tail) = rest.split_at(2 * bands.len());
        rest = tail;
        let (re, im) = part.split_at(bands.len());
        for ((e, re), im) in into[bands].iter_mut().zip(re).zip(im) {
            *e += re * re + im * im;
        }
    }
}

/// Energies per band of waves with one loudspeaker more.
#[inline(always)]
pub(crate) fn add_energy_of_waves_with(
    lines: &Lines,
    waves: &[f32],
    source: &Placed,
    heard: &Heard,
    into: &mut Row,
) {
    let mut rest = waves;
    for l in 0..heard.re.len() {
        let bands = lines.kept_bands(l);
        let (part, tail) = rest.split_at(2 * bands.len());
        rest = tail;
        let (re, im) = part.split_at(bands.len());
        let (d_re, d_im) = (&source.drive_re[l][bands.clone()], &source.drive_im[l][bands.clone()]);
        let (h_re, h_im) = (&heard.re[l][bands.clone()], &heard.im[l][bands.clone()]);
        let into = &mut into[bands];
        for b in 0..re.len() {
            let sum_re = re[b] + d_re[b] * h_re[b] - d_im[b] * h_im[b];
            let sum_im = im[b] + d_re[b] * h_im[b] + d_im[b] * h_re[b];
            into[b] += sum_re * sum_re + sum_im * sum_im;
        }
    }
}

/// Whether so little is left in some band after a loudspeaker was taken away that it may be rounding.
fn leaves_rounding(lines: &Lines, source: &Placed, heard: &Heard, energy: &Row, waves: &[f32]) -> bool {
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
