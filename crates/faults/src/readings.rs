//! What a meter shows, and what is to be read with it.

use serde::{Deserialize, Serialize};

use crate::error::FaultError;
use crate::places::Place;

pub use loamline_terms::Shown;

/// A reading, amplifier disconnected.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MeterReading {
    /// Where the meter is connected.
    pub place: Place,
    /// Meter frequency in Hz, 0 for DC.
    pub frequency_hz: f64,
    /// What it shows.
    pub shown: Shown,
    /// The phase of the impedance in radians, where the meter shows it; positive for inductive.
    pub phase_rad: Option<f64>,
}

impl MeterReading {
    /// A reading at the rack without phase.
    #[must_use]
    pub fn at_rack(frequency_hz: f64, shown: Shown) -> Self {
        Self { place: Place::Rack, frequency_hz, shown, phase_rad: None }
    }
}

/// What is to be read at one place.
#[derive(Debug, Clone, PartialEq)]
pub struct Setup {
    /// Where.
    pub place: Place,
    /// Frequencies in Hz, 0 for DC.
    pub frequencies_hz: Vec<f64>,
    /// The meter shows phases as well.
    pub phases: bool,
}

/// Checks readings; none at all is fine where something else was seen.
pub(crate) fn check_readings(readings: &[MeterReading]) -> Result<(), FaultError> {
    for (index, reading) in readings.iter().enumerate() {
        let frequency_hz = reading.frequency_hz;
        if let Shown::Ohm(ohm) = reading.shown
            && !(ohm.is_finite() && ohm >= 0.0)
        {
            return Err(FaultError::BadReading { frequency_hz, ohm });
        }
        if let Some(phase) = reading.phase_rad
            && !(phase.abs() <= std::f64::consts::PI && frequency_hz > 0.0)
        {
            return Err(FaultError::BadPhase { frequency_hz, degrees: phase.to_degrees() });
        }
        let twice = |other: &MeterReading| {
            other.place == reading.place && (other.frequency_hz - frequency_hz).abs() < 1e-6
        };
        if readings[..index].iter().any(twice) {
            return Err(FaultError::ReadTwice { frequency_hz });
        }
    }
    Ok(())
}

/// The places and frequencies of readings, in the order they were given.
pub(crate) fn setups(readings: &[MeterReading]) -> Vec<Setup> {
    let mut all: Vec<Setup> = Vec::new();
    for reading in readings {
        let phases = reading.phase_rad.is_some();
        match all.iter_mut().find(|setup| setup.place == reading.place) {
            Some(setup) => {
                setup.frequencies_hz.push(reading.frequency_hz);
                setup.phases |= phases;
            }
            None => all.push(Setup {
                place: reading.place.clone(),
                frequencies_hz: vec![reading.frequency_hz],
                phases,
            }),
        }
    }
    all
}
