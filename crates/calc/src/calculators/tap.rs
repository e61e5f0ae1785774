//! A transformer tap: impedance and power.

use crate::{Answer, Calculator, Input, Inputs, Outcome, Output, Calculation, number};
use loamline_electrics::{tap_impedance_ohm, tap_power_w};
use loamline_model::Quantity;

pub static CALCULATOR: Calculator = Calculator {
    name: "tap",
    purpose: "Impedance of a transformer tap, or the power an impedance takes",
    inputs: &[
        Input::value("volts", Quantity::Voltage, "line voltage").above(0.0),
        Input::value("watts", Quantity::Power, "power of the tap").above(0.0).optional(),
        Input::value("impedance", Quantity::Impedance, "impedance at the line").above(0.0).optional(),
    ],
    alternatives: &[&[&["watts"], &["impedance"]]],
    results: &[
        Output::quantity("impedance_ohm", Quantity::Impedance, "impedance of the tap"),
        Output::quantity("watts", Quantity::Power, "power it takes from the line"),
    ],
    sources: &["Z = V^2 / P (Joule's law)"],
    example: "volts=70.7 watts=30",
    run: Calculation::Values(run),
};

fn run(inputs: &Inputs) -> Outcome {
    let volts = inputs.value("volts")?;
    let mut answer = Answer::new();
    let (impedance, watts) = match inputs.maybe("impedance") {
        Some(impedance) => {
            let watts = tap_power_w(volts, impedance);
            answer.working.step("P = V^2 / Z", format!("{}^2 / {}", number(volts), number(impedance)), watts, "W");
            (impedance, watts)
        }
        None => {
            let watts = inputs.value("watts")?;
            let impedance = tap_impedance_ohm(volts, watts);
            answer.working.step("Z = V^2 / P", format!("{}^2 / {}", number(volts), number(watts)), impedance, "ohm");
            (impedance, watts)
        }
    };
    answer.number("impedance_ohm", impedance);
    answer.number("watts", watts);
    Ok(answer)
}
