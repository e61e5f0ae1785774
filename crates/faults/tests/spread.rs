//! What makes a reading spread, and what stands behind an explanation.

use loamline_electrics::{
    COPPER_COEFFICIENT_PER_K, Connection, Line, Load, Loudspeaker, PairConstants, Run, Service,
};
use loamline_faults::{
    Asked, Cause, Effort, Fault, LoadTolerances, MeterReading, Place, Priors, Shown, Tolerances,
    expected_readings, expected_spread, locate,
};
use loamline_terms::METER_FREQUENCIES_HZ;

fn line() -> Line {
    let run = |name: &str, from: &str, to: &str, length_m: f64| Run {
        name: name.to_owned(),
        from: from.to_owned(),
        to: to.to_owned(),
        length_m,
        pair: PairConstants {
            loop_resistance_ohm_per_m: 0.02,
            loop_inductance_h_per_m: 6e-7,
            capacitance_f_per_m: 6e-11,
        },
        in_series: false,
        laid: None,
    };
    let load = |at: &str| Load {
        name: at.to_owned(),
        at: at.to_owned(),
        loudspeaker: Loudspeaker::Resistance { resistance_ohm: 8.0 },
        connection: Connection::Direct,
        nominal_ohm: 8.0,
        series_capacitor_f: None,
        in_series: false,
    };
    Line {
        name: "A".to_owned(),
        service: Service::LowImpedance,
        joints: Vec::new(),
        source_joint: "R1".to_owned(),
        runs: vec![run("A1", "R1", "L1", 40.0), run("A2", "L1", "L2", 30.0)],
        loads: vec![load("L1"), load("L2")],
    }
}

#[test]
fn causes_add_up_to_the_interval() {
    let (line, t) = (line(), Tolerances::default());
    for (place, hz) in
        [(Place::Rack, 0.0), (Place::Rack, 1000.0), (Place::Downstream("L2".to_owned()), 315.0)]
    {
        let spread = expected_spread(&line, &place, hz, &t).unwrap();
        let all = expected_readings(&line, &[0.0, 315.0, 1000.0], &t).unwrap();
        let listed = all.iter().find(|r| r.place == place && r.frequency_hz == hz).unwrap();
        assert_eq!(&spread.reading, listed);
        let high = listed.high_ohm.unwrap() + t.offset_ohm();
        let middle = listed.ohm.unwrap() + t.offset_ohm();
        assert!(((high / middle).ln() - 1.959_964 * spread.deviation).abs() < 1e-9);
        let squares: f64 = spread.causes.iter().map(|(_, d)| d * d).sum();
        assert!((squares - spread.deviation.powi(2)).abs() < 1e-12);
    }
}

/// Copper warms by 0.393 % a kelvin (IEC 60228) and everything here is copper: voice coils and cable.
#[test]
fn temperature_alone_moves_copper_by_its_coefficient() {
    let t = Tolerances {
        length: 0.0,
        length_common: 0.0,
        temperature_k: 8.0,
        cable_inductance: 0.0,
        cable_capacitance: 0.0,
        load: LoadTolerances::default().scaled(0.0),
        meter: 0.0,
        meter_floor_ohm: 1e-4,
        ..Tolerances::default()
    };
    let spread = expected_spread(&line(), &Place::Rack, 0.0, &t).unwrap();
    let temperature = spread.causes[Cause::Temperature as usize].1;
    assert!((temperature - 8.0 * COPPER_COEFFICIENT_PER_K).abs() < 1e-3, "{temperature}");
    for (cause, deviation) in spread.causes {
        assert!(matches!(cause, Cause::Temperature | Cause::Meter) || deviation < 1e-9, "{cause:?}");
    }
}

#[test]
fn an_explanation_says_what_it_predicts_and_what_it_was_thought_before() {
    let (line, tolerances, priors) = (line(), Tolerances::default(), Priors::default());
    let expected = expected_readings(&line, &[0.0, 1000.0], &tolerances).unwrap();
    let rack: Vec<_> = expected.iter().filter(|r| r.place == Place::Rack).collect();
    // A fifth above what a good line reads.
    let readings: Vec<MeterReading> = rack
        .iter()
        .map(|r| MeterReading::at_rack(r.frequency_hz, Shown::Ohm(1.2 * r.ohm.unwrap())))
        .collect();
    let asked = Asked {
        line: &line,
        others: &[],
        readings: &readings,
        opened: &[],
        tolerances: &tolerances,
        priors: &priors,
        effort: &Effort::default(),
        meter_hz: &METER_FREQUENCIES_HZ,
        pairs: false,
        insulation: None,
    };
    let found = locate(&asked).unwrap();
    let good = found.explanations.iter().find(|e| e.fault == Fault::Healthy).unwrap();
    assert_eq!(good.predicted.len(), readings.len());
    for (predicted, expected) in good.predicted.iter().zip(&rack) {
        assert!((predicted.ohm.unwrap() - expected.ohm.unwrap()).abs() < 1e-9);
        // The interval of 95 % is 1.96 standard deviations to each side.
        let offset = tolerances.offset_ohm();
        let ln = |ohm: f64| (ohm + offset).ln();
        let one = (ln(expected.high_ohm.unwrap()) - ln(expected.ohm.unwrap())) / 1.959_964;
        let off = (ln(1.2 * expected.ohm.unwrap()) - ln(expected.ohm.unwrap())) / one;
        assert!((predicted.deviations.unwrap() - off).abs() < 1e-9, "{off}");
    }
    let before: f64 = found.explanations.iter().map(|e| e.prior).sum();
    assert!(before > 0.0 && before <= 1.0 + 1e-12, "{before}");
    // What explains a reading better than a good line does gains on it.
    let nearer: Vec<_> = found.explanations.iter().filter(|e| e.deviations < good.deviations - 1.0).collect();
    assert!(!nearer.is_empty());
    for other in nearer {
        assert!(other.probability / other.prior > good.probability / good.prior);
    }
}
