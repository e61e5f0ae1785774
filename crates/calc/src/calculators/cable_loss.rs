//! Loss in a run to one load.

use super::wire::{CONSTRUCTION, SOURCES, TEMPERATURE, conductor};
use crate::{Answer, Calculator, Input, Inputs, Outcome, Output, Calculation, number};
use loamline_electrics::cable_loss;
use loamline_model::Quantity;

pub static CALCULATOR: Calculator = Calculator {
    name: "cable-loss",
    purpose: "What a load at the end of a cable gets, and the level lost on the way",
    inputs: &[
        Input::gauge(),
        Input::conductor_area(),
        Input::value("length", Quantity::Length, "one way").above(0.0),
        Input::value("volts", Quantity::Voltage, "voltage at the amplifier").above(0.0),
        Input::value("watts", Quantity::Power, "power the load takes at that voltage").above(0.0),
        TEMPERATURE,
        CONSTRUCTION,
    ],
    alternatives: &[&[&["gauge"], &["area"]]],
    results: &[
        Output::quantity("loop_resistance_ohm", Quantity::Impedance, "both conductors"),
        Output::quantity("load_voltage_v", Quantity::Voltage, "voltage at the load"),
        Output::quantity("load_power_w", Quantity::Power, "power in the load"),
        Output::quantity("loss_db", Quantity::Level, "level lost (positive)"),
    ],
    sources: SOURCES,
    example: "gauge=14 length=30 volts=70.7 watts=60",
    run: Calculation::Values(run),
};

fn run(inputs: &Inputs) -> Outcome {
    let mut answer = Answer::new();
    let (_, resistance) = conductor(inputs, &mut answer)?;
    let (length, volts, watts) = (inputs.value("length")?, inputs.value("volts")?, inputs.value("watts")?);
    let loss = cable_loss(resistance, length, volts, watts)?;
    let (loop_ohm, load_ohm) = (loss.loop_resistance_ohm, loss.load_ohm);
    answer.working.step("R = 2 r l", format!("2 * {} / 1000 * {}", number(resistance), number(length)), loop_ohm, "ohm");
    answer.working.step("Z = V^2 / P", format!("{}^2 / {}", number(volts), number(watts)), load_ohm, "ohm");
    answer.working.step(
        "VL = V Z / (Z + R)",
        format!("{} * {} / ({} + {})", number(volts), number(load_ohm), number(load_ohm), number(loop_ohm)),
        loss.load_voltage_v,
        "V",
    );
    answer.working.step(
        "PL = VL^2 / Z",
        format!("{}^2 / {}", number(loss.load_voltage_v), number(load_ohm)),
        loss.load_power_w,
        "W",
    );
    answer.working.step(
        "20 lg(V / VL)",
        format!("20 lg({} / {})", number(volts), number(loss.load_voltage_v)),
        loss.loss_db,
        "dB",
    );
    answer.number("loop_resistance_ohm", loop_ohm);
    answer.number("load_voltage_v", loss.load_voltage_v);
    answer.number("load_power_w", loss.load_power_w);
    answer.number("loss_db", loss.loss_db);
    answer.source("load taken as the resistance V^2 / P at the end of the run");
    Ok(answer)
}
