//! Second-order sections, the form in which any processor takes a filter.
//!
//! Sign convention, as in scipy.signal and most text books, with a0 = 1:
//!
//! ```text
//! H(z) = (b0 + b1 z^-1 + b2 z^-2) / (1 + a1 z^-1 + a2 z^-2)
//! y[n] = b0 x[n] + b1 x[n-1] + b2 x[n-2] - a1 y[n-1] - a2 y[n-2]
//! ```
//!
//! Some equipment adds the feedback terms instead; it wants a1 and a2 with their signs changed.

use super::rate::SampleRate;
use num_complex::Complex64;
use serde::{Deserialize, Serialize};
use std::f64::consts::PI;

/// One second-order section with a0 = 1 (see the module's sign convention). First-order filters have b2 = a2 = 0.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Section {
    /// Weight of the newest input sample.
    pub b0: f64,
    /// Weight of the input one sample ago.
    pub b1: f64,
    /// Weight of the input two samples ago.
    pub b2: f64,
    /// Minus the weight of the output one sample ago.
    pub a1: f64,
    /// Minus the weight of the output two samples ago.
    pub a2: f64,
}

/// A section in the analogue domain, s normalised to the pre-warp frequency, powers rising.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Analogue {
    pub num: [f64; 3],
    pub den: [f64; 3],
}

impl Section {
    /// The section that changes nothing.
    pub const IDENTITY: Self = Self { b0: 1.0, b1: 0.0, b2: 0.0, a1: 0.0, a2: 0.0 };

    /// Bilinear transform of an analogue section, exact at the frequency with tan(pi f / fs) = `warp`.
    pub(crate) fn bilinear(analogue: Analogue, warp: f64) -> Self {
        let first_order = analogue.num[2] == 0.0 && analogue.den[2] == 0.0;
        let digital = |[c0, c1, c2]: [f64; 3]| {
            if first_order {
                [c1 + c0 * warp, c0 * warp - c1, 0.0]
            } else {
                let (low, mid) = (c0 * warp * warp, c1 * warp);
                [c2 + mid + low, 2.0 * (low - c2), c2 - mid + low]
            }
        };
        let (n, d) = (digital(analogue.num), digital(analogue.den));
        Self { b0: n[0] / d[0], b1: n[1] / d[0], b2: n[2] / d[0], a1: d[1] / d[0], a2: d[2] / d[0] }
    }

    /// Complex gain at `frequency_hz`; the phase convention is exp(+j w t), so a delay turns the phase negative.
    pub fn response(&self, frequency_hz: f64, rate: SampleRate) -> Complex64 {
        let z1 = Complex64::from_polar(1.0, -2.0 * PI * frequency_hz / rate.hz());
        let z2 = z1 * z1;
        (self.b0 + z1 * self.b1 + z2 * self.b2) / (1.0 + z1 * self.a1 + z2 * self.a2)
    }

    /// Distance of the outermost pole from the origin. The section is stable when this is below one.
    pub fn pole_radius(&self) -> f64 {
        let discriminant = self.a1 * self.a1 - 4.0 * self.a2;
        if discriminant < 0.0 { self.a2.sqrt() } else { (self.a1.abs() + discriminant.sqrt()) / 2.0 }
    }

    /// Whether the output dies away once the input stops.
    pub fn is_stable(&self) -> bool {
        self.pole_radius() < 1.0
    }

    /// Filters `samples` in place, starting from silence (transposed direct form II).
    pub fn filter(&self, samples: &mut [f64]) {
        let (mut s1, mut s2) = (0.0, 0.0);
        for x in samples {
            let y = self.b0 * *x + s1;
            s1 = self.b1 * *x - self.a1 * y + s2;
            s2 = self.b2 * *x - self.a2 * y;
            *x = y;
        }
    }
}

/// Complex gain of sections in a row at `frequency_hz`; one for no sections.
pub fn cascade_gain(sections: &[Section], frequency_hz: f64, rate: SampleRate) -> Complex64 {
    sections.iter().map(|s| s.response(frequency_hz, rate)).product()
}

/// Phase of a complex gain in radians, wrapped to (-pi, pi]; zero for a gain of nothing.
pub fn wrapped_phase_rad(gain: Complex64) -> f64 {
    if gain.norm_sqr() == 0.0 {
        return 0.0;
    }
    let phase = gain.arg();
    if phase <= -PI { PI } else { phase }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A one-pole smoother y = (1-p) x + p y1: gain one at 0 Hz, pole at p.
    #[test]
    fn filters_and_answers_alike() {
        let s = Section { b0: 0.25, b1: 0.0, b2: 0.0, a1: -0.75, a2: 0.0 };
        assert!((s.pole_radius() - 0.75).abs() < 1e-15);
        assert!(s.is_stable());
        let mut h = vec![0.0; 400];
        h[0] = 1.0;
        s.filter(&mut h);
        assert!((h[3] - 0.25 * 0.75_f64.powi(3)).abs() < 1e-15);
        let rate = SampleRate::R48K;
        let f = 3_000.0;
        let direct: Complex64 = h
            .iter()
            .enumerate()
            .map(|(n, x)| Complex64::from_polar(*x, -2.0 * PI * f * n as f64 / rate.hz()))
            .sum();
        assert!((direct - s.response(f, rate)).norm() < 1e-12);
    }

    #[test]
    fn a_section_with_a_pole_outside_is_not_stable() {
        assert!(!Section { a1: -2.1, a2: 1.05, ..Section::IDENTITY }.is_stable());
        assert!(!Section { a1: -1.0, a2: 1.0, ..Section::IDENTITY }.is_stable());
    }

    #[test]
    fn phase_keeps_to_the_half_open_turn() {
        assert!((wrapped_phase_rad(Complex64::new(-1.0, -0.0)) - PI).abs() < 1e-15);
        assert!((wrapped_phase_rad(Complex64::new(-1.0, 0.0)) - PI).abs() < 1e-15);
        assert!(wrapped_phase_rad(Complex64::new(0.0, 0.0)).abs() < 1e-15);
    }
}
