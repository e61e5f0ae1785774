//! Faults worked out by hand: what explains the readings, what is measured next, what is refused.

#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

mod common;

use common::{ask, line, question};
use loamline_electrics::*;
use loamline_faults::*;

fn reading(frequency_hz: f64, ohm: f64) -> MeterReading {
    MeterReading::at_rack(frequency_hz, Shown::Ohm(ohm))
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
    assert!(odd.unexplained.unwrap().sentence.starts_with("No single fault explains these readings."));
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

/// Of one reading at direct current any other frequency tells something; a meter that has two is asked for the other of them, at
/// the rack and at joints, and one of direct current alone for that at joints.
#[test]
fn no_reading_is_asked_for_that_the_meter_cannot_take() {
    let line = line("B", 12, 0, &[30.0, 15.0]);
    let truth = Probe::new(&Network::build(&line).unwrap(), &[0.0]).unwrap();
    let truth = truth.read(&[Change::ShortAlong { run: 4, fraction: 0.4, ohm: 0.03 }]);
    let readings = [reading(0.0, truth[0].unwrap().norm())];
    let asked_for = |meter_hz: &[f64]| -> Vec<f64> {
        let usual = Default::default();
        let asked = Asked { meter_hz, ..question(&line, &[], &readings, &[], &usual) };
        let next = locate(&asked).unwrap().next;
        let of = |t: &NextTest| match &t.test {
            Test::AtRack(hz) | Test::OpenJoint { frequency_hz: hz, .. } => *hz,
        };
        next.iter().map(of).collect()
    };
    let (any, two) = (asked_for(&[0.0, 100.0, 315.0, 1000.0, 10_000.0]), asked_for(&[0.0, 1000.0]));
    assert!(any.iter().any(|hz| [100.0, 315.0, 10_000.0].contains(hz)), "{any:?}");
    assert!(!two.is_empty() && two.iter().all(|hz| *hz == 1000.0), "{two:?}");
    assert!(asked_for(&[0.0]).iter().all(|hz| *hz == 0.0));
    assert!(asked_for(&[0.0, 1250.0]).iter().all(|hz| *hz == 1250.0));
}

#[test]
fn swapped_lines_are_recognised() {
    let (a, b) = (line("A", 6, 0, &[7.5]), line("B", 12, 0, &[30.0]));
    let probe = Probe::new(&Network::build(&b).unwrap(), &[0.0, 1000.0]).unwrap();
    let truth = probe.read(&[]);
    let readings = [reading(0.0, truth[0].unwrap().norm()), reading(1000.0, truth[1].unwrap().norm())];
    let found = locate(&question(&a, &[&b], &readings, &[], &Default::default())).unwrap();
    assert!(
        found.explanations.iter().take(3).any(|e| e.fault == Fault::Swapped { line: "B".into() }),
        "{:?}",
        found.explanations
    );
}

/// Readings of a missing loudspeaker half-way down the line, at the rack and at a joint before it.
fn missing_in_the_middle(line: &Line) -> Vec<MeterReading> {
    let network = Network::build(line).unwrap();
    let rack = Probe::new(&network, &[0.0, 1000.0]).unwrap().read(&[Change::Missing { load: 7 }]);
    let seen = network.seen_from("B4").unwrap();
    let cut = Change::Cut { run: 3, fraction: 1.0 };
    let joint = Probe::new(&seen, &[1000.0]).unwrap().read(&[Change::Missing { load: 7 }, cut]);
    let mut readings = vec![reading(0.0, rack[0].unwrap().norm()), reading(1000.0, rack[1].unwrap().norm())];
    let place = Place::Downstream("B4".into());
    readings.push(MeterReading { place, ..reading(1000.0, joint[0].unwrap().norm()) });
    readings
}

#[test]
fn a_table_read_back_from_json_gives_the_posterior_of_locate() {
    let line = line("B", 12, 0, &[30.0, 15.0]);
    let readings = missing_in_the_middle(&line);
    let usual: (Tolerances, Priors, Effort) = Default::default();
    let opened = ["B4".to_owned()];
    let found = locate(&question(&line, &[], &readings, &opened, &usual)).unwrap();
    // A table for more than was read: all rack frequencies with phases, every joint.
    let setup = |place, f: &[f64], phases| Setup { place, frequencies_hz: f.to_vec(), phases };
    let mut setups = vec![setup(Place::Rack, &[0.0, 100.0, 315.0, 1000.0, 10_000.0], true)];
    setups.extend(line.runs.iter().map(|r| setup(Place::Downstream(r.to.clone()), &[0.0, 1000.0], false)));
    let table = Table::build(&line, &[], &setups, &usual.0, &usual.1).unwrap();
    // A phone tells the length of a run in the units of whoever holds it.
    let cut = table.hypotheses.iter().find(|h| h.fault == Fault::Open { run: "B-R5".into() }).unwrap();
    assert_eq!(cut.measures.iter().map(|m| m.value).collect::<Vec<_>>(), [line.runs[4].length_m]);
    let text = serde_json::to_string(&table).unwrap();
    println!("a table of 12 loudspeakers is {} kB of JSON", text.len() / 1000);
    let table: Table = serde_json::from_str(&text).unwrap();
    let weighed = table.weigh(&readings, &opened, None).unwrap();
    assert!(found.explanations.len() > 5);
    for explanation in &found.explanations {
        let index = table.hypotheses.iter().position(|h| h.fault == explanation.fault).unwrap();
        let difference = weighed.probability[index] - explanation.probability;
        assert!(difference.abs() < 1e-9, "{:?} {difference}", explanation.fault);
    }
}

#[test]
fn readings_at_a_joint_and_a_look_into_it_tighten_the_ranking() {
    let line = line("B", 12, 0, &[30.0, 15.0]);
    let readings = missing_in_the_middle(&line);
    let at_rack = ask(&line, &readings[..2]).unwrap();
    let with_joint = ask(&line, &readings).unwrap();
    let before = |found: &Diagnosis| -> f64 {
        let upstream = |f: &Fault| (1..4).any(|k| *f == Fault::Missing { load: format!("B-L{k}") });
        found.explanations.iter().filter(|e| upstream(&e.fault)).map(|e| e.probability).sum()
    };
    assert!(
        before(&at_rack) > 0.05 && before(&with_joint) < 0.01,
        "{} {}",
        before(&at_rack),
        before(&with_joint)
    );
    let fault = Fault::Missing { load: "B-L8".into() };
    let opened = ["B8".to_owned()];
    let looked = locate(&question(&line, &[], &readings, &opened, &Default::default())).unwrap();
    let of = |found: &Diagnosis| {
        found.explanations.iter().find(|e| e.fault == fault).map_or(0.0, |e| e.probability)
    };
    assert!(of(&looked) < 0.2 * of(&with_joint));
}

#[test]
fn every_outcome_of_the_next_test_is_told() {
    let line = line("B", 12, 0, &[30.0, 15.0]);
    let found = ask(&line, &missing_in_the_middle(&line)[..2]).unwrap();
    let next = &found.next[0];
    assert!(!next.outcomes.is_empty());
    for test in &found.next {
        let sum: f64 = test.outcomes.iter().map(|o| o.probability).sum();
        assert!((sum - 1.0).abs() < 0.03, "{sum}");
        assert!(test.outcomes.iter().all(|o| o.sentence.contains("then ") && o.sentence.ends_with('.')));
    }
}

#[test]
fn phases_joints_and_frequencies_that_cannot_be_are_refused() {
    let line = line("A", 6, 0, &[7.5]);
    let phase = |f: f64, p: f64| MeterReading { phase_rad: Some(p), ..reading(f, 50.0) };
    assert!(ask(&line, &[phase(1000.0, 4.0)]).unwrap_err().to_string().contains("-180 to 180 degrees"));
    assert!(ask(&line, &[phase(0.0, 0.1)]).unwrap_err().to_string().contains("DC has none"));
    let at = |joint: &str| MeterReading { place: Place::Downstream(joint.into()), ..reading(1000.0, 50.0) };
    assert_eq!(ask(&line, &[at("X9")]).unwrap_err(), FaultError::NoSuchJoint { joint: "X9".into() });
    assert_eq!(ask(&line, &[at("amp")]).unwrap_err(), FaultError::NotBehindTheRack { joint: "amp".into() });
    assert!(ask(&line, &[reading(-5.0, 50.0)]).is_err());
}

#[test]
fn two_faults_at_once_are_told_where_one_does_not_explain() {
    let line = line("B", 12, 0, &[30.0, 15.0]);
    let frequencies = [0.0, 100.0, 315.0, 1000.0, 10_000.0];
    let probe = Probe::new(&Network::build(&line).unwrap(), &frequencies).unwrap();
    // Half-way along run 9 the cable is cut; the second joint leaks through 60 ohm.
    let joint = Network::build(&line).unwrap().joint_index("B2").unwrap();
    let truth = probe.read(&[Change::Cut { run: 8, fraction: 0.5 }, Change::Across { joint, ohm: 60.0 }]);
    let readings: Vec<_> =
        truth.iter().zip(frequencies).map(|(z, f)| reading(f, z.unwrap().norm())).collect();
    let usual: (Tolerances, Priors, Effort) = Default::default();
    let asked = question(&line, &[], &readings, &[], &usual);
    let found = locate(&Asked { pairs: true, ..asked }).unwrap();
    let count = found.pairs.unwrap();
    assert!(count.weighed > 5000 && count.kept > 0 && count.left_out < 0.1, "{count:?}");
    let sum: f64 = found.explanations.iter().map(|e| e.probability).sum();
    assert!(sum <= 1.0 + 1e-9, "{sum}");
    let (open, wet) = (Fault::Open { run: "B-R9".into() }, Fault::Wet { joint: "B2".into() });
    let place = |wanted: &Fault| found.suspects.iter().position(|s| s.fault == *wanted);
    assert!(place(&open).is_some_and(|p| p < 3), "{:?}", found.suspects);
    assert!(place(&wet).is_some(), "{:?}", found.suspects);
    // A leak has its size, and both places are told.
    let both = found.explanations.iter().find(|e| e.fault.parts() == [&open, &wet]).unwrap();
    assert!(both.sentence.starts_with("Two faults. Run B-R9"), "{}", both.sentence);
    assert!(both.sentence.contains("Joint B2 leaks through about"), "{}", both.sentence);
    assert!(!found.next.is_empty() && found.next.iter().all(|test| test.outcomes.len() > 1));
    // A good line is not talked into two faults.
    let good: Vec<_> =
        probe.read(&[]).iter().zip(frequencies).map(|(z, f)| reading(f, z.unwrap().norm())).collect();
    let found = locate(&Asked { pairs: true, readings: &good, ..asked }).unwrap();
    assert_eq!(found.explanations[0].fault, Fault::Healthy);
    assert!(found.explanations[0].probability > 0.5);
}

/// A foreman's words: no deviations, and a length that is a number to whoever prints it.
#[test]
fn faults_are_told_without_statistics_and_with_lengths_as_numbers() {
    let line = line("A", 6, 0, &[7.5]);
    let odd = ask(&line, &[reading(0.0, 900.0), reading(1000.0, 2.0)]).unwrap();
    let said = odd.unexplained.unwrap().sentence;
    assert!(said.contains("The nearest is far outside what the line allows: "), "{said}");
    assert!(!said.contains("deviation"), "{said}");
    // The same run in yards, by whoever writes it so: 1 yd is 0.9144 m (1959), of the length the line itself states.
    let found = ask(&line, &[reading(0.0, 0.3), reading(1000.0, 0.3)]).unwrap();
    let along = found.explanations.iter().find_map(|e| match &e.fault {
        Fault::ShortAlong { run } => Some((e, line.runs.iter().find(|r| r.name == *run)?)),
        _ => None,
    });
    let (along, run) = along.unwrap();
    let yards = |m: loamline_terms::Measure| match m {
        loamline_terms::Measure::Length(metres) => format!("{:.3} yd", metres / 0.9144),
        other => other.to_string(),
    };
    let written = along.sentence.written(yards);
    assert!(
        written.contains(&format!("{}, {:.3} yd of cable as laid)", run.to, run.length_m / 0.9144)),
        "{written}"
    );
    assert!(!written.contains(" m from") && !written.contains(" m)"), "{written}");
}

/// A line whose loop reads as it should and whose insulation does not: nothing wrong is not what comes first, and is not in one
/// answer with what lets water in.
#[test]
fn a_line_that_leaks_is_not_one_with_nothing_wrong() {
    let line = line("B", 4, 0, &[30.0, 15.0]);
    let probe = Probe::new(&Network::build(&line).unwrap(), &[0.0, 1000.0]).unwrap();
    let good = probe.read(&[]);
    let readings = [reading(0.0, good[0].unwrap().norm()), reading(1000.0, good[1].unwrap().norm())];
    let usual = Default::default();
    let asked = question(&line, &[], &readings, &[], &usual);
    let dry = locate(&asked).unwrap();
    assert_eq!(dry.explanations[0].fault, Fault::Healthy);
    for grade in [Grade::Doubtful, Grade::Bad] {
        let leaks = locate(&Asked { insulation: Some(grade), ..asked }).unwrap();
        assert_ne!(leaks.explanations[0].fault, Fault::Healthy, "{grade:?}");
        let healthy = leaks.explanations.iter().position(|e| e.fault == Fault::Healthy);
        let first = &leaks.answers[0];
        assert!(healthy.is_none_or(|healthy| !first.members.contains(&healthy)), "{first:?}");
        assert_ne!(leaks.grade(), Grade::Good);
    }
}
