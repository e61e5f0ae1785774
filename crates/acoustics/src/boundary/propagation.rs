//! What is lost along a way: divergence, air, ground and what stands between.

use super::ground::ground_attenuation_db;
use super::screening::{End, screening};
use super::site::Site;
use super::unfolded::View;
use crate::level::{db_from_energy, energy_from_db, sum_db};
use loamline_geometry::Point2;
use loamline_terms::A_OCTAVES_DB;

/// Octaves of the method, 63 Hz to 8 kHz.
pub const ISO_OCTAVES: usize = 8;
/// Their nominal frequencies, Hz; wavelengths are 340 m/s over these.
pub const ISO_OCTAVES_HZ: [f64; ISO_OCTAVES] = [63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0];
/// Nominal frequency of the extension, Hz.
const EXTENSION_HZ: f64 = 31.5;

/// Wavelength of an octave, 0 is 31.5 Hz, m.
pub(super) fn wavelength_m(octave: usize) -> f64 {
    340.0 / if octave == 0 { EXTENSION_HZ } else { ISO_OCTAVES_HZ[octave - 1] }
}

/// A way from a source (or its image) to a receiver.
pub(super) struct Way {
    /// Where it starts; of a way by a face, the image of the source.
    pub(super) from: End,
    pub(super) to: End,
    /// Where it really runs, in plan: for the ground under it.
    pub(super) plan: Vec<Point2>,
}

/// What is lost along a way, octaves 31.5 Hz to 8 kHz, dB.
pub(super) struct Losses {
    pub(super) distance_m: f64,
    pub(super) divergence_db: f64,
    pub(super) air: [f64; 9],
    pub(super) ground: [f64; 9],
    pub(super) screening: [f64; 9],
}

impl Losses {
    /// Level of an octave (0 is 31.5 Hz) for a power with its directivity, dB.
    pub(super) fn level(&self, power_db: f64, octave: usize) -> f64 {
        power_db - self.divergence_db - self.air[octave] - self.ground[octave] - self.screening[octave]
    }
}

pub(super) fn losses(site: &Site, seen: View<'_>, absorption_db_per_m: &[f64; 9], way: &Way) -> Losses {
    let distance_m = way.from.at.distance(way.to.at);
    let height = |e: &End| e.at.z - e.ground_m;
    let ground = ground_attenuation_db(site, &way.plan, (height(&way.from), height(&way.to)));
    let between = screening(seen, way.from, way.to);
    let screening = std::array::from_fn(|i| {
        let Some(between) = between else { return 0.0 };
        let wavelength_m = wavelength_m(i);
        let dz = between.over_top.top_attenuation_db(wavelength_m, distance_m);
        let top = (dz - ground[i].max(0.0)).max(0.0);
        let ends = between.round_ends.iter().flatten().map(|e| e.side_attenuation_db(wavelength_m));
        let energy: f64 = ends.chain([top]).map(|loss| energy_from_db(-loss)).sum();
        // The ways together never give more than no obstacle at all.
        -db_from_energy(energy.min(1.0))
    });
    Losses {
        distance_m,
        divergence_db: 20.0 * distance_m.log10() + 11.0,
        air: absorption_db_per_m.map(|a| a * distance_m),
        ground,
        screening,
    }
}

pub(super) fn a_weighted(bands_db: &[f64; ISO_OCTAVES]) -> f64 {
    sum_db(bands_db.iter().zip(A_OCTAVES_DB).map(|(l, a)| l + a))
}
