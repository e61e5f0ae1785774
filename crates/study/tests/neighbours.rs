//! What is said of neighbours: floors one above the other, hours of the night, which limit it is.
#![expect(clippy::panic, reason = "a test may stop at the first surprise")]

use loamline_model::{Edit, JobFile, Operation};
use loamline_study::{Judged, Severity, Study, asked_limits};
use serde_json::{Value, json};
use std::path::Path;

fn cafe(set: &[(&str, Value)]) -> JobFile {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/walled-courtyard");
    let mut file = JobFile::open(&folder).unwrap_or_else(|e| panic!("ships with the program: {e}"));
    let add = |(path, value): &(&str, Value)| Operation::Add {
        path: (*path).to_owned(),
        value: value.clone(),
        before: None,
    };
    file.apply(&Edit::new(set.iter().map(add))).unwrap_or_else(|e| panic!("an edit that is taken: {e}"));
    file
}

fn window(height: &str) -> Value {
    json!({ "points": [[3, 7.6], [8, 7.6]], "height": height, "day": "60 dBA", "day_63hz": "66 dB", "night": "50 dBA" })
}

/// A house of two floors hears what two neighbours at those heights hear.
#[test]
fn every_floor_is_judged_on_its_own() {
    let floors = json!({ "1": { "height": "5.2 m" }, "2": { "name": "Attic", "height": "8.4 m" } });
    let mut house = window("5.2 m");
    house["floors"] = floors;
    let low_high = [("/neighbours/low", window("5.2 m")), ("/neighbours/high", window("8.4 m"))];
    let file = cafe(&[("/neighbours/house", house), low_high[0].clone(), low_high[1].clone()]);
    let heard = Study::new(file.job().clone()).heard();
    let of = |id: &str| &heard.neighbours[id];
    let levels = |all: &[Judged]| -> Vec<(f64, f64)> {
        all.iter().map(|j| (j.judgement.level_db, j.judgement.limit_db)).collect()
    };
    for (house, low, high) in [
        (&of("house").day, &of("low").day, &of("high").day),
        (&of("house").night, &of("low").night, &of("high").night),
    ] {
        let floors: Vec<Option<&str>> = house.iter().map(|j| j.floor.as_deref()).collect();
        assert_eq!(floors, [Some("1"), Some("1"), Some("2"), Some("2")], "dBA and 63 Hz on each");
        assert_eq!(levels(house), [levels(low), levels(high)].concat());
    }
    assert!((of("low").day[0].judgement.level_db - of("high").day[0].judgement.level_db).abs() > 0.1);
    // The place told is one on that floor.
    for j in &of("house").day {
        let height = of("house").receivers[j.judgement.receiver].position.z;
        let wanted = if j.floor.as_deref() == Some("1") { 5.2 } else { 8.4 };
        assert!((height - wanted).abs() < 1e-9, "{height} m on floor {:?}", j.floor);
    }
}

#[test]
fn a_finding_names_the_floor_and_the_hours() {
    let mut house = window("5.2 m");
    house["floors"] = json!({ "1": { "height": "5.2 m" }, "2": { "height": "8.4 m" } });
    (house["day"], house["night"]) = (json!("30 dBA"), json!("20 dBA"));
    let night = ("/brief/night_hours", json!("10 pm to 6 am"));
    let file = cafe(&[("/neighbours/house", house), night]);
    let findings = Study::new(file.job().clone()).findings();
    for start in [
        "Neighbour house, floor 1 by day (6 am to 10 pm) is ",
        "Neighbour house, floor 2 by night (10 pm to 6 am) is ",
    ] {
        assert!(findings.iter().any(|f| f.sentence.starts_with(start)), "{start}: {findings:#?}");
    }
    let limits = asked_limits(file.job());
    let said: Vec<(Option<&str>, String)> = limits
        .iter()
        .filter(|l| l.neighbour == "house" && !l.octave_63_hz)
        .map(|l| (l.floor, l.when.said(&file.job().document().brief)))
        .collect();
    let (day, night) = ("by day (6 am to 10 pm)".to_owned(), "by night (10 pm to 6 am)".to_owned());
    assert_eq!(
        said,
        [(Some("1"), day.clone()), (Some("1"), night.clone()), (Some("2"), day), (Some("2"), night)]
    );
}

/// The courtyard has four faces that reflect towards the flat, each with a name in the file: three are named, and that one more
/// adds something is said.
#[test]
fn reflections_are_told_by_name_and_those_left_out_are_counted() {
    let file = cafe(&[]);
    let study = Study::new(file.job().clone());
    let heard = study.heard();
    let [by_day] = heard.neighbours["flat"].day.as_slice() else { panic!("one limit by day") };
    assert_eq!(by_day.reflected_by.len(), 4, "{:?}", by_day.reflected_by);
    let d = file.job().document();
    let names: Vec<&str> = d
        .walls
        .values()
        .map(|w| w.name.as_str())
        .chain(d.buildings.values().map(|b| b.name.as_str()))
        .collect();
    assert!(
        by_day.reflected_by.iter().all(|r| names.contains(&r.what.as_str())),
        "{:?}",
        by_day.reflected_by
    );
    let findings = study.findings();
    let start = format!("{} by day ", d.neighbours["flat"].name);
    let told = findings.iter().find(|f| f.sentence.starts_with(&start));
    let told = told.unwrap_or_else(|| panic!("{start}: {findings:#?}"));
    for r in by_day.reflected_by.iter().take(3) {
        assert!(
            told.sentence.contains(&format!("{:.1} dB from {}, ", r.adds_db, r.what)),
            "{}",
            told.sentence
        );
    }
    assert!(told.sentence.contains(", less from 1 more."), "{}", told.sentence);
}

/// A quieter limit by night that nobody gave hours for is asked about, once.
#[test]
fn a_night_without_hours_is_asked_about() {
    let asked = |set: &[(&str, Value)], take: Option<&str>| {
        let mut file = cafe(set);
        if let Some(path) = take {
            let remove = Operation::Remove { path: path.to_owned() };
            file.apply(&Edit::new([remove])).unwrap_or_else(|e| panic!("{e}"));
        }
        let findings = Study::new(file.job().clone()).findings();
        let said = findings.iter().filter(|f| f.sentence.contains("does not say when that is"));
        let all: Vec<Severity> = said.map(|f| f.severity).collect();
        all
    };
    assert_eq!(asked(&[("/neighbours/more", window("5 m"))], Some("/brief/night_hours")), [Severity::Note]);
    assert_eq!(asked(&[], None), []);
}
