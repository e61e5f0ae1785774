//! Readings of a meter as they are typed.

use super::expect::frequency;
use crate::failure::Failure;
use loamline_faults::{MeterReading, Place, Shown};
use loamline_model::Quantity;

/// A reading as typed: `z@1kHz=61ohm`, `z@1kHz=61ohm,12deg`, `dc=2.9ohm`, `dc=open`, `L3:dc=2.9ohm`.
pub(super) fn reading(text: &str) -> Result<MeterReading, Failure> {
    let wrong = |why: &str| {
        Failure::input(format!(
            "--reading {text}: {why}; write for example z@1kHz=61ohm, dc=2.9ohm, dc=open or L3:z@1kHz=61ohm"
        ))
    };
    let (what, value) = text.split_once('=').ok_or_else(|| wrong("there is no = in it"))?;
    let (place, what) = match what.split_once(':') {
        Some((joint, what)) => (Place::Downstream(joint.trim().to_owned()), what.trim()),
        None => (Place::Rack, what.trim()),
    };
    let frequency_hz = match what.split_once('@') {
        None if what.eq_ignore_ascii_case("dc") => 0.0,
        Some((z, f)) if z.trim().eq_ignore_ascii_case("z") => frequency(f.trim())?,
        _ => return Err(wrong("it is neither dc nor z@FREQUENCY")),
    };
    if value.trim().eq_ignore_ascii_case("open") {
        return Ok(MeterReading { place, frequency_hz, shown: Shown::Open, phase_rad: None });
    }
    let (ohms, phase) = match value.split_once(',') {
        Some((ohms, phase)) => (ohms.trim(), Some(phase.trim())),
        None => (value.trim(), None),
    };
    let with_unit = |quantity: Quantity, value: &str| {
        if value.parse::<f64>().is_ok() {
            return Err(wrong("the unit is missing"));
        }
        quantity.parse(value).map_err(|e| wrong(&e.to_string()))
    };
    let ohm = with_unit(Quantity::Impedance, ohms)?;
    if ohm < 0.0 {
        return Err(wrong("a resistance is not negative"));
    }
    let phase_rad = phase.map(|p| with_unit(Quantity::Angle, p)).transpose()?.map(f64::to_radians);
    Ok(MeterReading { place, frequency_hz, shown: Shown::Ohm(ohm), phase_rad })
}
