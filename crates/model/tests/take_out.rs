//! Taking things out: whatever is taken, the job that is left makes sense, and undoing brings everything back.
#![expect(clippy::panic, reason = "a fixture that does not read must show its report")]

use loamline_model::{JobFile, SourceFile, read_catalogue, shipped_catalogue};
use serde_json::{Value, json};
use std::path::Path;
use std::sync::Arc;

const GOOD: &str = include_str!("fixtures/good.toml");

fn good() -> JobFile {
    let catalogue = SourceFile::new("catalogue.toml", include_str!("fixtures/catalogue.toml"));
    let read = read_catalogue(&[catalogue])
        .and_then(|c| JobFile::from_text(&SourceFile::new("job.toml", GOOD), Arc::new(c)));
    read.unwrap_or_else(|r| panic!("{r}"))
}

fn examples() -> Vec<JobFile> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples");
    let entries = std::fs::read_dir(&folder).unwrap_or_else(|e| panic!("{e}"));
    let jobs = entries.flatten().map(|e| e.path()).filter(|p| p.join("job.toml").exists());
    jobs.map(|p| JobFile::open(&p).unwrap_or_else(|e| panic!("{}: {e}", p.display()))).collect()
}

fn tables(file: &JobFile) -> Vec<(String, String)> {
    let Value::Object(all) = file.raw() else { return Vec::new() };
    let of = |table: &String, things: &Value| -> Vec<(String, String)> {
        if ["job", "brief", "site"].contains(&table.as_str()) {
            return Vec::new();
        }
        let ids = things.as_object().into_iter().flat_map(|o| o.keys());
        ids.map(|id| (table.clone(), id.clone())).collect()
    };
    all.iter().flat_map(|(t, v)| of(t, v)).collect()
}

#[test]
fn whatever_is_taken_out_leaves_a_job_and_comes_back_by_undoing() {
    let mut tried = 0;
    let mut jobs = examples();
    assert!(jobs.len() >= 3, "{} examples", jobs.len());
    jobs.push(good());
    for file in jobs {
        let before = file.raw().clone();
        for (table, id) in tables(&file) {
            let taken = file.take_out(&table, &id).unwrap_or_else(|e| panic!("{table} {id}: {e}"));
            let mut once: Vec<String> = taken.along.iter().map(ToString::to_string).collect();
            once.sort();
            once.dedup();
            assert_eq!(once.len(), taken.along.len(), "{table} {id}: {:?}", taken.along);
            let mut after = file.clone();
            let undo = after.apply(&taken.edit).unwrap_or_else(|e| panic!("{table} {id}: {e}"));
            assert!(after.raw().pointer(&format!("/{table}/{id}")).is_none(), "{table} {id}");
            after.apply(&undo).unwrap_or_else(|e| panic!("undo {table} {id}: {e}"));
            assert_eq!(after.raw(), &before, "{table} {id}");
            tried += 1;
        }
    }
    assert!(tried > 100, "{tried}");
}

#[test]
fn what_hangs_on_a_rack_is_listed_and_goes_along() {
    let mut file = good();
    let taken = file.take_out("racks", "R1").unwrap();
    let amplifiers: Vec<String> =
        file.job().document().amplifiers.keys().map(|a| format!("amplifier {a}")).collect();
    assert!(!amplifiers.is_empty());
    for a in amplifiers.iter().chain(&["channel garden".to_owned()]) {
        assert!(taken.along.iter().any(|told| told == a), "{a} in {:?}", taken.along);
    }
    let told = taken.changed.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ");
    assert!(told.contains("Line A then starts nowhere: its 4 runs of cable go along."), "{told}");
    file.apply(&taken.edit).unwrap();
    assert_eq!(file.raw()["lines"]["A"].get("runs"), None);
    assert_eq!(file.raw()["loudspeakers"]["L1"]["line"], json!("A"), "it stays on its line, without cable");
}

/// A stub may leave its rack out where there is only one: it hangs on that one all the same, and its lines on the stub.
#[test]
fn a_stub_that_names_no_rack_goes_along_with_the_only_rack() {
    let catalogue = Arc::new(good().job().catalogue().clone());
    let cable = catalogue.cables.keys().next().unwrap();
    let text = format!("{GOOD}\n[stubs.T1]\nposition = [1, 1]\ncable = \"{cable}\"\n");
    let read = JobFile::from_text(&SourceFile::new("job.toml", text), Arc::clone(&catalogue));
    let mut file = read.unwrap_or_else(|r| panic!("{r}"));
    assert_eq!(file.job().document().racks.len(), 1);
    let taken = file.take_out("racks", "R1").unwrap();
    assert!(taken.along.iter().any(|told| *told == "stub-out T1"), "{:?}", taken.along);
    let undo = file.apply(&taken.edit).unwrap();
    assert!(file.job().document().stubs.is_empty());
    file.apply(&undo).unwrap();
    assert!(file.job().document().stubs.contains_key("T1"));
}

/// Pairs a line takes are those of its stub's cable: without the stub, or the rack it hangs on, they are nothing.
#[test]
fn a_stub_whose_pairs_lines_name_can_be_taken_out() {
    let text = include_str!("../../adapt/tests/whole/whole.toml");
    let rack = |file: &JobFile| {
        let d = file.job().document();
        d.stubs.get("U1").and_then(|s| d.rack_of_stub(s)).map(str::to_owned).unwrap_or_default()
    };
    for table in ["stubs", "racks"] {
        let catalogue = shipped_catalogue().unwrap_or_else(|r| panic!("{r}"));
        let read = JobFile::from_text(&SourceFile::new("job.toml", text), catalogue);
        let mut file = read.unwrap_or_else(|r| panic!("{r}"));
        assert_eq!(file.job().document().lines["B"].stub_pairs, [1]);
        let id = if table == "stubs" { "U1".to_owned() } else { rack(&file) };
        let id = id.as_str();
        let before = file.raw().clone();
        let taken = file.take_out(table, id).unwrap();
        let undo = file.apply(&taken.edit).unwrap();
        let line = &file.job().document().lines["B"];
        assert!(line.start.is_none() && line.stub_pairs.is_empty(), "{table}: {line:?}");
        file.apply(&undo).unwrap();
        assert_eq!(file.raw(), &before);
    }
}

#[test]
fn cable_past_a_loudspeaker_stays_where_it_lies() {
    // The run on to L3 passes L2's place once L2 is gone: the ways of both runs, one after the other.
    let mut file = good();
    let job = file.job().clone();
    let arriving = job.runs("A").into_iter().find(|r| r.to == "L2").unwrap();
    let leaving = job.runs("A").into_iter().find(|r| r.from == "L2").unwrap();
    let way: Vec<_> = arriving.way.iter().chain(&leaving.way[1..]).copied().collect();
    let (from, to) = (arriving.from.to_owned(), leaving.to.to_owned());
    let taken = file.take_out("loudspeakers", "L2").unwrap();
    file.apply(&taken.edit).unwrap();
    let joined = file.job().runs("A").into_iter().find(|r| r.to == to).unwrap();
    assert_eq!((joined.from, &joined.way), (from.as_str(), &way));
}

#[test]
fn a_loudspeaker_comes_off_its_line_and_the_others_stay_on_it() {
    let mut file = good();
    let off = file.unhook("L2").unwrap();
    file.apply(&off.edit).unwrap();
    assert_eq!(file.raw()["loudspeakers"]["L2"].get("line"), None);
    assert!(file.job().runs("A").iter().all(|r| r.from != "L2" && r.to != "L2"));
    assert!(file.unhook("L2").unwrap().edit.operations.is_empty(), "it hangs on none any more");
}
