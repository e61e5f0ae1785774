//! Perturbed readings against the same perturbation drawn as a line, and sensitivities against differences.

#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

mod common;

use common::line;
use loamline_chance::Draws;
use loamline_electrics::*;
use proptest::prelude::*;

const METER: [f64; 3] = [0.0, 315.0, 1000.0];

fn impedances(line: &Line) -> Vec<Option<Complex64>> {
    let network = Network::build(line).unwrap();
    let solution = network.solve(&Source::ideal(1.0), &METER).unwrap();
    (0..METER.len()).map(|f| solution.line_impedance_ohm(f)).collect()
}

fn assert_same(got: &[Option<Complex64>], expected: &[Option<Complex64>]) {
    for (got, expected) in got.iter().zip(expected) {
        match (got, expected) {
            (Some(got), Some(expected)) => {
                assert!((got - expected).norm() <= 1e-9 * expected.norm(), "{got} against {expected}");
            }
            _ => assert_eq!(got.is_some(), expected.is_some()),
        }
    }
}

fn shunt(name: &str, at: &str, ohm: f64) -> Load {
    Load {
        name: name.to_owned(),
        at: at.to_owned(),
        connection: Connection::Direct,
        loudspeaker: Loudspeaker::resistance(ohm),
        nominal_ohm: ohm,
        series_capacitor_f: None,
        in_series: false,
    }
}

/// A run split in two at `fraction`, with a joint "X" between.
fn split(line: &Line, run: usize, fraction: f64) -> Line {
    let mut split = line.clone();
    let whole = split.runs[run].clone();
    split.runs[run] = Run { to: "X".into(), length_m: whole.length_m * fraction, ..whole.clone() };
    split.runs.push(Run {
        name: "far part".into(),
        from: "X".into(),
        length_m: whole.length_m * (1.0 - fraction),
        ..whole
    });
    split
}

/// Without capacitance, so that a run in two parts is exactly a run in one.
fn bare_line(seed: u64, joints: usize, chords: usize) -> Line {
    let mut line = line(seed, joints, chords);
    for run in &mut line.runs {
        run.pair.capacitance_f_per_m = 0.0;
    }
    line
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn a_short_along_a_run_reads_as_one_drawn_there(seed: u64, joints in 1usize..20, chords in 0usize..4, fraction in 0.05f64..0.95) {
        let line = bare_line(seed, joints, chords);
        let run = Draws::new(seed).below(line.runs.len());
        let probe = Probe::new(&Network::build(&line).unwrap(), &METER).unwrap();
        let mut drawn = split(&line, run, fraction);
        drawn.loads.push(shunt("short", "X", 0.2));
        assert_same(&probe.read(&[Change::ShortAlong { run, fraction, ohm: 0.2 }]), &impedances(&drawn));
    }

    #[test]
    fn series_leakage_missing_and_added_read_as_drawn(seed: u64, joints in 1usize..20, chords in 0usize..4) {
        let line = bare_line(seed, joints, chords);
        let mut dice = Draws::new(seed);
        let (run, load) = (dice.below(line.runs.len()), dice.below(line.loads.len()));
        let network = Network::build(&line).unwrap();
        let probe = Probe::new(&network, &METER).unwrap();
        let joint = network.run_ends(run).unwrap().1;
        let mut drawn = line.clone();
        let corroded = &mut drawn.runs[run];
        let length = corroded.length_m;
        corroded.pair.loop_resistance_ohm_per_m += 3.0 / length;
        drawn.loads.push(shunt("wet", &network.joints()[joint], 470.0));
        let removed = drawn.loads.remove(load);
        drawn.loads.push(Load { loudspeaker: Loudspeaker::resistance(5.0), connection: Connection::Direct, series_capacitor_f: None, ..removed });
        let changes = [
            Change::Series { run, ohm: 3.0 },
            Change::Across { joint, ohm: 470.0 },
            Change::Missing { load },
            Change::Added { joint: network.load_joint(load).unwrap(), admittance_s: vec![Complex64::from(0.2); 3] },
        ];
        assert_same(&probe.read(&changes), &impedances(&drawn));
    }

    #[test]
    fn a_cut_leaves_what_is_before_it(seed: u64, joints in 2usize..20) {
        let line = bare_line(seed, joints, 0);
        let network = Network::build(&line).unwrap();
        let probe = Probe::new(&network, &METER).unwrap();
        let run = Draws::new(seed).below(line.runs.len());
        let mut gone = std::collections::BTreeSet::from([line.runs[run].to.clone()]);
        let mut drawn = line.clone();
        drawn.runs.clear();
        for (index, other) in line.runs.iter().enumerate() {
            if index == run || gone.contains(&other.from) {
                gone.insert(other.to.clone());
            } else {
                drawn.runs.push(other.clone());
            }
        }
        drawn.loads.retain(|load| !gone.contains(&load.at));
        let got = probe.read(&[Change::Cut { run, fraction: 0.3 }]);
        if drawn.runs.is_empty() {
            prop_assert!(got.iter().all(Option::is_none), "nothing is left: {got:?}");
        } else {
            assert_same(&got, &impedances(&drawn));
        }
    }

    #[test]
    fn sensitivities_match_differences(seed: u64, joints in 1usize..15, chords in 0usize..3, fraction in 0.1f64..0.9) {
        let line = bare_line(seed, joints, chords);
        let mut dice = Draws::new(seed);
        let (run, short) = (dice.below(line.runs.len()), dice.below(line.runs.len()));
        let load = dice.below(line.loads.len());
        let step = 1e-6;
        let mut longer = line.clone();
        longer.runs[run].length_m *= 1.0 + step;
        for changes in [vec![], vec![Change::ShortAlong { run: short, fraction, ohm: 0.5 }], vec![Change::Series { run: short, ohm: 4.0 }]] {
            let probe = Probe::new(&Network::build(&line).unwrap(), &METER).unwrap();
            let moved = Probe::new(&Network::build(&longer).unwrap(), &METER).unwrap().read(&changes);
            let heavier: Vec<_> = probe.load_admittance_s(load).iter().map(|y| y / (1.0 + step)).collect();
            let mut with_load = changes.clone();
            with_load.push(Change::Replaced { load, admittance_s: heavier });
            let loaded = probe.read(&with_load);
            for (f, examined) in probe.examine(&changes).into_iter().enumerate() {
                let Some(z) = examined.impedance_ohm else { continue };
                for (got, after) in [(examined.per_run_ohm[run], moved[f]), (examined.per_load_ohm[load], loaded[f])] {
                    let difference = (after.unwrap() - z) / step;
                    prop_assert!((got - difference).norm() <= 1e-4 * z.norm(), "{got} against {difference} of {z}");
                }
            }
        }
    }
}
