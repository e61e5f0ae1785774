//! Distance to a short from a DC reading, with its interval.
//!
//! d = R / (2 r) (two conductors, there and back). Independent relative errors of the reading (u_m, and
//! the floor of meter and leads over R), of the cable's resistance and of its temperature add by squares; the interval is 1.96 of their root.

use super::wire::{CONSTRUCTION, SOURCES, TEMPERATURE, conductor};
use crate::{Answer, Calculator, Input, Inputs, Outcome, Output, Calculation, number};
use loamline_electrics::{COPPER_COEFFICIENT_PER_K, short_distance_m};
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
        Input::value("meter_error", Quantity::Fraction, "of the reading, standard deviation (common practice, no source)")
            .range(0.0, 0.5)
            .default("1%"),
        Input::value("meter_floor", Quantity::Impedance, "of meter and leads, standard deviation (common practice, no source)")
            .range(0.0, 10.0)
            .default("0.05 ohm"),
        Input::value("cable_error", Quantity::Fraction, "of the cable's resistance per metre, standard deviation (common practice, no source)")
            .range(0.0, 0.5)
            .default("2%"),
        Input::value("temperature_spread", Quantity::Number, "of the conductor against its temperature, kelvin, standard deviation (common practice, no source)")
            .range(0.0, 60.0)
            .default("8"),
    ],
    alternatives: &[&[&["gauge"], &["area"]]],
    results: &[
        Output::quantity("distance_m", Quantity::Length, "cable length to the short"),
        Output::quantity("low_m", Quantity::Length, "near end of the interval that holds it 95 times in 100"),
        Output::quantity("high_m", Quantity::Length, "far end of the interval that holds it 95 times in 100"),
    ],
    sources: SOURCES,
    example: "loop_resistance=0.83ohm gauge=14",
    run: Calculation::Values(run),
};

/// 95 % of a normal variable lie within this many standard deviations.
const TWO_SIDED_95: f64 = 1.959_964;

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
    let warm = COPPER_COEFFICIENT_PER_K / (1.0 + COPPER_COEFFICIENT_PER_K * (inputs.value("temperature")? - 20.0));
    let cable = inputs.value("cable_error")?.hypot(warm * inputs.value("temperature_spread")?);
    let own = inputs.value("meter_error")? * distance;
    let floor = short_distance_m(inputs.value("meter_floor")?, resistance)?;
    let deviation = own.hypot(floor).hypot(cable * distance);
    answer.working.step(
        "u = sqrt((d u_m)^2 + (u_floor / (2 r))^2 + d^2 (u_cable^2 + u_temperature^2))",
        format!("sqrt({}^2 + {}^2 + {}^2)", number(own), number(floor), number(cable * distance)),
        deviation,
        "m",
    );
    answer.working.note("the interval is d - 1.96 u to d + 1.96 u, not below nothing");
    answer.working.note("a clean short is assumed, and nothing else that conducts at DC before it");
    answer.number("distance_m", distance);
    answer.number("low_m", (distance - TWO_SIDED_95 * deviation).max(0.0));
    answer.number("high_m", distance + TWO_SIDED_95 * deviation);
    Ok(answer)
}
