//! Absorption of sound by air.

use crate::answer::band_centre_hz;
use crate::{Answer, Calculator, Input, Inputs, Outcome, Output, Calculation, number};
use loamline_acoustics::Air;
use loamline_model::Quantity;
use loamline_terms::{Fraction, Pascals};

pub static CALCULATOR: Calculator = Calculator {
    name: "air-absorption",
    purpose: "Level the air itself takes per metre, by frequency",
    inputs: &[
        Input::value("temperature", Quantity::Temperature, "air temperature").range(-50.0, 60.0).default("20 C"),
        Input::value("humidity", Quantity::Percent, "relative humidity").range(1.0, 100.0).default("70 %"),
        Input::value("pressure", Quantity::AirPressure, "air pressure")
            .range(50_000.0, 120_000.0)
            .default("101.325 kPa"),
        Input::frequencies("frequencies"),
    ],
    alternatives: &[],
    results: &[Output::unit("attenuation_db_per_m", "dB/m", "attenuation by air, one per frequency")],
    sources: &["ISO 9613-1:1993 equations 3 to 5 and Annex B; a third octave given by its nominal frequency is taken at its exact centre (IEC 61260-1)"],
    example: "temperature=20C humidity=70% frequency=1000,8000",
    run: Calculation::Values(run),
};

fn run(inputs: &Inputs) -> Outcome {
    let humidity = Fraction::from_per_cent(inputs.value("humidity")?);
    let air = Air::new(inputs.value("temperature")?, humidity, Pascals(inputs.value("pressure")?))?;
    let mut answer = Answer::new();
    answer.working.note(format!(
        "water vapour h = {} % by volume at {} C, {} % relative humidity and {} kPa",
        number(air.water_vapour_percent()),
        number(air.temperature_c()),
        number(air.humidity().per_cent()),
        number(air.pressure().kilopascals())
    ));
    let mut attenuations = Vec::new();
    for &frequency_hz in inputs.list("frequency")? {
        let frequency_hz = band_centre_hz(frequency_hz, &mut answer.working);
        let absorption = air.absorption(frequency_hz)?;
        attenuations.push(absorption.absorption_db_per_m);
        answer.working.step(
            format!("a({} Hz)", number(frequency_hz)),
            format!(
                "equation 5 with frO = {} Hz, frN = {} Hz",
                number(absorption.oxygen_hz),
                number(absorption.nitrogen_hz)
            ),
            absorption.absorption_db_per_m,
            "dB/m",
        );
    }
    answer.list("attenuation_db_per_m", attenuations);
    Ok(answer)
}
