//! Limiter thresholds.

use crate::{Answer, Calculation, Calculator, Input, Inputs, Outcome, Output, number};
use loamline_model::Quantity;
use loamline_processing::{PEAK_OVER_RMS, limiter_threshold, peak_behind};

pub static CALCULATOR: Calculator = Calculator {
    name: "limiter",
    purpose: "Limiter thresholds that keep a loudspeaker within its rating",
    inputs: &[
        Input::value("rated_power", Quantity::Power, "rated continuous power of the loudspeaker")
            .above(0.0)
            .optional(),
        Input::value(
            "rated_peak",
            Quantity::Power,
            "rated peak power; 6 dB over the continuous one when absent",
        )
        .above(0.0)
        .optional(),
        Input::value("impedance", Quantity::Impedance, "its impedance").above(0.0).optional(),
        Input::value("tap", Quantity::Power, "power of the transformer's tap").above(0.0).optional(),
        Input::value("volts", Quantity::Voltage, "line voltage the tap is rated for").above(0.0).optional(),
    ],
    alternatives: &[&[&["rated_power", "impedance"], &["tap", "volts"]]],
    results: &[
        Output::quantity("threshold_v_rms", Quantity::Voltage, "RMS threshold at the loudspeaker"),
        Output::quantity("threshold_v_peak", Quantity::Voltage, "peak threshold at the loudspeaker"),
        Output::unit("threshold_dbu", "dBu", "RMS threshold relative to 0.7746 V"),
        Output::unit("threshold_dbv", "dBV", "RMS threshold relative to 1 V"),
    ],
    sources: &[
        "V = sqrt(P Z) (Joule's law); behind a transformer at most the peak of a sine",
        "peak rating 6 dB over the continuous one: common practice, no source",
        "dBu: 0 dBu is the voltage of 1 mW in 600 ohm, 0.7746 V",
    ],
    example: "rated_power=100W impedance=8ohm",
    run: Calculation::Values(run),
};

fn run(inputs: &Inputs) -> Outcome {
    let mut answer = Answer::new();
    let (power_w, impedance_ohm) = match (inputs.maybe("tap"), inputs.maybe("volts")) {
        (Some(tap_w), Some(volts)) => {
            let impedance_ohm = volts * volts / tap_w;
            answer.working.step(
                "Z = V^2 / P",
                format!("{}^2 / {}", number(volts), number(tap_w)),
                impedance_ohm,
                "ohm",
            );
            (tap_w, impedance_ohm)
        }
        _ => (inputs.value("rated_power")?, inputs.value("impedance")?),
    };
    let threshold = limiter_threshold(power_w, impedance_ohm)?;
    let v_rms = threshold.v_rms;
    answer.working.step(
        "V = sqrt(P Z)",
        format!("sqrt({} * {})", number(power_w), number(impedance_ohm)),
        v_rms,
        "V RMS",
    );
    let v_peak = match inputs.maybe("rated_peak") {
        Some(peak_w) => {
            let v_peak = (peak_w * impedance_ohm).sqrt();
            let worked = format!("sqrt({} * {})", number(peak_w), number(impedance_ohm));
            answer.working.step("Vp = sqrt(Pp Z)", worked, v_peak, "V peak");
            v_peak
        }
        None => {
            let worked = format!("{} * {}", number(PEAK_OVER_RMS), number(v_rms));
            answer.working.step("Vp = 2 V (6 dB)", worked, threshold.v_peak, "V peak");
            threshold.v_peak
        }
    };
    let behind = inputs.maybe("tap").and_then(|_| inputs.maybe("volts"));
    let v_peak_set = peak_behind(behind, v_peak);
    if let Some(volts) = behind.filter(|_| v_peak_set < v_peak) {
        let worked = format!("1.41421 * {}", number(volts));
        answer.working.step("Vp <= sqrt(2) V, the transformer", worked, v_peak_set, "V peak");
    }
    let dbu = threshold.rms_dbu();
    answer.working.step("20 lg(V / 0.7746)", format!("20 lg({} / 0.7746)", number(v_rms)), dbu, "dBu");
    let dbv = threshold.rms_dbv();
    answer.working.step("20 lg(V / 1)", format!("20 lg({})", number(v_rms)), dbv, "dBV");
    answer.number("threshold_v_rms", v_rms);
    answer.number("threshold_v_peak", v_peak_set);
    answer.number("threshold_dbu", dbu);
    answer.number("threshold_dbv", dbv);
    Ok(answer)
}
