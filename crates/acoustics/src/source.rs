//! A loudspeaker as a source: how loud it is at 1 m and what it is fed.
//!
//! Full-scale level at 1 m, free field, on axis = sensitivity (1 W, 1 m) + 10 lg P, with P = V^2/Z the voltage at the
//! loudspeaker's own terminals squared over its nominal impedance, behind its transformer where it has one, when the
//! amplifier puts out a full-scale sine: a sensitivity for 1 W into the nominal impedance is one for sqrt(Z) volts, 2.83 V
//! into 8 ohm (IEC 60268-5, characteristic sensitivity; from memory). A sensitivity measured in half space counts 6.02 dB
//! less here: the ground or the wall then adds its own reflection.
//! Programme lies below a full-scale sine by its crest factor less 3.01 dB (a sine's own).

use crate::bands::{BAND_COUNT, Band, BandValues, band_values};
use num_complex::Complex64;
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Crest factor of a sine, dB: 20 lg sqrt 2.
pub const SINE_CREST_DB: f64 = 3.010_299_956_639_812;

/// Where a sensitivity was measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Radiation {
    /// Away from all surfaces, or in an anechoic room.
    FreeField,
    /// Flush in, or standing on, one large hard surface: 6.02 dB more than in the free field.
    HalfSpace,
}

/// What is wrong with a loudspeaker's level or what it is fed.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum SourceError {
    /// A number out of its range.
    #[error("the {what} is {value} {unit}; give {low} to {high} {unit}")]
    Range {
        /// Which value, in words.
        what: &'static str,
        /// As given.
        value: f64,
        /// Its unit.
        unit: &'static str,
        /// Lowest allowed.
        low: f64,
        /// Highest allowed.
        high: f64,
    },
    /// Spectrum weights that do not sum to one.
    #[error("the shares of a programme's spectrum add up to {sum}; they must be 0 or more and add up to 1")]
    Spectrum {
        /// Their sum.
        sum: f64,
    },
    /// A filter table without rows, or with as many values as frequencies missing.
    #[error(
        "a filter table needs as many values as frequencies and at least one; it has {frequencies} and {values}"
    )]
    FilterLengths {
        /// Frequencies given.
        frequencies: usize,
        /// Values given.
        values: usize,
    },
    /// Frequencies of a filter table out of order or not positive.
    #[error(
        "row {row} of a filter table has {frequency_hz} Hz; frequencies must be above 0 and rise from row to row"
    )]
    FilterOrder {
        /// Row, from 1.
        row: usize,
        /// Frequency there, Hz.
        frequency_hz: f64,
    },
    /// A filter value that is not a finite number.
    #[error("row {row} of a filter table is not a finite number")]
    FilterValue {
        /// Row, from 1.
        row: usize,
    },
}

pub(crate) fn in_range(
    what: &'static str,
    value: f64,
    unit: &'static str,
    low: f64,
    high: f64,
) -> Result<f64, SourceError> {
    if (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(SourceError::Range { what, value, unit, low, high })
    }
}

/// Free-field level at 1 m on axis of a sine of `voltage_v` (V RMS) at the loudspeaker's terminals, dB re 20 uPa;
/// [`crate::SILENCE_DB`] when no voltage arrives. `sensitivity_db` is for 1 W into `nominal_ohm` at 1 m.
///
/// # Errors
/// [`SourceError::Range`] for a sensitivity outside 40 to 130 dB, a voltage outside 0 to 1000 V or a nominal impedance outside
/// 0.5 to 10 000 ohm.
pub fn full_scale_level_db(
    sensitivity_db: f64,
    radiation: Radiation,
    voltage_v: f64,
    nominal_ohm: f64,
) -> Result<f64, SourceError> {
    in_range("sensitivity", sensitivity_db, "dB", 40.0, 130.0)?;
    in_range("voltage at the loudspeaker", voltage_v, "V", 0.0, 1000.0)?;
    in_range("nominal impedance", nominal_ohm, "ohm", 0.5, 10_000.0)?;
    let power = crate::level::db_from_energy(voltage_v * voltage_v / nominal_ohm);
    let free_field = match radiation {
        Radiation::FreeField => sensitivity_db,
        Radiation::HalfSpace => sensitivity_db - 20.0 * 2f64.log10(),
    };
    Ok((free_field + power).max(crate::level::SILENCE_DB))
}

/// What is played: how its energy lies over the bands and how far its peaks stand above it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Programme {
    shares: BandValues,
    crest_db: f64,
}

impl Programme {
    /// A programme of shares of energy per third octave (sum 1) and a crest factor, dB (3.01 to 40).
    ///
    /// # Errors
    /// [`SourceError`] when a share is negative, they do not sum to one within 0.1 %, or the crest is out of range.
    pub fn new(shares: BandValues, crest_db: f64) -> Result<Self, SourceError> {
        let sum: f64 = shares.iter().sum();
        if shares.iter().any(|s| !s.is_finite() || *s < 0.0) || !(0.999..=1.001).contains(&sum) {
            return Err(SourceError::Spectrum { sum });
        }
        in_range("crest factor", crest_db, "dB", 3.0, 40.0)?;
        Ok(Self { shares: shares.map(|s| s / sum), crest_db: crest_db.max(SINE_CREST_DB) })
    }

    /// Equal energy in each of the 31 bands.
    ///
    /// # Errors
    /// [`SourceError::Range`] for a crest factor outside 3 to 40 dB.
    pub fn pink(crest_db: f64) -> Result<Self, SourceError> {
        Self::new([1.0 / BAND_COUNT as f64; BAND_COUNT], crest_db)
    }

    /// A programme from relative band levels in dB, scaled so that the shares sum to one.
    ///
    /// # Errors
    /// As [`Programme::new`]; also when no band has a level.
    pub fn from_levels_db(levels_db: &BandValues, crest_db: f64) -> Result<Self, SourceError> {
        let loudest = levels_db.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let shares = levels_db.map(|l| crate::level::energy_from_db(l - loudest));
        let sum: f64 = shares.iter().sum();
        Self::new(shares.map(|s| s / sum), crest_db)
    }

    /// Share of the energy in each band; sums to one.
    pub fn shares(&self) -> &BandValues {
        &self.shares
    }

    /// Crest factor, dB: peak over RMS.
    pub fn crest_db(&self) -> f64 {
        self.crest_db
    }

    /// Level of each band re a full-scale sine, dB.
    pub fn band_levels_re_full_scale_db(&self) -> BandValues {
        self.shares.map(|s| crate::level::db_from_energy(s) - (self.crest_db - SINE_CREST_DB))
    }
}

/// A complex frequency response as a table: an equaliser, a crossover, a measured electrical response. Convention of
/// signal processing, time factor exp(+j w t): a delay has a phase that falls with frequency.
#[derive(Debug, Clone, PartialEq)]
pub struct FilterTable {
    log_hz: Vec<f64>,
    log_gain: Vec<f64>,
    phase_rad: Vec<f64>,
}

/// Smallest gain a table tells from nothing.
const LEAST_GAIN: f64 = 1e-15;

impl FilterTable {
    /// A table of values at rising frequencies in Hz. Between rows, level in dB and unwrapped phase run straight over
    /// the logarithm of frequency, so rows must lie close enough that the phase moves less than half a turn from one
    /// to the next; beyond the ends the end rows hold.
    ///
    /// # Errors
    /// [`SourceError`] when lengths differ, frequencies do not rise or a value is not finite.
    pub fn new(frequencies_hz: &[f64], values: &[Complex64]) -> Result<Self, SourceError> {
        if frequencies_hz.is_empty() || frequencies_hz.len() != values.len() {
            return Err(SourceError::FilterLengths {
                frequencies: frequencies_hz.len(),
                values: values.len(),
            });
        }
        let mut last = 0.0;
        for (i, (&frequency_hz, value)) in frequencies_hz.iter().zip(values).enumerate() {
            if !(frequency_hz > last && frequency_hz.is_finite()) {
                return Err(SourceError::FilterOrder { row: i + 1, frequency_hz });
            }
            last = frequency_hz;
            if !value.is_finite() {
                return Err(SourceError::FilterValue { row: i + 1 });
            }
        }
        let mut phase_rad: Vec<f64> = Vec::with_capacity(values.len());
        for v in values {
            let raw = if v.norm() > LEAST_GAIN { v.arg() } else { phase_rad.last().copied().unwrap_or(0.0) };
            let turns = phase_rad.last().map_or(0.0, |p| ((p - raw) / std::f64::consts::TAU).round());
            phase_rad.push(raw + turns * std::f64::consts::TAU);
        }
        Ok(Self {
            log_hz: frequencies_hz.iter().map(|f| f.ln()).collect(),
            log_gain: values.iter().map(|v| v.norm().max(LEAST_GAIN).ln()).collect(),
            phase_rad,
        })
    }

    /// The response at a frequency in Hz (above 0).
    pub fn at(&self, frequency_hz: f64) -> Complex64 {
        let x = frequency_hz.ln();
        let after = self.log_hz.partition_point(|&l| l <= x);
        let (i, t) = if after == 0 {
            (0, 0.0)
        } else if after == self.log_hz.len() {
            (after - 1, 0.0)
        } else {
            (after - 1, (x - self.log_hz[after - 1]) / (self.log_hz[after] - self.log_hz[after - 1]))
        };
        let j = (i + 1).min(self.log_hz.len() - 1);
        let mix = |v: &[f64]| v[i] + (v[j] - v[i]) * t;
        Complex64::from_polar(mix(&self.log_gain).exp(), mix(&self.phase_rad))
    }

    /// Gain at each band's centre, dB.
    pub fn band_gains_db(&self) -> BandValues {
        band_values(|b: Band| crate::level::db_from_amplitude(self.at(b.centre_hz()).norm()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_level_follows_the_voltage_at_the_terminals() {
        // By hand: 2.83 V into 8 ohm is 1 W; 20 V is 50 W, 16.99 dB more; into 2 ohm 200 W, 23.01 dB.
        let level = |v, ohm| full_scale_level_db(88.0, Radiation::FreeField, v, ohm).unwrap();
        assert!((level(8f64.sqrt(), 8.0) - 88.0).abs() < 1e-9);
        assert!((level(20.0, 8.0) - 104.9897).abs() < 1e-4);
        assert!((level(20.0, 2.0) - 111.0103).abs() < 1e-4);
        let half = full_scale_level_db(88.0, Radiation::HalfSpace, 20.0, 8.0).unwrap();
        assert!((level(20.0, 8.0) - half - 6.0206).abs() < 1e-4);
        assert!(level(0.0, 8.0) <= -200.0);
        assert!(full_scale_level_db(88.0, Radiation::FreeField, 20.0, 0.0).is_err());
    }

    #[test]
    fn programme_lies_below_full_scale_by_its_crest() {
        let p = Programme::pink(12.0).unwrap();
        let total = crate::level::sum_db(p.band_levels_re_full_scale_db());
        assert!((total - (SINE_CREST_DB - 12.0)).abs() < 1e-9);
        assert!(matches!(Programme::new([0.1; BAND_COUNT], 12.0), Err(SourceError::Spectrum { .. })));
        assert!(matches!(Programme::pink(f64::NAN), Err(SourceError::Range { .. })));
    }

    #[test]
    fn a_delay_in_a_table_keeps_its_phase_between_rows() {
        let delay_s = 0.004;
        let rows: Vec<f64> = (0..200).map(|i| 10.0 * 1.04f64.powi(i)).collect();
        let h = |f: f64| Complex64::from_polar(0.5, -std::f64::consts::TAU * f * delay_s);
        let table = FilterTable::new(&rows, &rows.iter().map(|&f| h(f)).collect::<Vec<_>>()).unwrap();
        for f in [21.0, 63.1, 407.0] {
            assert!((table.at(f) - h(f)).norm() < 2e-3, "{f}");
        }
        assert!((table.band_gains_db()[10] + 6.0206).abs() < 1e-3);
        assert!(matches!(
            FilterTable::new(&[100.0, 50.0], &[Complex64::ONE; 2]),
            Err(SourceError::FilterOrder { row: 2, .. })
        ));
    }
}
