//! Directivity index: how much more a loudspeaker sends straight ahead than on average over the sphere.
//!
//! By integration: the polar angle off the axis in Gauss-Legendre panels, split at 90 degrees where models change,
//! times an even turn around the axis. Error: below 0.001 dB for pistons up to ka = 55 (checked against the
//! closed form), about 0.02 dB for beams and measured grids, whose slopes have kinks.

use super::Directivity;
use crate::bands::{BandValues, band_values};
use crate::level::{SILENCE_DB, db_from_energy};
use loamline_geometry::Point3;
use std::f64::consts::{PI, TAU};

/// Abscissas and weights of the 8-point Gauss-Legendre rule on -1..1, positive half
/// (Abramowitz and Stegun Table 25.4).
const GAUSS_8: [(f64, f64); 4] = [
    (0.183_434_642_495_650, 0.362_683_783_378_362),
    (0.525_532_409_916_329, 0.313_706_645_877_887),
    (0.796_666_477_413_627, 0.222_381_034_453_374),
    (0.960_289_856_497_536, 0.101_228_536_290_376),
];
/// Panels of the polar angle per hemisphere: enough for 18 side lobes at eight points a panel.
const PANELS_AXIAL: usize = 24;
const PANELS_FULL: usize = 6;
const TURNS_FULL: usize = 64;

impl Directivity {
    /// Directivity index at a frequency, dB over a source that radiates the same power all round.
    pub fn index_db(&self, frequency_hz: f64, sound_speed_m_per_s: f64) -> f64 {
        -db_from_energy(self.mean_energy(&|d| self.amplitude(frequency_hz, sound_speed_m_per_s, d).powi(2)))
    }

    /// Directivity index of each third octave, dB.
    pub fn band_index_db(&self, sound_speed_m_per_s: f64) -> BandValues {
        band_values(|b| -db_from_energy(self.mean_energy(&|d| self.band_energy(b, sound_speed_m_per_s, d))))
            .map(|i| i.clamp(SILENCE_DB, -SILENCE_DB))
    }

    /// Mean over the sphere of an energy that shares this directivity's symmetry.
    pub(super) fn mean_energy(&self, energy: &dyn Fn(Point3) -> f64) -> f64 {
        let (panels, turns) = if self.is_axial() { (PANELS_AXIAL, 1) } else { (PANELS_FULL, TURNS_FULL) };
        let width = 0.5 * PI / panels as f64;
        let mut sum = 0.0;
        for panel in 0..2 * panels {
            let middle = (panel as f64 + 0.5) * width;
            for (x, weight) in GAUSS_8.into_iter().flat_map(|(x, w)| [(-x, w), (x, w)]) {
                let (sin, cos) = (middle + 0.5 * width * x).sin_cos();
                let ring: f64 = (0..turns)
                    .map(|t| {
                        let (s, c) = (TAU * (t as f64 + 0.5) / turns as f64).sin_cos();
                        energy(Point3::new(cos, sin * c, sin * s))
                    })
                    .sum();
                sum += 0.25 * width * weight * sin * ring / turns as f64;
            }
        }
        sum
    }
}
