//! How sure a prediction is: the reading's logarithm as a normal variable.
//!
//! Lengths (each run its own), conductor temperature (one for the line), loudspeakers and windings (each its own, AC and DC
//! separately because a voice coil and a transformer winding err independently) and the meter are independent normal
//! errors; they are carried to ln|Z| by the sensitivities of `loamline_electrics::Probe` (first order). Readings at several
//! frequencies share the line's errors, so their covariance is kept.

use loamline_electrics::{COPPER_COEFFICIENT_PER_K, Change, Examined, Network, Probe};
use serde::{Deserialize, Serialize};

use crate::error::FaultError;

/// Standard deviations of everything that makes a true line read otherwise than drawn. Defaults are common practice,
/// no source.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Tolerances {
    /// Length of each run, relative.
    pub length: f64,
    /// Conductor temperature against the one the line was described at, K.
    pub temperature_k: f64,
    /// Impedance of each load at AC, relative.
    pub load: f64,
    /// DC resistance of each load (winding or coil), relative.
    pub load_dc: f64,
    /// Meter, relative.
    pub meter: f64,
    /// Meter and leads, ohm.
    pub meter_floor_ohm: f64,
    /// Above this the meter shows an open line, ohm.
    pub meter_range_ohm: f64,
}

impl Default for Tolerances {
    fn default() -> Self {
        Self {
            length: 0.04,
            temperature_k: 8.0,
            load: 0.06,
            load_dc: 0.08,
            meter: 0.015,
            meter_floor_ohm: 0.05,
            meter_range_ohm: 20_000.0,
        }
    }
}

impl Tolerances {
    /// Checks every value.
    ///
    /// # Errors
    /// The first one outside its range.
    pub fn check(&self) -> Result<(), FaultError> {
        let relative = [
            ("length tolerance", self.length),
            ("load tolerance", self.load),
            ("DC load tolerance", self.load_dc),
            ("meter error", self.meter),
        ];
        for (name, value) in relative {
            if !(0.0..=0.5).contains(&value) {
                return Err(FaultError::BadTolerance { name, value, expected: "from 0 to 0.5 (50 %)" });
            }
        }
        if !(0.0..=60.0).contains(&self.temperature_k) {
            let value = self.temperature_k;
            return Err(FaultError::BadTolerance {
                name: "temperature spread",
                value,
                expected: "from 0 to 60 K",
            });
        }
        for (name, value) in [("meter floor", self.meter_floor_ohm), ("meter range", self.meter_range_ohm)] {
            if !(value.is_finite() && value > 0.0) {
                return Err(FaultError::BadTolerance { name, value, expected: "above zero ohm" });
            }
        }
        Ok(())
    }
}

/// ln|Z| of one reading: its mean and how each independent error, one standard deviation of it, moves it.
#[derive(Debug, Clone)]
pub(crate) struct LogReading {
    pub(crate) mean: f64,
    pub(crate) moves: Vec<f64>,
    /// Variance of the meter alone.
    pub(crate) meter: f64,
}

impl LogReading {
    pub(crate) fn variance(&self) -> f64 {
        self.meter + self.moves.iter().map(|m| m * m).sum::<f64>()
    }

    pub(crate) fn covariance(&self, other: &Self) -> f64 {
        self.moves.iter().zip(&other.moves).map(|(a, b)| a * b).sum()
    }
}

/// Per frequency of `probe`, the reading with `changes` applied; `None` where the meter shows an open line.
pub(crate) fn log_readings(
    probe: &Probe,
    changes: &[Change],
    tolerances: &Tolerances,
) -> Vec<Option<LogReading>> {
    probe
        .examine(changes)
        .into_iter()
        .zip(probe.frequencies_hz())
        .map(|(examined, &f)| log_reading(probe.network(), &examined, f, tolerances))
        .collect()
}

fn log_reading(
    network: &Network,
    examined: &Examined,
    frequency_hz: f64,
    tolerances: &Tolerances,
) -> Option<LogReading> {
    let z = examined.impedance_ohm?;
    let ohm = z.norm();
    if ohm > tolerances.meter_range_ohm {
        return None;
    }
    let ohm = ohm.max(1e-4);
    let relative = |d: &loamline_electrics::Complex64| (d / z).re;
    let loads = network.load_names().len();
    let mut moves: Vec<f64> = examined.per_run_ohm.iter().map(|d| tolerances.length * relative(d)).collect();
    let copper: f64 = examined.per_run_resistance_ohm.iter().map(relative).sum();
    moves.push(tolerances.temperature_k * COPPER_COEFFICIENT_PER_K * copper);
    let (ac, dc) = if frequency_hz > 0.0 { (tolerances.load, 0.0) } else { (0.0, tolerances.load_dc) };
    for tolerance in [ac, dc] {
        moves.extend(examined.per_load_ohm.iter().take(loads).map(|d| tolerance * relative(d)));
    }
    let floor = tolerances.meter_floor_ohm / ohm;
    Some(LogReading { mean: ohm.ln(), moves, meter: tolerances.meter.powi(2) + floor * floor })
}
