//! What is not known of a transformer's windings, and what readings through it are readings of.

#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use loamline_electrics::*;
use loamline_faults::*;
use loamline_terms::METER_FREQUENCIES_HZ;

/// Loudspeakers in parallel at the end of next to no cable, all of one transformer model, tapped at 20 W of 100 V.
fn line(count: usize, windings: Windings, tap_w: f64) -> Line {
    let transformer = TappedTransformer {
        rated_v: 100.0,
        taps_w: vec![5.0, 10.0, 20.0],
        insertion_loss_db: 0.8,
        rated_low_hz: 60.0,
        magnetising_inductance_h: None,
        windings,
        loudspeaker_nominal_ohm: 8.0,
    };
    let pair = PairConstants {
        loop_resistance_ohm_per_m: 1e-6,
        loop_inductance_h_per_m: 6e-7,
        capacitance_f_per_m: 6e-11,
    };
    let joint = |k: usize| if k == 0 { "R1".to_owned() } else { format!("L{k}") };
    let runs = (1..=count).map(|k| Run {
        name: format!("a{k}"),
        from: joint(k - 1),
        to: joint(k),
        length_m: 1.0,
        pair,
        in_series: false,
        laid: None,
    });
    let loads = (1..=count).map(|k| Load {
        name: joint(k),
        at: joint(k),
        connection: Connection::Tapped { transformer: transformer.clone(), tap_w },
        loudspeaker: Loudspeaker::resistance(8.0),
        nominal_ohm: 8.0,
        series_capacitor_f: None,
        in_series: false,
    });
    Line {
        name: "A".to_owned(),
        service: Service::ConstantVoltage { rated_v: 100.0 },
        source_joint: "R1".to_owned(),
        joints: Vec::new(),
        runs: runs.collect(),
        loads: loads.collect(),
    }
}

fn deviation_of_windings(line: &Line) -> (f64, f64) {
    let spread = expected_spread(line, &Place::Rack, 0.0, &Tolerances::default()).unwrap();
    (spread.reading.ohm.unwrap(), spread.causes[Cause::Windings as usize].1)
}

/// 16.82 % of the power is lost, a tenth of it in the core; the primary has 0.3 to 0.7 of the rest evenly, whose deviation is
/// 0.4 / sqrt(12) of 0.5. One model, so that more of it does not make it surer.
#[test]
fn an_unknown_share_is_common_to_all_of_a_model_and_covers_three_to_seven_tenths() {
    let lost = 1.0 - 10f64.powf(-0.08);
    for count in [1, 8] {
        let line = line(count, Windings::default(), 20.0);
        let (ohm, deviation) = deviation_of_windings(&line);
        let one = 0.45 * lost * 500.0;
        assert!((ohm * count as f64 / one - 1.0).abs() < 1e-3, "{ohm}");
        // The core's own share is not known to 40 %: what it takes more, copper has less.
        let core = 0.5 * ((1.0 - 0.1 * 0.4f64.exp()) / (1.0 - 0.1 * (-0.4f64).exp())).ln();
        let expected = (0.4 / 12f64.sqrt() / 0.5).hypot(core) * ohm / (ohm + 0.2);
        assert!((deviation / expected - 1.0).abs() < 5e-3, "{count}: {deviation} against {expected}");
        let all = expected_readings(&line, &[0.0], &Tolerances::default()).unwrap();
        let (low, high) = (all[0].far_low_ohm.unwrap(), all[0].far_high_ohm.unwrap());
        assert!(low < 0.6 * ohm && 1.4 * ohm < high, "{low} to {high}");
    }
}

/// A quarter more in the power of the turns is ln(turns) / 4 more ohms; at the tap it is stated at nothing is left open.
#[test]
fn a_stated_primary_is_known_at_its_tap_and_less_so_on_others() {
    let windings = Windings { primary_resistance_ohm: Some(40.0), ..Windings::default() };
    let (ohm, deviation) = deviation_of_windings(&line(1, windings, 20.0));
    assert!((ohm - 40.0).abs() < 1e-3 && deviation < 1e-9, "{ohm} {deviation}");
    let (ohm, deviation) = deviation_of_windings(&line(1, windings, 5.0));
    assert!((ohm - 80.0).abs() < 1e-3, "{ohm}");
    let expected = 0.25 * 2f64.ln() * ohm / (ohm + 0.2);
    assert!((deviation / expected - 1.0).abs() < 1e-3, "{deviation} against {expected}");
    // Windings with and without a statement are told from each other by the same reading.
    let wide = deviation_of_windings(&line(1, Windings::default(), 5.0)).1;
    assert!(wide > 1.3 * deviation);
}

#[test]
fn readings_say_what_they_are_readings_of() {
    let mut line = line(3, Windings::default(), 20.0);
    line.loads[2].connection = Connection::Direct;
    line.loads.remove(0);
    let usual = Tolerances::default();
    let all = expected_readings(&line, &[0.0, 1000.0], &usual).unwrap();
    let sees =
        |place: Place, hz: f64| all.iter().find(|r| r.place == place && r.frequency_hz == hz).unwrap().sees;
    assert_eq!(sees(Place::Rack, 0.0), Sees::PrimaryCopperAndVoiceCoils);
    assert_eq!(sees(Place::Downstream("L3".into()), 0.0), Sees::VoiceCoils);
    assert_eq!(sees(Place::Downstream("L3".into()), 1000.0), Sees::Loudspeakers);
    let stages = expected_stages(&line, &[0.0, 1000.0], &usual).unwrap();
    let told: Vec<_> =
        stages.iter().map(|s| (s.joint.as_str(), s.readings[0].sees, s.readings[1].sees)).collect();
    assert_eq!(
        told,
        [
            ("L1", Sees::Cable, Sees::Cable),
            ("L2", Sees::PrimaryCopper, Sees::LoudspeakersThroughTransformers),
            ("L3", Sees::PrimaryCopperAndVoiceCoils, Sees::Loudspeakers),
        ]
    );
    assert_eq!(stages[0].readings[0].ohm, None);
    let asked = Asked {
        line: &line,
        others: &[],
        readings: &[MeterReading::at_rack(0.0, Shown::Ohm(6.0))],
        opened: &[],
        tolerances: &usual,
        priors: &Priors::default(),
        effort: &Effort::default(),
        meter_hz: &METER_FREQUENCIES_HZ,
        pairs: false,
        insulation: None,
    };
    assert_eq!(locate(&asked).unwrap().sees, [Sees::PrimaryCopperAndVoiceCoils]);
}
