//! Soil and gravel for an in-ground loudspeaker.

use crate::{Answer, Calculator, Input, Inputs, Outcome, Output, Calculation, number};
use loamline_model::Quantity;
use loamline_routing::{GRAVEL_KG_PER_M3, Hole};

pub static CALCULATOR: Calculator = Calculator {
    name: "hole",
    purpose: "Soil to dig and gravel to bring for an in-ground loudspeaker",
    inputs: &[
        Input::value("length", Quantity::Length, "length of the item").above(0.0),
        Input::value("width", Quantity::Length, "width of the item").above(0.0),
        Input::value("depth", Quantity::Length, "depth of the item below ground").above(0.0),
        Input::value("overdig", Quantity::Length, "room left on each of the four sides")
            .range(0.0, 10.0)
            .default("0 m"),
        Input::value("gravel_depth", Quantity::Length, "thickness of the gravel bed below the item")
            .range(0.0, 10.0)
            .default("0 m"),
    ],
    alternatives: &[],
    results: &[
        Output::unit("excavation_m3", "m3", "soil to dig out"),
        Output::unit("gravel_m3", "m3", "gravel to bring"),
        Output::unit("gravel_kg", "kg", "the same by weight"),
    ],
    sources: &["geometry; gravel at 1600 kg/m3: common practice, no source"],
    example: "length=0.5 width=0.4 depth=0.6 overdig=10cm gravel_depth=15cm",
    run: Calculation::Values(run),
};

fn run(inputs: &Inputs) -> Outcome {
    let hole = Hole {
        length_m: inputs.value("length")?,
        width_m: inputs.value("width")?,
        depth_m: inputs.value("depth")?,
        overdig_m: inputs.value("overdig")?,
        gravel_depth_m: inputs.value("gravel_depth")?,
    };
    let digging = hole.digging()?;
    let floor = format!(
        "({} + 2 * {o}) * ({} + 2 * {o})",
        number(hole.length_m),
        number(hole.width_m),
        o = number(hole.overdig_m)
    );
    let mut answer = Answer::new();
    answer.number("excavation_m3", digging.excavation_m3);
    answer.number("gravel_m3", digging.gravel_m3);
    answer.number("gravel_kg", digging.gravel_kg);
    answer.working.step(
        "dig = (length + 2 overdig) (width + 2 overdig) (depth + gravel)",
        format!("{floor} * ({} + {})", number(hole.depth_m), number(hole.gravel_depth_m)),
        digging.excavation_m3,
        "m3",
    );
    answer.working.step(
        "gravel = (length + 2 overdig) (width + 2 overdig) gravel depth",
        format!("{floor} * {}", number(hole.gravel_depth_m)),
        digging.gravel_m3,
        "m3",
    );
    answer.working.step(
        "weight = gravel * density",
        format!("{} * {}", number(digging.gravel_m3), number(GRAVEL_KG_PER_M3)),
        digging.gravel_kg,
        "kg",
    );
    Ok(answer)
}
