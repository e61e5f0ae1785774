//! Speed of sound in air.

use crate::{Answer, Calculator, Input, Inputs, Outcome, Output, Calculation, number};
use loamline_acoustics::Air;
use loamline_model::Quantity;

pub static CALCULATOR: Calculator = Calculator {
    name: "sound-speed",
    purpose: "Speed of sound in air at a temperature",
    inputs: &[Input::value("temperature", Quantity::Temperature, "air temperature")
        .range(-50.0, 60.0)
        .default("20 C")],
    alternatives: &[],
    results: &[Output::quantity("speed_m_per_s", Quantity::Speed, "speed of sound")],
    sources: &["ISO 9613-1:1993 equation A.5"],
    example: "temperature=25C",
    run: Calculation::Values(run),
};

fn run(inputs: &Inputs) -> Outcome {
    let temperature_c = inputs.value("temperature")?;
    let reference = Air::default();
    let speed =
        Air::new(temperature_c, reference.humidity_percent(), reference.pressure_kpa())?.sound_speed_m_per_s();
    let mut answer = Answer::new();
    answer.number("speed_m_per_s", speed);
    answer.working.step(
        "c = 343.2 sqrt(T / 293.15)",
        format!("343.2 * sqrt({} / 293.15)", number(temperature_c + 273.15)),
        speed,
        "m/s",
    );
    Ok(answer)
}
