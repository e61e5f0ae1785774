//! Sum of levels.

use crate::{Answer, Calculator, Input, Inputs, Outcome, Output, Calculation, number};
use loamline_acoustics::sum_db;
use loamline_model::Quantity;

pub static CALCULATOR: Calculator = Calculator {
    name: "level-sum",
    purpose: "Level of several sources together, added in energy",
    inputs: &[Input::list("levels", Quantity::Level, "levels to add").range(-300.0, 300.0)],
    alternatives: &[],
    results: &[Output::quantity("level_db", Quantity::Level, "level of all together")],
    sources: &["energy sum: 10 lg of the sum of 10^(L/10); sources that are not in step"],
    example: "levels=78,81,75.5",
    run: Calculation::Values(run),
};

fn run(inputs: &Inputs) -> Outcome {
    let levels = inputs.list("levels")?;
    let sum = sum_db(levels.iter().copied());
    let mut answer = Answer::new();
    answer.number("level_db", sum);
    let terms = levels.iter().map(|l| format!("10^({}/10)", number(*l))).collect::<Vec<_>>().join(" + ");
    answer.working.step("L = 10 lg(sum of 10^(Li/10))", format!("10 lg({terms})"), sum, "dB");
    Ok(answer)
}
