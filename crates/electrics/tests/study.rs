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
        in_series: false,
    }
}

fn run(name: &str, from: &str, to: &str, length_m: f64) -> Run {
    Run {
        name: name.to_owned(),
        from: from.to_owned(),
        to: to.to_owned(),
        length_m,
        pair: Cable::typical("14 AWG", ConductorSize::Awg(14), 2).pair(20.0).unwrap(),
        in_series: false,
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
    assert!((far.power_1khz_w - far.power_w[BAND_1_KHZ]).abs() < 1e-9);
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
    let filtered = study(&chain(), &channel());
    assert!(filtered.minimum.frequency_hz >= 70.0 && filtered.passed_hz[0] == 70.0);
}

/// A woofer whose impedance is lowest where the reactances of its motion, 473 ohm Hz over f well above 38 Hz, and of its coil,
/// 5.03 milliohm a hertz, take each other away: at about 307 Hz.
fn woofer_line(name: &str) -> Line {
    let woofer = Loudspeaker::ThieleSmall { re_ohm: 5.6, le_h: 0.8e-3, fs_hz: 38.0, qms: 5.0, qes: 0.45 };
    let load = Load { connection: Connection::Direct, loudspeaker: woofer, ..tapped("S1", "J1", 1.0) };
    let runs = vec![run("R1", "amp", "J1", 10.0)];
    Line { name: name.to_owned(), service: Service::LowImpedance, runs, loads: vec![load], ..chain() }
}

#[test]
fn lines_and_channel_have_one_lowest_impedance_within_what_the_filters_pass() {
    let open = Channel::low_impedance("1", 200.0, 4.0);
    let (limits, a, b) = (LineLimits::default(), woofer_line("A"), woofer_line("B"));
    let alone = study(&a, &open);
    let used = channel_use(&open, &[&alone], &limits).unwrap();
    assert_eq!((used.minimum, used.passed_hz), (alone.minimum, alone.passed_hz));
    // Two like lines: half of it at the same place.
    let both = channel_use(&open, &[&alone, &study(&b, &open)], &limits).unwrap();
    assert_eq!(both.minimum.frequency_hz, alone.minimum.frequency_hz);
    assert!((2.0 * both.minimum.impedance_ohm / alone.minimum.impedance_ohm - 1.0).abs() < 1e-12);
    // A low-pass at 100 Hz leaves out that low point: what is lowest then is at the corner.
    assert!((290.0..325.0).contains(&alone.minimum.frequency_hz));
    let crossed = study(&a, &Channel { low_pass_hz: Some(100.0), ..open });
    let end = a.loads[0].loudspeaker.impedance_ohm(100.0) + 10.0 * a.runs[0].pair.loop_resistance_ohm_per_m;
    assert_eq!(crossed.minimum.frequency_hz, 100.0);
    assert!((crossed.minimum.impedance_ohm / end.norm() - 1.0).abs() < 1e-3, "{:?}", crossed.minimum);
}

#[test]
fn full_drive_at_low_impedance_is_what_the_load_that_is_there_takes() {
    let rating = |load_ohm, power_w| Rating { load_ohm, power_w };
    let channel = Channel {
        ratings: vec![rating(4.0, 250.0), rating(8.0, 200.0)],
        max_voltage_v: 75.0,
        max_current_a: 14.0,
        output_impedance_ohm: 0.1,
        ..Channel::low_impedance("1", 250.0, 4.0)
    };
    let of = |ohm| {
        let load = Load { loudspeaker: Loudspeaker::resistance(ohm), ..woofer_line("A").loads[0].clone() };
        let runs = vec![run("R1", "amp", "J1", 1e-6)];
        Line { runs, loads: vec![load], ..woofer_line("A") }
    };
    let limits = LineLimits::default();
    // Ohm of the load, watts an amplifier rated 250 W into 4 ohm and 200 W into 8 ohm may give into it: below 4 ohm no more than
    // 250 W, between the two by the voltage half way (35.81 V), above 8 ohm by 40 V, at 1 ohm by its 14 A.
    for (ohm, watts) in [(3.4, 250.0), (4.0, 250.0), (6.0, 213.7), (8.0, 200.0), (16.0, 100.0), (1.0, 196.0)]
    {
        let line = of(ohm);
        let alone = study(&line, &channel);
        let used = channel_use(&channel, &[&alone], &limits).unwrap();
        assert!((used.greatest_power_w / watts - 1.0).abs() < 1e-3, "{ohm} ohm: {}", used.greatest_power_w);
        assert!((alone.loads[0].joint_1khz_v.powi(2) / ohm / watts - 1.0).abs() < 1e-3);
        assert!(used.headroom.db.abs() < 1e-9, "{:?}", used.headroom);
        assert!(used.greatest_power_w <= used.rated_power_w * (1.0 + 1e-9));
        assert_eq!(used.fits, ohm >= 0.8 * channel.min_load_ohm);
    }
    // Two lines of 8 ohm are a load of 4 ohm: 125 W each.
    let (one, other) = (of(8.0), Line { name: "B".to_owned(), ..of(8.0) });
    let bands = third_octave_centres_hz();
    let pair = [(&one, &other), (&other, &one)].map(|(line, beside)| {
        solve_line_beside(line, std::slice::from_ref(beside), &channel, &limits, &bands).unwrap()
    });
    let used = channel_use(&channel, &[&pair[0], &pair[1]], &limits).unwrap();
    assert!((used.greatest_power_w / 250.0 - 1.0).abs() < 1e-3, "{}", used.greatest_power_w);
}

/// One to four loudspeakers of 8 ohm, each on a line of its own, on one output of 75 V behind 0.1 ohm that is rated 200 W into
/// 8 ohm and 250 W into 4 ohm and 2 ohm. By Ohm's law every one of n has 75 V * (8/n) / (8/n + 0.1) at full scale: the one is
/// no quieter for the others but by the 0.1 ohm. Full drive is 40.0 V, 31.6 V, 25.4 V and 22.4 V at the terminals: the rated
/// power, of 2.67 ohm that between 4 ohm and 2 ohm (31.62 V and 22.36 V, in proportion 25.45 V).
#[test]
fn a_loudspeaker_is_as_loud_with_others_on_its_output_until_a_limit_is_met() {
    let rating = |load_ohm, power_w| Rating { load_ohm, power_w };
    let channel = Channel {
        ratings: vec![rating(2.0, 250.0), rating(4.0, 250.0), rating(8.0, 200.0)],
        max_voltage_v: 75.0,
        max_current_a: 14.0,
        output_impedance_ohm: 0.1,
        ..Channel::low_impedance("1", 250.0, 2.0)
    };
    let (limits, bands) = (LineLimits::default(), third_octave_centres_hz());
    for (count, at_terminals_v) in [(1, 40.0), (2, 1000f64.sqrt()), (3, 25.448), (4, 500f64.sqrt())] {
        let lines: Vec<Line> = (0..count)
            .map(|k| {
                let runs = vec![run("R1", "amp", "J1", 1e-6)];
                let load =
                    Load { loudspeaker: Loudspeaker::resistance(8.0), ..woofer_line("A").loads[0].clone() };
                Line { runs, loads: vec![load], ..woofer_line(&format!("{k}")) }
            })
            .collect();
        let solved: Vec<LineStudy> = (0..count)
            .map(|k| {
                let beside: Vec<Line> = [&lines[..k], &lines[k + 1..]].concat();
                solve_line_beside(&lines[k], &beside, &channel, &limits, &bands).unwrap()
            })
            .collect();
        let ohm = 8.0 / count as f64;
        for line in &solved {
            assert_eq!(line.full_scale_v, 75.0);
            let at_full_scale_v = line.loads[0].joint_v[BAND_1_KHZ] * line.full_scale_v / line.drive_v;
            assert!(
                (at_full_scale_v - 75.0 * ohm / (ohm + 0.1)).abs() < 1e-3,
                "{count}: {at_full_scale_v} V"
            );
            let at_full_drive_v = line.loads[0].joint_1khz_v;
            assert!((at_full_drive_v / at_terminals_v - 1.0).abs() < 1e-4, "{count}: {at_full_drive_v} V");
            let most_db = 20.0 * (at_terminals_v * (1.0 + 0.1 / ohm) / 75.0).log10();
            assert!((line.most_gain_db().unwrap() - most_db).abs() < 1e-3);
        }
        let used = channel_use(&channel, &solved.iter().collect::<Vec<_>>(), &limits).unwrap();
        assert!(used.headroom.db.abs() < 1e-6 && used.headroom.of == Limit::Power, "{:?}", used.headroom);
    }
    // On a constant-voltage line full scale is the line's voltage, and its taps are counted.
    let tapped = study(&chain(), &crate::channel());
    assert_eq!((tapped.full_scale_v, tapped.drive_v, tapped.most_gain_db()), (70.7, 70.7, None));
}

#[test]
fn what_is_lost_in_the_cable_is_not_what_is_lost_in_the_amplifier() {
    let line = woofer_line("A");
    let ideal = study(&line, &Channel::low_impedance("1", 200.0, 4.0));
    let real =
        study(&line, &Channel { output_impedance_ohm: 0.5, ..Channel::low_impedance("1", 200.0, 4.0) });
    assert!(ideal.loads[0].loss_1khz_db > 0.05);
    assert!((ideal.loads[0].loss_1khz_db - real.loads[0].loss_1khz_db).abs() < 1e-9);
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

/// Of 240 W with 200 W of taps, 100 W and a tenth of an ampere: each time something else is the least. Worked out by hand from
/// what the lines draw: twenty times the common logarithm for volts and amperes, ten times for watts.
#[test]
fn headroom_is_the_least_of_three_and_says_of_what() {
    let line = study(&chain(), &channel());
    let used = |channel: &Channel| channel_use(channel, &[&line, &line], &LineLimits::default()).unwrap();
    let usual = channel();
    let all = used(&usual);
    let by_hand = [
        (Limit::Voltage, 20.0 * (usual.max_voltage_v / line.drive_v).log10()),
        (Limit::Current, 20.0 * (usual.max_current_a / all.greatest_current_a).log10()),
        (Limit::Power, 10.0 * (usual.rated_power_w / all.greatest_power_w).log10()),
    ];
    let least = by_hand.iter().map(|(_, db)| *db).fold(f64::INFINITY, f64::min);
    assert!((all.headroom.db - least).abs() < 1e-9);
    let (of, _) = by_hand.iter().find(|(_, db)| (db - least).abs() < 1e-12).unwrap();
    assert_eq!(all.headroom.of, *of);
    let power = used(&Channel { rated_power_w: 0.5 * all.greatest_power_w, ..channel() }).headroom;
    assert_eq!((power.of, (100.0 * power.db).round()), (Limit::Power, -301.0));
    let current = used(&Channel { max_current_a: 0.1 * all.greatest_current_a, ..channel() }).headroom;
    assert_eq!((current.of, (100.0 * current.db).round()), (Limit::Current, -2000.0));
    let voltage = used(&Channel { max_voltage_v: 0.1 * line.drive_v, ..channel() }).headroom;
    assert_eq!((voltage.of, (100.0 * voltage.db).round()), (Limit::Voltage, -2000.0));
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
    let way = |service| ComparedWay {
        service,
        loads: line
            .loads
            .iter()
            .map(|load| {
                let connection = match service {
                    Service::LowImpedance => Connection::Direct,
                    Service::ConstantVoltage { rated_v } => Connection::Tapped {
                        transformer: TappedTransformer {
                            rated_v,
                            insertion_loss_db: 0.0,
                            windings: Windings { leakage_inductance_h: Some(0.0), ..Windings::default() },
                            ..transformer()
                        },
                        tap_w: 20.0,
                    },
                };
                Load { connection, ..load.clone() }
            })
            .collect(),
        wanted_w: vec![20.0; line.loads.len()],
    };
    let volts = |rated_v| Service::ConstantVoltage { rated_v };
    let ways = [way(volts(70.7)), way(volts(100.0)), way(Service::LowImpedance)];
    let prices = ComparisonPrices {
        cable_per_m: vec![0.8, 1.1, 1.5, 2.2, 3.4],
        transformer: 18.0,
        amplifier_per_w: 1.2,
        amplifier_channel: 150.0,
    };
    let limits = LineLimits::default();
    let rows =
        compare_services("amp", &line.runs, &[], &ways, &cables(), &prices, 20.0, &limits, 4.0).unwrap();
    let [low, high, direct] = &rows[..] else { panic!("three ways") };
    assert!(high.copper_kg <= low.copper_kg && low.copper_kg <= direct.copper_kg);
    assert_eq!(direct.cable, None, "ten 8 ohm loudspeakers over 100 m cannot be fed at low impedance");
    assert!((low.amplifier_w - 250.0).abs() < 1e-9 && low.channels == 1);
    assert!((low.load_ohm - (25.0)).abs() < 1.0, "{}", low.load_ohm);
    // Built with the cable chosen, the line loses what was said.
    for (row, way) in rows.iter().zip(&ways) {
        let Some(chosen) = row.cable else { continue };
        let mut built = Line { service: way.service, loads: way.loads.clone(), ..chain() };
        for run in &mut built.runs {
            run.pair = cables()[chosen].pair(20.0).unwrap();
        }
        let rated_v = if row.service == volts(100.0) { 100.0 } else { 70.7 };
        let solved = study(&built, &Channel::constant_voltage("1", 500.0, rated_v));
        let worst = solved.loads.iter().map(|load| load.loss_1khz_db).fold(0.0, f64::max);
        assert!((worst - row.worst_loss_db).abs() < 1e-9 && worst <= limits.loss_db);
    }
}

#[test]
fn a_line_without_loads_is_refused() {
    let line = Line { loads: Vec::new(), ..chain() };
    let error = solve_line(&line, &channel(), &LineLimits::default(), &[1000.0]).unwrap_err();
    assert_eq!(error.to_string(), "line A: list of loads is empty; give at least one");
}
