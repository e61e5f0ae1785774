//! Tolerances as typed.

use crate::args::ToleranceArguments;
use crate::failure::Failure;
use loamline_faults::{LoadTolerances, Tolerances};
use loamline_model::Quantity;

pub fn tolerances(typed: &ToleranceArguments) -> Result<Tolerances, Failure> {
    let usual = Tolerances::default();
    let length = share("--length-tolerance", &typed.length_tolerance)?;
    let component = share("--component-tolerance", &typed.component_tolerance)?;
    let floor = Quantity::Impedance
        .parse(&typed.meter_floor)
        .map_err(|e| Failure::input(format!("--meter-floor {}: {e}", typed.meter_floor)))?;
    let tolerances = Tolerances {
        length,
        // What all lengths have in common keeps its proportion to what each has of its own.
        length_common: usual.length_common * length / usual.length,
        temperature_k: typed.temperature_spread,
        load: usual.load.scaled(component / LoadTolerances::default().coil),
        meter: share("--meter-error", &typed.meter_error)?,
        meter_floor_ohm: floor,
        ..usual
    };
    tolerances.check().map_err(Failure::input)?;
    Ok(tolerances)
}

fn share(name: &str, text: &str) -> Result<f64, Failure> {
    Quantity::Fraction.parse(text).map_err(|e| Failure::input(format!("{name} {text}: {e}")))
}
