//! Row arithmetic on whatever vector width the machine has (crate `pulp`), and the few functions the field needs,
//! each with its bound. Rows are 32 bands of 32-bit numbers.

use crate::directivity::TABLE_LANES;
use pulp::Simd;

/// One value per band.
pub(crate) type Row = [f32; TABLE_LANES];

/// Short names for vector operations.
#[derive(Clone, Copy)]
pub(crate) struct Ops<S: Simd>(pub(crate) S);

impl<S: Simd> Ops<S> {
    #[inline(always)]
    pub(crate) fn all(self, v: f32) -> S::f32s {
        self.0.splat_f32s(v)
    }
    #[inline(always)]
    pub(crate) fn add(self, a: S::f32s, b: S::f32s) -> S::f32s {
        self.0.add_f32s(a, b)
    }
    #[inline(always)]
    pub(crate) fn sub(self, a: S::f32s, b: S::f32s) -> S::f32s {
        self.0.sub_f32s(a, b)
    }
    #[inline(always)]
    pub(crate) fn mul(self, a: S::f32s, b: S::f32s) -> S::f32s {
        self.0.mul_f32s(a, b)
    }
    #[inline(always)]
    pub(crate) fn div(self, a: S::f32s, b: S::f32s) -> S::f32s {
        self.0.div_f32s(a, b)
    }
    /// a b + c
    #[inline(always)]
    pub(crate) fn fma(self, a: S::f32s, b: S::f32s, c: S::f32s) -> S::f32s {
        self.0.mul_add_e_f32s(a, b, c)
    }
    /// c - a b
    #[inline(always)]
    pub(crate) fn fnma(self, a: S::f32s, b: S::f32s, c: S::f32s) -> S::f32s {
        self.0.negate_mul_add_e_f32s(a, b, c)
    }
    #[inline(always)]
    pub(crate) fn max(self, a: S::f32s, b: S::f32s) -> S::f32s {
        self.0.max_f32s(a, b)
    }

    /// Nearest whole number, for |a| below 2^22.
    #[inline(always)]
    fn round(self, a: S::f32s) -> S::f32s {
        let big = self.all(12_582_912.0);
        self.sub(self.add(a, big), big)
    }

    /// Sine and cosine of an angle in turns (|turns| below 2^22). Error of the polynomials below 1e-6; an angle of n
    /// turns carries the rounding of its own last digit, n times 6e-8 turns.
    #[inline(always)]
    pub(crate) fn sin_cos_turns(self, turns: S::f32s) -> (S::f32s, S::f32s) {
        // Sine and cosine of half the angle by Taylor's series, then the double angle.
        let x = self.sub(turns, self.round(turns));
        let x2 = self.mul(x, x);
        let mut s = self.all(-0.007_370_43);
        for c in [0.082_145_89, -0.599_264_5, 2.550_164, -5.167_712_8, std::f32::consts::PI] {
            s = self.fma(s, x2, self.all(c));
        }
        s = self.mul(s, x);
        let mut c = self.all(-0.025_806_89);
        for k in [0.235_330_63, -1.335_262_8, 4.058_712, -4.934_802, 1.0] {
            c = self.fma(c, x2, self.all(k));
        }
        let twice = self.add(s, s);
        (self.mul(twice, c), self.fnma(twice, s, self.all(1.0)))
    }

    /// exp(-x) for x of 0 to 64, 0.004 dB at most off; larger x count as 64 (-556 dB).
    #[inline(always)]
    pub(crate) fn decay(self, x: S::f32s) -> S::f32s {
        let x = self.0.min_f32s(self.mul(x, self.all(1.0 / 64.0)), self.all(1.0));
        let mut y = self.all(-1.0 / 5040.0);
        for c in [1.0 / 720.0, -1.0 / 120.0, 1.0 / 24.0, -1.0 / 6.0, 0.5, -1.0, 1.0] {
            y = self.fma(y, x, self.all(c));
        }
        for _ in 0..6 {
            y = self.mul(y, y);
        }
        y
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use pulp::{Arch, WithSimd};

    struct Apply<'a>(&'a mut Row, u8);
    impl WithSimd for Apply<'_> {
        type Output = ();
        #[inline(always)]
        fn with_simd<S: Simd>(self, simd: S) {
            let o = Ops(simd);
            for v in S::as_mut_simd_f32s(self.0).0 {
                *v = match self.1 {
                    0 => o.sin_cos_turns(*v).0,
                    1 => o.sin_cos_turns(*v).1,
                    _ => o.decay(*v),
                };
            }
        }
    }

    #[test]
    fn functions_hold_their_bounds() {
        let mut worst = [0.0f64; 3];
        for start in 0..4000 {
            let input: Row = std::array::from_fn(|i| (start as f32 - 2000.0) * 0.013 + i as f32 * 0.031);
            for f in 0..3u8 {
                let x: Row = if f == 2 { input.map(|v| v.abs()) } else { input };
                let mut y = x;
                Arch::new().dispatch(Apply(&mut y, f));
                for (x, y) in x.iter().zip(y) {
                    let (x, y) = (f64::from(*x), f64::from(y));
                    let angle = std::f64::consts::TAU * x;
                    let error = match f {
                        0 => (y - angle.sin()).abs(),
                        1 => (y - angle.cos()).abs(),
                        _ => (20.0 * (y / (-x).exp()).log10()).abs(),
                    };
                    worst[usize::from(f)] = worst[usize::from(f)].max(error);
                }
            }
        }
        assert!(worst[0] < 2e-6 && worst[1] < 2e-6 && worst[2] < 0.004, "{worst:?}");
    }
}
