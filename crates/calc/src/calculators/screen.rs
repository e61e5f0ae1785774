//! Loss over the edge of a wall or solid fence.

use crate::{Answer, Calculator, Input, Inputs, Outcome, Output, Calculation, number};
use loamline_acoustics::{Air, screen_loss_db};
use loamline_model::Quantity;

pub static CALCULATOR: Calculator = Calculator {
    name: "screen",
    purpose: "What a wall or solid fence takes away, by how much longer the way over it is",
    inputs: &[
        Input::value(
            "path_difference",
            Quantity::Length,
            "way over the edge less the straight line; negative when the line passes clear of the edge",
        )
        .range(-10_000.0, 10_000.0),
        Input::value("frequency", Quantity::Frequency, "frequency").range(10.0, 30_000.0),
        Input::value("temperature", Quantity::Temperature, "air temperature").range(-50.0, 60.0).default("20 C"),
    ],
    alternatives: &[],
    results: &[Output::unit("loss_db", "dB", "loss over the edge, at most 24 dB")],
    sources: &["Kurze and Anderson, Appl. Acoust. 4 (1971)"],
    example: "path_difference=0.2m frequency=500",
    run: Calculation::Values(run),
};

fn run(inputs: &Inputs) -> Outcome {
    let (difference_m, frequency_hz) = (inputs.value("path_difference")?, inputs.value("frequency")?);
    let temperature_c = inputs.value("temperature")?;
    let loss_db = screen_loss_db(difference_m, frequency_hz, temperature_c)?;
    let reference = Air::default();
    let speed =
        Air::new(temperature_c, reference.humidity_percent(), reference.pressure_kpa())?.sound_speed_m_per_s();
    let fresnel = 2.0 * difference_m * frequency_hz / speed;
    let mut answer = Answer::new();
    answer.number("loss_db", loss_db);
    answer.working.step(
        "N = 2 d f / c",
        format!("2 * {} * {} / {}", number(difference_m), number(frequency_hz), number(speed)),
        fresnel,
        "",
    );
    let rule = if fresnel >= 0.0 {
        "loss = 5 + 20 lg(sqrt(2 pi N) / tanh sqrt(2 pi N)), at most 24 dB"
    } else {
        "loss = 5 + 20 lg(sqrt(2 pi |N|) / tan sqrt(2 pi |N|)), at least 0 dB, none below N = -0.2"
    };
    answer.working.step(rule, format!("N = {}", number(fresnel)), loss_db, "dB");
    Ok(answer)
}
