//! Complex numbers eight frequencies at a time, laid out so that the compiler uses vector instructions.

use std::ops::{Add, AddAssign, Mul};

use num_complex::Complex64;

/// Frequencies worked on together. Fewer waste vector width; more spill out of the registers.
pub(crate) const WIDTH: usize = 8;

/// One complex number per frequency.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Lanes {
    re: [f64; WIDTH],
    im: [f64; WIDTH],
}

impl Lanes {
    pub(crate) const ZERO: Self = Self { re: [0.0; WIDTH], im: [0.0; WIDTH] };

    pub(crate) fn from_fn(mut value: impl FnMut(usize) -> Complex64) -> Self {
        let mut lanes = Self::ZERO;
        for i in 0..WIDTH {
            let z = value(i);
            lanes.re[i] = z.re;
            lanes.im[i] = z.im;
        }
        lanes
    }

    pub(crate) fn get(&self, lane: usize) -> Complex64 {
        Complex64::new(self.re[lane], self.im[lane])
    }

    pub(crate) fn inv(&self) -> Self {
        let mut out = Self::ZERO;
        for i in 0..WIDTH {
            let scale = 1.0 / (self.re[i] * self.re[i] + self.im[i] * self.im[i]);
            out.re[i] = self.re[i] * scale;
            out.im[i] = -self.im[i] * scale;
        }
        out
    }
}

impl Add for Lanes {
    type Output = Self;
    fn add(mut self, other: Self) -> Self {
        self += other;
        self
    }
}

impl AddAssign for Lanes {
    fn add_assign(&mut self, other: Self) {
        for i in 0..WIDTH {
            self.re[i] += other.re[i];
            self.im[i] += other.im[i];
        }
    }
}

impl Mul for Lanes {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        let mut out = Self::ZERO;
        for i in 0..WIDTH {
            out.re[i] = self.re[i] * other.re[i] - self.im[i] * other.im[i];
            out.im[i] = self.re[i] * other.im[i] + self.im[i] * other.re[i];
        }
        out
    }
}
