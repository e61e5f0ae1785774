//! Reads a line problem as JSON on standard input and prints the lines as JSON: for checks in other languages.
//!
//! Input: `{"ground": GroundPlan, "problem": LineProblem}` to route on ground, with an optional
//! `"loss": {"volts", "loop_ohm_per_m", "limit_db"}`; or `{"path": {"from": [x, y], "to": [x, y]}, "ground", "cable"}`
//! for one way.

use loamline_geometry::Point2;
use loamline_routing::{CableToLay, ConstantVoltage, GroundMap, GroundPlan, LineProblem, LossLimit, RunEnd};
use serde::Deserialize;
use std::error::Error;
use std::io::{Read, Write};

#[derive(Deserialize)]
struct Ask {
    ground: GroundPlan,
    problem: Option<LineProblem>,
    loss: Option<Loss>,
    path: Option<Ends>,
    cable: Option<CableToLay>,
}

#[derive(Deserialize)]
struct Loss {
    volts: f64,
    loop_ohm_per_m: f64,
    limit_db: f64,
}

#[derive(Deserialize)]
struct Ends {
    from: Point2,
    to: Point2,
}

fn main() -> Result<(), Box<dyn Error>> {
    let mut text = String::new();
    std::io::stdin().read_to_string(&mut text)?;
    let ask: Ask = serde_json::from_str(&text)?;
    let ground = GroundMap::new(ask.ground)?;
    let mut out = std::io::stdout().lock();
    if let Some(problem) = &ask.problem {
        let model =
            ask.loss.as_ref().map(|l| ConstantVoltage { volts: l.volts, loop_ohm_per_m: l.loop_ohm_per_m });
        let limit = match (&model, &ask.loss) {
            (Some(model), Some(l)) => Some(LossLimit { model, limit_db: l.limit_db }),
            _ => None,
        };
        writeln!(out, "{}", serde_json::to_string(&ground.lines(problem, limit)?)?)?;
    }
    if let (Some(ends), Some(cable)) = (&ask.path, &ask.cable) {
        let place = |name: &str, at| RunEnd { name: name.to_owned(), at };
        let path = ground.path(&place("the start", ends.from), &place("the end", ends.to), cable)?;
        writeln!(out, "{}", serde_json::to_string(&path)?)?;
    }
    Ok(())
}
