//! What a revision takes over from the one before, against the same revision worked out from nothing: every result, exactly.
//! The expected values are a second way of computing (nothing kept), not figures of ours.
#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use loamline_faults::Tolerances;
use loamline_model::{Edit, JobFile, SourceFile, shipped_catalogue};
use loamline_study::{METER_FREQUENCIES_HZ, Study, bass};
use loamline_tune::tuned;
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use serde_json::{Value, json};
use std::cell::Cell;

const GUESTHOUSE: &str = include_str!("../../../examples/guesthouse-garden/job.toml");
const COURTYARD: &str = include_str!("../../../examples/walled-courtyard/job.toml");
const QUAYSIDE: &str = include_str!("../../../examples/quayside-hotel/job.toml");

fn file(text: &str) -> JobFile {
    JobFile::from_text(&SourceFile::new("job.toml", text), shipped_catalogue().unwrap()).unwrap()
}

/// What a person changes.
#[derive(Debug, Clone, Copy)]
enum Change {
    Move(f64, f64),
    Turn(f64),
    Tap,
    Line,
    Gain(f64),
    Corner(f64),
    Target(f64),
    Limit(f64),
    Wall(f64),
    Surface,
    Rename(u32),
    Note(u32),
    Reading(f64),
    Warm(f64),
    LoopLength(f64),
    Remove,
}

fn change() -> impl Strategy<Value = Change> {
    prop_oneof![
        (-0.4..0.4, -0.4..0.4).prop_map(|(x, y)| Change::Move(x, y)),
        (0.0..360.0).prop_map(Change::Turn),
        Just(Change::Tap),
        Just(Change::Line),
        (-12.0..0.0).prop_map(Change::Gain),
        (60.0..160.0).prop_map(Change::Corner),
        (60.0..75.0).prop_map(Change::Target),
        (40.0..60.0).prop_map(Change::Limit),
        (1.0..3.0).prop_map(Change::Wall),
        Just(Change::Surface),
        (0u32..9).prop_map(Change::Rename),
        (0u32..9).prop_map(Change::Note),
        (1.0..9.0).prop_map(Change::Reading),
        (5.0..30.0).prop_map(Change::Warm),
        (5.0..40.0).prop_map(Change::LoopLength),
        Just(Change::Remove),
    ]
}

/// An edit of the job that makes a change to one of the things it is about; none where there is no such thing.
fn edit(file: &JobFile, change: Change, which: usize) -> Option<Edit> {
    let d = file.job().document();
    let pick = |table: &str| {
        let all: Vec<&String> = file.raw().get(table)?.as_object()?.keys().collect();
        (!all.is_empty()).then(|| all[which % all.len()].clone())
    };
    let put = |path: String, value: Value| json!([{ "op": "add", "path": path, "value": value }]);
    let patch = match change {
        Change::Move(x, y) => {
            let id = pick("loudspeakers")?;
            let p = d.loudspeakers[&id].position;
            put(format!("/loudspeakers/{id}/position"), json!([p.x + x, p.y + y]))
        }
        Change::Turn(deg) => put(format!("/loudspeakers/{}/bearing", pick("loudspeakers")?), json!(deg)),
        Change::Tap => {
            let id = pick("loudspeakers")?;
            let t = file.job().loudspeaker(&id)?.model.transformer.clone()?;
            put(format!("/loudspeakers/{id}/tap"), json!(t.taps_70v_w.get(which % t.taps_70v_w.len().max(1))))
        }
        Change::Line => put(format!("/loudspeakers/{}/polarity", pick("loudspeakers")?), json!("reversed")),
        Change::Gain(db) => {
            put(format!("/channels/{}/gain", pick("channels")?), json!(format!("{db:.1} dB")))
        }
        Change::Corner(hz) => put(
            format!("/channels/{}/high_pass", pick("channels")?),
            json!({ "kind": "butterworth", "order": 2, "corner": format!("{hz:.0} Hz") }),
        ),
        Change::Target(dba) => {
            put(format!("/areas/{}/target", pick("areas")?), json!(format!("{dba:.0} dBA")))
        }
        Change::Limit(dba) => {
            put(format!("/neighbours/{}/day", pick("neighbours")?), json!(format!("{dba:.0} dBA")))
        }
        Change::Wall(m) => put(format!("/walls/{}/height", pick("walls")?), json!(format!("{m:.2} m"))),
        Change::Surface => put(format!("/surfaces/{}/elevation", pick("surfaces")?), json!("0.1 m")),
        Change::Rename(n) => put(format!("/areas/{}/name", pick("areas")?), json!(format!("Place {n}"))),
        Change::Note(n) => put("/job/notes".into(), json!(format!("Note {n}"))),
        Change::Reading(ohm) => {
            let visit = json!({ "date": "2026-05-04", "kind": "handover",
                "readings": { "r1": { "line": pick("lines")?, "dc": format!("{ohm:.2} ohm") } } });
            match file.raw().get("visits") {
                Some(_) => put("/visits/trial".into(), visit),
                None => put("/visits".into(), json!({ "trial": visit })),
            }
        }
        Change::Warm(c) => put("/site/air".into(), json!({ "temperature": format!("{c:.0} C") })),
        Change::LoopLength(m) => {
            let line = pick("lines")?;
            let runs: Vec<&String> = d.lines[&line].runs.keys().collect();
            let run = runs.first()?;
            put(format!("/lines/{line}/runs/{run}/length"), json!(format!("{m:.1} m")))
        }
        Change::Remove => json!([{ "op": "remove", "path": format!("/neighbours/{}", pick("neighbours")?) }]),
    };
    Some(serde_json::from_value(patch).unwrap())
}

/// Every result of a study, as text.
fn results(study: &Study, with_tuning: bool) -> Vec<(&'static str, String)> {
    let text = |value: Value| value.to_string();
    let heard = study.heard();
    let usual = Tolerances::default();
    let tables = study.fault_tables(&usual);
    let mut all = vec![
        ("runs", text(json!(*study.runs()))),
        ("lines", text(json!(*study.lines()))),
        ("heard", text(json!(*heard))),
        ("sources", format!("{:?}", heard.sound.as_ref().map(|s| (&s.sources, &s.silent, s.scene.input())))),
        (
            "points",
            format!(
                "{:?}",
                heard.levels.as_ref().map(|l| l.areas.values().map(|a| &a.points).collect::<Vec<_>>())
            ),
        ),
        ("findings", text(json!(*study.findings()))),
        ("expected", format!("{:?}", study.expected(&METER_FREQUENCIES_HZ, &usual))),
        ("tables", format!("{:?}", tables.as_ref().as_ref().map(|t| json!(t).to_string()))),
        (
            "bass",
            format!("{:?}", heard.sound.as_ref().map(|s| bass(study.job(), s).map(|b| json!(b).to_string()))),
        ),
    ];
    if with_tuning {
        all.push(("tuned", format!("{:?}", tuned(study).as_ref().as_ref().map(|t| json!(t).to_string()))));
    }
    all
}

fn carried_over_is_exact(text: &str, cases: u32, with_tuning: bool) {
    let steps = prop::collection::vec((change(), any::<usize>()), 1..4);
    let config = Config { cases, failure_persistence: None, max_shrink_iters: 0, ..Config::default() };
    let mut runner = TestRunner::new(config);
    let made = Cell::new(0);
    runner
        .run(&steps, |steps| {
            let mut file = file(text);
            let mut study = Study::new(file.job().clone());
            results(&study, with_tuning);
            for (change, which) in steps {
                let Some(edit) = edit(&file, change, which) else { continue };
                // What today's rules refuse changes nothing.
                let Ok(_) = file.apply(&edit) else { continue };
                made.set(made.get() + 1);
                study = study.next(file.job().clone());
                let fresh = Study::new(file.job().clone());
                for (carried, new) in results(&study, with_tuning).iter().zip(results(&fresh, with_tuning)) {
                    prop_assert!(*carried == new, "after {change:?}: {} differ", new.0);
                }
            }
            Ok(())
        })
        .unwrap();
    assert!(made.get() >= cases / 2, "only {} edits were possible", made.get());
}

#[test]
fn a_small_garden_carried_over_is_that_worked_out_anew() {
    carried_over_is_exact(COURTYARD, 24, true);
}

#[test]
fn a_garden_carried_over_is_that_worked_out_anew() {
    carried_over_is_exact(GUESTHOUSE, 8, true);
}

#[test]
fn a_large_site_carried_over_is_that_worked_out_anew() {
    // One edit: a site this large takes seconds to work out from nothing.
    carried_over_is_exact(QUAYSIDE, 1, false);
}

/// Words cost nothing: counted, not timed.
#[test]
fn names_notes_and_readings_work_nothing_out_again() {
    for text in [COURTYARD, GUESTHOUSE] {
        let mut file = file(text);
        let study = Study::new(file.job().clone());
        results(&study, true);
        let before = study.worked();
        for change in [Change::Rename(1), Change::Note(2), Change::Reading(3.0)] {
            let edit = edit(&file, change, 0).unwrap();
            file.apply(&edit).unwrap();
            let next = study.next(file.job().clone());
            results(&next, true);
            assert_eq!(next.worked(), before, "{change:?}");
        }
    }
}
