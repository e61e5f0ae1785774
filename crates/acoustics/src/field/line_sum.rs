//! The waves of one loudspeaker at one point on the lines of the coherent bands.
//!
//! Lines are evenly spaced in frequency, so the phase of a path grows by the same angle d from line to line and its
//! sine and cosine by cos((l+1) d) = 2 cos d cos(l d) - cos((l-1) d): one multiply-add each. Rounding grows with the
//! square of the number of lines over d; cos d is taken as 1 - 2 sin^2(d/2), which keeps the figures of small angles,
//! and 16 lines stay within 1e-3 rad of the phase even 0.1 m from a loudspeaker. The amplitude runs along a band by the
//! slope between its neighbours.

use super::bundle::{Bundle, Rows};
use super::ops::{Ops, Row};
use crate::directivity::TABLE_LANES;
use crate::scene::SpectralLines;
use pulp::Simd;

/// Sums over the lines: `out_re` and `out_im` have a row for each line.
#[inline(always)]
pub(crate) fn sum_lines<S: Simd>(
    o: Ops<S>,
    lines: &SpectralLines,
    bundles: &[Bundle],
    out_re: &mut [Row],
    out_im: &mut [Row],
) {
    let mut first = true;
    for bundle in bundles {
        let waves = if bundle.together {
            [Some((&bundle.both, bundle.length_m)), None]
        } else {
            let second = bundle.paired.then_some((&bundle.second, bundle.length_m + bundle.apart_m));
            [Some((&bundle.first, bundle.length_m)), second]
        };
        for (rows, length_m) in waves.into_iter().flatten() {
            if first {
                add_wave::<S, true>(o, lines, rows, length_m, out_re, out_im);
            } else {
                add_wave::<S, false>(o, lines, rows, length_m, out_re, out_im);
            }
            first = false;
        }
    }
}

/// Adds one row with the phase of a length to the sums, or starts them with it.
#[inline(always)]
fn add_wave<S: Simd, const FIRST: bool>(
    o: Ops<S>,
    lines: &SpectralLines,
    rows: &Rows,
    length_m: f32,
    out_re: &mut [Row],
    out_im: &mut [Row],
) {
    let slopes = Rows { re: slopes(&rows.re), im: slopes(&rows.im) };
    let (a_re, a_im) = (S::as_simd_f32s(&rows.re).0, S::as_simd_f32s(&rows.im).0);
    let (b_re, b_im) = (S::as_simd_f32s(&slopes.re).0, S::as_simd_f32s(&slopes.im).0);
    let (start, step) = (S::as_simd_f32s(&lines.first_per_m).0, S::as_simd_f32s(&lines.step_per_m).0);
    let lanes = TABLE_LANES / a_re.len();
    let length = o.all(length_m);
    for v in 0..lines.coherent.div_ceil(lanes) {
        let (mut s, mut c) = o.sin_cos_turns(o.mul(start[v], length));
        let (half_s, half_c) = o.half_sin_cos(o.mul(step[v], length));
        let twice = o.add(half_s, half_s);
        let (step_s, step_c) = (o.mul(twice, half_c), o.fnma(twice, half_s, o.all(1.0)));
        let factor = o.add(step_c, step_c);
        let (mut next_s, mut next_c) =
            (o.fma(c, step_s, o.mul(s, step_c)), o.fnma(s, step_s, o.mul(c, step_c)));
        for l in 0..lines.in_vector(v, lanes).min(out_re.len()) {
            let offset = S::as_simd_f32s(&lines.offset[l]).0[v];
            let a = o.fma(offset, b_re[v], a_re[v]);
            let b = o.fma(offset, b_im[v], a_im[v]);
            let (re, im) = (
                &mut S::as_mut_simd_f32s(&mut out_re[l]).0[v],
                &mut S::as_mut_simd_f32s(&mut out_im[l]).0[v],
            );
            if FIRST {
                *re = o.fnma(b, s, o.mul(a, c));
                *im = o.fma(b, c, o.mul(a, s));
            } else {
                *re = o.fma(a, c, o.fnma(b, s, *re));
                *im = o.fma(a, s, o.fma(b, c, *im));
            }
            let (after_s, after_c) = (o.fms(factor, next_s, s), o.fms(factor, next_c, c));
            (s, c, next_s, next_c) = (next_s, next_c, after_s, after_c);
        }
    }
}

/// Half the difference of the neighbours; one-sided at the ends.
#[inline(always)]
fn slopes(row: &Row) -> Row {
    let mut s = [0.0; TABLE_LANES];
    for b in 1..TABLE_LANES - 2 {
        s[b] = 0.5 * (row[b + 1] - row[b - 1]);
    }
    s[0] = row[1] - row[0];
    s[TABLE_LANES - 2] = row[TABLE_LANES - 2] - row[TABLE_LANES - 3];
    s
}
