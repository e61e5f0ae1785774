//! What a finding offers to do in one step does away with the finding.
#![expect(clippy::panic, reason = "a test may stop at the first surprise")]

use loamline_model::{Edit, JobFile, Operation};
use loamline_study::{Finding, Remedy, Study, route};
use loamline_tune::tune;
use serde_json::{Value, json};
use std::path::Path;

fn example() -> JobFile {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/guesthouse-garden");
    match JobFile::open(&folder) {
        Ok(job) => job,
        Err(e) => unreachable!("the example ships with the program and must load: {e}"),
    }
}

fn set(path: &str, value: Value) -> Operation {
    Operation::Add { path: path.to_owned(), value, before: None }
}

/// Breaks the example; gives back the findings about a thing that were not there before and offer a remedy.
fn broken(file: &mut JobFile, edit: Edit, table: &str) -> Vec<Finding> {
    let before = Study::new(file.job().clone()).findings();
    file.apply(&edit).unwrap_or_else(|e| panic!("the edit must be possible: {e}"));
    let after = Study::new(file.job().clone()).findings();
    let new = after.iter().filter(|f| f.about.table == table && !before.contains(f)).cloned();
    new.filter(|f| f.remedy.is_some()).collect()
}

fn mended(file: &mut JobFile, found: &[Finding]) {
    assert!(!found.is_empty(), "nothing to mend was found");
    for f in found {
        let edit = match f.remedy.as_ref() {
            Some(Remedy::Processing) => {
                tune(&Study::new(file.job().clone())).unwrap_or_else(|e| panic!("{e}")).edit
            }
            Some(Remedy::Routes) => route(file.job()).unwrap_or_else(|e| panic!("{e}")).edit,
            Some(Remedy::Edit(edit)) => edit.clone(),
            None => unreachable!("only those with a remedy are looked at"),
        };
        file.apply(&edit).unwrap_or_else(|e| panic!("{}: {e}", f.sentence));
        let left = Study::new(file.job().clone()).findings();
        assert!(!left.iter().any(|l| l.sentence == f.sentence), "still there: {}", f.sentence);
    }
}

#[test]
fn a_missing_high_pass_is_set() {
    let mut file = example();
    let channels: Vec<String> = file.job().document().channels.keys().cloned().collect();
    let take = channels.iter().filter(|c| file.job().document().channels[*c].high_pass.is_some());
    let edit = Edit::new(take.map(|c| Operation::Remove { path: format!("/channels/{c}/high_pass") }));
    let found = broken(&mut file, edit, "channels");
    assert!(found.iter().all(|f| f.remedy == Some(Remedy::Processing)), "{found:?}");
    mended(&mut file, &found[..1]);
}

#[test]
fn a_tap_that_is_not_there_becomes_the_nearest_one() {
    let mut file = example();
    let tapped = file.job().document().loudspeakers.iter().find(|(_, l)| l.tap_w.is_some());
    let id = tapped.map(|(id, _)| id.clone()).unwrap_or_default();
    let found =
        broken(&mut file, Edit::new([set(&format!("/loudspeakers/{id}/tap"), json!(16.0))]), "loudspeakers");
    let Some(Remedy::Edit(edit)) = found.first().and_then(|f| f.remedy.as_ref()) else {
        panic!("a tap is a plain edit: {found:?}");
    };
    assert_eq!(edit.operations, [set(&format!("/loudspeakers/{id}/tap"), json!(20.0))]);
    mended(&mut file, &found[..1]);
}

#[test]
fn a_run_through_what_is_closed_is_led_round() {
    let mut file = example();
    let d = file.job().document();
    let (middle, _) = d.no_go.values().next().map(|n| n.outline.bounds()).map_or_else(
        || unreachable!("the example has a closed piece of ground"),
        |(low, high)| ([f64::midpoint(low.x, high.x), f64::midpoint(low.y, high.y)], ()),
    );
    let (line, run) = d
        .lines
        .iter()
        .find_map(|(id, l)| l.runs.keys().next().map(|r| (id.clone(), r.clone())))
        .unwrap_or_default();
    let edit = Edit::new([set(&format!("/lines/{line}/runs/{run}/via"), json!([middle]))]);
    let found = broken(&mut file, edit, "lines");
    assert!(found.iter().any(|f| f.remedy == Some(Remedy::Routes)), "{found:?}");
    let routes: Vec<Finding> = found.into_iter().filter(|f| f.remedy == Some(Remedy::Routes)).collect();
    mended(&mut file, &routes[..1]);
}

#[test]
fn an_area_turned_down_is_turned_up_again() {
    let mut file = example();
    let channels: Vec<String> = file.job().document().channels.keys().cloned().collect();
    let edit = Edit::new(channels.iter().map(|c| set(&format!("/channels/{c}/gain"), json!(-15.0))));
    let found = broken(&mut file, edit, "areas");
    let by: Vec<Finding> = found.into_iter().filter(|f| f.remedy == Some(Remedy::Processing)).collect();
    mended(&mut file, &by[..1]);
}
