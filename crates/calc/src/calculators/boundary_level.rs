//! Levels at neighbours by ISO 9613-2.

use crate::{Answer, Calculation, Calculator, Input, Outcome, Output, from_document, number};
use loamline_acoustics::{BoundaryScene, FaceOf, ISO_OCTAVES_HZ, ReceiverLevel, boundary_levels};
use serde_json::Value;

pub static CALCULATOR: Calculator = Calculator {
    name: "boundary-level",
    purpose: "Octave levels and dBA at neighbours, with ground, walls and buildings between",
    inputs: &[
        Input::json("atmosphere", "object", "temperature_c, humidity_percent, pressure_kpa (101.325 if left out)"),
        Input::json("ground", "object", "default_g, and regions with an outline [[x, y], ...] and g each"),
        Input::json(
            "sources",
            "list of objects",
            "position [x, y, z], sound_power_db (8 octaves from 63 Hz, or 9 from 31.5 Hz); optional id, ground_m \
             (elevation of the ground under it, 0), programme (a number; those on one may be in step), and \
             directivity_db: a row of 9 octaves from 31.5 Hz per receiver",
        ),
        Input::json("receivers", "list of objects", "position [x, y, z]; optional id, ground_m"),
        Input::json(
            "screens",
            "list of objects",
            "line [[x, y], ...] and top_m each; optional foot_m (0) and reflection: the share of energy its faces give \
             back, one number or nine octaves from 31.5 Hz (1, a flat hard wall)",
        )
        .optional(),
        Input::json(
            "buildings",
            "list of objects",
            "outline [[x, y], ...] and height_m (elevation of the roof) each; optional foot_m (0) and reflection (0.8, a \
             wall with windows)",
        )
        .optional(),
        Input::json(
            "steps",
            "list of objects",
            "where the ground falls: line [[x, y], ...] with the low ground on its right, top_m and foot_m each",
        )
        .optional(),
        Input::json("in_step_to_hz", "number", "octaves up to here count as in step in the worst case (400)").optional(),
    ],
    alternatives: &[],
    results: &[Output::unit(
        "receivers",
        "",
        "per receiver: bands_db (63 Hz to 8 kHz), total_dba, standard_uncertainty_db and what each source gives, straight \
         and by each face; in_step_bands_db and in_step_dba with sources on one programme in step; \
         extension_31_hz_db lies outside the standard and the total",
    )],
    sources: &["ISO 9613-2:1996, general method", "ISO/TR 17534-3:2015 (questions the standard leaves open)"],
    example: r#"{"atmosphere": {"temperature_c": 20, "humidity_percent": 70}, "ground": {"default_g": 0.5},
        "sources": [{"position": [0, 0, 1], "sound_power_db": [93, 93, 93, 93, 93, 93, 93, 93]}],
        "receivers": [{"position": [30, 0, 1.5]}],
        "screens": [{"line": [[20, -15], [20, 15]], "top_m": 2}]}"#,
    run: Calculation::Document(run),
};

fn run(document: &Value) -> Outcome {
    let scene: BoundaryScene = from_document(document)?;
    let levels = boundary_levels(&scene)?;
    let mut answer = Answer::new();
    answer.working.note(
        "per source and octave: L = Lw + Dc - (20 lg d + 11) - Aatm - Agr - Abar; sources add in energy",
    );
    answer.working.note(
        "a face gives an image with Lw + 10 lg rho, where 1/lambda > 2/(l_min cos b)^2 dso dor/(dso + dor)",
    );
    for (r, level) in levels.iter().enumerate() {
        explain(&mut answer, r, level);
    }
    answer.value("receivers", &levels);
    Ok(answer)
}

/// The loudest source at a receiver, octave by octave.
fn explain(answer: &mut Answer, r: usize, level: &ReceiverLevel) {
    let Some(main) = level.loudest(None) else { return };
    answer.working.note(format!(
        "receiver {}: {} dBA +- {} dB; most from source {}, {} dBA alone, {} m away, 20 lg d + 11 = {} dB",
        r + 1,
        number(level.levels.total_dba),
        number(level.standard_uncertainty_db),
        main.source + 1,
        number(main.levels.total_dba),
        number(main.distance_m),
        number(main.divergence_db),
    ));
    for (b, frequency_hz) in ISO_OCTAVES_HZ.iter().enumerate() {
        answer.working.note(format!(
            "receiver {}, source {}, {} Hz: Dc = {}, Aatm = {}, Agr = {}, Abar = {} dB; L = {} dB",
            r + 1,
            main.source + 1,
            number(*frequency_hz),
            number(main.directivity_db[b]),
            number(main.air_db[b]),
            number(main.ground_db[b]),
            number(main.screening_db[b]),
            number(main.straight_bands_db[b]),
        ));
    }
    for f in &main.reflections {
        answer.working.note(format!(
            "receiver {}, source {}: by {} at x {}, y {}, height {} m: {} dBA",
            r + 1,
            main.source + 1,
            face(f.face),
            number(f.at.x),
            number(f.at.y),
            number(f.at.z),
            number(f.levels.total_dba),
        ));
    }
}

fn face(of: FaceOf) -> String {
    match of {
        FaceOf::Screen(i) => format!("screen {}", i + 1),
        FaceOf::Building(i) => format!("building {}", i + 1),
        FaceOf::Step(i) => format!("step {}", i + 1),
    }
}
