//! Time permitted in a sound.

use crate::{Answer, Calculator, Input, Inputs, Outcome, Output, Calculation, number};
use loamline_acoustics::{NIOSH_CEILING_DBA, niosh_permitted_s};
use loamline_model::Quantity;

pub static CALCULATOR: Calculator = Calculator {
    name: "exposure",
    purpose: "How long a person may stay in a steady level each day",
    inputs: &[Input::value("level", Quantity::Level, "A-weighted level").range(0.0, 200.0)],
    alternatives: &[],
    results: &[Output::quantity("permitted_s", Quantity::Duration, "time permitted per day; 0 above 140 dBA")],
    sources: &["NIOSH Publication 98-126 (1998), chapter 1: 85 dBA for 8 h, 3 dB exchange rate"],
    example: "level=\"94 dBA\"",
    run: Calculation::Values(run),
};

fn run(inputs: &Inputs) -> Outcome {
    let level_dba = inputs.value("level")?;
    let permitted_s = niosh_permitted_s(level_dba)?;
    let mut answer = Answer::new();
    if level_dba > NIOSH_CEILING_DBA {
        answer.working.note("no time is permitted above 140 dBA");
    } else {
        answer.working.step(
            "T = 8 h / 2^((L - 85) / 3)",
            format!("28800 s / 2^(({} - 85) / 3)", number(level_dba)),
            permitted_s,
            "s",
        );
    }
    answer.number("permitted_s", permitted_s);
    Ok(answer)
}
