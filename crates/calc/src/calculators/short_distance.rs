//! Distance to a short from a DC reading.

use super::wire::{CONSTRUCTION, SOURCES, TEMPERATURE, conductor};
use crate::{Answer, Calculator, Input, Inputs, Outcome, Output, Run, number};
use loamline_electrics::short_distance_m;
use loamline_model::Quantity;

pub static CALCULATOR: Calculator = Calculator {
    name: "short-distance",
    purpose: "How far away a short is, from the loop resistance an ohmmeter reads",
    inputs: &[
        Input::value("loop_resistance", Quantity::Impedance, "DC reading, meter leads subtracted")
            .range(0.0, 1.0e6),
        Input::gauge(),
        Input::conductor_area(),
        TEMPERATURE,
        CONSTRUCTION,
    ],
    alternatives: &[&[&["gauge"], &["area"]]],
    results: &[Output::quantity("distance_m", Quantity::Length, "cable length to the short")],
    sources: SOURCES,
    example: "loop_resistance=0.83ohm gauge=14",
    run: Run::Values(run),
};

fn run(inputs: &Inputs) -> Outcome {
    let mut answer = Answer::new();
    let (_, resistance) = conductor(inputs, &mut answer)?;
    let loop_ohm = inputs.value("loop_resistance")?;
    let distance = short_distance_m(loop_ohm, resistance)?;
    answer.working.step(
        "d = R / (2 r)",
        format!("{} / (2 * {} / 1000)", number(loop_ohm), number(resistance)),
        distance,
        "m",
    );
    answer.working.note("a clean short is assumed, and nothing else that conducts at DC before it");
    answer.number("distance_m", distance);
    Ok(answer)
}
