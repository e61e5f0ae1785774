//! How full a conduit is.

use crate::error::Refusal;
use crate::{Answer, Calculator, Input, Inputs, Outcome, Output, Calculation, number};
use loamline_model::Quantity;
use loamline_routing::{ConduitType, conduit_fill, inside_diameter_mm};

pub static CALCULATOR: Calculator = Calculator {
    name: "conduit-fill",
    purpose: "How full cables make a conduit, and how full it may be",
    inputs: &[
        Input::text("conduit", "inside diameter, or trade size (such as 1-1/4) with a type"),
        Input::choice("type", &["emt", "ent", "imc", "rmc", "pvc40", "pvc80"], "type, with a trade size").optional(),
        Input::list("cables", Quantity::Length, "outside diameter of each cable").above(0.0),
        Input::value("length", Quantity::Length, "length of the conduit; up to 600 mm may be filled to 60 %")
            .above(0.0)
            .optional(),
    ],
    alternatives: &[],
    results: &[
        Output::unit("fill_fraction", "", "cross-section of the cables over that of the conduit"),
        Output::unit("limit_fraction", "", "highest fraction allowed for this number of cables"),
        Output::unit("fits", "", "whether the cables fit"),
    ],
    sources: &["NFPA 70 (NEC) Chapter 9 Table 1 with Notes 4 and 9"],
    example: "conduit=1 type=pvc40 cables=8mm,8mm,9.5mm",
    run: Calculation::Values(run),
};

fn run(inputs: &Inputs) -> Outcome {
    let mut answer = Answer::new();
    let conduit = inputs.text("conduit").unwrap_or_default();
    let inside_mm = match inputs.maybe_choice("type") {
        Some(word) => {
            let kind = ConduitType::ALL.into_iter().find(|k| k.name() == word);
            let kind = kind.ok_or_else(|| Refusal::new(format!("{word} is not a known type of conduit")))?;
            let inside_mm = inside_diameter_mm(kind, conduit)?;
            answer.source("NFPA 70 (NEC) Chapter 9 Table 4 (inside diameters, from memory)");
            answer.working.note(format!("trade size {conduit} {word}: inside diameter {} mm", number(inside_mm)));
            inside_mm
        }
        None => Quantity::Length.parse(conduit)? * 1000.0,
    };
    let cables_mm: Vec<f64> = inputs.list("cables")?.iter().map(|m| m * 1000.0).collect();
    let fill = conduit_fill(inside_mm, &cables_mm, inputs.maybe("length"))?;
    let squares: Vec<String> = cables_mm.iter().map(|d| format!("{}^2", number(*d))).collect();
    answer.number("fill_fraction", fill.fill_fraction);
    answer.number("limit_fraction", fill.limit_fraction);
    answer.value("fits", fill.fits);
    answer.working.step(
        "fill = sum of d^2 / D^2",
        format!("({}) / {}^2", squares.join(" + "), number(inside_mm)),
        fill.fill_fraction,
        "",
    );
    answer.working.note(format!(
        "limit for {} cable{}: {} %",
        cables_mm.len(),
        if cables_mm.len() == 1 { "" } else { "s" },
        number(fill.limit_fraction * 100.0)
    ));
    Ok(answer)
}
