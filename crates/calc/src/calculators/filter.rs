//! High-pass and low-pass filters as a digital processor runs them.

use crate::{Answer, Calculator, Input, Inputs, Outcome, Output, Refusal, Calculation, number};
use loamline_model::Quantity;
use loamline_processing::{Alignment, Pass, PassFilter, SampleRate, cascade_gain, wrapped_phase_rad};

pub static CALCULATOR: Calculator = Calculator {
    name: "filter",
    purpose: "Level, phase and coefficients of a high-pass or low-pass filter",
    inputs: &[
        Input::choice("kind", &["butterworth", "linkwitz-riley", "bessel"], "family of the filter"),
        Input::choice("response", &["low-pass", "high-pass"], "which side of the corner passes"),
        Input::whole("order", "6 dB per octave each; Linkwitz-Riley 2, 4, 6 or 8").range(1.0, 8.0),
        Input::value("corner", Quantity::Frequency, "-3 dB point, or -6 dB of Linkwitz-Riley").above(0.0),
        Input::value("sample_rate", Quantity::Frequency, "rate the processor runs at")
            .range(8_000.0, 768_000.0)
            .default("48 kHz"),
        Input::frequencies("frequencies, up to half the sample rate"),
    ],
    alternatives: &[],
    results: &[
        Output::quantity("gain_db", Quantity::Level, "level change, one per frequency (-300 where nothing passes)"),
        Output::unit("phase_rad", "rad", "phase, one per frequency, wrapped to (-pi, pi]; a delay is negative"),
        Output::unit(
            "sections",
            "",
            "second-order sections b0 b1 b2 a1 a2, a0 = 1: y[n] = b0 x[n] + b1 x[n-1] + b2 x[n-2] - a1 y[n-1] - a2 y[n-2]",
        ),
    ],
    sources: &[
        "bilinear transform pre-warped at the corner (Oppenheim and Schafer, Discrete-Time Signal Processing)",
        "Linkwitz 1976 (two Butterworth filters of half the order), Thomson 1949 (Bessel, here -3 dB at the corner)",
    ],
    example: "kind=butterworth response=high-pass order=4 corner=80Hz frequency=40,80,160",
    run: Calculation::Values(run),
};

fn run(inputs: &Inputs) -> Outcome {
    let kind = match inputs.choice("kind")? {
        "linkwitz-riley" => Alignment::LinkwitzRiley,
        "bessel" => Alignment::Bessel,
        _ => Alignment::Butterworth,
    };
    let response = match inputs.choice("response")? {
        "high-pass" => Pass::HighPass,
        _ => Pass::LowPass,
    };
    let order = u32::try_from(inputs.whole("order")?)?;
    let corner_hz = inputs.value("corner")?;
    let rate = SampleRate::new(inputs.value("sample_rate")?)?;
    let sections = PassFilter::new(kind, response, order, corner_hz)?.sections(rate)?;

    let mut answer = Answer::new();
    answer.working.step(
        "K = tan(pi fc / fs)",
        format!("tan(pi * {} / {})", number(corner_hz), number(rate.hz())),
        (std::f64::consts::PI * corner_hz / rate.hz()).tan(),
        "",
    );
    answer.working.note("each analogue section becomes digital with s = (1/K) (1 - z^-1) / (1 + z^-1)");
    let (mut gains, mut phases) = (Vec::new(), Vec::new());
    for frequency_hz in inputs.list("frequency")? {
        if *frequency_hz > rate.hz() / 2.0 {
            return Err(Refusal::new(format!(
                "a frequency of {} Hz is above half the sample rate, {} Hz: no digital filter has a response there",
                number(*frequency_hz),
                number(rate.hz() / 2.0)
            )));
        }
        let gain = cascade_gain(&sections, *frequency_hz, rate);
        gains.push(20.0 * gain.norm().max(1e-15).log10());
        phases.push(wrapped_phase_rad(gain));
    }
    for (index, s) in sections.iter().enumerate() {
        answer.working.note(format!(
            "section {}: b = {}, {}, {}; a = 1, {}, {}; outermost pole at {} of the unit circle",
            index + 1,
            number(s.b0),
            number(s.b1),
            number(s.b2),
            number(s.a1),
            number(s.a2),
            number(s.pole_radius())
        ));
    }
    answer.list("gain_db", gains);
    answer.list("phase_rad", phases);
    answer.value("sections", &sections);
    Ok(answer)
}
