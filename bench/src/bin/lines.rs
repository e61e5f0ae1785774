//! Solving lines: cost against joints, and the time of one line given as JSON (for `lines.py`, which times ngspice).
//!
//! Without arguments: chains with branches of 1000 to 20 000 joints at 31 bands, time per joint, and the 10 000-joint
//! figure against 50 ms. With `--line FILE REPEATS`: seconds per solution of that line, as JSON.
#![expect(clippy::print_stdout, reason = "a benchmark prints its figures")]

use std::error::Error;
use std::time::Instant;

use loamline_electrics::{
    Connection, Line, Load, Loudspeaker, Network, PairConstants, Run, Service, Source, Transformer,
    third_octave_centres_hz,
};

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    match arguments.as_slice() {
        [flag, file, repeats] if flag == "--line" => one_line(file, repeats.parse()?),
        [] => growth(),
        _ => Err("give nothing, or --line FILE REPEATS".into()),
    }
}

fn one_line(file: &str, repeats: u32) -> Result<(), Box<dyn Error>> {
    let line: Line = serde_json::from_str(&std::fs::read_to_string(file)?)?;
    let network = Network::build(&line)?;
    let (seconds, input_ohm) = time(&network, repeats)?;
    println!("{}", serde_json::json!({ "seconds": seconds, "source_impedance_1khz_ohm": input_ohm }));
    Ok(())
}

fn growth() -> Result<(), Box<dyn Error>> {
    println!("joints   solve, ms   ns per joint and band");
    let mut per_joint = Vec::new();
    for joints in [1_000, 2_000, 5_000, 10_000, 20_000] {
        let network = Network::build(&tree(joints))?;
        let (seconds, _) = time(&network, 30)?;
        let each_ns = seconds * 1e9 / joints as f64 / 31.0;
        println!("{joints:>6}   {:>9.2}   {each_ns:>21.1}", seconds * 1e3);
        if joints == 10_000 {
            println!("         10 000 joints at 31 bands: {:.1} ms against 50 ms wanted", seconds * 1e3);
        }
        per_joint.push(each_ns);
    }
    let spread =
        per_joint.iter().copied().fold(0.0, f64::max) / per_joint.iter().copied().fold(f64::MAX, f64::min);
    println!(
        "cost per joint varies by a factor {spread:.2} over a factor 20 in joints (1 is exactly linear)"
    );
    Ok(())
}

/// The best of `repeats` solutions in seconds, and |Z| at 1 kHz, which keeps the work from being skipped.
fn time(network: &Network, repeats: u32) -> Result<(f64, f64), Box<dyn Error>> {
    let source = Source { open_circuit_v: 100.0, output_impedance_ohm: 0.1 };
    let bands = third_octave_centres_hz();
    let (mut best, mut input_ohm) = (f64::MAX, 0.0);
    for _ in 0..repeats.max(1) {
        let start = Instant::now();
        let solution = network.solve(&source, &bands)?;
        best = best.min(start.elapsed().as_secs_f64());
        input_ohm = solution.source_impedance_ohm(17).map_or(0.0, |z| z.norm());
    }
    if !(input_ohm.is_finite() && input_ohm > 0.0) {
        return Err("the line has no impedance".into());
    }
    Ok((best, input_ohm))
}

/// Chains of ten joints off a trunk, a moving-coil loudspeaker on a transformer at every joint.
fn tree(joints: usize) -> Line {
    let name = |k: usize| if k == 0 { "amp".to_owned() } else { format!("J{k}") };
    let runs = (1..=joints).map(|k| Run {
        name: format!("R{k}"),
        from: name(if k % 10 == 1 { k.saturating_sub(10) } else { k - 1 }),
        to: name(k),
        length_m: 5.0 + (k % 7) as f64,
        pair: PairConstants {
            loop_resistance_ohm_per_m: 0.0166,
            loop_inductance_h_per_m: 0.65e-6,
            capacitance_f_per_m: 60e-12,
        },
        in_series: false,
        laid: None,
    });
    let loads = (1..=joints).map(|k| Load {
        name: format!("L{k}"),
        at: name(k),
        connection: Connection::Circuit(Transformer {
            turns_ratio: 9.0,
            primary_resistance_ohm: 20.0,
            secondary_resistance_ohm: 0.25,
            leakage_inductance_h: 1e-3,
            core_loss_ohm: Some(3e4),
            magnetising_inductance_h: Some(4.0),
        }),
        loudspeaker: Loudspeaker::ThieleSmall { re_ohm: 6.2, le_h: 0.4e-3, fs_hz: 80.0, qms: 4.0, qes: 0.6 },
        nominal_ohm: 8.0,
        series_capacitor_f: None,
        in_series: false,
    });
    Line {
        name: "bench".to_owned(),
        service: Service::ConstantVoltage { rated_v: 100.0 },
        source_joint: "amp".to_owned(),
        joints: Vec::new(),
        runs: runs.collect(),
        loads: loads.collect(),
    }
}
