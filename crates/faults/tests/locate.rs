//! Random faults on lines built with random errors: is the truth found, and are the probabilities honest?
//!
//! The readings come from the network solver of `loamline-electrics` (itself checked against ngspice) on a line whose lengths,
//! temperature, loudspeakers and windings differ from the drawing; faults are drawn by their priors.

#![expect(clippy::unwrap_used, clippy::panic, reason = "a test may stop at the first surprise")]

use loamline_electrics::*;
use loamline_faults::*;

/// splitmix64
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }
    fn normal(&mut self) -> f64 {
        let (u, v) = (self.next().max(1e-12), self.next());
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }
    fn pick(&mut self, n: usize) -> usize {
        ((self.next() * n as f64) as usize).min(n - 1)
    }
}

fn line(name: &str, joints: usize, branch: usize, taps: &[f64]) -> Line {
    let joint = |k: usize| if k == 0 { "amp".to_owned() } else { format!("{name}{k}") };
    let pair = Cable::typical("14 AWG", ConductorSize::Awg(14.0), 2).pair(20.0).unwrap();
    let transformer = TappedTransformer {
        rated_v: 70.7,
        taps_w: vec![3.75, 7.5, 15.0, 30.0],
        insertion_loss_db: 0.6,
        rated_low_hz: 60.0,
        magnetising_inductance_h: None,
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
                intended_wiring: None,
            })
            .collect(),
    }
}

/// The line as a crew builds it.
fn built(drawn: &Line, tolerances: &Tolerances, dice: &mut Dice) -> Line {
    let mut line = drawn.clone();
    let warm = 1.0 + COPPER_COEFFICIENT_PER_K * tolerances.temperature_k * dice.normal();
    for run in &mut line.runs {
        run.length_m *= 1.0 + tolerances.length * dice.normal();
        run.pair.loop_resistance_ohm_per_m *= warm;
    }
    for load in &mut line.loads {
        let error = 1.0 + tolerances.load * dice.normal();
        if let Loudspeaker::ThieleSmall { re_ohm, le_h, .. } = &mut load.loudspeaker {
            *re_ohm *= error;
            *le_h *= error;
        }
        let mut circuit = load.circuit().unwrap();
        circuit.winding_resistance_ohm *= 1.0 + tolerances.load_dc * dice.normal();
        circuit.magnetising_inductance_h = circuit.magnetising_inductance_h.map(|l| l * error);
        load.connection = Connection::Circuit(circuit);
    }
    line
}

/// A fault drawn by the priors, its changes on the line as built.
fn fault(
    drawn: &Line,
    line: &Line,
    frequencies: &[f64],
    priors: &Priors,
    dice: &mut Dice,
) -> (Fault, Vec<Change>) {
    let (runs, loads) = (line.runs.len() as f64, line.loads.len() as f64);
    let network = Network::build(line).unwrap();
    let kinds = [
        priors.healthy,
        priors.open * runs,
        priors.short_along * runs,
        priors.short_at * runs,
        priors.high_splice * runs,
        priors.wet * (runs + 1.0),
        priors.wrong_tap * loads,
        priors.low_impedance * loads,
        priors.missing * loads,
    ];
    let mut at = dice.next() * kinds.iter().sum::<f64>();
    let kind = kinds
        .iter()
        .position(|weight| {
            at -= weight;
            at < 0.0
        })
        .unwrap_or(0);
    let (run, load) = (dice.pick(line.runs.len()), dice.pick(line.loads.len()));
    let run_name = line.runs[run].name.clone();
    let load_name = line.loads[load].name.clone();
    let log = |dice: &mut Dice, low: f64, high: f64| low * (high / low).powf(dice.next());
    let replaced = |connection: Connection| {
        let other = Load { connection, ..line.loads[load].clone() };
        vec![Change::Replaced {
            load,
            admittance_s: frequencies.iter().map(|&f| other.response(f).admittance_s).collect(),
        }]
    };
    match kind {
        1 => (Fault::Open { run: run_name }, vec![Change::Cut { run, fraction: dice.next() }]),
        2 => (
            Fault::ShortAlong { run: run_name },
            vec![Change::ShortAlong { run, fraction: dice.next(), ohm: 0.03 }],
        ),
        3 => {
            let joint = network.run_ends(run).unwrap().1;
            (
                Fault::ShortAt { joint: network.joints()[joint].clone() },
                vec![Change::Across { joint, ohm: 0.03 }],
            )
        }
        4 => (Fault::HighSplice { run: run_name }, vec![Change::Series { run, ohm: log(dice, 0.5, 500.0) }]),
        5 => {
            let joint = dice.pick(network.joints().len());
            (
                Fault::Wet { joint: network.joints()[joint].clone() },
                vec![Change::Across { joint, ohm: log(dice, 20.0, 10_000.0) }],
            )
        }
        6 => {
            let Connection::Tapped { transformer, tap_w } = &drawn.loads[load].connection else {
                panic!("tapped")
            };
            let wrong: Vec<f64> = transformer.taps_w.iter().copied().filter(|t| t != tap_w).collect();
            let tap = wrong[dice.pick(wrong.len())];
            (
                Fault::WrongTap { load: load_name, tap_w: tap },
                replaced(Connection::Circuit(transformer.at_tap(tap))),
            )
        }
        7 => (Fault::LowImpedance { load: load_name }, replaced(Connection::Direct)),
        8 => (Fault::Missing { load: load_name }, vec![Change::Missing { load }]),
        _ => (Fault::Healthy, Vec::new()),
    }
}

fn read(probe: &Probe, changes: &[Change], tolerances: &Tolerances, dice: &mut Dice) -> Vec<MeterReading> {
    probe
        .read(changes)
        .into_iter()
        .zip(probe.frequencies_hz())
        .map(|(z, &frequency_hz)| {
            let shown = match z.map(|z| z.norm()) {
                Some(ohm) if ohm <= tolerances.meter_range_ohm => Shown::Ohm(
                    (ohm * (1.0 + tolerances.meter * dice.normal())
                        + tolerances.meter_floor_ohm * dice.normal())
                    .max(0.0),
                ),
                _ => Shown::Open,
            };
            MeterReading { frequency_hz, shown }
        })
        .collect()
}

#[test]
fn random_faults_are_found_and_claims_are_honest() {
    let (tolerances, priors, effort) = (Tolerances::default(), Priors::default(), Effort::default());
    let frequencies = [0.0, 100.0, 1000.0, 10_000.0]; // an ohmmeter and a three-frequency impedance meter
    let lines = [
        line("A", 6, 0, &[7.5, 15.0]),
        line("B", 12, 0, &[30.0, 15.0, 7.5, 3.75]),
        line("C", 18, 4, &[15.0]),
    ];
    let (mut measurable, mut first, mut third) = (0, 0, 0);
    let (mut healthy, mut called_healthy) = (0, 0);
    let (mut claims, mut true_claims) = ([0usize; 10], [0usize; 10]);
    let mut dice = Dice(7);
    for trial in 0..600 {
        let drawn = &lines[trial % lines.len()];
        let real = built(drawn, &tolerances, &mut dice);
        let (truth, changes) = fault(drawn, &real, &frequencies, &priors, &mut dice);
        let probe = Probe::new(&Network::build(&real).unwrap(), &frequencies).unwrap();
        let readings = read(&probe, &changes, &tolerances, &mut dice);
        let found = locate(drawn, &[], &readings, &tolerances, &priors, &effort).unwrap();
        let sum: f64 = found.explanations.iter().map(|e| e.probability).sum();
        assert!(sum <= 1.0 + 1e-9 && sum > 0.98, "{sum}");
        for explanation in &found.explanations {
            let bin = ((explanation.probability * 10.0) as usize).min(9);
            claims[bin] += 1;
            true_claims[bin] += usize::from(explanation.fault == truth);
        }
        if truth == Fault::Healthy {
            healthy += 1;
            called_healthy += usize::from(found.explanations[0].fault == Fault::Healthy);
            continue;
        }
        // Measurable: the reading is no likely one of a sound line.
        let sound = expected_readings(drawn, &frequencies, &tolerances).unwrap();
        let differs = readings.iter().zip(&sound).any(|(reading, sound)| {
            match (reading.shown, sound.low_ohm, sound.high_ohm) {
                (Shown::Ohm(ohm), Some(low), Some(high)) => {
                    let (middle, half) = ((low.ln() + high.ln()) / 2.0, (high.ln() - low.ln()) / 2.0);
                    (ohm.max(1e-4).ln() - middle).abs() > 1.5 * half
                }
                (Shown::Open, None, _) => false,
                _ => true,
            }
        });
        if differs {
            measurable += 1;
            let place = found.explanations.iter().position(|e| e.fault == truth);
            // What readings cannot tell apart shares its place: the report lists it as alike.
            let among = |top: usize| {
                place.is_some_and(|place| {
                    place < top || (0..top).any(|k| found.explanations[k].alike.contains(&place))
                })
            };
            first += usize::from(among(1));
            third += usize::from(among(3));
        }
    }
    println!(
        "measurable {measurable}, first {first}, in three {third}; healthy {called_healthy}/{healthy}; claims {claims:?} true {true_claims:?}"
    );
    assert!(measurable >= 250);
    assert!(first as f64 >= 0.85 * measurable as f64, "{first} of {measurable}");
    assert!(third as f64 >= 0.97 * measurable as f64, "{third} of {measurable}");
    assert!(called_healthy as f64 >= 0.97 * healthy as f64, "{called_healthy} of {healthy}");
    let honest = |bin: usize| true_claims[bin] as f64 / claims[bin].max(1) as f64;
    assert!(claims[8] >= 20 && (0.75..=0.95).contains(&honest(8)), "{} of {}", true_claims[8], claims[8]);
}

fn reading(frequency_hz: f64, ohm: f64) -> MeterReading {
    MeterReading { frequency_hz, shown: Shown::Ohm(ohm) }
}

fn ask(line: &Line, readings: &[MeterReading]) -> Result<Diagnosis, FaultError> {
    locate(line, &[], readings, &Tolerances::default(), &Priors::default(), &Effort::default())
}

#[test]
fn a_staple_is_found_where_it_is() {
    let line = line("B", 12, 0, &[30.0, 15.0]);
    let run = 4;
    let probe = Probe::new(&Network::build(&line).unwrap(), &[0.0, 1000.0]).unwrap();
    let truth = probe.read(&[Change::ShortAlong { run, fraction: 0.4, ohm: 0.03 }]);
    let readings = [reading(0.0, truth[0].unwrap().norm()), reading(1000.0, truth[1].unwrap().norm())];
    let found = ask(&line, &readings).unwrap();
    let along =
        found.explanations.iter().find(|e| e.fault == Fault::ShortAlong { run: "B-R5".into() }).unwrap();
    let stretch = along.stretch.as_ref().unwrap();
    let at = 0.4 * line.runs[run].length_m;
    assert!(stretch.low_m <= at && at <= stretch.high_m, "{stretch:?} against {at}");
    assert!(!found.next.is_empty());
}

#[test]
fn bad_questions_are_refused_and_impossible_readings_named() {
    let line = line("A", 6, 0, &[7.5]);
    assert_eq!(ask(&line, &[]).unwrap_err(), FaultError::NoReading);
    assert_eq!(
        ask(&line, &[reading(1000.0, -3.0)]).unwrap_err().to_string(),
        "a reading of -3 ohm at 1000 Hz cannot be; ohms are zero or more"
    );
    assert!(
        ask(&line, &[reading(0.0, 1.0), reading(0.0, 2.0)]).unwrap_err().to_string().contains("read twice")
    );
    let odd = ask(&line, &[reading(0.0, 900.0), reading(1000.0, 2.0)]).unwrap();
    assert!(odd.unexplained.unwrap().sentence.starts_with("No single fault explains this."));
}

#[test]
fn stages_grow_and_joints_read_downstream() {
    let line = line("C", 8, 4, &[15.0]);
    let stages = expected_stages(&line, &[1000.0], &Tolerances::default()).unwrap();
    assert_eq!(stages.len(), 8);
    let ohms: Vec<f64> = stages.iter().map(|stage| stage.readings[0].ohm.unwrap()).collect();
    assert!(ohms.windows(2).all(|pair| pair[1] < pair[0]), "each loudspeaker added lowers |Z|: {ohms:?}");
    let all = expected_readings(&line, &[1000.0], &Tolerances::default()).unwrap();
    assert_eq!(all.len(), 9);
    assert!((all[0].ohm.unwrap() - ohms[7]).abs() < 1e-9);
    let last = all.iter().find(|r| r.place == Place::Downstream("C8".into())).unwrap();
    let alone = line.loads[7].response(1000.0).admittance_s.norm().recip();
    assert!((last.ohm.unwrap() / alone - 1.0).abs() < 1e-3, "a joint at the end reads its loudspeaker alone");
    assert!(all.iter().all(|r| r.low_ohm < r.ohm && r.ohm < r.high_ohm));
}

#[test]
fn swapped_lines_are_recognised() {
    let (a, b) = (line("A", 6, 0, &[7.5]), line("B", 12, 0, &[30.0]));
    let probe = Probe::new(&Network::build(&b).unwrap(), &[0.0, 1000.0]).unwrap();
    let truth = probe.read(&[]);
    let readings = [reading(0.0, truth[0].unwrap().norm()), reading(1000.0, truth[1].unwrap().norm())];
    let found =
        locate(&a, &[&b], &readings, &Tolerances::default(), &Priors::default(), &Effort::default()).unwrap();
    assert!(
        found.explanations.iter().take(3).any(|e| e.fault == Fault::Swapped { line: "B".into() }),
        "{:?}",
        found.explanations
    );
}
