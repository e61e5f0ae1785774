//! The longest run for a loss limit.

use super::wire::{CONSTRUCTION, SOURCES, TEMPERATURE, conductor};
use crate::{Answer, Calculator, Input, Inputs, Outcome, Output, Calculation, number};
use loamline_electrics::{longest_run_m, tap_impedance_ohm};
use loamline_model::Quantity;

pub static CALCULATOR: Calculator = Calculator {
    name: "longest-run",
    purpose: "How far a cable reaches within a loss limit",
    inputs: &[
        Input::gauge(),
        Input::conductor_area(),
        Input::value("volts", Quantity::Voltage, "voltage at the amplifier").above(0.0),
        Input::value("watts", Quantity::Power, "power of the load at the end").above(0.0),
        Input::value("loss", Quantity::Level, "level that may be lost").above(0.0).default("0.5 dB"),
        TEMPERATURE,
        CONSTRUCTION,
    ],
    alternatives: &[&[&["gauge"], &["area"]]],
    results: &[Output::quantity("length_m", Quantity::Length, "longest run, one way")],
    sources: SOURCES,
    example: "gauge=14 volts=70.7 watts=60 loss=0.5",
    run: Calculation::Values(run),
};

fn run(inputs: &Inputs) -> Outcome {
    let mut answer = Answer::new();
    let (_, resistance) = conductor(inputs, &mut answer)?;
    let (volts, watts, loss_db) = (inputs.value("volts")?, inputs.value("watts")?, inputs.value("loss")?);
    let length = longest_run_m(resistance, volts, watts, loss_db)?;
    let load_ohm = tap_impedance_ohm(volts, watts);
    let loop_ohm = load_ohm * (10f64.powf(loss_db / 20.0) - 1.0);
    answer.working.step("Z = V^2 / P", format!("{}^2 / {}", number(volts), number(watts)), load_ohm, "ohm");
    answer.working.step(
        "R = Z (10^(loss/20) - 1)",
        format!("{} * (10^({}/20) - 1)", number(load_ohm), number(loss_db)),
        loop_ohm,
        "ohm",
    );
    answer.working.step(
        "l = R / (2 r)",
        format!("{} / (2 * {} / 1000)", number(loop_ohm), number(resistance)),
        length,
        "m",
    );
    answer.number("length_m", length);
    Ok(answer)
}
