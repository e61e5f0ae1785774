//! Levels at points.

use super::ops::Row;
use super::points::Points;
use crate::bands::{BAND_COUNT, Band, BandValues};
use crate::level::{SILENCE_DB, db_from_energy, energy_from_db};
use crate::weighting::Weighting;

/// Band energies at every point of a list, re 20 uPa. Levels are [`SILENCE_DB`] where nothing is heard and inside
/// buildings; never anything that is not a number.
#[derive(Debug, Clone)]
pub struct Field {
    slot: Vec<u32>,
    pub(crate) energy: Vec<Row>,
}

impl Field {
    pub(crate) fn new(points: &Points, energy: Vec<Row>) -> Self {
        Self { slot: (0..points.len()).map(|i| points.slot(i) as u32).collect(), energy }
    }

    /// How many points.
    pub fn len(&self) -> usize {
        self.slot.len()
    }

    /// Whether there are no points.
    pub fn is_empty(&self) -> bool {
        self.slot.is_empty()
    }

    /// Energy of each band at a point (0 to `len`), re (20 uPa)^2; the 32nd value is 0.
    ///
    /// # Panics
    /// Past the last point.
    pub fn band_energies(&self, point: usize) -> &[f32; 32] {
        &self.energy[self.slot[point] as usize]
    }

    /// Level of one band at a point, dB.
    ///
    /// # Panics
    /// Past the last point.
    pub fn band_level_db(&self, point: usize, band: Band) -> f64 {
        db_from_energy(f64::from(self.band_energies(point)[band.index()]))
    }

    /// Levels of all bands at a point, dB.
    ///
    /// # Panics
    /// Past the last point.
    pub fn band_levels_db(&self, point: usize) -> BandValues {
        let row = self.band_energies(point);
        std::array::from_fn(|b| db_from_energy(f64::from(row[b])))
    }

    /// Weighted level at a point, dB: LAeq, LCeq, LZeq.
    ///
    /// # Panics
    /// Past the last point.
    pub fn level_db(&self, point: usize, weighting: Weighting) -> f64 {
        let gains = weighting.band_gains_db().map(|g| energy_from_db(g) as f32);
        weighted(self.band_energies(point), &gains)
    }

    /// Weighted level at all points in the order given, dB.
    pub fn levels_db(&self, weighting: Weighting) -> Vec<f64> {
        let gains = weighting.band_gains_db().map(|g| energy_from_db(g) as f32);
        self.slot.iter().map(|&s| weighted(&self.energy[s as usize], &gains)).collect()
    }
}

fn weighted(row: &Row, gains: &[f32; BAND_COUNT]) -> f64 {
    let energy: f32 = row.iter().zip(gains).map(|(e, g)| e * g).sum();
    if energy > 0.0 { db_from_energy(f64::from(energy)) } else { SILENCE_DB }
}
