//! Random lines of every kind, from a seed.
#![allow(dead_code, reason = "each test file uses its own part")]
#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]
#![allow(clippy::allow_attributes, reason = "an `expect` would fail where a test file uses everything")]

use loamline_chance::Draws;
use loamline_electrics::*;

pub fn joint(k: usize) -> String {
    if k == 0 { "amp".to_owned() } else { format!("J{k}") }
}

fn loudspeaker(dice: &mut Draws, deep: bool) -> Loudspeaker {
    match dice.below(if deep { 6 } else { 4 }) {
        0 => Loudspeaker::resistance(dice.between(4.0, 16.0)),
        1 => Loudspeaker::ThieleSmall {
            re_ohm: dice.between(3.0, 12.0),
            le_h: dice.between(0.0, 1e-3),
            fs_hz: dice.between(30.0, 120.0),
            qms: dice.between(2.0, 8.0),
            qes: dice.between(0.3, 1.0),
        },
        2 => Loudspeaker::Table {
            points: vec![
                ImpedancePoint {
                    frequency_hz: 50.0,
                    magnitude_ohm: dice.between(8.0, 40.0),
                    phase_deg: 35.0,
                },
                ImpedancePoint {
                    frequency_hz: 300.0,
                    magnitude_ohm: dice.between(6.0, 9.0),
                    phase_deg: -20.0,
                },
                ImpedancePoint {
                    frequency_hz: 9000.0,
                    magnitude_ohm: dice.between(9.0, 20.0),
                    phase_deg: 40.0,
                },
            ],
            dc_resistance_ohm: 6.0,
        },
        3 => Loudspeaker::DualCoil {
            coil_re_ohm: dice.between(2.0, 6.0),
            coil_le_h: dice.between(0.0, 2e-3),
            fs_hz: dice.between(20.0, 40.0),
            qms: dice.between(3.0, 9.0),
            qes: dice.between(0.3, 0.8),
            wiring: [CoilWiring::Series, CoilWiring::Parallel, CoilWiring::OneCoil][dice.below(3)],
        },
        4 => Loudspeaker::Series(vec![loudspeaker(dice, false), loudspeaker(dice, false)]),
        _ => Loudspeaker::Parallel(vec![loudspeaker(dice, false), loudspeaker(dice, false)]),
    }
}

pub fn load(dice: &mut Draws, name: usize, at: usize) -> Load {
    let connection = match dice.below(3) {
        0 => Connection::Direct,
        1 => Connection::Circuit(Transformer {
            turns_ratio: dice.between(3.0, 12.0),
            primary_resistance_ohm: dice.between(0.0, 40.0),
            secondary_resistance_ohm: dice.between(0.0, 1.0),
            leakage_inductance_h: dice.between(0.0, 2e-3),
            core_loss_ohm: (dice.unit() < 0.7).then(|| dice.between(1e3, 2e4)),
            magnetising_inductance_h: (dice.unit() < 0.7).then(|| dice.between(0.5, 5.0)),
        }),
        _ => Connection::Tapped {
            transformer: TappedTransformer {
                rated_v: 70.7,
                taps_w: vec![30.0, 15.0, 7.5, 3.75],
                insertion_loss_db: dice.between(0.3, 1.2),
                rated_low_hz: 60.0,
                magnetising_inductance_h: None,
                windings: Windings::default(),
                loudspeaker_nominal_ohm: 8.0,
            },
            tap_w: [30.0, 15.0, 7.5, 3.75][dice.below(4)],
        },
    };
    Load {
        name: format!("L{name}"),
        at: joint(at),
        connection,
        loudspeaker: loudspeaker(dice, true),
        nominal_ohm: 8.0,
        series_capacitor_f: (dice.unit() < 0.2).then(|| dice.between(20e-6, 200e-6)),
        in_series: false,
    }
}

pub fn run(dice: &mut Draws, name: usize, from: usize, to: usize) -> Run {
    Run {
        name: format!("R{name}"),
        from: joint(from),
        to: joint(to),
        length_m: dice.between(0.5, 60.0),
        pair: PairConstants {
            loop_resistance_ohm_per_m: dice.between(0.006, 0.05),
            loop_inductance_h_per_m: dice.between(0.4e-6, 0.8e-6),
            capacitance_f_per_m: dice.between(30e-12, 120e-12),
        },
        in_series: false,
        laid: None,
    }
}

/// A tree of `joints` joints besides the source with about 0.7 loads each, and `chords` runs that close loops.
pub fn line(seed: u64, joints: usize, chords: usize) -> Line {
    let mut dice = Draws::new(seed);
    let mut runs = Vec::new();
    let mut loads = Vec::new();
    for k in 1..=joints {
        let from = if dice.unit() < 0.7 { k - 1 } else { dice.below(k) };
        let next = run(&mut dice, k, from, k);
        runs.push(next);
        if k == joints || dice.unit() < 0.7 {
            let next = load(&mut dice, k, k);
            loads.push(next);
        }
    }
    for c in 0..chords {
        let (a, b) = (dice.below(joints + 1), dice.below(joints + 1));
        if a != b {
            let next = run(&mut dice, joints + 1 + c, a, b);
            runs.push(next);
        }
    }
    Line {
        name: "A".to_owned(),
        service: Service::ConstantVoltage { rated_v: 70.7 },
        source_joint: "amp".to_owned(),
        joints: Vec::new(),
        runs,
        loads,
    }
}

/// Joint voltages by the textbook: nodal matrix, Gaussian elimination with pivoting.
pub fn dense_voltages(line: &Line, network: &Network, source: &Source, f: f64) -> Vec<Complex64> {
    let omega = std::f64::consts::TAU * f;
    let n = network.joints().len();
    let at = |name: &str| network.joint_index(name).unwrap();
    // The joint behind a load in series.
    let beyond =
        |joint: &str| network.series_joints().find(|(here, _)| *here == at(joint)).map(|(_, inner)| inner);
    let mut matrix = vec![vec![Complex64::new(0.0, 0.0); n + 1]; n];
    for run in &line.runs {
        let from = if run.in_series { beyond(&run.from) } else { None };
        let (a, b) = (from.unwrap_or_else(|| at(&run.from)), at(&run.to));
        let z = Complex64::new(
            run.pair.loop_resistance_ohm_per_m * run.length_m,
            omega * run.pair.loop_inductance_h_per_m * run.length_m,
        );
        let half = Complex64::new(0.0, omega * run.pair.capacitance_f_per_m * run.length_m / 2.0);
        matrix[a][a] += z.inv() + half;
        matrix[b][b] += z.inv() + half;
        matrix[a][b] -= z.inv();
        matrix[b][a] -= z.inv();
    }
    for load in &line.loads {
        let (a, y) = (at(&load.at), load.response(f).admittance_s);
        matrix[a][a] += y;
        if let Some(b) = beyond(&load.at).filter(|_| load.in_series) {
            matrix[b][b] += y;
            matrix[a][b] -= y;
            matrix[b][a] -= y;
        }
    }
    let amp = network.source_index();
    matrix[amp][amp] += source.output_impedance_ohm.recip();
    matrix[amp][n] += source.open_circuit_v / source.output_impedance_ohm;
    for k in 0..n {
        let pivot = (k..n).max_by(|&a, &b| matrix[a][k].norm().total_cmp(&matrix[b][k].norm())).unwrap();
        matrix.swap(k, pivot);
        let row = matrix[k].clone();
        for (i, other) in matrix.iter_mut().enumerate() {
            if i != k {
                let factor = other[k] / row[k];
                for (cell, above) in other.iter_mut().zip(&row).skip(k) {
                    *cell -= factor * above;
                }
            }
        }
    }
    (0..n).map(|k| matrix[k][n] / matrix[k][k]).collect()
}
