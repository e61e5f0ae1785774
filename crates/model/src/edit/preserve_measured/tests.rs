use crate::edit::JobFile;
use crate::edit::one_line::{self, edit};
use serde_json::json;

fn job() -> JobFile {
    let visits = r#"[visits.V1]
date = "2025-05-01"
[visits.V1.readings]
r1 = { line = "A", dc = "20 ohm" }
r2 = { line = "A", at = "J1", dc = "19 ohm" }
[visits.V1.done]
d1 = { work = "laid", line = "A", run = "a3" }
d2 = { work = "placed", at = "L2" }
[visits.V1.photos]
p1 = { file = "j1.jpg", at = "J1" }
"#;
    one_line::job(visits)
}

#[test]
fn a_line_that_goes_is_kept_as_it_was_and_undoing_brings_it_back() {
    let mut file = job();
    let visits = file.raw()["visits"].clone();
    let remove = edit(json!([
        { "op": "remove", "path": "/loudspeakers/L1" },
        { "op": "remove", "path": "/loudspeakers/L2" },
        { "op": "remove", "path": "/joints/J1" },
        { "op": "remove", "path": "/lines/A" }
    ]));
    let (whole, inverse) = file.carry_out(&remove).unwrap_or_else(|e| panic!("{e}"));
    for table in ["readings", "done", "photos"] {
        assert_eq!(file.raw()["visits"]["V1"][table], visits["V1"][table]);
    }
    let visit = &file.job().document().visits["V1"];
    let kept = &visit.lines["A"];
    assert_eq!((kept.line.as_str(), kept.readings.as_slice()), ("A", &["r1".to_owned(), "r2".into()][..]));
    assert_eq!(
        (kept.done.as_slice(), kept.photos.as_slice()),
        (&["d1".to_owned(), "d2".into()][..], &["p1".to_owned()][..])
    );
    assert_eq!(kept.as_it_was.start.as_deref(), Some("R1"));
    assert_eq!(kept.as_it_was.channel, None);
    // What it was can be asked of it.
    let was = file.job().as_it_was(kept).unwrap();
    assert_eq!(was.line("A").unwrap().tree.runs.len(), 3);
    assert_eq!(was.loudspeakers_of_line("A").len(), 2);
    // Others who carry out what was carried out have the same job.
    let mut other = job();
    other.apply(&whole).unwrap();
    assert_eq!(other.raw(), file.raw());
    file.apply(&inverse).unwrap();
    assert_eq!(file.raw(), job().raw());
    // Done again, nothing is kept twice.
    file.apply(&whole).unwrap();
    assert_eq!(file.raw(), other.raw());
}

#[test]
fn another_line_under_the_id_takes_no_readings_over() {
    let mut file = job();
    let other = edit(json!([{ "op": "replace", "path": "/lines/A", "value": {
            "channel": "C1", "cable": "burial-2x12awg",
            "runs": { "a1": { "from": "R1", "to": "L1" }, "a2": { "from": "L1", "to": "L2" } }
        } }]));
    file.apply(&other).unwrap_or_else(|e| panic!("{e}"));
    let visit = &file.job().document().visits["V1"];
    assert_eq!(visit.kept_of_reading("r1").unwrap().1.as_it_was.cable, "burial-2x14awg");
    // The loudspeaker stayed where it was: its tick is of it still; the run is another.
    assert_eq!(visit.lines["A"].done, ["d1"]);
    // Measured in the same visit, then replaced again: each reading keeps the line it was taken of.
    let again = edit(
        json!([{ "op": "add", "path": "/visits/V1/readings/r3", "value": { "line": "A", "dc": "20 ohm" } }]),
    );
    file.apply(&again).unwrap();
    file.apply(&edit(json!([
        { "op": "remove", "path": "/loudspeakers/L1" },
        { "op": "remove", "path": "/loudspeakers/L2" },
        { "op": "remove", "path": "/lines/A" }
    ])))
    .unwrap_or_else(|e| panic!("{e}"));
    let visit = &file.job().document().visits["V1"];
    assert_eq!(visit.kept_of_reading("r1").unwrap().0, "A");
    assert_eq!(visit.kept_of_reading("r3").unwrap().0, "A-2");
    assert_eq!(visit.lines["A-2"].as_it_was.cable, "burial-2x12awg");
}

/// Readings that a visit keeps the line as it was for.
fn parted(file: &JobFile, visit: &str) -> Vec<String> {
    let visit = &file.job().document().visits[visit];
    visit.readings.keys().filter(|id| visit.kept_of_reading(id).is_some()).cloned().collect()
}

#[test]
fn equipment_that_changes_keeps_the_line_for_every_reading_and_undoing_brings_the_judgement_back() {
    for (change, told) in [
        (
            json!([{ "op": "replace", "path": "/loudspeakers/L2/tap", "value": "20 W" }]),
            "the tap of L2 was changed since",
        ),
        (
            json!([{ "op": "replace", "path": "/loudspeakers/L2/model", "value": "stake-110-narrow" }]),
            "L2 is another model since",
        ),
        (
            json!([
                { "op": "remove", "path": "/lines/A/runs/a3" },
                { "op": "remove", "path": "/loudspeakers/L2" }
            ]),
            "L2 was taken out since",
        ),
        (
            json!([
                { "op": "add", "path": "/loudspeakers/L3", "value":
                    { "model": "stake-110-wide", "position": [25, 0], "tap": "10 W", "line": "A" } },
                { "op": "add", "path": "/lines/A/runs/a4", "value": { "from": "L2", "to": "L3" } }
            ]),
            "L3 was hung on it since",
        ),
        (
            json!([{ "op": "add", "path": "/lines/A/supply", "value": "100 V" }]),
            "its line voltage was changed since",
        ),
    ] {
        let mut file = job();
        let before = file.raw().clone();
        let was = file.job().line_to_keep("A").unwrap();
        let (whole, inverse) = file.carry_out(&edit(change)).unwrap_or_else(|e| panic!("{told}: {e}"));
        assert_eq!(parted(&file, "V1"), ["r1", "r2"], "{told}");
        let kept = file.job().document().visits["V1"].lines["A"].clone();
        assert!(!kept.replaced && kept.is_same_line(&was), "{told}");
        let now = file.job().line_to_keep("A").unwrap();
        let all: Vec<String> = kept.changes_to(&now).iter().map(|c| c.told().to_string()).collect();
        assert_eq!(all, [told]);
        let changed = file.raw().clone();
        file.apply(&inverse).unwrap();
        assert_eq!(file.raw(), &before, "{told}");
        file.apply(&whole).unwrap();
        assert_eq!(file.raw(), &changed, "{told}");
    }
}

/// A length typed wrong is mended: what was read in this stage of work is judged anew, what was handed over is not.
#[test]
fn cable_that_is_put_right_judges_anew_what_was_not_handed_over() {
    let visits = |kind: &str| {
        format!(
            "[visits.V1]\ndate = \"2026-05-01\"\nreadings.r1 = {{ line = \"A\", dc = \"20 ohm\" }}\n\
             [visits.V2]\ndate = \"2026-05-02\"\nkind = \"{kind}\"\nreadings.r2 = {{ line = \"A\", dc = \"20 ohm\" }}\n\
             [visits.V3]\ndate = \"2031-05-02\"\nkind = \"fault\"\nreadings.r3 = {{ line = \"A\", dc = \"20 ohm\" }}\n"
        )
    };
    let corrections = [
        json!([{ "op": "add", "path": "/lines/A/runs/a3/length", "value": "9 m" }]),
        json!([{ "op": "replace", "path": "/lines/A/cable", "value": "burial-2x12awg" }]),
        json!([{ "op": "replace", "path": "/joints/J1/position", "value": [10, 4] }]),
    ];
    for correction in corrections {
        let mut building = one_line::job(&visits("building"));
        building.apply(&edit(correction.clone())).unwrap();
        assert!(["V1", "V2", "V3"].iter().all(|v| parted(&building, v).is_empty()), "{correction}");
        let mut handed_over = one_line::job(&visits("handover"));
        let before = handed_over.raw().clone();
        let undo = handed_over.apply(&edit(correction.clone())).unwrap();
        let all: Vec<Vec<String>> = ["V1", "V2", "V3"].iter().map(|v| parted(&handed_over, v)).collect();
        assert_eq!(all, [vec!["r1".to_owned()], vec!["r2".to_owned()], vec![]], "{correction}");
        handed_over.apply(&undo).unwrap();
        assert_eq!(handed_over.raw(), &before);
    }
}

#[test]
fn what_no_meter_sees_keeps_nothing() {
    for other in [
        json!([{ "op": "add", "path": "/loudspeakers/L2/serial", "value": "77" }]),
        json!([{ "op": "add", "path": "/loudspeakers/L2/bearing", "value": 90 }]),
        json!([{ "op": "add", "path": "/channels/C1/gain", "value": "-3 dB" }]),
        json!([{ "op": "add", "path": "/job/summary", "value": "x" }]),
    ] {
        let mut file = job();
        file.apply(&edit(other)).unwrap_or_else(|e| panic!("{e}"));
        assert!(file.job().document().visits["V1"].lines.is_empty());
    }
}

/// Two changes one after the other, the first of them undone: the line is not the one that was read, nor is the reading lost
/// to it.
#[test]
fn undoing_one_of_two_changes_leaves_readings_with_the_line_they_were_taken_of() {
    let mut file = job();
    let was = file.job().line_to_keep("A").unwrap();
    let undo = file
        .apply(&edit(json!([{ "op": "replace", "path": "/loudspeakers/L2/tap", "value": "20 W" }])))
        .unwrap();
    file.apply(&edit(json!([{ "op": "replace", "path": "/loudspeakers/L1/tap", "value": "20 W" }]))).unwrap();
    file.apply(&undo).unwrap();
    assert_eq!(parted(&file, "V1"), ["r1", "r2"]);
    assert!(file.job().document().visits["V1"].lines["A"].is_same_line(&was));
}

#[test]
fn a_changed_line_that_is_replaced_later_says_so_until_that_is_undone() {
    let mut file = job();
    file.apply(&edit(json!([{ "op": "replace", "path": "/loudspeakers/L2/tap", "value": "20 W" }]))).unwrap();
    let changed = file.raw().clone();
    let undo = file
        .apply(&edit(json!([
            { "op": "remove", "path": "/loudspeakers/L1" },
            { "op": "remove", "path": "/loudspeakers/L2" },
            { "op": "remove", "path": "/lines/A" }
        ])))
        .unwrap();
    assert!(file.job().document().visits["V1"].lines["A"].replaced);
    file.apply(&undo).unwrap();
    assert_eq!(file.raw(), &changed);
}

#[test]
fn how_many_readings_an_edit_parts_is_told_before_it_is_made() {
    let file = job();
    let tap = edit(json!([{ "op": "replace", "path": "/loudspeakers/L2/tap", "value": "20 W" }]));
    let told = file.readings_kept_by(&tap).unwrap();
    assert_eq!(told.into_iter().collect::<Vec<_>>(), [("A".to_owned(), 2)]);
    let note = edit(json!([{ "op": "add", "path": "/job/summary", "value": "x" }]));
    assert!(file.readings_kept_by(&note).unwrap().is_empty());
}

#[test]
fn a_joint_that_goes_keeps_what_was_measured_there() {
    let mut file = job();
    file.apply(&edit(json!([
        { "op": "remove", "path": "/lines/A/runs/a1" },
        { "op": "remove", "path": "/joints/J1" },
        { "op": "replace", "path": "/lines/A/runs/a2/from", "value": "R1" }
    ])))
    .unwrap_or_else(|e| panic!("{e}"));
    let visit = &file.job().document().visits["V1"];
    assert_eq!(visit.lines["A"].readings, ["r2"]);
    assert_eq!(visit.lines["A"].photos, ["p1"]);
    assert!(visit.kept_of_reading("r1").is_none() && visit.kept_of_done("d1").is_none());
}
