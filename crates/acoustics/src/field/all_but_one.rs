//! What all loudspeakers but the one in hand make at every point, small enough to be read at every step of a drag.
//!
//! Reading the waves of all other loudspeakers from memory was a quarter of a step. Here they are whole numbers of 16
//! bits, in steps of 1/32767 of the largest of their band at their point, each off by at most half a step. Over the 16
//! lines of a band that is at most 1.7e-4 of its energy (0.001 dB), times the root of what the others make over what is
//! left of it with the loudspeaker in hand: 0.01 dB where less than 1/180 is left. The sums themselves stay in full
//! figures, so nothing builds up from drag to drag. Eight bits would halve the memory again and show.

use super::compute::by_patch;
use super::ops::Row;
use super::over_patch::PointResponse;
use super::paths::Receiver;
use super::points::Points;
use super::wave::{Wave, add_energy_of_waves, eight};
use crate::scene::{Placed, Scene, SpectralLines};
use loamline_limits::lent;
use rayon::prelude::*;
use std::ops::Range;

/// Largest whole number used.
const MOST: f32 = 32_767.0;

/// Real and imaginary parts of eight bands on one line, in steps.
pub(crate) type Steps = [[i16; 8]; 2];

/// The others at all points.
#[derive(Debug, Clone)]
pub(crate) struct AllButOne {
    /// Per point, energies of what does not add as waves to the loudspeaker in hand.
    energy: Vec<Row>,
    /// Per point and eight bands, the size of a step.
    step: Vec<[f32; 8]>,
    /// Per point, of each eight bands, each line: the waves of its programme.
    waves: Vec<Steps>,
}

/// The others at the points of a patch.
#[derive(Clone, Copy)]
pub(crate) struct AllButOneHere<'a> {
    energy: &'a [Row],
    step: &'a [[f32; 8]],
    waves: &'a [Steps],
}

impl AllButOne {
    /// Packs the sums of all loudspeakers but one of a programme.
    pub(crate) fn new(
        scene: &Scene,
        points: &Points,
        energy: &[Row],
        waves: &[Wave],
        programme: usize,
    ) -> Self {
        let lines = &*scene.lines;
        let (n, each, eights) = (energy.len(), lines.waves_per_point(), lines.eights());
        let mut others = Self {
            energy: energy.to_vec(),
            step: vec![[0.0; 8]; n * eights],
            waves: vec![[[0; 8]; 2]; n * each],
        };
        let Self { energy, step, waves: packed } = &mut others;
        let parts = by_patch(points, energy).into_par_iter().zip(by_patch(points, step));
        let parts = parts.zip(by_patch(points, packed)).zip(&points.patches);
        let leave = lent();
        let part = |energy: &mut [Row], step: &mut [[f32; 8]], packed: &mut [Steps], range: &Range<usize>| {
            for (k, i) in range.clone().enumerate() {
                let of_point = &waves[i * scene.programmes.len() * each..][..scene.programmes.len() * each];
                let (step, packed) = (&mut step[k * eights..][..eights], &mut packed[k * each..][..each]);
                for (p, waves) in of_point.chunks_exact(each.max(1)).enumerate() {
                    if p == programme {
                        pack(lines, waves, step, packed);
                    } else {
                        add_energy_of_waves(lines, waves, &mut energy[k]);
                    }
                }
            }
        };
        parts.for_each(|(((energy, step), packed), (range, _))| {
            leave.lend(|| part(energy, step, packed, range));
        });
        others
    }

    /// The part of a patch.
    pub(crate) fn at(&self, lines: &SpectralLines, range: Range<usize>) -> AllButOneHere<'_> {
        let part = |each: usize| range.start * each..range.end * each;
        AllButOneHere {
            energy: &self.energy[range.clone()],
            step: &self.step[part(lines.eights())],
            waves: &self.waves[part(lines.waves_per_point())],
        }
    }
}

fn pack(lines: &SpectralLines, waves: &[Wave], step: &mut [[f32; 8]], packed: &mut [Steps]) {
    let mut at = 0;
    for (e, step) in step.iter_mut().enumerate() {
        let count = lines.in_vector(e, 8);
        let (waves, packed) = (&waves[at..at + count], &mut packed[at..at + count]);
        at += count;
        let mut most = [0.0f32; 8];
        for [re, im] in waves {
            for b in 0..8 {
                most[b] = most[b].max(re[b].abs()).max(im[b].abs());
            }
        }
        // What is too small to divide by is silence.
        let per_step = most.map(|m| if m > 1e-30 { MOST / m } else { 0.0 });
        *step = most.map(|m| m / MOST);
        for (wave, packed) in waves.iter().zip(packed) {
            for (wave, packed) in wave.iter().zip(packed) {
                for b in 0..8 {
                    let steps = wave[b] * per_step[b];
                    packed[b] = (steps + 0.5f32.copysign(steps)) as i16;
                }
            }
        }
    }
}

impl<'a> AllButOneHere<'a> {
    /// The others alone, at every point.
    pub(crate) fn alone(&self, lines: &SpectralLines, receivers: &[Receiver], rows: &mut [Row]) {
        for (i, row) in rows.iter_mut().enumerate() {
            *row = self.energy[i];
            if receivers[i].indoors {
                continue;
            }
            for (e, step, waves) in self.eights(lines, i) {
                let mut sum = [0.0; 8];
                for [re, im] in waves {
                    for b in 0..8 {
                        let (re, im) = (f32::from(re[b]) * step[b], f32::from(im[b]) * step[b]);
                        sum[b] += re * re + im * im;
                    }
                }
                add_eight(row, e, &sum);
            }
        }
    }

    /// The others at one point with the loudspeaker in hand.
    #[inline(always)]
    pub(crate) fn with(
        &self,
        lines: &SpectralLines,
        i: usize,
        source: &Placed,
        heard: &PointResponse,
        row: &mut Row,
    ) {
        let in_energy = heard.above.iter().zip(&source.energy).map(|(above, full)| above * full);
        for ((row, others), energy) in row.iter_mut().zip(&self.energy[i]).zip(in_energy) {
            *row = others + energy;
        }
        for (e, step, waves) in self.eights(lines, i) {
            let mut sum = [0.0; 8];
            let drive = source.drive_re.iter().zip(&source.drive_im);
            for (([re, im], (d_re, d_im)), (h_re, h_im)) in
                waves.iter().zip(drive).zip(heard.re.iter().zip(heard.im))
            {
                let (d_re, d_im) = (eight(d_re, e), eight(d_im, e));
                let (h_re, h_im) = (eight(h_re, e), eight(h_im, e));
                for b in 0..8 {
                    let re = f32::from(re[b]) * step[b] + d_re[b] * h_re[b] - d_im[b] * h_im[b];
                    let im = f32::from(im[b]) * step[b] + d_re[b] * h_im[b] + d_im[b] * h_re[b];
                    sum[b] += re * re + im * im;
                }
            }
            add_eight(row, e, &sum);
        }
    }

    /// Of a point: each eight bands, the size of their step and their lines.
    #[inline(always)]
    fn eights(
        &self,
        lines: &SpectralLines,
        i: usize,
    ) -> impl Iterator<Item = (usize, &'a [f32; 8], &'a [Steps])> {
        let each = lines.waves_per_point();
        let eights = lines.eights();
        let mut waves = &self.waves[i * each..(i + 1) * each];
        let steps = &self.step[i * eights..(i + 1) * eights];
        (0..eights).map(
            #[inline(always)]
            move |e| {
                let (here, rest) = waves.split_at(lines.in_vector(e, 8));
                waves = rest;
                (e, &steps[e], here)
            },
        )
    }
}

#[inline(always)]
fn add_eight(row: &mut Row, e: usize, sum: &[f32; 8]) {
    for (into, sum) in row.as_chunks_mut::<8>().0[e].iter_mut().zip(sum) {
        *into += sum;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::air::Air;
    use crate::level::db_from_energy;
    use loamline_chance::Draws;

    #[test]
    fn packing_moves_no_band_by_more_than_stated() {
        let lines = SpectralLines::new(&Air::default(), 400.0, 16);
        let (eights, each) = (lines.eights(), lines.waves_per_point());
        let mut draws = Draws::new(7);
        let mut any = || draws.between(-1.0, 1.0) as f32;
        // Bands 100 dB apart, one of them silent.
        let mut waves = vec![[[0.0; 8]; 2]; each];
        for wave in &mut waves {
            for part in wave {
                *part = std::array::from_fn(|b| any() * 10f32.powi(3 - b as i32));
                part[7] = 0.0;
            }
        }
        let (mut step, mut packed) = (vec![[0.0; 8]; eights], vec![[[0; 8]; 2]; each]);
        pack(&lines, &waves, &mut step, &mut packed);
        let here = AllButOneHere { energy: &[[0.0; 32]], step: &step, waves: &packed };
        let at = Receiver { at: Default::default(), height_m: 1.0, indoors: false };
        let (mut rows, mut plain) = ([[0.0; 32]], [0.0; 32]);
        here.alone(&lines, &[at], &mut rows);
        add_energy_of_waves(&lines, &waves, &mut plain);
        for (packed, plain) in rows[0].iter().zip(&plain) {
            let off = db_from_energy(f64::from(*packed)) - db_from_energy(f64::from(*plain));
            assert!(off.abs() < 1e-3, "{packed} for {plain}");
        }
        assert!(rows[0] != plain, "nothing was packed");
    }
}
