#![doc = include_str!("../README.md")]
//!
//! [`all`] lists the calculators, [`find`] looks one up by name, [`Calculator::calculate`] reads the arguments a person
//! typed (or a JSON document) and answers with a [`Report`]. Lists, help texts and the reference page are generated
//! from the same descriptions ([`input_details`], [`output_details`], [`reference()`]).
//!
//! # Adding a calculator
//! One file in `calculators/`, one line in the registry in `calculators/mod.rs`. The file holds a `CALCULATOR` that
//! describes inputs and results, and one function. Input values arrive checked, in the unit of their
//! [`Quantity`](loamline_model::Quantity) (m, C, V, W, ohm, Hz, dB, mm2, s, Pa); an engine's error passes through `?`.
//!
//! ```
//! use loamline_calc::{Answer, Calculation, Calculator, Input, Inputs, Outcome, Output, number};
//! use loamline_model::Quantity;
//!
//! pub static CALCULATOR: Calculator = Calculator {
//!     name: "sound-delay",
//!     purpose: "Time sound takes over a distance",
//!     inputs: &[
//!         Input::value("distance", Quantity::Length, "how far").above(0.0),
//!         Input::value("temperature", Quantity::Temperature, "air").range(-50.0, 60.0).default("20 C"),
//!     ],
//!     alternatives: &[],
//!     results: &[Output::quantity("delay_s", Quantity::Duration, "time of travel")],
//!     sources: &["ISO 9613-1:1993 equation A.5 (speed of sound)"],
//!     example: "distance=34.3",
//!     run: Calculation::Values(run),
//! };
//!
//! fn run(inputs: &Inputs) -> Outcome {
//!     let (distance_m, temperature_c) = (inputs.value("distance")?, inputs.value("temperature")?);
//!     let speed = 343.2 * ((temperature_c + 273.15) / 293.15_f64).sqrt(); // an engine's function in real life
//!     let mut answer = Answer::new();
//!     answer.number("delay_s", distance_m / speed);
//!     answer.working.step(
//!         "c = 343.2 sqrt(T / 293.15)",
//!         format!("343.2 * sqrt({} / 293.15)", number(temperature_c + 273.15)),
//!         speed,
//!         "m/s",
//!     );
//!     answer.working.step("t = d / c", format!("{} / {}", number(distance_m), number(speed)), distance_m / speed, "s");
//!     Ok(answer)
//! }
//!
//! let report = CALCULATOR.calculate(&["distance=34.3 m".to_owned()], None).unwrap();
//! assert!((report.results["delay_s"].as_f64().unwrap() - 0.09994).abs() < 1e-5);
//! assert_eq!(report.working[2], "t = d / c = 34.3 / 343.2 = 0.0999417 s");
//! ```
//!
//! Inputs of which one or another is wanted are `.optional()` and named in `alternatives`, e.g.
//! `alternatives: &[&[&["gauge"], &["area"]]]` for a wire size ([`Inputs::conductor`] reads it), or
//! `&[&[&["rated_power", "impedance"], &["tap", "volts"]]]`. A calculator on a structured document uses
//! [`Calculation::Document`] and describes the top-level keys with [`Input::json`]; deserialise the rest with
//! [`from_document`], which names the path of what is wrong.

mod answer;
mod calculators;
mod describe;
mod error;
mod inputs;
mod read;
mod spec;

pub use answer::{Answer, Report, Working, number};
pub use calculators::all;
pub use describe::{choices, example_call, input_details, output_details, reference};
pub use error::{CalcError, InputProblem, Outcome, Refusal};
pub use inputs::{Inputs, from_document};
pub use spec::{Calculation, Calculator, Input, InputKind, Need, Output, OutputUnit};

/// Looks up a calculator by name.
///
/// # Errors
/// When there is none of that name; the error suggests the nearest.
pub fn find(name: &str) -> Result<&'static Calculator, CalcError> {
    all().iter().copied().find(|calculator| calculator.name == name).ok_or_else(|| {
        CalcError::UnknownCalculator {
            name: name.to_owned(),
            suggestion: loamline_model::closest(name, all().iter().map(|calculator| calculator.name))
                .map(str::to_owned),
        }
    })
}

#[cfg(test)]
mod tests;
