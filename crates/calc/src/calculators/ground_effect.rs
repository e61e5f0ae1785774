//! What the ground does to the level of a loudspeaker.

use crate::{Answer, Calculator, Input, Inputs, Outcome, Output, Calculation, number};
use loamline_acoustics::{Ground, GroundGeometry, LOWEST_HEIGHT_M, ground_effect};
use loamline_model::Quantity;

pub static CALCULATOR: Calculator = Calculator {
    name: "ground-effect",
    purpose: "How much louder or quieter sound gets by what the ground reflects",
    inputs: &[
        Input::value("source_height", Quantity::Length, "height of the loudspeaker above the ground")
            .range(0.0, 1000.0),
        Input::value("receiver_height", Quantity::Length, "height of the ear above the ground")
            .range(0.0, 1000.0),
        Input::value("distance", Quantity::Length, "distance between them in plan").range(0.0, 100_000.0),
        Input::value(
            "flow_resistivity",
            Quantity::FlowResistivity,
            "effective flow resistivity of the ground: moss 12.5, lawn 500, paving 20000, concrete 200000",
        )
        .range(1.0, 1e6),
        Input::frequencies("frequencies, 10 Hz to 30 kHz"),
        Input::value("temperature", Quantity::Temperature, "air temperature").range(-50.0, 60.0).default("20 C"),
    ],
    alternatives: &[],
    results: &[
        Output::unit("excess_db", "dB", "level over that in the open, one per frequency; + is louder"),
        Output::unit("reflection_re", "", "reflection coefficient Q, real part, one per frequency"),
        Output::unit("reflection_im", "", "reflection coefficient Q, imaginary part, time factor exp(-iwt)"),
    ],
    sources: &[
        "Chien and Soroka, J. Sound Vib. 43 (1975): spherical wave over an impedance plane",
        "Delany and Bazley, Appl. Acoust. 3 (1970): impedance from flow resistivity",
    ],
    example: "source_height=0.5m receiver_height=1.2m distance=10m flow_resistivity=500 frequency=125,1000",
    run: Calculation::Values(run),
};

fn run(inputs: &Inputs) -> Outcome {
    let ground = Ground::new(inputs.value("flow_resistivity")?)?;
    let geometry = GroundGeometry {
        source_height_m: inputs.value("source_height")?,
        receiver_height_m: inputs.value("receiver_height")?,
        distance_m: inputs.value("distance")?,
    };
    let temperature_c = inputs.value("temperature")?;
    let mut answer = Answer::new();
    let (mut excess, mut re, mut im) = (Vec::new(), Vec::new(), Vec::new());
    for (i, &frequency_hz) in inputs.list("frequency")?.iter().enumerate() {
        let effect = ground_effect(ground, geometry, frequency_hz, temperature_c)?;
        if i == 0 {
            let lowest = geometry.source_height_m.min(geometry.receiver_height_m);
            if lowest < LOWEST_HEIGHT_M {
                answer.working.note(format!("heights below {LOWEST_HEIGHT_M} m count as {LOWEST_HEIGHT_M} m"));
            }
            answer.working.note(format!(
                "straight R1 = {} m, by the ground R2 = {} m",
                number(effect.direct_m),
                number(effect.reflected_m)
            ));
        }
        let z = ground.impedance(frequency_hz);
        answer.working.note(format!(
            "{} Hz: Z = {} + {} i, Q = {} {} {} i",
            number(frequency_hz),
            number(z.re),
            number(z.im),
            number(effect.reflection.re),
            if effect.reflection.im < 0.0 { "-" } else { "+" },
            number(effect.reflection.im.abs())
        ));
        answer.working.step(
            format!("excess({} Hz) = 20 lg |1 + Q R1/R2 exp(ik(R2 - R1))|", number(frequency_hz)),
            format!("R1/R2 = {}", number(effect.direct_m / effect.reflected_m)),
            effect.excess_db,
            "dB",
        );
        excess.push(effect.excess_db);
        re.push(effect.reflection.re);
        im.push(effect.reflection.im);
    }
    answer.list("excess_db", excess);
    answer.list("reflection_re", re);
    answer.list("reflection_im", im);
    Ok(answer)
}
