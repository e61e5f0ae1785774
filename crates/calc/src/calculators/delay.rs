//! Time sound takes over a distance.

use crate::{Answer, Calculator, Input, Inputs, Outcome, Output, Calculation, number};
use loamline_acoustics::Air;
use loamline_model::Quantity;

pub static CALCULATOR: Calculator = Calculator {
    name: "delay",
    purpose: "Delay that makes up for a distance",
    inputs: &[
        Input::value("distance", Quantity::Length, "distance sound travels").range(0.0, 100_000.0),
        Input::value("temperature", Quantity::Temperature, "air temperature").range(-50.0, 60.0).default("20 C"),
    ],
    alternatives: &[],
    results: &[Output::quantity("delay_s", Quantity::Duration, "time sound takes")],
    sources: &["ISO 9613-1:1993 equation A.5 (speed of sound)"],
    example: "distance=12m temperature=25C",
    run: Calculation::Values(run),
};

fn run(inputs: &Inputs) -> Outcome {
    let (distance_m, temperature_c) = (inputs.value("distance")?, inputs.value("temperature")?);
    let reference = Air::default();
    let speed =
        Air::new(temperature_c, reference.humidity_percent(), reference.pressure_kpa())?.sound_speed_m_per_s();
    let delay_s = distance_m / speed;
    let mut answer = Answer::new();
    answer.number("delay_s", delay_s);
    answer.working.step(
        "c = 343.2 sqrt(T / 293.15)",
        format!("343.2 * sqrt({} / 293.15)", number(temperature_c + 273.15)),
        speed,
        "m/s",
    );
    answer.working.step("t = d / c", format!("{} / {}", number(distance_m), number(speed)), delay_s, "s");
    Ok(answer)
}
