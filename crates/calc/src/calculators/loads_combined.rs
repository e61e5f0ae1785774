//! Impedances in series and in parallel.

use crate::{Answer, Calculator, Input, Inputs, Outcome, Output, Calculation, number};
use loamline_electrics::Loudspeaker;
use loamline_model::Quantity;

pub static CALCULATOR: Calculator = Calculator {
    name: "loads-combined",
    purpose: "Impedance of loudspeakers wired in series or in parallel",
    inputs: &[
        Input::list("impedances", Quantity::Impedance, "nominal impedances").above(0.0),
        Input::choice("arrangement", &["series", "parallel"], "how they are wired"),
    ],
    alternatives: &[],
    results: &[Output::quantity("impedance_ohm", Quantity::Impedance, "of all together")],
    sources: &["series: sum of impedances; parallel: reciprocal of the sum of reciprocals (Kirchhoff)"],
    example: "impedances=8,8,4 arrangement=parallel",
    run: Calculation::Values(run),
};

fn run(inputs: &Inputs) -> Outcome {
    let impedances = inputs.list("impedances")?;
    let members: Vec<_> = impedances.iter().map(|ohm| Loudspeaker::resistance(*ohm)).collect();
    let in_series = inputs.choice("arrangement")? == "series";
    let group = if in_series { Loudspeaker::Series(members) } else { Loudspeaker::Parallel(members) };
    let total = group.impedance_ohm(1000.0).re;
    let mut answer = Answer::new();
    let numbers = impedances.iter().map(|ohm| number(*ohm));
    if in_series {
        answer.working.step("Z = sum of Zi", numbers.collect::<Vec<_>>().join(" + "), total, "ohm");
    } else {
        let sum = numbers.map(|ohm| format!("1/{ohm}")).collect::<Vec<_>>().join(" + ");
        answer.working.step("Z = 1 / sum of 1/Zi", format!("1 / ({sum})"), total, "ohm");
    }
    answer.number("impedance_ohm", total);
    Ok(answer)
}
