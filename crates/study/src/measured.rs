//! What was measured, and how it is written.

use loamline_terms::meter_digits;
use serde::Serialize;

/// What a reading, or a series of readings, is of.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Measured {
    /// |Z| at a frequency in hertz; 0 is the resistance of the loop at direct current.
    Loop(f64),
    /// Resistance from the conductors to earth.
    Leakage,
}

/// Ohms with three meaningful digits and their unit.
#[must_use]
pub fn ohms(ohm: f64) -> String {
    let (value, unit) = match ohm {
        _ if ohm >= 1e6 => (ohm / 1e6, "Mohm"),
        _ if ohm >= 1e4 => (ohm / 1e3, "kohm"),
        _ => (ohm, "ohm"),
    };
    format!("{} {unit}", meter_digits(value))
}

/// Something measured, as a person names it: `DC`, `1 kHz`, `to earth`.
#[must_use]
pub fn measured_words(measured: Measured) -> String {
    match measured {
        Measured::Leakage => "to earth".to_owned(),
        Measured::Loop(hz) if hz <= 0.0 => "DC".to_owned(),
        Measured::Loop(hz) if hz >= 1000.0 => format!("{} kHz", hz / 1000.0),
        Measured::Loop(hz) => format!("{hz} Hz"),
    }
}
