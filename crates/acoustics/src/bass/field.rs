//! Complex pressures of subwoofer candidates, and the levels of any set of them.

use crate::areas::percentile;
use crate::bands::Band;
use crate::level::{db_from_energy, mean_db, sum_db};
use loamline_limits::{CALCULATION_BYTES, Exceeded, go_on};
use num_complex::Complex64;
use serde::{Deserialize, Serialize};
use std::f64::consts::TAU;
use thiserror::Error;

/// Pressure at a level of 0 dB, Pa.
const REFERENCE_PA: f64 = 20e-6;
/// Longest delay, s: a kilometre of travel is far beyond a garden.
const LONGEST_DELAY_S: f64 = 3.0;

/// Why a bass computation cannot be done.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum BassError {
    /// No points, candidates or frequencies.
    #[error(
        "the bass field needs at least one point, one candidate and one frequency; there are {points}, {candidates} and {frequencies}"
    )]
    Empty {
        /// Points given.
        points: usize,
        /// Candidates given.
        candidates: usize,
        /// Frequencies given.
        frequencies: usize,
    },
    /// Not points x candidates x frequencies values.
    #[error(
        "the bass field needs {expected} pressures (points x candidates x frequencies); there are {given}"
    )]
    Shape {
        /// Values wanted.
        expected: usize,
        /// Values given.
        given: usize,
    },
    /// A frequency outside the bands.
    #[error(
        "frequency {number} of the bass field, {frequency_hz} Hz, is in no third octave from 20 Hz to 20 kHz"
    )]
    Frequency {
        /// Which, from 1.
        number: usize,
        /// As given, Hz.
        frequency_hz: f64,
    },
    /// A pressure that is not a number.
    #[error(
        "the pressure of candidate {candidate} at point {point}, {frequency_hz} Hz, is not a finite number"
    )]
    NotFinite {
        /// Which point, from 1.
        point: usize,
        /// Which candidate, from 1.
        candidate: usize,
        /// At which frequency, Hz.
        frequency_hz: f64,
    },
    /// A candidate that does not exist, or is used twice.
    #[error(
        "subwoofer {number} of the set uses candidate {candidate} (counted from 0): there are {candidates} and each may be used once"
    )]
    Candidate {
        /// Which of the set, from 1.
        number: usize,
        /// As given, from 0.
        candidate: usize,
        /// Candidates in the field.
        candidates: usize,
    },
    /// A delay that is not one.
    #[error("a delay must be 0 to 3 s; {delay_s} s is not")]
    Delay {
        /// As given, s.
        delay_s: f64,
    },
    /// More memory than one calculation may take.
    #[error(transparent)]
    TooLarge(#[from] Exceeded),
    /// No set, or a set of a size that is not searched for.
    #[error("a set has 1 to {most} subwoofers; {count} asked for")]
    Count {
        /// As given.
        count: usize,
        /// Most possible: no more than four, nor than there are candidates.
        most: usize,
    },
}

/// Complex pressure of each candidate at each point and frequency, checked when made.
#[derive(Debug, Clone, PartialEq)]
pub struct BassField {
    pub(super) points: usize,
    pub(super) candidates: usize,
    pub(super) frequencies_hz: Vec<f64>,
    /// Bands that hold a frequency, ascending.
    pub(super) bands: Vec<Band>,
    /// Place in `bands` of each frequency.
    pub(super) band_of: Vec<usize>,
    /// Frequencies in each of `bands`.
    pub(super) lines_in: Vec<f64>,
    /// Pa; frequency slowest, then candidate, then point.
    pub(super) pressures: Vec<Complex64>,
}

impl BassField {
    /// Takes pressures in Pa, at `[(point * candidates + candidate) * frequencies + frequency]`. Several frequencies
    /// in a third octave are averaged in energy.
    ///
    /// # Errors
    /// [`BassError`] for an empty field, a wrong number of values, frequencies outside the bands, or values that are
    /// not finite.
    pub fn new(
        points: usize,
        candidates: usize,
        frequencies_hz: &[f64],
        pressures_pa: &[Complex64],
    ) -> Result<Self, BassError> {
        let frequencies = frequencies_hz.len();
        if points == 0 || candidates == 0 || frequencies == 0 {
            return Err(BassError::Empty { points, candidates, frequencies });
        }
        let expected = points.saturating_mul(candidates).saturating_mul(frequencies);
        if pressures_pa.len() != expected {
            return Err(BassError::Shape { expected, given: pressures_pa.len() });
        }
        CALCULATION_BYTES.check(expected.saturating_mul(size_of::<Complex64>()))?;
        if let Some(i) = pressures_pa.iter().position(|p| !p.is_finite()) {
            let (row, f) = (i / frequencies, i % frequencies);
            return Err(BassError::NotFinite {
                point: row / candidates + 1,
                candidate: row % candidates + 1,
                frequency_hz: frequencies_hz[f],
            });
        }
        let mut of_line = Vec::with_capacity(frequencies);
        for (i, &frequency_hz) in frequencies_hz.iter().enumerate() {
            let band = Band::containing(frequency_hz);
            of_line.push(band.ok_or(BassError::Frequency { number: i + 1, frequency_hz })?);
        }
        let mut bands = of_line.clone();
        bands.sort_unstable();
        bands.dedup();
        let band_of: Vec<usize> = of_line.iter().map(|b| bands.partition_point(|x| x < b)).collect();
        let lines_in = (0..bands.len()).map(|b| band_of.iter().filter(|&&x| x == b).count() as f64).collect();
        let mut pressures = vec![Complex64::default(); expected];
        for (i, &p) in pressures_pa.iter().enumerate() {
            if i.is_multiple_of(4096) {
                go_on();
            }
            let (row, f) = (i / frequencies, i % frequencies);
            let (point, candidate) = (row / candidates, row % candidates);
            pressures[(f * candidates + candidate) * points + point] = p / REFERENCE_PA;
        }
        Ok(Self {
            points,
            candidates,
            frequencies_hz: frequencies_hz.to_vec(),
            bands,
            band_of,
            lines_in,
            pressures,
        })
    }

    /// Points in the field.
    pub fn points(&self) -> usize {
        self.points
    }

    /// Candidates in the field.
    pub fn candidates(&self) -> usize {
        self.candidates
    }

    /// Bands that hold a frequency of the field, ascending.
    pub fn bands(&self) -> &[Band] {
        &self.bands
    }

    /// Pressures re 20 uPa of a candidate at all points, one frequency.
    pub(super) fn row(&self, frequency: usize, candidate: usize) -> &[Complex64] {
        let start = (frequency * self.candidates + candidate) * self.points;
        &self.pressures[start..start + self.points]
    }

    pub(super) fn check_setting(&self, setting: &[SubwooferSetting]) -> Result<(), BassError> {
        if setting.is_empty() {
            return Err(BassError::Count { count: 0, most: self.candidates });
        }
        for (i, s) in setting.iter().enumerate() {
            if s.candidate >= self.candidates || setting[..i].iter().any(|o| o.candidate == s.candidate) {
                return Err(BassError::Candidate {
                    number: i + 1,
                    candidate: s.candidate,
                    candidates: self.candidates,
                });
            }
            check_delay(s.delay_s)?;
        }
        Ok(())
    }
}

pub(super) fn check_delay(delay_s: f64) -> Result<(), BassError> {
    if (0.0..=LONGEST_DELAY_S).contains(&delay_s) { Ok(()) } else { Err(BassError::Delay { delay_s }) }
}

/// One subwoofer of a set: which candidate, and how its signal is treated.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SubwooferSetting {
    /// Place among the candidates, from 0.
    pub candidate: usize,
    /// Polarity reversed.
    pub reversed: bool,
    /// Delay set in the processor, s.
    pub delay_s: f64,
}

impl SubwooferSetting {
    /// What the signal is multiplied by at a frequency.
    pub(super) fn factor(&self, frequency_hz: f64) -> Complex64 {
        let sign = if self.reversed { -1.0 } else { 1.0 };
        Complex64::from_polar(sign, TAU * frequency_hz * self.delay_s)
    }
}

/// One third octave over the area.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct BassBand {
    /// Which.
    pub band: Band,
    /// Energy mean over the points, dB.
    pub level_db: f64,
    /// Standard deviation over the points, dB.
    pub deviation_db: f64,
    /// 90th less 10th percentile over the points, dB.
    pub spread_db: f64,
    /// Quietest point, dB.
    pub lowest_db: f64,
    /// Where that is, from 0.
    pub lowest_point: usize,
}

/// Levels of a set of subwoofers over the area.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BassLevels {
    /// Each band, ascending.
    pub bands: Vec<BassBand>,
    /// Energy mean over the points of all bands together, dB.
    pub level_db: f64,
    /// Mean over the bands of the standard deviation over the points, dB: how uneven the bass is from place to place.
    pub deviation_db: f64,
    /// Level at each point, all bands together, dB.
    pub points_db: Vec<f64>,
    /// Level per point and band, dB: one row of bands per point.
    pub point_bands_db: Vec<Vec<f64>>,
}

/// Levels of a set of subwoofers fed one signal: complex sum at each frequency, energy mean in each band.
///
/// # Errors
/// [`BassError`] for an empty set, an unknown or repeated candidate, or a delay that is none.
pub fn bass_levels(field: &BassField, setting: &[SubwooferSetting]) -> Result<BassLevels, BassError> {
    field.check_setting(setting)?;
    let mut energies = vec![vec![0.0; field.points]; field.bands.len()];
    for (f, &frequency_hz) in field.frequencies_hz.iter().enumerate() {
        go_on();
        let factors: Vec<Complex64> = setting.iter().map(|s| s.factor(frequency_hz)).collect();
        let band = &mut energies[field.band_of[f]];
        for (point, energy) in band.iter_mut().enumerate() {
            let sum: Complex64 =
                setting.iter().zip(&factors).map(|(s, k)| k * field.row(f, s.candidate)[point]).sum();
            *energy += sum.norm_sqr() / field.lines_in[field.band_of[f]];
        }
    }
    let by_band: Vec<Vec<f64>> =
        energies.into_iter().map(|band| band.into_iter().map(db_from_energy).collect()).collect();
    let bands: Vec<BassBand> =
        field.bands.iter().zip(&by_band).map(|(&band, levels)| one_band(band, levels)).collect();
    let point_bands_db: Vec<Vec<f64>> =
        (0..field.points).map(|p| by_band.iter().map(|levels| levels[p]).collect()).collect();
    Ok(BassLevels {
        level_db: sum_db(bands.iter().map(|b| b.level_db)),
        deviation_db: bands.iter().map(|b| b.deviation_db).sum::<f64>() / bands.len() as f64,
        points_db: point_bands_db.iter().map(|row| sum_db(row.iter().copied())).collect(),
        bands,
        point_bands_db,
    })
}

fn one_band(band: Band, levels_db: &[f64]) -> BassBand {
    let at = |fraction: f64| percentile(levels_db, fraction).unwrap_or_default();
    let (lowest_point, lowest_db) = levels_db
        .iter()
        .copied()
        .enumerate()
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .unwrap_or((0, crate::level::SILENCE_DB));
    BassBand {
        band,
        level_db: mean_db(levels_db.iter().copied()),
        deviation_db: standard_deviation(levels_db),
        spread_db: at(0.9) - at(0.1),
        lowest_db,
        lowest_point,
    }
}

/// Of the whole set of values, not of a sample.
pub(super) fn standard_deviation(values: &[f64]) -> f64 {
    let n = values.len().max(1) as f64;
    let mean = values.iter().sum::<f64>() / n;
    (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / n).sqrt()
}
