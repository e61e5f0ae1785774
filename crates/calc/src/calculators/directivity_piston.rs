//! Directivity of a circular piston.

use crate::{Answer, Calculator, Input, Inputs, Outcome, Output, Calculation, number};
use loamline_acoustics::{Air, Directivity, PistonRear, piston_directivity_index_db};
use loamline_geometry::Point3;
use loamline_model::Quantity;
use std::f64::consts::TAU;

pub static CALCULATOR: Calculator = Calculator {
    name: "directivity-piston",
    purpose: "How far a cone loudspeaker's level falls off its axis",
    inputs: &[
        Input::value("diameter", Quantity::Length, "diameter of the moving cone").range(0.005, 2.0),
        Input::value("frequency", Quantity::Frequency, "frequency").range(1.0, 100_000.0),
        Input::value("angle", Quantity::Angle, "angle off the axis; beyond 90 deg is behind the enclosure")
            .range(-180.0, 180.0),
        Input::value("temperature", Quantity::Temperature, "air temperature").range(-50.0, 60.0).default("20 C"),
    ],
    alternatives: &[],
    results: &[
        Output::quantity("directivity_db", Quantity::Level, "level relative to the axis (-300 in a null)"),
        Output::quantity(
            "directivity_index_db",
            Quantity::Level,
            "on the axis, above the same power sent all round; piston in a baffle",
        ),
    ],
    sources: &[
        "Beranek, Acoustics, section 4.8 (piston in a baffle)",
        "behind the enclosure: common practice, no source",
    ],
    example: "diameter=165mm frequency=2kHz angle=45deg",
    run: Calculation::Values(run),
};

fn run(inputs: &Inputs) -> Outcome {
    let (diameter_m, frequency_hz) = (inputs.value("diameter")?, inputs.value("frequency")?);
    let angle_deg = inputs.value("angle")?;
    let reference = Air::default();
    let temperature_c = inputs.value("temperature")?;
    let speed =
        Air::new(temperature_c, reference.humidity_percent(), reference.pressure_kpa())?.sound_speed_m_per_s();
    let (sin, cos) = angle_deg.to_radians().sin_cos();
    let directivity_db = Directivity::piston(diameter_m, PistonRear::Enclosure)?.level_db(
        frequency_hz,
        speed,
        Point3::new(cos, sin, 0.0),
    );
    let ka = TAU * frequency_hz / speed * 0.5 * diameter_m;
    let index_db = piston_directivity_index_db(ka);

    let mut answer = Answer::new();
    answer.working.step(
        "c = 343.2 sqrt(T / 293.15)",
        format!("343.2 * sqrt({} / 293.15)", number(temperature_c + 273.15)),
        speed,
        "m/s",
    );
    answer.working.step(
        "ka = 2 pi f / c * d / 2",
        format!("2 pi * {} / {} * {} / 2", number(frequency_hz), number(speed), number(diameter_m)),
        ka,
        "",
    );
    if angle_deg.abs() <= 90.0 {
        let x = ka * sin.abs();
        answer.working.step("x = ka sin t", format!("{} * sin {} deg", number(ka), number(angle_deg)), x, "");
        answer.working.step(
            "D = 20 lg |2 J1(x) / x|",
            format!("20 lg |2 J1({}) / {}|", number(x), number(x)),
            directivity_db,
            "dB",
        );
    } else {
        answer.working.step(
            "D = 10 lg( sin^2 t (2 J1(ka) / ka)^2 + cos^2 t / (1 + pi (ka)^3 / 8) )",
            format!("the formula at t = {} deg, ka = {}", number(angle_deg), number(ka)),
            directivity_db,
            "dB",
        );
    }
    answer.working.step(
        "DI = 10 lg( (ka)^2 / (1 - J1(2 ka) / ka) )",
        format!("the formula at ka = {}", number(ka)),
        index_db,
        "dB",
    );
    answer.number("directivity_db", directivity_db);
    answer.number("directivity_index_db", index_db);
    Ok(answer)
}
