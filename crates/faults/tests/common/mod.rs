//! A line as it is drawn, and a question about it.

use loamline_electrics::*;
use loamline_faults::*;
use loamline_terms::METER_FREQUENCIES_HZ;

pub fn line(name: &str, joints: usize, branch: usize, taps: &[f64]) -> Line {
    let joint = |k: usize| if k == 0 { "amp".to_owned() } else { format!("{name}{k}") };
    let pair = Cable::typical("14 AWG", ConductorSize::Awg(14), 2).pair(20.0).unwrap();
    let transformer = TappedTransformer {
        rated_v: 70.7,
        taps_w: vec![3.75, 7.5, 15.0, 30.0],
        insertion_loss_db: 0.6,
        rated_low_hz: 60.0,
        magnetising_inductance_h: None,
        windings: Windings::default(),
        loudspeaker_nominal_ohm: 8.0,
    };
    Line {
        name: name.to_owned(),
        service: Service::ConstantVoltage { rated_v: 70.7 },
        source_joint: "amp".to_owned(),
        joints: Vec::new(),
        runs: (1..=joints)
            .map(|k| Run {
                name: format!("{name}-R{k}"),
                from: joint(if branch > 0 && k % branch == 0 { k / 2 } else { k - 1 }),
                to: joint(k),
                length_m: 8.0 + ((k * 7) % 11) as f64,
                pair,
                in_series: false,
                laid: None,
            })
            .collect(),
        loads: (1..=joints)
            .map(|k| Load {
                name: format!("{name}-L{k}"),
                at: joint(k),
                connection: Connection::Tapped {
                    transformer: transformer.clone(),
                    tap_w: taps[k % taps.len()],
                },
                loudspeaker: Loudspeaker::ThieleSmall {
                    re_ohm: 6.4,
                    le_h: 0.3e-3,
                    fs_hz: 90.0,
                    qms: 4.0,
                    qes: 0.7,
                },
                nominal_ohm: 8.0,
                series_capacitor_f: None,
                in_series: false,
            })
            .collect(),
    }
}

pub fn question<'a>(
    line: &'a Line,
    others: &'a [&'a Line],
    readings: &'a [MeterReading],
    opened: &'a [String],
    usual: &'a (Tolerances, Priors, Effort),
) -> Asked<'a> {
    let (tolerances, priors, effort) = usual;
    let meter_hz = &METER_FREQUENCIES_HZ;
    Asked {
        line,
        others,
        readings,
        opened,
        tolerances,
        priors,
        effort,
        meter_hz,
        pairs: false,
        insulation: None,
    }
}

pub fn ask(line: &Line, readings: &[MeterReading]) -> Result<Diagnosis, FaultError> {
    locate(&question(line, &[], readings, &[], &Default::default()))
}
