//! Loads in series against the plain nodal matrix, the laws every network obeys, and the same faults drawn as lines.

#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

mod common;

use common::{dense_voltages, line, load, run};
use loamline_chance::Draws;
use loamline_electrics::*;
use proptest::prelude::*;

const SOURCE: Source = Source { open_circuit_v: 40.0, output_impedance_ohm: 0.1 };
const HZ: [f64; 4] = [0.0, 31.5, 315.0, 8000.0];

/// A random tree; some loads stand in series with what hangs on a run that is led on from them.
fn strings(seed: u64, joints: usize) -> Line {
    let mut line = line(seed, joints, 0);
    let mut dice = Draws::new(seed ^ 7);
    let ends: Vec<String> = line.loads.iter().map(|load| load.at.clone()).collect();
    for (index, at) in ends.into_iter().enumerate() {
        if dice.unit() < 0.5 {
            continue;
        }
        let first = &mut line.loads[index];
        first.in_series = true;
        // Nothing blocks direct current in a string.
        first.series_capacitor_f = None;
        for beside in 0..1 + dice.below(2) {
            let name = 1000 + 2 * index + beside;
            let mut onward = run(&mut dice, name, 0, name);
            (onward.from, onward.in_series) = (at.clone(), true);
            line.runs.push(onward);
            let mut second = load(&mut dice, name, name);
            second.series_capacitor_f = None;
            line.loads.push(second);
        }
    }
    line
}

fn impedances(line: &Line) -> Vec<Option<Complex64>> {
    let network = Network::build(line).unwrap();
    let solution = network.solve(&Source::ideal(1.0), &HZ).unwrap();
    (0..HZ.len()).map(|f| solution.line_impedance_ohm(f)).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn voltages_match_the_plain_nodal_matrix(seed: u64, joints in 1usize..15) {
        let line = strings(seed, joints);
        let network = Network::build(&line).unwrap();
        let solution = network.solve(&SOURCE, &HZ).unwrap();
        for (index, &f) in HZ.iter().enumerate() {
            for (k, expected) in dense_voltages(&line, &network, &SOURCE, f).into_iter().enumerate() {
                let got = solution.joint_v(k)[index];
                prop_assert!((got - expected).norm() <= 1e-8 * 40.0, "{f} Hz, joint {k}: {got} against {expected}");
            }
        }
    }

    #[test]
    fn source_power_is_cable_plus_loads(seed: u64, joints in 1usize..15) {
        let line = strings(seed, joints);
        let network = Network::build(&line).unwrap();
        let solution = network.solve(&SOURCE, &HZ).unwrap();
        for (index, &f) in HZ.iter().enumerate() {
            let cable: f64 = (0..line.runs.len()).map(|run| solution.run_loss_w(run)[index]).sum();
            let loads: f64 = line.loads.iter().enumerate().map(|(k, load)| {
                solution.load_across_v(k)[index].norm_sqr() * load.response(f).admittance_s.re
            }).sum();
            let source = solution.line_w(index);
            prop_assert!((source - cable - loads).abs() <= 1e-8 * source + 1e-15, "{f} Hz: {source} W against {} W", cable + loads);
        }
    }

    #[test]
    fn a_load_missing_in_a_string_takes_the_string_out(seed: u64, joints in 1usize..12) {
        let line = strings(seed, joints);
        let Some(first) = line.loads.iter().position(|load| load.in_series) else { return Ok(()) };
        let probe = Probe::new(&Network::build(&line).unwrap(), &HZ).unwrap();
        let mut drawn = line.clone();
        let at = drawn.loads.remove(first).at;
        let gone: Vec<String> =
            drawn.runs.iter().filter(|run| run.in_series && run.from == at).map(|run| run.to.clone()).collect();
        drawn.runs.retain(|run| !(run.in_series && run.from == at));
        drawn.loads.retain(|load| !gone.contains(&load.at));
        for (got, expected) in probe.read(&[Change::Missing { load: first }]).iter().zip(impedances(&drawn)) {
            match (got, expected) {
                (Some(got), Some(expected)) => prop_assert!((got - expected).norm() <= 1e-9 * expected.norm()),
                _ => prop_assert_eq!(got.is_some(), expected.is_some()),
            }
        }
    }

    #[test]
    fn sensitivities_match_differences(seed: u64, joints in 1usize..10) {
        let line = strings(seed, joints);
        let load = Draws::new(seed).below(line.loads.len());
        let probe = Probe::new(&Network::build(&line).unwrap(), &HZ).unwrap();
        let step = 1e-6;
        let heavier: Vec<_> = probe.load_admittance_s(load).iter().map(|y| y / (1.0 + step)).collect();
        let loaded = probe.read(&[Change::Replaced { load, admittance_s: heavier }]);
        for (f, examined) in probe.examine(&[]).into_iter().enumerate() {
            let Some(z) = examined.impedance_ohm else { continue };
            let difference = (loaded[f].unwrap() - z) / step;
            prop_assert!((examined.per_load_ohm[load] - difference).norm() <= 1e-4 * z.norm());
        }
    }

    #[test]
    fn two_changes_are_a_solution_with_both(seed: u64, joints in 3usize..10) {
        let line = strings(seed, joints);
        let Some(first) = line.loads.iter().position(|load| load.in_series) else { return Ok(()) };
        let probe = Probe::new(&Network::build(&line).unwrap(), &HZ).unwrap();
        let quick = TwoChanges::new(&probe, &[]);
        let admittance_s = vec![Complex64::new(0.4, 0.1); HZ.len()];
        let of_string = [Change::Missing { load: first }, Change::Replaced { load: first, admittance_s }];
        let other = Change::Series { run: 0, ohm: 3.0 };
        for change in of_string {
            let exact = probe.read(&[change.clone(), other.clone()]);
            for (a, b) in [(&change, &other), (&other, &change)] {
                if matches!(b, Change::Missing { .. }) {
                    continue; // a cut comes first
                }
                let (altered, stamp) = (quick.altered(a), quick.stamp(b));
                for (f, exact) in exact.iter().enumerate() {
                    let Some(exact) = exact.filter(|z| z.norm() < 2000.0) else { continue };
                    prop_assert!((altered.with(&stamp, f) - exact).norm() <= 1e-3 * exact.norm(), "{change:?} at {} Hz", HZ[f]);
                }
            }
        }
    }
}

fn eight_ohm(name: &str, in_series: bool) -> Load {
    Load {
        name: name.into(),
        at: name.into(),
        in_series,
        connection: Connection::Direct,
        loudspeaker: Loudspeaker::resistance(8.0),
        nominal_ohm: 8.0,
        series_capacitor_f: None,
    }
}

fn leg(name: &str, from: &str, to: &str, length_m: f64, in_series: bool) -> Run {
    let pair = PairConstants {
        loop_resistance_ohm_per_m: 0.02,
        loop_inductance_h_per_m: 1e-12,
        capacitance_f_per_m: 1e-18,
    };
    Run { name: name.into(), from: from.into(), to: to.into(), in_series, length_m, pair, laid: None }
}

fn hung(runs: Vec<Run>, loads: Vec<Load>) -> Line {
    let (name, source_joint) = ("A".into(), "R".into());
    Line { name, service: Service::LowImpedance, source_joint, joints: Vec::new(), runs, loads }
}

/// 40 V into two of 8 ohm in series, 50 m of 0.02 ohm/m there and back to the first and 25 m on: 1 + 8 + 0.5 + 8 ohm.
#[test]
fn the_loss_of_a_string_is_that_of_its_cable() {
    let line = hung(
        vec![leg("a1", "R", "L1", 50.0, false), leg("a2", "L1", "L2", 25.0, true)],
        vec![eight_ohm("L1", true), eight_ohm("L2", false)],
    );
    let channel =
        Channel { max_voltage_v: 40.0, output_impedance_ohm: 0.0, ..Channel::low_impedance("C", 100.0, 8.0) };
    let study = solve_line(&line, &channel, &LineLimits::default(), &[1000.0]).unwrap();
    for load in &study.loads {
        assert!((load.joint_1khz_v - 40.0 * 8.0 / 17.5).abs() < 1e-6, "{}", load.joint_1khz_v);
        assert!((load.loss_1khz_db - 20.0 * (17.5f64 / 16.0).log10()).abs() < 1e-6, "{}", load.loss_1khz_db);
    }
    assert!((study.impedance_ohm[0] - 17.5).abs() < 1e-6);
}

/// Two strings of two 8 ohm loudspeakers in parallel are 8 ohm, which 200 W are rated into: 40 V, 20 V across each, 50 W in
/// each. One string alone is 16 ohm, and the voltage of the greatest load holds: 40 V still.
#[test]
fn full_drive_is_into_the_load_the_strings_make() {
    let ratings = [(4.0, 250.0), (8.0, 200.0)].map(|(load_ohm, power_w)| Rating { load_ohm, power_w });
    let channel = Channel {
        ratings: ratings.to_vec(),
        max_voltage_v: 100.0,
        max_current_a: 100.0,
        ..Channel::low_impedance("C", 250.0, 4.0)
    };
    let string = |first: &str, second: &str| {
        let runs = [leg(first, "R", first, 1e-6, false), leg(second, first, second, 1e-6, true)];
        (runs, [eight_ohm(first, true), eight_ohm(second, false)])
    };
    let (one, other) = (string("L1", "L2"), string("L3", "L4"));
    let alone = hung(one.0.to_vec(), one.1.to_vec());
    let both = hung([one.0, other.0].concat(), [one.1, other.1].concat());
    for (line, ohm) in [(alone, 16.0), (both, 8.0)] {
        let study = solve_line(&line, &channel, &LineLimits::default(), &[1000.0]).unwrap();
        assert!((study.minimum.impedance_ohm - ohm).abs() < 1e-5, "{}", study.minimum.impedance_ohm);
        assert!((study.drive_v - 40.0).abs() < 1e-4, "{ohm} ohm: {} V", study.drive_v);
        for load in &study.loads {
            assert!((load.joint_1khz_v - 20.0).abs() < 1e-4, "{}", load.joint_1khz_v);
            assert!((load.power_1khz_w - 50.0).abs() < 1e-3, "{}", load.power_1khz_w);
            assert!(load.loss_1khz_db.abs() < 1e-5, "{}", load.loss_1khz_db);
        }
    }
}

/// The same string with 50 W wanted in each: 20 V across each by hand, so 40 V at the amplifier into 16 ohm, 100 W.
#[test]
fn a_string_is_compared_as_it_hangs() {
    let line = hung(
        vec![leg("a1", "R", "L1", 1e-3, false), leg("a2", "L1", "L2", 1e-3, true)],
        vec![eight_ohm("L1", true), eight_ohm("L2", false)],
    );
    let cable = Cable {
        name: "thick".into(),
        size: ConductorSize::AreaMm2(4.0),
        strands: Strands::Stranded,
        conductors: 2,
        loop_inductance_h_per_m: 1e-12,
        capacitance_f_per_m: 1e-18,
    };
    let prices = ComparisonPrices {
        cable_per_m: vec![1.0],
        transformer: 0.0,
        amplifier_per_w: 1.0,
        amplifier_channel: 1.0,
    };
    let way = ComparedWay { service: line.service, loads: line.loads.clone(), wanted_w: vec![50.0; 2] };
    let ways = compare_services(
        &line.source_joint,
        &line.runs,
        &[],
        &[way],
        &[cable],
        &prices,
        20.0,
        &LineLimits::default(),
        4.0,
    )
    .unwrap();
    assert!((ways[0].load_ohm - 16.0).abs() < 1e-3, "{}", ways[0].load_ohm);
    assert!((ways[0].amplifier_w - 100.0).abs() < 0.01, "{}", ways[0].amplifier_w);
    assert!(ways[0].worst_loss_db.abs() < 1e-3 && ways[0].channels == 1);
}
