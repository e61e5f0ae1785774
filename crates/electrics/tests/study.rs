//! A line studied as a designer would, with figures worked by hand, and each finding provoked once.

#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use loamline_electrics::*;

fn transformer() -> TappedTransformer {
    TappedTransformer {
        rated_v: 70.7,
        taps_w: vec![5.0, 10.0, 20.0, 40.0],
        insertion_loss_db: 0.5,
        rated_low_hz: 60.0,
        magnetising_inductance_h: None,
        windings: Windings::default(),
        loudspeaker_nominal_ohm: 8.0,
    }
}

fn tapped(name: &str, at: &str, tap_w: f64) -> Load {
    Load {
        name: name.to_owned(),
        at: at.to_owned(),
        connection: Connection::Tapped { transformer: transformer(), tap_w },
        loudspeaker: Loudspeaker::resistance(8.0),
        nominal_ohm: 8.0,
        series_capacitor_f: None,
        intended_wiring: None,
    }
}

fn run(name: &str, from: &str, to: &str, length_m: f64) -> Run {
    Run {
        name: name.to_owned(),
        from: from.to_owned(),
        to: to.to_owned(),
        length_m,
        pair: Cable::typical("14 AWG", ConductorSize::Awg(14), 2).pair(20.0).unwrap(),
        laid: None,
    }
}

/// Ten loudspeakers of 10 W, 10 m apart.
fn chain() -> Line {
    let joint = |k: usize| if k == 0 { "amp".to_owned() } else { format!("J{k}") };
    Line {
        name: "A".to_owned(),
        service: Service::ConstantVoltage { rated_v: 70.7 },
        source_joint: "amp".to_owned(),
        joints: Vec::new(),
        runs: (1..=10).map(|k| run(&format!("R{k}"), &joint(k - 1), &joint(k), 10.0)).collect(),
        loads: (1..=10).map(|k| tapped(&format!("L{k}"), &joint(k), 10.0)).collect(),
    }
}

fn channel() -> Channel {
    Channel {
        high_pass: Some(HighPass { corner_hz: 70.0, order: 4 }),
        ..Channel::constant_voltage("1", 240.0, 70.7)
    }
}

fn study(line: &Line, channel: &Channel) -> LineStudy {
    solve_line(line, channel, &LineLimits::default(), &third_octave_centres_hz()).unwrap()
}

#[test]
fn the_far_loudspeaker_loses_what_the_hand_formula_says() {
    let result = study(&chain(), &channel());
    // Common practice: equal loads on equal runs act as half the run plus half a step: loss about
    // 20 lg(1 + R_loop (n+1)/(2n) / Z_all), 100 m of 14 AWG = 1.657 ohm, Z_all = 70.7^2/100 = 49.98 ohm: 0.157 dB.
    let far = &result.loads[9];
    assert!((far.loss_1khz_db - 0.157).abs() < 0.005, "{}", far.loss_1khz_db);
    // Nearly 10 W less 0.5 dB insertion loss less the cable.
    let expected = 10.0 * 10f64.powf(-(0.5 + far.loss_1khz_db) / 10.0);
    assert!((far.power_1khz_w / expected - 1.0).abs() < 0.01);
    assert!((far.power_1khz_w - far.nominal_power_w[BAND_1_KHZ]).abs() < 1e-9);
    // The first run carries all, the last one loudspeaker.
    assert!((result.runs[0].current_1khz_a / result.runs[9].current_1khz_a - 10.0).abs() < 0.2);
    assert_eq!(result.counted_w, Some(100.0));
    assert!(result.findings.is_empty(), "{:?}", result.findings);
    for f in 0..BAND_COUNT {
        let parts: f64 = result.cable_loss_w[f];
        assert!(parts > 0.0 && result.source_power_w[f] > parts);
    }
}

#[test]
fn the_lowest_impedance_is_found_between_bands_too() {
    let result = study(&chain(), &Channel::constant_voltage("1", 240.0, 70.7));
    assert!(result.impedance_ohm.iter().all(|z| *z >= result.minimum.impedance_ohm * (1.0 - 1e-9)));
    // The magnetising inductance makes the bass the heaviest load.
    assert!((result.minimum.frequency_hz - 19.953).abs() < 1e-3);
    assert!(study(&chain(), &channel()).minimum_in_use.frequency_hz >= 70.0);
}

#[test]
fn a_channel_adds_its_lines() {
    let (channel, one) = (channel(), study(&chain(), &channel()));
    let single = channel_use(&channel, &[&one], &LineLimits::default()).unwrap();
    assert!(single.fits && (single.spare_w.unwrap() - 92.0).abs() < 1e-9 && single.findings.is_empty());
    let double = channel_use(&channel, &[&one, &one], &LineLimits::default()).unwrap();
    assert!(!double.fits);
    assert_eq!(
        double.findings[0].to_string(),
        "Channel 1 carries 200.0 W of taps: 83 % of its 240 W, more than the 80 % allowed."
    );
    assert!((double.impedance_ohm[BAND_1_KHZ] * 2.0 / single.impedance_ohm[BAND_1_KHZ] - 1.0).abs() < 1e-12);
}

fn kinds(findings: &[ElectricalFinding]) -> Vec<String> {
    findings
        .iter()
        .map(|finding| {
            assert!(
                !finding.to_string().is_empty()
                    && !finding.remedy().is_empty()
                    && !finding.subject().is_empty()
            );
            format!("{finding:?}").split([' ', '{']).next().unwrap().to_owned()
        })
        .collect()
}

#[test]
fn each_fault_of_a_line_is_found() {
    let find = |change: &dyn Fn(&mut Line)| {
        let mut line = chain();
        change(&mut line);
        kinds(&study(&line, &channel()).findings)
    };
    assert_eq!(find(&|line| line.runs[0].length_m = 400.0)[0], "LossOverLimit");
    assert_eq!(find(&|line| line.loads[3] = tapped("L4", "J4", 15.0)), ["TapNotOffered"]);
    assert_eq!(find(&|line| line.loads[3].connection = Connection::Direct)[0], "MixedLine");
    assert_eq!(
        find(&|line| {
            line.runs[2].laid = Some(LaidCable {
                cable: "zip cord".into(),
                laying: Surroundings::Buried,
                rated_for_burial: false,
                rated_for_conduit: true,
            });
        }),
        ["CableNotRated"]
    );
    let coils = |wiring| Loudspeaker::DualCoil {
        coil_re_ohm: 3.2,
        coil_le_h: 0.5e-3,
        fs_hz: 35.0,
        qms: 5.0,
        qes: 0.5,
        wiring,
    };
    assert_eq!(
        find(&|line| {
            line.loads[0].loudspeaker = coils(CoilWiring::Parallel);
            line.loads[0].intended_wiring = Some(CoilWiring::Series);
        }),
        ["CoilsMiswired"]
    );
}

#[test]
fn a_transformer_without_a_high_pass_saturates() {
    let open = Channel::constant_voltage("1", 240.0, 70.7);
    let findings = study(&chain(), &open).findings;
    assert_eq!(findings.len(), 10);
    assert_eq!(
        findings[0].to_string(),
        "The transformer of L1 gets 70.7 V at 10.0 Hz and takes 11.8 V there (rated down to 60.0 Hz); the channel has no high-pass."
    );
    let shallow = Channel { high_pass: Some(HighPass { corner_hz: 20.0, order: 2 }), ..open };
    assert!(!study(&chain(), &shallow).findings.is_empty());
}

#[test]
fn parallel_loudspeakers_below_the_minimum_are_found() {
    let mut line = chain();
    line.service = Service::LowImpedance;
    line.runs.truncate(1);
    line.runs[0].length_m = 2.0;
    let four = Loudspeaker::Parallel(vec![Loudspeaker::resistance(8.0); 4]);
    line.loads = vec![Load { connection: Connection::Direct, loudspeaker: four, ..tapped("bar", "J1", 1.0) }];
    let amplifier = Channel { required_high_pass_hz: Some(40.0), ..Channel::low_impedance("2", 200.0, 4.0) };
    let result = study(&line, &amplifier);
    assert_eq!(kinds(&result.findings), ["GroupBelowMinimum"]);
    let used = channel_use(&amplifier, &[&result], &LineLimits::default()).unwrap();
    assert_eq!(kinds(&used.findings), ["ImpedanceBelowMinimum", "HighPassMissing"]);
    assert!(!used.fits && used.counted_w.is_none());
    assert!(used.findings[0].to_string().starts_with("Channel 2 sees 2.0"), "{}", used.findings[0]);
}

fn cables() -> Vec<Cable> {
    [18, 16, 14, 12, 10]
        .map(|gauge| Cable::typical(format!("{gauge} AWG"), ConductorSize::Awg(gauge), 2))
        .to_vec()
}

#[test]
fn the_smallest_cables_keep_the_limit_and_cannot_shrink() {
    let mut line = chain();
    for run in &mut line.runs {
        run.length_m = 25.0;
    }
    let limit = 0.5;
    let uniform = smallest_cable_for_all(&line, &cables(), 20.0, limit).unwrap();
    let mixed = smallest_cables(&line, &cables(), 20.0, limit).unwrap();
    assert!(mixed.worst_loss_db <= limit && uniform.worst_loss_db <= limit);
    assert!(mixed.copper_kg <= uniform.copper_kg, "{} over {}", mixed.copper_kg, uniform.copper_kg);
    let loss = |choice: &[usize]| {
        let mut built = line.clone();
        for (run, &cable) in built.runs.iter_mut().zip(choice) {
            run.pair = cables()[cable].pair(20.0).unwrap();
        }
        study(&built, &channel()).loads.iter().map(|load| load.loss_1khz_db).fold(0.0, f64::max)
    };
    assert!((loss(&mixed.cable) - mixed.worst_loss_db).abs() < 1e-9);
    for run in 0..line.runs.len() {
        if mixed.cable[run] > 0 {
            let mut smaller = mixed.cable.clone();
            smaller[run] -= 1;
            assert!(loss(&smaller) > limit);
        }
    }
    let error = smallest_cables(&line, &cables(), 20.0, 0.01).unwrap_err().to_string();
    assert!(error.starts_with("line A: even 10 AWG throughout loses 0.1"), "{error}");
}

#[test]
fn the_best_tap_is_the_least_that_reaches() {
    let line = chain();
    let best = best_tap(&line, &Source::ideal(70.7), "L10", 9.0).unwrap();
    // The 10 W tap gives about 8.6 W after insertion and cable loss, so 20 W it is.
    assert!(best.reached && best.best.tap_w == 20.0 && best.trials[1].power_w < 9.0);
    assert!(!best_tap(&line, &Source::ideal(70.7), "L10", 90.0).unwrap().reached);
    assert!(best_tap(&line, &Source::ideal(70.7), "L99", 9.0).is_err());
}

#[test]
fn higher_line_voltage_needs_less_copper() {
    let line = chain();
    let wanted: Vec<_> = line
        .loads
        .iter()
        .map(|load| WantedLoad {
            name: load.name.clone(),
            at: load.at.clone(),
            power_w: 20.0,
            nominal_ohm: 8.0,
        })
        .collect();
    let prices = ComparisonPrices {
        cable_per_m: vec![0.8, 1.1, 1.5, 2.2, 3.4],
        transformer: 18.0,
        amplifier_per_w: 1.2,
        amplifier_channel: 150.0,
    };
    let rows = compare_services("amp", &line.runs, &[], &wanted, &cables(), &prices, 20.0, 0.5, 4.0).unwrap();
    let [low, high, direct] = &rows[..] else { panic!("three ways") };
    assert!(high.copper_kg <= low.copper_kg && low.copper_kg <= direct.copper_kg);
    assert_eq!(direct.cable, None, "ten 8 ohm loudspeakers over 100 m cannot be fed at low impedance");
    assert!((low.amplifier_w - 250.0).abs() < 1e-9 && low.channels == 1);
    assert!((low.load_ohm - (25.0)).abs() < 1.0, "{}", low.load_ohm);
}

#[test]
fn a_line_without_loads_is_refused() {
    let line = Line { loads: Vec::new(), ..chain() };
    let error = solve_line(&line, &channel(), &LineLimits::default(), &[1000.0]).unwrap_err();
    assert_eq!(error.to_string(), "line A: list of loads is empty; give at least one");
}
