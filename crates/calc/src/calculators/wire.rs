//! Resistance of a conductor.

use crate::{Answer, Calculator, Input, Inputs, Outcome, Output, Calculation, number};
use loamline_electrics::{
    ConductorSize, Construction, InputError, conductor_resistance_ohm_per_km, temperature_factor,
};
use loamline_model::Quantity;

pub static CALCULATOR: Calculator = Calculator {
    name: "wire",
    purpose: "Resistance of one conductor per kilometre",
    inputs: &[Input::gauge(), Input::conductor_area(), TEMPERATURE, CONSTRUCTION],
    alternatives: &[&[&["gauge"], &["area"]]],
    results: &[
        Output::unit("resistance_ohm_per_km", "ohm/km", "resistance of one conductor"),
        Output::unit("loop_resistance_ohm_per_km", "ohm/km", "both conductors of a pair, per km of run"),
        Output::quantity("area_mm2", Quantity::ConductorArea, "copper cross-section"),
    ],
    sources: SOURCES,
    example: "gauge=14 temperature=20C",
    run: Calculation::Values(run),
};

/// Where the resistances come from.
pub(super) const SOURCES: &[&str] = &[
    "ASTM B258 (gauges) with annealed copper of 1.7241e-8 ohm m at 20 C and 0.00393 per kelvin (IEC 60028)",
    "IEC 60228 Table 3, class 5, greatest resistance (stranded metric sizes)",
];

/// The conductor's temperature, as all wire calculators take it.
pub(super) const TEMPERATURE: Input =
    Input::value("temperature", Quantity::Temperature, "conductor temperature").range(-60.0, 200.0).default("20 C");

/// Solid or stranded, as all wire calculators take it.
pub(super) const CONSTRUCTION: Input = Input::choice(
    "construction",
    &["solid", "stranded"],
    "solid if a gauge is given, stranded (class 5) if an area is",
)
.optional();

/// Reads the conductor and works out its resistance in ohm/km, showing the working.
pub(super) fn conductor(inputs: &Inputs, answer: &mut Answer) -> Result<(ConductorSize, f64), crate::Refusal> {
    let size = match inputs.conductor()? {
        loamline_model::ConductorSize::Awg(gauge) => ConductorSize::Awg(f64::from(gauge)),
        loamline_model::ConductorSize::AreaMm2(area) => ConductorSize::AreaMm2(area),
    };
    let construction = match inputs.maybe_choice("construction") {
        Some("solid") => Construction::Solid,
        Some("stranded") => Construction::Stranded,
        _ => size.usual_construction(),
    };
    let temperature_c = inputs.value("temperature")?;
    let resistance = conductor_resistance_ohm_per_km(size, construction, temperature_c)?;
    explain(size, construction, temperature_c, resistance, answer)?;
    Ok((size, resistance))
}

fn explain(
    size: ConductorSize,
    construction: Construction,
    temperature_c: f64,
    resistance: f64,
    answer: &mut Answer,
) -> Result<(), InputError> {
    if let ConductorSize::Awg(gauge) = size {
        let diameter = loamline_electrics::awg_diameter_mm(gauge);
        answer.working.step("d = 0.127 * 92^((36 - n)/39)", format!("0.127 * 92^((36 - {})/39)", number(gauge)), diameter, "mm");
    }
    let at_20 = conductor_resistance_ohm_per_km(size, construction, 20.0)?;
    match (size, construction) {
        (ConductorSize::AreaMm2(area), Construction::Stranded) => answer.working.note(format!(
            "r20 = {} ohm/km, the greatest IEC 60228 class 5 allows for {} mm2",
            number(at_20),
            number(area)
        )),
        (_, construction) => {
            let lay = if construction == Construction::Stranded { " * 1.02 (lay of the strands)" } else { "" };
            answer.working.step(
                format!("r20 = 17.241 / A{lay}"),
                format!("17.241 / {}{lay}", number(size.area_mm2())),
                at_20,
                "ohm/km",
            );
        }
    }
    answer.working.step(
        "r = r20 (1 + 0.00393 (T - 20))",
        format!("{} * {}", number(at_20), number(temperature_factor(temperature_c))),
        resistance,
        "ohm/km",
    );
    Ok(())
}

fn run(inputs: &Inputs) -> Outcome {
    let mut answer = Answer::new();
    let (size, resistance) = conductor(inputs, &mut answer)?;
    answer.number("resistance_ohm_per_km", resistance);
    answer.number("loop_resistance_ohm_per_km", 2.0 * resistance);
    answer.number("area_mm2", size.area_mm2());
    Ok(answer)
}
