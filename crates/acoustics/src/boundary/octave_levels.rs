//! Levels in octaves, with what they come to.

use super::propagation::{ISO_OCTAVES, a_weighted};
use crate::level::sum_db;
use serde::Serialize;

/// Levels in the octaves of the method, of one way, of one source or of all of them.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OctaveLevels {
    /// Octave levels 63 Hz to 8 kHz, dB; [`SILENCE_DB`](crate::SILENCE_DB) where nothing comes.
    pub bands_db: [f64; ISO_OCTAVES],
    /// 31.5 Hz octave, an extension beyond the standard, dB; absent where no power was given for it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub extension_31_hz_db: Option<f64>,
    /// A-weighted level from the octaves 63 Hz to 8 kHz, dBA.
    pub total_dba: f64,
}

impl OctaveLevels {
    /// Octaves, and what they come to.
    pub(super) fn of(bands_db: [f64; ISO_OCTAVES], extension_31_hz_db: Option<f64>) -> Self {
        Self { bands_db, extension_31_hz_db, total_dba: a_weighted(&bands_db) }
    }

    /// Several, added in energy octave by octave.
    pub(super) fn sum<'l>(all: impl Iterator<Item = &'l Self> + Clone) -> Self {
        let extension: Vec<f64> = all.clone().filter_map(|l| l.extension_31_hz_db).collect();
        let bands_db = std::array::from_fn(|b| sum_db(all.clone().map(|l| l.bands_db[b])));
        Self::of(bands_db, (!extension.is_empty()).then(|| sum_db(extension.iter().copied())))
    }

    /// One octave (0 is 63 Hz), dB; the A-weighted level, dBA, where none is named.
    pub fn level(&self, octave: Option<usize>) -> f64 {
        octave.map_or(self.total_dba, |o| self.bands_db[o])
    }

    /// Takes so many decibels off all of it.
    pub fn lower(&mut self, by_db: f64) {
        self.bands_db.iter_mut().chain(&mut self.extension_31_hz_db).for_each(|l| *l -= by_db);
        self.total_dba -= by_db;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::boundary::tests::{one, scene};

    #[test]
    fn two_alike_come_to_three_decibels_more_and_only_what_is_given_is_added() {
        let alone = one(&scene([0.0, 0.0, 1.0], [30.0, 0.0, 1.5])).levels;
        let (twice, more) = (OctaveLevels::sum([&alone, &alone].into_iter()), 10.0 * 2f64.log10());
        for octave in (0..ISO_OCTAVES).map(Some).chain([None]) {
            assert!((twice.level(octave) - alone.level(octave) - more).abs() < 1e-9, "{octave:?}");
        }
        let extension = alone.extension_31_hz_db.unwrap();
        assert!((twice.extension_31_hz_db.unwrap() - extension - more).abs() < 1e-9);
        let without = OctaveLevels { extension_31_hz_db: None, ..alone.clone() };
        let one_of_two = OctaveLevels::sum([&alone, &without].into_iter());
        assert!((one_of_two.extension_31_hz_db.unwrap() - extension).abs() < 1e-9);
        assert_eq!(OctaveLevels::sum([&without].into_iter()).extension_31_hz_db, None);
        let mut lowered = twice.clone();
        lowered.lower(more);
        assert!((lowered.total_dba - alone.total_dba).abs() < 1e-9);
        assert!((lowered.extension_31_hz_db.unwrap() - extension).abs() < 1e-9);
        assert!(lowered.bands_db.iter().zip(alone.bands_db).all(|(a, b)| (a - b).abs() < 1e-9));
    }

    /// What was one table of an answer stays one.
    #[test]
    fn the_levels_stand_among_what_is_told_of_a_source() {
        let told = serde_json::to_value(one(&scene([0.0, 0.0, 1.0], [30.0, 0.0, 1.5]))).unwrap();
        for of in [&told, &told["contributions"][0]] {
            assert!(
                of["bands_db"].is_array() && of["total_dba"].is_f64() && of["extension_31_hz_db"].is_f64()
            );
            assert!(of.get("levels").is_none(), "{of}");
        }
    }
}
