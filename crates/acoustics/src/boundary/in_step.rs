//! The worst case at a neighbour: loudspeakers on one programme that arrive in step.
//!
//! ISO 9613-2 adds sources in energy. That is right where their ways differ by many wavelengths and the air moves; low
//! sound from loudspeakers on one programme may arrive in step, and two of the same level then give 6 dB more than one,
//! not 3. What a neighbour hears lies between dips and this worst case, which is an upper bound: in the low octaves the
//! amplitudes of all sources on one programme add, different programmes and higher octaves in energy. What one source
//! gives straight and by faces stays added in energy, as clause 7.5 has it.

use super::contribution::SourceContribution;
use super::propagation::{ISO_OCTAVES, ISO_OCTAVES_HZ};
use crate::level::{SILENCE_DB, amplitude_from_db, db_from_energy, sum_db};
use std::collections::BTreeMap;

/// How many octaves, from 63 Hz, have their centre at or below a frequency.
pub(super) fn in_step_octaves(to_hz: f64) -> usize {
    ISO_OCTAVES_HZ.iter().filter(|hz| **hz <= to_hz).count()
}

/// Levels of sources, each with its programme, at worst, dB: amplitudes add on one programme, else energies. A source
/// without a programme is in step with no other.
pub fn in_step_db(levels: impl IntoIterator<Item = (Option<usize>, f64)>) -> f64 {
    let mut amplitudes: BTreeMap<usize, f64> = BTreeMap::new();
    let mut energy = 0.0;
    for (programme, level_db) in levels {
        let amplitude = amplitude_from_db(level_db);
        match programme {
            Some(programme) => *amplitudes.entry(programme).or_default() += amplitude,
            None => energy += amplitude * amplitude,
        }
    }
    let total = energy + amplitudes.values().map(|a| a * a).sum::<f64>();
    if total > 0.0 { db_from_energy(total) } else { SILENCE_DB }
}

/// Octaves 63 Hz to 8 kHz of all sources, the first `low` of them in step, dB.
pub(super) fn in_step_bands_db(all: &[SourceContribution], low: usize) -> [f64; ISO_OCTAVES] {
    std::array::from_fn(|b| {
        if b < low {
            in_step_db(all.iter().map(|c| (c.programme, c.levels.bands_db[b])))
        } else {
            sum_db(all.iter().map(|c| c.levels.bands_db[b]))
        }
    })
}

/// The 31.5 Hz octave of all sources in step, dB; `None` where no source gives its power.
pub(super) fn in_step_extension_db(all: &[SourceContribution]) -> Option<f64> {
    let given: Vec<(Option<usize>, f64)> =
        all.iter().filter_map(|c| Some((c.programme, c.levels.extension_31_hz_db?))).collect();
    (!given.is_empty()).then(|| in_step_db(given))
}
