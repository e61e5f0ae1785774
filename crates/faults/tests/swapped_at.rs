//! Pairs of two lines swapped at a joint both come through: what a meter shows then, drawn as a line of its own.

use loamline_electrics::*;
use loamline_faults::*;
use loamline_terms::METER_FREQUENCIES_HZ;

fn run(name: &str, from: &str, to: &str, length_m: f64) -> Run {
    let pair = PairConstants {
        loop_resistance_ohm_per_m: 0.02,
        loop_inductance_h_per_m: 6e-7,
        capacitance_f_per_m: 1e-10,
    };
    Run { name: name.into(), from: from.into(), to: to.into(), in_series: false, length_m, pair, laid: None }
}

fn load(name: &str, ohm: f64) -> Load {
    Load {
        name: name.into(),
        at: name.into(),
        in_series: false,
        connection: Connection::Direct,
        loudspeaker: Loudspeaker::resistance(ohm),
        nominal_ohm: ohm,
        series_capacitor_f: None,
    }
}

fn line(name: &str, runs: Vec<Run>, loads: Vec<Load>) -> Line {
    let service = Service::LowImpedance;
    Line { name: name.into(), service, source_joint: "R".into(), joints: Vec::new(), runs, loads }
}

/// 40 m to J, then 10 m to 8 ohm; 20 m to J, then 30 m to 5 ohm.
fn lines() -> (Line, Line) {
    let a = line("A", vec![run("a1", "R", "J", 40.0), run("a2", "J", "L1", 10.0)], vec![load("L1", 8.0)]);
    let b = line("B", vec![run("b1", "R", "J", 20.0), run("b2", "J", "L2", 30.0)], vec![load("L2", 5.0)]);
    (a, b)
}

/// Ohm's law: A as far as J and then B is 0.8 + 0.6 + 5 = 6.4 ohm; from J alone 5.6. B as a whole is 6.0, A 9.0.
#[test]
fn it_is_found_told_from_a_swap_at_the_rack_and_seen_when_the_joint_is_opened() {
    let (a, b) = lines();
    let (tolerances, priors, effort) = (Tolerances::default(), Priors::default(), Effort::default());
    let at_j = |ohm: f64| MeterReading {
        place: Place::Downstream("J".into()),
        ..MeterReading::at_rack(0.0, Shown::Ohm(ohm))
    };
    let fault = Fault::SwappedAt { joint: "J".into(), line: "B".into() };
    let asked = |readings: &[MeterReading], opened: &[String]| {
        let asked = Asked {
            line: &a,
            others: &[&b],
            readings,
            opened,
            tolerances: &tolerances,
            priors: &priors,
            effort: &effort,
            meter_hz: &METER_FREQUENCIES_HZ,
            pairs: false,
            insulation: None,
        };
        locate(&asked).unwrap()
    };
    let both = [MeterReading::at_rack(0.0, Shown::Ohm(6.4)), at_j(5.6)];
    let found = asked(&both, &[]);
    assert_eq!(found.explanations[0].fault, fault, "{:?}", found.explanations);
    assert!((found.explanations[0].predicted[0].ohm.unwrap() - 6.4).abs() < 1e-6);
    assert!((found.explanations[0].predicted[1].ohm.unwrap() - 5.6).abs() < 1e-6);
    // Opened and found good, it is not that.
    let opened = asked(&both, &["J".to_owned()]);
    let chance =
        |d: &Diagnosis| d.explanations.iter().find(|e| e.fault == fault).map_or(0.0, |e| e.probability);
    assert!(chance(&opened) < chance(&found));
    // B on the terminals reads 6.0 ohm at the rack, and at J what A reads there.
    let at_the_rack = asked(&[MeterReading::at_rack(0.0, Shown::Ohm(6.0)), at_j(8.2)], &[]);
    let best = &at_the_rack.explanations[0];
    assert_eq!(best.fault, Fault::Swapped { line: "B".into() }, "{:?}", at_the_rack.explanations);
}
