//! Processing for the example jobs.

use loamline_model::{Edit, Job, JobFile, Operation};
use loamline_processing::{Pass, SampleRate};
use loamline_study::{Severity, Study};
use loamline_tune::{Tuned, tune};
use std::path::{Path, PathBuf};

fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name)
}

fn tuned(job: &Job) -> Tuned {
    match tune(&Study::new(job.clone())) {
        Ok(tuned) => tuned,
        Err(why) => unreachable!("the example can be tuned: {why}"),
    }
}

#[test]
fn guesthouse_garden_gets_more_even_and_keeps_its_protection() {
    let file = JobFile::open(&folder("guesthouse-garden")).expect("ships with the program");
    let t = tuned(file.job());
    assert_eq!(t.channels.len(), 4);
    for (id, c) in &t.channels {
        let plan = &c.plan;
        println!(
            "{id} {:?}",
            c.settings.iter().map(|r| format!("{}: {}", r.setting, r.value)).collect::<Vec<_>>()
        );
        assert!(plan.problems().is_empty(), "{id}: {:?}", plan.problems());
        let high_pass = plan.high_pass_hz().expect("a high-pass");
        assert!(high_pass >= c.high_pass.as_ref().expect("a reason").needed_hz);
        // 3 dB is the most an equaliser may lift; below the high-pass it may lift nothing.
        let eq = loamline_processing::Chain { equaliser: plan.chain.equaliser.clone(), ..Default::default() };
        let hz: Vec<f64> = (0..200).map(|i| 20.0 * 1000f64.powf(f64::from(i) / 199.0)).collect();
        for (f, g) in hz.iter().zip(eq.gain_at_db(SampleRate::R48K, &hz).expect("audible frequencies")) {
            assert!(g <= 3.1, "{id} lifts {f:.0} Hz by {g:.2} dB");
            assert!(*f > high_pass || g <= 0.1, "{id} lifts {f:.0} Hz, below {high_pass} Hz, by {g:.2} dB");
        }
        assert!(plan.chain.equaliser.iter().all(|s| s.frequency_hz() > high_pass));
        if let Some((before, after)) = c.equalised_rms_db {
            assert!(after <= before);
        }
        for rate in SampleRate::COMMON {
            assert!(plan.chain.sections(rate).expect("settable").iter().all(|s| s.is_stable()));
        }
    }
    let sub = t.channels["P1-4"].plan.chain.passes.iter().find(|p| p.response() == Pass::LowPass);
    assert!(sub.is_some_and(|p| Some(p.corner_hz()) == t.channels["P1-1"].crossover_hz), "one crossover");
    for (id, a) in &t.areas {
        println!(
            "{id}: {:.1} -> {:.1} of {} dBA, uneven {:.2} -> {:.2} dB, bass {:+.1} -> {:+.1}",
            a.before.mean_dba,
            a.after.mean_dba,
            a.target_dba,
            a.uneven_before_db,
            a.uneven_after_db,
            a.before.bass_over_mid_db,
            a.after.bass_over_mid_db
        );
    }
    let sum = |pick: fn(&loamline_tune::AreaTuned) -> f64| t.areas.values().map(pick).sum::<f64>();
    assert!(sum(|a| a.uneven_after_db) <= sum(|a| a.uneven_before_db));
    assert_eq!(t.order.len(), loamline_processing::WORK_STAGES.len());
    println!("{:#?}", t.findings);
}

#[test]
fn the_edit_takes_effect_and_can_be_undone() {
    let mut file = JobFile::open(&folder("guesthouse-garden")).expect("ships with the program");
    let before = file.text().to_owned();
    let count = |job: &Job| {
        let found = Study::new(job.clone()).findings();
        found.iter().filter(|f| f.severity >= Severity::Warning).count()
    };
    let (t, warnings) = (tuned(file.job()), count(file.job()));
    let undo = file.apply(&t.edit).expect("the settings fit the job");
    let (again, now) = (tuned(file.job()), count(file.job()));
    println!("{warnings} warnings, then {now}");
    assert!(now <= warnings);
    for (id, a) in &again.areas {
        // What was predicted for the new settings is what the job with them gives.
        assert!((a.before.mean_dba - t.areas[id].after.mean_dba).abs() < 0.05, "{id}");
    }
    file.apply(&undo).expect("undone");
    assert_eq!(file.text(), before);
}

#[test]
fn a_channel_without_protection_is_an_error_until_the_settings_are_written() {
    let mut file = JobFile::open(&folder("walled-courtyard")).expect("ships with the program");
    let bare = ["limiter", "high_pass"]
        .iter()
        .map(|key| Operation::Remove { path: format!("/channels/west/{key}") })
        .collect();
    file.apply(&Edit { operations: bare }).expect("both are set in the example");
    let about_west = |job: &Job| -> Vec<String> {
        let found = Study::new(job.clone()).findings();
        let errors = found.iter().filter(|f| f.severity == Severity::Error && f.about.id == "west");
        errors.map(|f| f.sentence.to_string()).collect()
    };
    let open = about_west(file.job());
    assert_eq!(open.len(), 2, "{open:?}");
    assert!(open[0].contains("no high-pass") && open[1].contains("no limiter"), "{open:?}");
    let t = tuned(file.job());
    assert_eq!(t.standing.len(), 2, "{:?}", t.standing);
    assert!(t.findings.iter().all(|f| f.severity < Severity::Error), "{:?}", t.findings);
    file.apply(&t.edit).expect("the settings fit the job");
    assert_eq!(about_west(file.job()), Vec::<String>::new());
}

/// A most of bass is kept, and a programme that is to start higher does.
#[test]
fn a_most_of_bass_and_a_low_cut_are_kept() {
    let mut file = JobFile::open(&folder("guesthouse-garden")).expect("ships with the program");
    let before = tuned(file.job());
    let (id, bassy) = before
        .areas
        .iter()
        .max_by(|a, b| a.1.after.bass_over_mid_db.total_cmp(&b.1.after.bass_over_mid_db))
        .expect("areas");
    let most_db = (bassy.after.bass_over_mid_db - 5.0).round();
    let mut operations: Vec<Operation> = file
        .job()
        .document()
        .areas
        .iter()
        .filter(|(_, a)| a.bass_db.is_some())
        .map(|(id, _)| Operation::Remove { path: format!("/areas/{id}/bass") })
        .collect();
    let add = |path: String, value: serde_json::Value| Operation::Add { path, value, before: None };
    operations.push(add(format!("/areas/{id}/bass_at_most"), serde_json::json!(most_db)));
    let programmes: Vec<String> = file.job().document().programmes.keys().cloned().collect();
    operations.extend(
        programmes.iter().map(|p| add(format!("/programmes/{p}/low_cut"), serde_json::json!("41 Hz"))),
    );
    file.apply(&Edit::new(operations)).expect("an edit that is taken");
    let after = tuned(file.job());
    let bass_db = after.areas[id].after.bass_over_mid_db;
    assert!(bass_db <= most_db + 1.0, "{id}: {bass_db:+.1} dB, at most {most_db:+.1}");
    for (channel, c) in &after.channels {
        let hz = c.plan.high_pass_hz().expect("a high-pass");
        assert!(hz >= 41.0, "{channel}: {hz} Hz");
    }
    assert!(
        before.channels.values().any(|c| c.plan.high_pass_hz().is_some_and(|hz| hz < 41.0)),
        "nothing to raise"
    );
}
