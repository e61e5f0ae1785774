//! A circular piston.
//!
//! In front: a rigid piston in an infinite baffle, far field, 2 J1(ka sin t) / (ka sin t) (Beranek, Acoustics,
//! section 4.8), a the radius, k = 2 pi f / c, t the angle off the axis.
//! Behind an enclosure (common practice, no source): a box is no infinite baffle, so low sound wraps round it
//! and high sound does not. The level straight behind is E(ka) = (1 + pi (ka)^3 / 8)^(-1/2), which is 1 for
//! ka << 1 and the envelope of the side lobes for ka >> 1; between the side and the rear the energies blend,
//! D^2(t) = sin^2 t D^2(90) + cos^2 t E^2. Behind an infinite baffle: nothing.
//! Amplitude only: side lobes change sign, but where sources add with phase (low frequency) ka is small.

use serde::{Deserialize, Serialize};

/// What lies behind a piston.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum PistonRear {
    /// An enclosure in the open: low frequencies reach round it.
    Enclosure,
    /// A large wall or the ground, the loudspeaker flush in it: nothing behind.
    Baffle,
}

/// A circular piston: radius and what lies behind it; made by [`Directivity::piston`](super::Directivity::piston).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piston {
    pub(super) radius_m: f64,
    pub(super) rear: PistonRear,
}

impl Piston {
    /// Amplitude at an angle given by its cosine and sine, 1 on the axis.
    pub(super) fn amplitude(&self, wave_number_per_m: f64, cos_angle: f64, sin_angle: f64) -> f64 {
        let ka = wave_number_per_m * self.radius_m;
        if cos_angle >= 0.0 {
            return piston_amplitude(ka * sin_angle).abs();
        }
        match self.rear {
            PistonRear::Baffle => 0.0,
            PistonRear::Enclosure => {
                let side = piston_amplitude(ka);
                let rear_energy = 1.0 / (1.0 + std::f64::consts::PI / 8.0 * ka.powi(3));
                (sin_angle * sin_angle * side * side + cos_angle * cos_angle * rear_energy).sqrt()
            }
        }
    }
}

/// 2 J1(x) / x, the far-field amplitude of a piston in a baffle, 1 at x = ka sin t = 0.
pub fn piston_amplitude(x: f64) -> f64 {
    if x.abs() < 1e-4 { 1.0 - x * x / 8.0 } else { 2.0 * libm::j1(x) / x }
}

/// Directivity index of a piston in a baffle, dB over a source that radiates all round:
/// 10 lg( (ka)^2 / (1 - J1(2ka)/ka) ) (Beranek, Acoustics, section 4.8), 3.01 dB for small ka.
pub fn piston_directivity_index_db(ka: f64) -> f64 {
    let x = ka.abs();
    let factor = if x < 0.02 {
        // 1 - J1(2x)/x = x^2/2 - x^4/12 + ...
        2.0 / (1.0 - x * x / 6.0)
    } else {
        x * x / (1.0 - libm::j1(2.0 * x) / x)
    };
    10.0 * factor.log10()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn known_points_of_the_piston() {
        // J1 zero at 3.831706 (Abramowitz and Stegun Table 9.5); J1(1) = 0.440051 (Table 9.1).
        assert!(piston_amplitude(3.831_706).abs() < 1e-6);
        assert!((piston_amplitude(1.0) - 0.880_101).abs() < 1e-6);
        assert!((piston_amplitude(1.01e-4) - piston_amplitude(0.99e-4)).abs() < 1e-8);
        // Half power at ka sin t = 1.6163 (Beranek).
        assert!((20.0 * piston_amplitude(1.6163).log10() + 3.0103).abs() < 2e-3);
    }

    #[test]
    fn directivity_index_limits() {
        assert!((piston_directivity_index_db(0.0) - 3.0103).abs() < 1e-4);
        assert!((piston_directivity_index_db(0.0199) - piston_directivity_index_db(0.0201)).abs() < 1e-4);
        // Large pistons: (ka)^2, 20 dB at ka = 10.
        assert!((piston_directivity_index_db(10.0) - 20.0).abs() < 0.05);
    }
}
