//! The network solver against the plain nodal matrix, and against the laws every network obeys.

#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

mod common;

use common::{dense_voltages, joint, line};
use loamline_chance::Draws;
use loamline_electrics::*;
use proptest::prelude::*;

const SOURCE: Source = Source { open_circuit_v: 70.7, output_impedance_ohm: 0.1 };

fn frequencies() -> Vec<f64> {
    let mut all = third_octave_centres_hz().to_vec();
    all.push(0.0);
    all
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn voltages_match_the_plain_nodal_matrix(seed: u64, joints in 1usize..25, chords in 0usize..6) {
        let line = line(seed, joints, chords);
        let network = Network::build(&line).unwrap();
        let solution = network.solve(&SOURCE, &frequencies()).unwrap();
        for (index, &f) in frequencies().iter().enumerate() {
            for (k, expected) in dense_voltages(&line, &network, &SOURCE, f).into_iter().enumerate() {
                let got = solution.joint_v(k)[index];
                prop_assert!((got - expected).norm() <= 1e-8 * 70.7, "{f} Hz, joint {k}: {got} against {expected}");
            }
        }
    }

    #[test]
    fn source_power_is_cable_plus_loads(seed: u64, joints in 1usize..60, chords in 0usize..8) {
        let line = line(seed, joints, chords);
        let network = Network::build(&line).unwrap();
        let solution = network.solve(&SOURCE, &frequencies()).unwrap();
        let losses: Vec<_> = (0..line.runs.len()).map(|run| solution.run_loss_w(run)).collect();
        for (index, &f) in frequencies().iter().enumerate() {
            let cable: f64 = losses.iter().map(|loss| loss[index]).sum();
            // All power a load takes, transformer included: |V|^2 Re Y.
            let loads: f64 = line.loads.iter().enumerate().map(|(k, load)| {
                let v = solution.joint_v(network.load_joint(k).unwrap())[index];
                v.norm_sqr() * load.response(f).admittance_s.re
            }).sum();
            let source = solution.line_w(index);
            prop_assert!((source - cable - loads).abs() <= 1e-9 * source + 1e-15, "{f} Hz: {source} W against {} W", cable + loads);
            let terminal = (solution.joint_v(network.source_index())[index] * solution.source_a(index).conj()).re;
            prop_assert!((source - terminal).abs() <= 1e-9 * source + 1e-15);
        }
    }

    #[test]
    fn transfer_impedances_are_reciprocal(seed: u64, joints in 2usize..40, chords in 0usize..6) {
        let line = line(seed, joints, chords);
        let network = Network::build(&line).unwrap();
        let mut dice = Draws::new(seed ^ 1);
        let far = joint(1 + dice.below(joints));
        let back = network.seen_from(&far).unwrap();
        let ideal = Source::ideal(1.0);
        let (there, here) = (network.solve(&ideal, &frequencies()).unwrap(), back.solve(&ideal, &frequencies()).unwrap());
        let (amp, k) = (network.joint_index("amp").unwrap(), network.joint_index(&far).unwrap());
        for index in 0..frequencies().len() {
            if there.source_a(index).norm() < 1e-12 || here.source_a(index).norm() < 1e-12 {
                continue; // nothing conducts at DC
            }
            let forward = there.joint_v(k)[index] / there.source_a(index);
            let backward = here.joint_v(amp)[index] / here.source_a(index);
            prop_assert!((forward - backward).norm() <= 1e-9 * forward.norm().max(1e-6), "{forward} {backward}");
        }
    }

    #[test]
    fn no_result_is_ever_not_a_number(seed: u64, joints in 1usize..20, chords in 0usize..4) {
        let line = line(seed, joints, chords);
        let network = Network::build(&line).unwrap();
        let solution = network.solve(&Source::ideal(100.0), &frequencies()).unwrap();
        for k in 0..network.joints().len() {
            prop_assert!(solution.joint_v(k).iter().all(|v| v.is_finite()));
        }
        for k in 0..line.loads.len() {
            prop_assert!(solution.loudspeaker_w(k).iter().all(|w| w.is_finite() && *w >= 0.0));
        }
    }
}

/// One pi section against the exact transmission line, A + B/Zl = cosh gl + Zc sinh gl / Zl: the series arm is short by
/// |ZY|/6 and the rest by |ZY|^2/24, so the contract is |ZY|/6: 0.1 % for 95 m of ordinary cable at 20 kHz whatever
/// the load.
#[test]
fn a_run_is_within_its_stated_error_of_the_transmission_line() {
    for length in [10.0, 50.0, 95.0, 200.0, 300.0] {
        for (r, l, c) in [(0.0166, 0.65e-6, 60e-12), (0.0066, 0.65e-6, 100e-12), (0.042, 0.5e-6, 60e-12)] {
            for load in [8.0, 50.0, 333.0, 5000.0] {
                for f in [20.0, 1000.0, 5000.0, 20_000.0] {
                    let omega = std::f64::consts::TAU * f;
                    let (z, y) =
                        (Complex64::new(r, omega * l) * length, Complex64::new(0.0, omega * c) * length);
                    let gl = (z * y).sqrt();
                    let exact = (gl.cosh() + (z / y).sqrt() * gl.sinh() / load).inv().norm();
                    let pair = PairConstants {
                        loop_resistance_ohm_per_m: r,
                        loop_inductance_h_per_m: l,
                        capacitance_f_per_m: c,
                    };
                    let one = Run { length_m: length, pair, ..common::run(&mut Draws::new(1), 1, 0, 1) };
                    let line = Line { runs: vec![one], loads: vec![plain_load("J1", load)], ..line(1, 1, 0) };
                    let network = Network::build(&line).unwrap();
                    let solution = network.solve(&Source::ideal(1.0), &[f]).unwrap();
                    let got = solution.joint_v(network.joint_index("J1").unwrap())[0].norm();
                    let error = (got / exact - 1.0).abs();
                    let bound = (z * y).norm() / 6.0;
                    assert!(error <= bound, "{length} m, {load} ohm, {f} Hz: {error} over {bound}");
                    if length <= 95.0 && c < 80e-12 {
                        assert!(error < 1e-3, "{length} m, {load} ohm, {f} Hz: {error}");
                    }
                }
            }
        }
    }
}

fn plain_load(at: &str, ohm: f64) -> Load {
    Load {
        name: format!("at {at}"),
        at: at.to_owned(),
        connection: Connection::Direct,
        loudspeaker: Loudspeaker::resistance(ohm),
        nominal_ohm: ohm,
        series_capacitor_f: None,
        in_series: false,
    }
}

fn broken(change: impl FnOnce(&mut Line)) -> String {
    let mut line = line(3, 5, 0);
    line.loads = vec![plain_load("J5", 8.0)];
    change(&mut line);
    Network::build(&line).unwrap_err().to_string()
}

#[test]
fn bad_lines_name_the_joint() {
    let zero = broken(|line| line.runs[2].length_m = 0.0);
    assert!(zero.contains("to J3): length is 0 m; it must be above zero"), "{zero}");
    assert!(broken(|line| line.runs[2].length_m = f64::NAN).contains("length is NaN m"));
    assert!(
        broken(|line| line.runs[4].pair.capacitance_f_per_m = -1.0).contains("to J5): capacitance is -1 F/m")
    );
    assert!(
        broken(|line| line.runs[1].to = line.runs[1].from.clone())
            .contains("run R2 starts and ends at joint")
    );
    assert_eq!(
        broken(|line| line.runs.push(Run {
            name: "R9".into(),
            from: "J8".into(),
            to: "J9".into(),
            ..line.runs[0].clone()
        })),
        "run R9 (J8 to J9) is open: no way leads from the source amp to joint J8"
    );
    assert_eq!(
        broken(|line| {
            for (name, from, to) in [("R7", "J7", "J8"), ("R8", "J8", "J9"), ("R9", "J9", "J7")] {
                line.runs.push(Run {
                    name: name.into(),
                    from: from.into(),
                    to: to.into(),
                    ..line.runs[0].clone()
                });
            }
        }),
        "the loop through joint J7 (J7, J8, J9) has no source: no way leads to it from amp"
    );
    assert!(
        broken(|line| line.joints = vec!["J1".into(), "J2".into(), "J1".into()])
            .starts_with("joint J1 is listed 2 times")
    );
    assert!(broken(|line| line.runs[1].name = "R1".into()).starts_with("run R1 is listed twice"));
    assert!(
        broken(|line| line.loads[0].at = "J77".into())
            .contains("load at J5 is at joint J77, which the line does not have")
    );
    assert!(
        broken(|line| line.source_joint = "rack".into())
            .contains("nothing is connected to the source joint rack")
    );
}

#[test]
fn every_problem_is_reported_in_one_go() {
    let text = broken(|line| {
        line.runs[0].length_m = -1.0;
        line.runs[1].pair.loop_resistance_ohm_per_m = 0.0;
        line.loads[0].nominal_ohm = 0.0;
    });
    assert_eq!(text.lines().count(), 3, "{text}");
}

#[test]
fn two_runs_side_by_side_halve_the_loop() {
    let mut pair = line(5, 1, 0);
    pair.loads = vec![plain_load("J1", 8.0)];
    let alone = pair.runs[0].pair.loop_resistance_ohm_per_m * pair.runs[0].length_m;
    pair.runs.push(Run { name: "R2".into(), ..pair.runs[0].clone() });
    let network = Network::build(&pair).unwrap();
    let solution = network.solve(&Source::ideal(1.0), &[0.0]).unwrap();
    assert!((solution.line_impedance_ohm(0).unwrap().re - 8.0 - alone / 2.0).abs() < 1e-12);
    assert!((solution.run_a(0)[0] - solution.run_a(1)[0]).norm() < 1e-15);
}
