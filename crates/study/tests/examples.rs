//! The example jobs under study.

use loamline_model::{Job, load_job};
use loamline_study::{Severity, Study};
use std::path::Path;

fn example(name: &str) -> Job {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name);
    match load_job(&folder) {
        Ok(job) => job,
        Err(e) => unreachable!("{name} ships with the program and must load: {e}"),
    }
}

#[test]
fn guesthouse_garden_lines_hold_their_limits() {
    let study = Study::new(example("guesthouse-garden"));
    let report = study.lines();
    for f in &report.findings {
        println!(
            "{:?} {}: {} {}",
            f.severity,
            f.about.pointer(),
            f.sentence,
            f.mend.as_deref().unwrap_or("")
        );
    }
    assert_eq!(report.lines.len(), 4);
    assert_eq!(report.loudspeakers.len(), 22);
    for (id, at) in &report.loudspeakers {
        println!("{id} {:.2} V {:.2} W {:.3} dB", at.joint_1khz_v, at.power_1khz_w, at.loss_1khz_db);
        assert!(at.loss_1khz_db > 0.0 && at.loss_1khz_db < 0.5, "{id}: {} dB", at.loss_1khz_db);
    }
    assert!(report.findings.iter().all(|f| f.severity < Severity::Error), "{:?}", report.findings);
}

#[test]
fn guesthouse_garden_is_heard_where_it_should_be() {
    let study = Study::new(example("guesthouse-garden"));
    let heard = study.heard();
    let levels = heard.levels.as_ref().expect("the scene computes");
    for (id, a) in &levels.areas {
        let s = &a.statistics;
        println!(
            "{id}: {:.1} dBA ({:.1}..{:.1}), within {:.0} %, bass {:+.1} dB",
            s.mean_dba,
            s.p10_dba,
            s.p90_dba,
            100.0 * s.share_within,
            s.bass_over_mid_db
        );
    }
    println!("loudest {:?}", levels.loudest);
    for f in study.findings().iter() {
        println!(
            "{} {}: {} {}",
            f.severity.word(),
            f.about.pointer(),
            f.sentence,
            f.mend.clone().unwrap_or_default()
        );
    }
    assert_eq!(levels.areas.len(), 4);
}

#[test]
fn no_example_has_an_error_among_its_findings() {
    for name in ["guesthouse-garden", "walled-courtyard", "quayside-hotel"] {
        let study = Study::new(example(name));
        let findings = study.findings();
        findings.iter().for_each(|f| println!("{name} {} {}", f.severity.word(), f.sentence));
        let errors: Vec<_> = findings.iter().filter(|f| f.severity == Severity::Error).collect();
        assert!(errors.is_empty(), "{name}: {errors:#?}");
    }
}

#[test]
fn a_reading_written_down_costs_no_new_field_and_a_tap_costs_one_line() {
    let job = example("guesthouse-garden");
    let study = Study::new(job.clone());
    study.heard();
    let before = study.worked();
    let study = study.next(job);
    study.heard();
    assert_eq!(study.worked(), before, "the same job is heard again");
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/guesthouse-garden");
    let text = std::fs::read_to_string(folder.join("job.toml")).unwrap();
    let changed = text.replacen("tap = \"100 W\"", "tap = \"50 W\"", 1);
    assert_ne!(text, changed);
    let file = loamline_model::SourceFile::new("job.toml", changed);
    let study = study.next(loamline_model::read_job(&file, &[]).unwrap());
    study.lines();
    assert_eq!(study.worked().lines, before.lines + 1, "only line D has changed");
}

#[test]
fn two_subwoofers_far_apart_cancel_somewhere_and_the_report_says_where() {
    let study = Study::new(example("guesthouse-garden"));
    let heard = study.heard();
    let report = loamline_study::bass(study.job(), heard.sound.as_ref().unwrap()).unwrap();
    assert_eq!(report.subwoofers, ["S1", "S2"]);
    let court = &report.areas["court"];
    println!(
        "court {:.1} dB, uneven by {:.2} dB, nulls {:?}",
        court.level_db, court.deviation_db, court.nulls
    );
    // 12 m apart: half a wavelength at 14 Hz and odd multiples; some band between 25 and 160 Hz must cancel.
    let lawn = &report.areas["lawn"];
    assert!(!lawn.nulls.is_empty());
    assert!(lawn.nulls.iter().all(|n| n.below_louder_db > 1.0 && n.share > 0.0 && n.share <= 1.0));
    // Sets within a quarter of a decibel count as equally even; the louder one then comes first.
    assert!(
        court.ranking[0].deviation_db <= court.deviation_db + 0.25,
        "the best is no worse than what is set"
    );
}

#[test]
fn feeding_a_line_three_ways_is_compared() {
    let study = Study::new(example("guesthouse-garden"));
    let runs = study.runs();
    let compared = loamline_study::compare(study.job(), &runs).unwrap();
    assert_eq!(compared.len(), 4);
    for (id, c) in &compared {
        let [at_70, at_100, low] = c.ways.as_slice() else { unreachable!("three ways") };
        println!(
            "{id}: {:?}",
            c.ways.iter().map(|w| (w.cable.map(|i| &c.cables[i]), w.worst_loss_db)).collect::<Vec<_>>()
        );
        // The same power at 1.414 times the voltage: half the current squared, so never more copper.
        assert!(at_100.copper_kg <= at_70.copper_kg && at_70.copper_kg <= low.copper_kg);
    }
}
