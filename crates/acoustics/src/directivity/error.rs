//! Data that cannot be a loudspeaker's directivity.

use thiserror::Error;

/// Data that cannot be a loudspeaker's directivity.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum DirectivityError {
    /// Piston diameter out of range.
    #[error("the piston diameter must be 0.005 to 2 m; {diameter_m} m is not")]
    Diameter {
        /// What was given, m.
        diameter_m: f64,
    },
    /// No frequency at all.
    #[error("the directivity has no frequencies; give at least one")]
    NoFrequencies,
    /// A frequency out of range or out of order.
    #[error(
        "directivity frequencies must rise from one to the next and lie in 1 Hz to 100 kHz; entry {entry}, {frequency_hz} Hz, does not"
    )]
    Frequencies {
        /// Which entry, from 1.
        entry: usize,
        /// What was given, Hz.
        frequency_hz: f64,
    },
    /// A coverage angle out of range.
    #[error("a coverage angle must be 5 to 360 degrees; {angle_deg} degrees at {frequency_hz} Hz is not")]
    CoverageAngle {
        /// What was given, degrees.
        angle_deg: f64,
        /// At which frequency, Hz.
        frequency_hz: f64,
    },
    /// Rear floor out of range.
    #[error("the level behind must be 7 to 80 dB below the axis; {floor_db} dB is not")]
    Floor {
        /// What was given, dB below the axis.
        floor_db: f64,
    },
    /// Arrays of different sizes.
    #[error("measured directivity: {directions} directions by {frequencies} frequencies need {} values; there are {real} real and {imaginary} imaginary ones (imaginary may be left out)", directions * frequencies)]
    GridShape {
        /// Directions given.
        directions: usize,
        /// Frequencies given.
        frequencies: usize,
        /// Real values given.
        real: usize,
        /// Imaginary values given.
        imaginary: usize,
    },
    /// A value that is not a number.
    #[error("measured directivity: every value must be a finite number")]
    GridNotFinite,
    /// An impossible direction.
    #[error(
        "measured directivity: direction {row} has azimuth {azimuth_deg} and elevation {elevation_deg} degrees; elevation must be -90 to 90"
    )]
    GridDirection {
        /// Which direction, from 1.
        row: usize,
        /// Azimuth given, degrees.
        azimuth_deg: f64,
        /// Elevation given, degrees.
        elevation_deg: f64,
    },
    /// A part of the sphere was not measured.
    #[error(
        "measured directivity: a gap of {gap_deg:.1} degrees at elevation {elevation_deg:.1} degrees is too wide to fill in; directions must lie on rings of equal elevation with at most 60 degrees between neighbours"
    )]
    GridHole {
        /// Width of the gap, degrees.
        gap_deg: f64,
        /// Elevation of the ring next to it, degrees.
        elevation_deg: f64,
    },
    /// Nothing straight ahead to relate the rest to.
    #[error(
        "measured directivity: there is no sound straight ahead at {frequency_hz} Hz, so nothing to relate the other directions to"
    )]
    GridSilentAhead {
        /// At which frequency, Hz.
        frequency_hz: f64,
    },
}

/// Checks that frequencies, in Hz, rise from one to the next within 1 Hz to 100 kHz and that there are any.
///
/// # Errors
/// [`DirectivityError::NoFrequencies`], [`DirectivityError::Frequencies`].
pub(super) fn check_frequencies(frequencies_hz: impl Iterator<Item = f64>) -> Result<(), DirectivityError> {
    let mut last = None;
    for (i, frequency_hz) in frequencies_hz.enumerate() {
        if !(1.0..=100_000.0).contains(&frequency_hz) || last.is_some_and(|l| frequency_hz <= l) {
            return Err(DirectivityError::Frequencies { entry: i + 1, frequency_hz });
        }
        last = Some(frequency_hz);
    }
    if last.is_none() { Err(DirectivityError::NoFrequencies) } else { Ok(()) }
}
