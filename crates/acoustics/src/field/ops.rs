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
    /// a b - c
    #[inline(always)]
    pub(crate) fn fms(self, a: S::f32s, b: S::f32s, c: S::f32s) -> S::f32s {
        self.0.mul_add_e_f32s(a, b, self.0.neg_f32s(c))
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

    /// Sine and cosine of half an angle given in turns (|turns| below 2^22), both or neither with the sign changed:
    /// what is made of products of two of them is right. Minimax polynomials on a quarter turn either side: the sine
    /// is off by at most 1e-6 of itself, the cosine by 7e-6.
    #[inline(always)]
    pub(crate) fn half_sin_cos(self, turns: S::f32s) -> (S::f32s, S::f32s) {
        let x = self.sub(turns, self.round(turns));
        let x2 = self.mul(x, x);
        let mut s = self.all(-0.558_396_14);
        for k in [2.543_605, -5.167_368, 3.141_589_6] {
            s = self.fma(s, x2, self.all(k));
        }
        let mut c = self.all(-1.222_127_3);
        for k in [4.041_284, -4.933_938, 0.999_993_3] {
            c = self.fma(c, x2, self.all(k));
        }
        (self.mul(s, x), c)
    }

    /// Sine and cosine of an angle in turns (|turns| below 2^22), off by at most 2e-5; an angle of n turns carries the
    /// rounding of its own last digit, n times 6e-8 turns.
    #[inline(always)]
    pub(crate) fn sin_cos_turns(self, turns: S::f32s) -> (S::f32s, S::f32s) {
        let (s, c) = self.half_sin_cos(turns);
        let twice = self.add(s, s);
        (self.mul(twice, c), self.fnma(twice, s, self.all(1.0)))
    }

    /// Mean of the cosine over a band: sin(pi x)/(pi x) for x of 0 or more, off by at most 2e-5.
    #[inline(always)]
    pub(crate) fn sinc(self, x: S::f32s) -> S::f32s {
        // Near 0 the quotient of two tiny numbers is still 1.
        let x = self.max(x, self.all(1e-6));
        let (sine, _) = self.sin_cos_turns(self.mul(x, self.all(0.5)));
        self.div(sine, self.mul(x, self.all(std::f32::consts::PI)))
    }

    /// The same for x of 0 to 0.4, by its series to the eighth power.
    #[inline(always)]
    pub(crate) fn sinc_near_nothing(self, x: S::f32s) -> S::f32s {
        let x2 = self.mul(x, x);
        let mut y = self.all(0.026_147_85);
        for k in [-0.190_751_8, 0.811_742_4, -1.644_934, 1.0] {
            y = self.fma(y, x2, self.all(k));
        }
        y
    }

    /// exp(-x) for x of 0 to 80, off by at most 1e-5 of itself; larger x count as 80 (-695 dB).
    #[inline(always)]
    pub(crate) fn decay(self, x: S::f32s) -> S::f32s {
        let magic = self.all(12_582_912.0);
        let x = self.mul(self.0.min_f32s(x, self.all(80.0)), self.all(-std::f32::consts::LOG2_E));
        // 2^x: whole powers go into the exponent, the rest is a polynomial (Taylor, |x| at most a half).
        let whole = self.add(x, magic);
        let x = self.sub(x, self.sub(whole, magic));
        let mut y = self.all(1.333_355_8e-3);
        for k in [9.618_129e-3, 0.055_504_11, 0.240_226_5, std::f32::consts::LN_2, 1.0] {
            y = self.fma(y, x, self.all(k));
        }
        let (whole, y) = (self.0.transmute_u32s_f32s(whole), self.0.transmute_u32s_f32s(y));
        let exponent = self.0.wrapping_dyn_shl_u32s(whole, self.0.splat_u32s(23));
        self.0.transmute_f32s_u32s(self.0.add_u32s(y, exponent))
    }
}

/// 10 lg x for positive x that is not denormal, off by at most 0.001.
#[inline(always)]
pub(crate) fn ten_lg(x: f32) -> f32 {
    let bits = x.to_bits();
    let exponent = (bits >> 23) as f32 - 127.0;
    // log2 of a fraction of 1 to 2 by a minimax polynomial.
    let m = f32::from_bits((bits & 0x007f_ffff) | 0x3f80_0000);
    let mut log2 = 0.044_873_615;
    for k in [-0.416_563_73, 1.631_148_9, -3.550_793_2, 5.091_711, -2.800_364] {
        log2 = log2 * m + k;
    }
    3.010_3 * (exponent + log2)
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
                    2 => o.decay(*v),
                    3 => o.sinc(*v),
                    _ => o.sinc_near_nothing(*v),
                };
            }
        }
    }

    #[test]
    fn functions_hold_their_bounds() {
        let mut worst = [0.0f64; 5];
        for start in 0..4000 {
            let wide: Row = std::array::from_fn(|i| (start as f32 - 2000.0) * 0.013 + i as f32 * 0.031);
            for (f, worst) in (0..5u8).zip(&mut worst) {
                let input = match f {
                    0 | 1 => wide,
                    2 | 3 => wide.map(|v| (3.0 * v).abs()),
                    _ => wide.map(|v| 0.4 * v.sin().abs()),
                };
                let mut output = input;
                Arch::new().dispatch(Apply(&mut output, f));
                for (x, y) in input.iter().zip(output) {
                    let (x, y) = (f64::from(*x), f64::from(y));
                    let angle = std::f64::consts::TAU * x;
                    let sinc = if x == 0.0 { 1.0 } else { (0.5 * angle).sin() / (0.5 * angle) };
                    let error = match f {
                        0 => (y - angle.sin()).abs(),
                        1 => (y - angle.cos()).abs(),
                        2 => (y / (-x.min(80.0)).exp() - 1.0).abs(),
                        _ => (y - sinc).abs(),
                    };
                    *worst = worst.max(error);
                }
            }
        }
        assert!(worst.iter().zip([2e-5, 2e-5, 1e-5, 2e-5, 2e-5]).all(|(w, most)| *w < most), "{worst:?}");
        let lg = (-500..500)
            .map(|i| 1.07f32.powi(i))
            .map(|x| (f64::from(ten_lg(x)) - 10.0 * f64::from(x).log10()).abs());
        assert!(lg.clone().fold(0.0, f64::max) < 1e-3, "{}", lg.fold(0.0, f64::max));
    }
}
