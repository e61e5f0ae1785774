//! A whole line of any layout.

use crate::{Answer, Calculator, Input, Outcome, Output, Refusal, Calculation, from_document};
use loamline_electrics::{
    Connection, Line, Load, Loudspeaker, Network, PairConstants, Run as CableRun, Service, Solution, Source, Transformer,
};
use serde::Deserialize;
use serde_json::{Map, Value, json};

pub static CALCULATOR: Calculator = Calculator {
    name: "line-network",
    purpose: "Voltages, powers and impedance of a line of any layout, tree or ring",
    inputs: &[
        Input::json("source", "object", "open_circuit_v and output_impedance_ohm"),
        Input::json("frequencies_hz", "list of frequencies", "Hz; 0 is DC"),
        Input::json(
            "runs",
            "list of runs",
            "from, to, in_series (true where it leaves behind a load in series), length_m, cable (loop_resistance_ohm_per_m, loop_inductance_h_per_m, capacitance_f_per_m); the source is at \"amp\"",
        ),
        Input::json(
            "loads",
            "list of loads",
            "at, in_series (true where it stands in series with what hangs on the runs that leave its joint with in_series), loudspeaker (resistance_ohm, or re_ohm, le_h, fs_hz, qms, qes), transformer (turns_ratio primary:secondary, primary_resistance_ohm, secondary_resistance_ohm, leakage_inductance_h and core_loss_ohm and magnetising_inductance_h seen from the primary) or none",
        ),
    ],
    alternatives: &[],
    results: &[Output::unit("points", "", "per frequency: voltages, loudspeaker powers, source current and impedance")],
    sources: &[
        "complex nodal analysis; each run one pi section (half its capacitance at each end)",
        "moving-coil impedance: Small, JAES 20 (1972)",
        "transformer: two coupled coils (primary copper and leakage in series, core loss and magnetising inductance across an ideal ratio, secondary copper)",
    ],
    example: EXAMPLE,
    run: Calculation::Document(run),
};

const EXAMPLE: &str = r#"{"source":{"open_circuit_v":70.7,"output_impedance_ohm":0.1},"frequencies_hz":[100,1000],
"runs":[{"from":"amp","to":"J1","length_m":30,"cable":{"loop_resistance_ohm_per_m":0.0166,"loop_inductance_h_per_m":6.5e-7,"capacitance_f_per_m":6e-11}}],
"loads":[{"at":"J1","transformer":{"turns_ratio":4.5,"primary_resistance_ohm":4,"secondary_resistance_ohm":0.2,"leakage_inductance_h":0.0004,"core_loss_ohm":6000,"magnetising_inductance_h":2},"loudspeaker":{"resistance_ohm":8}}]}"#;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Document {
    source: Source,
    frequencies_hz: Vec<f64>,
    runs: Vec<RunEntry>,
    loads: Vec<LoadEntry>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RunEntry {
    from: String,
    to: String,
    #[serde(default)]
    in_series: bool,
    length_m: f64,
    cable: PairConstants,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LoadEntry {
    at: String,
    #[serde(default)]
    in_series: bool,
    transformer: Option<Transformer>,
    loudspeaker: LoudspeakerEntry,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LoudspeakerEntry {
    resistance_ohm: Option<f64>,
    re_ohm: Option<f64>,
    le_h: Option<f64>,
    fs_hz: Option<f64>,
    qms: Option<f64>,
    qes: Option<f64>,
}

impl LoudspeakerEntry {
    fn loudspeaker(&self, index: usize) -> Result<Loudspeaker, Refusal> {
        let motor = [self.re_ohm, self.fs_hz, self.qms, self.qes];
        match (self.resistance_ohm, motor) {
            (Some(resistance_ohm), _) if motor.iter().all(Option::is_none) && self.le_h.is_none() => {
                Ok(Loudspeaker::Resistance { resistance_ohm })
            }
            (None, [Some(re_ohm), Some(fs_hz), Some(qms), Some(qes)]) => {
                Ok(Loudspeaker::ThieleSmall { re_ohm, le_h: self.le_h.unwrap_or(0.0), fs_hz, qms, qes })
            }
            _ => Err(Refusal::new(format!(
                "loads[{index}].loudspeaker: give resistance_ohm alone, or re_ohm, le_h, fs_hz, qms and qes"
            ))),
        }
    }
}

fn run(document: &Value) -> Outcome {
    let document: Document = from_document(document)?;
    let line = line(&document)?;
    let network = Network::build(&line)?;
    let solution = network.solve(&document.source, &document.frequencies_hz)?;
    let mut answer = Answer::new();
    answer.working.note(format!(
        "{} joints, {} runs, {} loads, {} frequencies; eliminated from the ends to the source",
        network.joints().len(),
        line.runs.len(),
        line.loads.len(),
        document.frequencies_hz.len()
    ));
    let mut points = Vec::with_capacity(document.frequencies_hz.len());
    for f in 0..document.frequencies_hz.len() {
        points.push(point(&network, &solution, line.loads.len(), f)?);
    }
    answer.value("points", points);
    Ok(answer)
}

fn line(document: &Document) -> Result<Line, Refusal> {
    let runs = document.runs.iter().enumerate().map(|(index, run)| CableRun {
        name: format!("runs[{index}]"),
        from: run.from.clone(),
        to: run.to.clone(),
        length_m: run.length_m,
        pair: run.cable,
        in_series: run.in_series,
        laid: None,
    });
    let loads = document.loads.iter().enumerate().map(|(index, load)| {
        Ok(Load {
            name: format!("loads[{index}]"),
            at: load.at.clone(),
            in_series: load.in_series,
            connection: load.transformer.map_or(Connection::Direct, Connection::Circuit),
            loudspeaker: load.loudspeaker.loudspeaker(index)?,
            nominal_ohm: 8.0, // sensitivities are not asked for here
            series_capacitor_f: None,
        })
    });
    Ok(Line {
        name: "given".to_owned(),
        service: Service::LowImpedance,
        source_joint: "amp".to_owned(),
        joints: Vec::new(),
        runs: runs.collect(),
        loads: loads.collect::<Result<_, Refusal>>()?,
    })
}

fn point(network: &Network, solution: &Solution, loads: usize, f: usize) -> Result<Value, Refusal> {
    let Some(impedance) = solution.source_impedance_ohm(f) else {
        return Err(Refusal::new("no current flows anywhere: the line has no load that conducts at this frequency"));
    };
    let voltages: Map<String, Value> = network
        .joints()
        .iter()
        .enumerate()
        .map(|(joint, name)| (name.clone(), Value::from(solution.joint_v(joint)[f].norm())))
        .collect();
    let powers: Vec<f64> = (0..loads).map(|load| solution.loudspeaker_w(load)[f]).collect();
    let current = solution.source_a(f);
    Ok(json!({
        "frequency_hz": solution.frequencies_hz()[f],
        "voltage_v": voltages,
        "load_power_w": powers,
        "source_current_a": current.norm(),
        "source_impedance_ohm": impedance.norm(),
        "source_impedance_phase_deg": impedance.arg().to_degrees(),
    }))
}
