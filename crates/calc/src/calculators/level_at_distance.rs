//! Level of a small source at another distance.

use crate::error::Refusal;
use crate::{Answer, Calculator, Input, Inputs, Outcome, Output, Calculation, number};
use loamline_acoustics::level_at_distance_db;
use loamline_model::Quantity;

pub static CALCULATOR: Calculator = Calculator {
    name: "level-at-distance",
    purpose: "Level of one loudspeaker in the open at another distance",
    inputs: &[
        Input::value("level", Quantity::Level, "level at the reference distance").range(-300.0, 300.0),
        Input::value("reference", Quantity::Length, "reference distance").above(0.0).default("1 m"),
        Input::value("distance", Quantity::Length, "distance asked for").above(0.0),
    ],
    alternatives: &[],
    results: &[Output::quantity("level_db", Quantity::Level, "level there; without air absorption")],
    sources: &["inverse square law"],
    example: "level=96dB reference=1m distance=12m",
    run: Calculation::Values(run),
};

fn run(inputs: &Inputs) -> Outcome {
    let (level_db, reference_m) = (inputs.value("level")?, inputs.value("reference")?);
    let distance_m = inputs.value("distance")?;
    let there_db = level_at_distance_db(level_db, reference_m, distance_m).ok_or_else(|| {
        Refusal::new(format!("distances of {reference_m} m and {distance_m} m must be above 0 and finite"))
    })?;
    let mut answer = Answer::new();
    answer.number("level_db", there_db);
    answer.working.step(
        "L = level - 20 lg(distance / reference)",
        format!("{} - 20 lg({} / {})", number(level_db), number(distance_m), number(reference_m)),
        there_db,
        "dB",
    );
    Ok(answer)
}
