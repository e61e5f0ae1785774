//! Waves as the sums keep them: eight bands on one line at a time, to fill a vector.

use super::ops::Row;
use crate::scene::SpectralLines;

/// Real and imaginary parts of eight bands on one line.
pub(crate) type Wave = [[f32; 8]; 2];
pub(crate) const NO_WAVE: Wave = [[0.0; 8]; 2];

/// Eight bands of a row.
#[inline(always)]
pub(crate) fn eight(row: &Row, e: usize) -> &[f32; 8] {
    &row.as_chunks::<8>().0[e]
}

/// Energies per band of waves.
#[inline(always)]
pub(crate) fn add_energy_of_waves(lines: &SpectralLines, waves: &[Wave], into: &mut Row) {
    let mut kept = waves.iter();
    for e in 0..lines.eights() {
        let mut sum = [0.0; 8];
        for (_, [re, im]) in (0..lines.in_vector(e, 8)).zip(&mut kept) {
            for b in 0..8 {
                sum[b] += re[b] * re[b] + im[b] * im[b];
            }
        }
        for (into, sum) in into.as_chunks_mut::<8>().0[e].iter_mut().zip(sum) {
            *into += sum;
        }
    }
}
