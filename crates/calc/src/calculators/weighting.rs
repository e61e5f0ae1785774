//! Frequency weightings A, C and Z.

use crate::answer::band_centre_hz;
use crate::{Answer, Calculator, Input, Inputs, Outcome, Output, Calculation, number};
use loamline_acoustics::Weighting;
use loamline_model::Quantity;

pub static CALCULATOR: Calculator = Calculator {
    name: "weighting",
    purpose: "Level change of the A, C or Z weighting, by frequency",
    inputs: &[
        Input::choice("curve", &["A", "C", "Z"], "which weighting").default("A"),
        Input::frequencies("frequencies"),
    ],
    alternatives: &[],
    results: &[Output::quantity("gain_db", Quantity::Level, "level change, one per frequency; 0 dB at 1 kHz")],
    sources: &["IEC 61672-1:2013 Annex E; a third octave given by its nominal frequency is taken at its exact centre (IEC 61260-1)"],
    example: "curve=A frequency=63,1000,8000",
    run: Calculation::Values(run),
};

fn run(inputs: &Inputs) -> Outcome {
    let curve = match inputs.choice("curve")? {
        "C" => Weighting::C,
        "Z" => Weighting::Z,
        _ => Weighting::A,
    };
    let mut answer = Answer::new();
    answer.working.note(match curve {
        Weighting::A => {
            "A(f) = 20 lg( f4^2 f^4 / ((f^2 + f1^2) sqrt(f^2 + f2^2) sqrt(f^2 + f3^2) (f^2 + f4^2)) ) + 2.000 dB, \
             f1 = 20.60, f2 = 107.7, f3 = 737.9, f4 = 12194 Hz"
        }
        Weighting::C => "C(f) = 20 lg( f4^2 f^2 / ((f^2 + f1^2) (f^2 + f4^2)) ) + 0.062 dB, f1 = 20.60, f4 = 12194 Hz",
        Weighting::Z => "Z(f) = 0 dB at every frequency",
    });
    let mut gains = Vec::new();
    for &frequency_hz in inputs.list("frequency")? {
        let frequency_hz = band_centre_hz(frequency_hz, &mut answer.working);
        let gain_db = curve.gain_db(frequency_hz);
        answer.working.step(
            format!("{curve:?}({} Hz)", number(frequency_hz)),
            format!("the formula at f = {}", number(frequency_hz)),
            gain_db,
            "dB",
        );
        gains.push(gain_db);
    }
    answer.list("gain_db", gains);
    Ok(answer)
}
