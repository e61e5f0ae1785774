//! Energy above the transition: the cross terms between the bundles of one loudspeaker.
//!
//! Each pair's cross term is averaged over the band in closed form, cos(2 pi f D) sin(pi B D)/(pi B D) for a path
//! difference D (in seconds) and a bandwidth B. A pair whose cross term cannot reach [`LEAST_CROSS`] of the energy of
//! its source is left out. Where two bundles are much farther apart than the two paths within each, the four cross
//! terms are taken as one: their D differ by less than [`TOGETHER`] of it, so that the factor sin(x)/x of each is off
//! by less than half that share, under 0.05 dB on the sum.

use super::bundle::{Bundle, Rows};
use super::ops::{Ops, Row};
use crate::directivity::TABLE_LANES;
use crate::scene::SpectralLines;
use pulp::Simd;

/// A cross term smaller than this share of the source's energy is left out: at most 0.05 dB.
const LEAST_CROSS: f32 = 0.012;
/// Spread within two bundles over the distance between them up to which they count as one each.
const TOGETHER: f32 = 0.04;

/// Adds the cross terms of all pairs of bundles to the energies in `out`.
#[inline(always)]
pub(crate) fn add_pairs<'a, S: Simd>(o: Ops<S>, lines: &SpectralLines, bundles: &'a [Bundle], out: &mut Row) {
    let total: f32 = bundles.iter().map(|b| b.size2).sum();
    for (i, p) in bundles.iter().enumerate() {
        for q in &bundles[..i] {
            let between = p.length_m - q.length_m;
            let middle = between + 0.5 * (p.apart_m - q.apart_m);
            let least = LEAST_CROSS * total / (p.size * q.size * std::f32::consts::FRAC_2_PI);
            // As one each, or every path of one with every path of the other.
            let as_one = p.apart_m.abs() + q.apart_m.abs() <= TOGETHER * middle.abs();
            let parts = |b: &'a Bundle| -> [Option<(&'a Rows, f32)>; 2] {
                if as_one && b.paired {
                    [Some((&b.both, 0.0)), None]
                } else {
                    [Some((&b.first, 0.0)), b.paired.then_some((&b.second, b.apart_m))]
                }
            };
            for (p_rows, p_more) in parts(p).into_iter().flatten() {
                for (q_rows, q_more) in parts(q).into_iter().flatten() {
                    let phase_m = between + p_more - q_more;
                    let mean_m = if as_one { middle } else { phase_m };
                    cross(o, lines, p_rows, q_rows, (phase_m, mean_m), least, out);
                }
            }
        }
    }
    // A closed form of a mean may dip below nothing by rounding, or by the slope of the spectrum within a band.
    for v in S::as_mut_simd_f32s(out).0 {
        *v = o.max(*v, o.all(0.0));
    }
}

/// Adds the cross term of two rows; `between` is the path difference for the phase and for the mean. `least` is the
/// least that counts, as waves per metre of bandwidth times path difference.
#[inline(always)]
fn cross<S: Simd>(
    o: Ops<S>,
    lines: &SpectralLines,
    p: &Rows,
    q: &Rows,
    between: (f32, f32),
    least: f32,
    out: &mut Row,
) {
    let out = S::as_mut_simd_f32s(out).0;
    let lanes = TABLE_LANES / out.len();
    let (centre, width) = (S::as_simd_f32s(&lines.centre_per_m).0, S::as_simd_f32s(&lines.width_per_m).0);
    let (p_re, p_im) = (S::as_simd_f32s(&p.re).0, S::as_simd_f32s(&p.im).0);
    let (q_re, q_im) = (S::as_simd_f32s(&q.re).0, S::as_simd_f32s(&q.im).0);
    let apart_m = between.1.abs();
    let (signed, apart) = (o.all(between.0), o.all(apart_m));
    for v in lines.coherent / lanes..out.len() {
        // Largest possible share of the cross term in this vector, by its narrowest band.
        let narrowest = lines.width_per_m[(v * lanes).max(lines.coherent).min(TABLE_LANES - 1)];
        if least * narrowest * apart_m > 1.0 {
            break;
        }
        let (s, c) = o.sin_cos_turns(o.mul(centre[v], signed));
        // Re(p q* exp(i phase)), with p q* = a + i b.
        let a = o.fma(p_re[v], q_re[v], o.mul(p_im[v], q_im[v]));
        let b = o.fnma(p_re[v], q_im[v], o.mul(p_im[v], q_re[v]));
        let cross = o.fnma(b, s, o.mul(a, c));
        out[v] = o.fma(o.add(cross, cross), o.sinc(o.mul(width[v], apart)), out[v]);
    }
}
