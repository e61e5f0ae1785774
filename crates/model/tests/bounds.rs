//! Small things that ask for much: edits that double a document, files that are nothing but problems.
#![expect(clippy::panic, reason = "a fixture that does not read must show its report")]

use loamline_limits::{DOCUMENT_BYTES, DOCUMENT_DEPTH, EDIT_DOCUMENT_VALUES, ENTRIES};
use loamline_model::{
    Edit, EditError, JobFile, Operation, PatchError, SourceFile, read_catalogue, read_job, read_job_with,
};
use proptest::prelude::*;
use serde_json::{Value, json};
use std::sync::Arc;
use std::time::{Duration, Instant};

fn edit(operations: Value) -> Edit {
    serde_json::from_value(operations).unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn nothing_is_put_into_its_own_inside_however_it_is_spelt() {
    let start = json!({"a": {"b": {}}, "x~2": {}, "list": [[1]]});
    for (op, from, path) in [
        ("copy", "/a", "/a/c"),
        ("copy", "/a", "/a/b/c"),
        ("copy", "", "/c"),
        ("move", "/a", "/a/b"),
        ("copy", "/x~2", "/x~02/c"),
        ("move", "/x~02", "/x~2/c"),
        ("copy", "/list/0", "/list/0/-"),
    ] {
        let mut document = start.clone();
        let e = edit(json!([{ "op": op, "from": from, "path": path }])).apply(&mut document).unwrap_err();
        assert!(matches!(e, PatchError::IntoItself { .. }), "{op} {from} {path}: {e}");
        assert_eq!(document, start);
    }
    // Beside itself, or under a name that only begins alike, is no inside.
    for (from, path) in [("/a", "/ab"), ("/a/b", "/a/c"), ("/a", "/a"), ("/list/0", "/list/1")] {
        let mut document = start.clone();
        edit(json!([{ "op": "copy", "from": from, "path": path }])).apply(&mut document).unwrap();
    }
}

#[test]
fn an_edit_says_which_bound_it_passes() {
    let note = |n: usize| json!({ "op": "add", "path": "/note", "value": "n".repeat(n) });
    let again = |n: usize| vec![json!({ "op": "copy", "from": "/note", "path": "/other" }); n];
    let cases = [
        (vec![json!({ "op": "test", "path": "/a", "value": 1 }); 4097], "4097 operations"),
        (vec![json!({ "op": "move", "from": "/a", "path": "/b" }); 2049], "4098 operations"),
        ([vec![note(9_000_000)], again(1)].concat(), "a document of 18.1 MB, and at most 16 MB"),
        ([vec![note(5_000_000)], again(9)].concat(), "at most 32 MB"),
        (vec![json!({ "op": "add", "path": "/list", "value": vec![0; 200_000] })], "at most 200 000"),
        (vec![json!({ "op": "remove", "path": format!("/{}", "a".repeat(1000)) })], "at most 1 kB"),
    ];
    for (operations, words) in cases {
        let mut document = json!({"a": 1});
        let e = edit(json!(operations)).apply(&mut document).unwrap_err();
        assert!(matches!(e, PatchError::TooLarge(_)) && e.to_string().contains(words), "{e}");
        assert_eq!(document, json!({"a": 1}));
    }
}

/// A test that fails shows the beginning of both values, not a site's worth.
#[test]
fn a_failed_test_is_told_in_a_sentence() {
    let mut document = json!({ "notes": "é".repeat(100_000) });
    let e = edit(json!([{ "op": "test", "path": "", "value": [1, 2] }])).apply(&mut document).unwrap_err();
    let told = e.to_string();
    assert!(told.chars().count() < 400 && told.contains("ééé...") && told.contains("not [1,2]"), "{told}");
}

fn place() -> impl Strategy<Value = String> {
    prop::collection::vec(prop::sample::select(vec!["a", "b", "c", "0", "-"]), 0..4)
        .prop_map(|parts| parts.iter().map(|p| format!("/{p}")).collect())
}

fn operation() -> impl Strategy<Value = Operation> {
    let value = prop_oneof![
        Just(json!({"a": {}, "b": []})),
        Just(json!([[], {}])),
        Just(Value::from("n".repeat(20_000))),
        Just(json!({"a": {"b": {"c": {"a": {"b": {"c": [[[[1]]]]}}}}}})),
    ];
    prop_oneof![
        1 => (place(), value.clone()).prop_map(|(path, value)| Operation::Add { path, value, before: None }),
        1 => (place(), value).prop_map(|(path, value)| Operation::Replace { path, value }),
        1 => place().prop_map(|path| Operation::Remove { path }),
        1 => (place(), place()).prop_map(|(from, path)| Operation::Move { from, path, before: None }),
        4 => (place(), place()).prop_map(|(from, path)| Operation::Copy { from, path, before: None }),
    ]
}

fn measure(value: &Value) -> (usize, usize, usize) {
    let inside: Vec<(usize, usize, usize)> = match value {
        Value::Array(a) => a.iter().map(measure).collect(),
        Value::Object(o) => o.values().map(measure).collect(),
        _ => Vec::new(),
    };
    let widest = inside.iter().map(|i| i.2).fold(inside.len(), usize::max);
    let deepest = inside.iter().map(|i| i.1).max().unwrap_or_default();
    (1 + inside.iter().map(|i| i.0).sum::<usize>(), 1 + deepest, widest)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 150, failure_persistence: None, ..ProptestConfig::default() })]

    /// Edits of a few operations, one after the other as an attacker would find those that double: whatever goes through
    /// stays within the bounds, can be undone, and what does not leaves everything as it was.
    #[test]
    fn no_sequence_of_edits_makes_more_than_the_bounds(
        edits in prop::collection::vec(prop::collection::vec(operation(), 1..4), 1..120),
    ) {
        let mut document = json!({"a": {"a": {}, "b": {}}, "b": {"c": []}, "c": [[], {}]});
        for operations in edits {
            let before = document.clone();
            match Edit::new(operations).apply(&mut document) {
                Ok(undo) => {
                    let (values, depth, widest) = measure(&document);
                    prop_assert!(values <= EDIT_DOCUMENT_VALUES.most() && depth <= DOCUMENT_DEPTH.most());
                    prop_assert!(widest <= ENTRIES.most());
                    prop_assert!(document.to_string().len() <= DOCUMENT_BYTES.most());
                    let mut back = document.clone();
                    let again = undo.apply(&mut back);
                    prop_assert!(again.is_ok(), "{again:?}");
                    prop_assert_eq!(&back, &before);
                }
                Err(_) => prop_assert_eq!(&document, &before),
            }
        }
    }
}

fn report(text: &str) -> loamline_model::Report {
    match read_job(&SourceFile::new("job.toml", text), &[]) {
        Err(report) => report,
        Ok(_) => panic!("this job was read"),
    }
}

const HEAD: &str = "format = 1\n[job]\nname = \"x\"\n";

#[test]
fn a_line_of_thousands_of_problems_tells_a_hundred_and_counts_the_rest() {
    let keys: String = (0..20_000).map(|i| format!(", k{i:05}=1")).collect();
    let text = format!("format = 1\njob = {{ name = \"x\"{keys} }}\n");
    assert!((200_000..400_000).contains(&text.len()));
    let started = Instant::now();
    let r = report(&text);
    assert_eq!((r.problems.len(), r.more), (100, 19_900));
    // In the order of the file, each with a piece of the line no wider than a terminal.
    assert_eq!((r.problems[0].key.as_str(), r.problems[99].key.as_str()), ("job.k00000", "job.k00099"));
    let told = r.to_string();
    assert!(
        told.contains("20 000 problems to mend; the first 100 are told here."),
        "{}",
        &told[told.len() - 200..]
    );
    assert!(told.len() < 60_000 && told.lines().all(|l| l.chars().count() < 220));
    assert!(started.elapsed() < Duration::from_secs(5));
}

#[test]
fn as_many_lines_with_a_problem_each_are_no_slower() {
    let keys: String = (0..40_000).map(|i| format!("k{i} = 1\n")).collect();
    let started = Instant::now();
    let r = report(&format!("{HEAD}[site]\n{keys}"));
    assert_eq!((r.problems.len(), r.more), (100, 39_900));
    assert_eq!(r.problems[99].line, Some(104));
    let lost: String = (0..10_000).map(|i| format!("r{i} = {{ line = \"Q{i}\", dc = 1 }}\n")).collect();
    let r = report(&format!("{HEAD}[visits.v]\ndate = \"2026-01-01\"\n[visits.v.readings]\n{lost}"));
    assert_eq!((r.problems.len(), r.more), (100, 9_900));
    assert!(r.problems.iter().all(|p| p.hint.is_some()), "each that is told has its way out");
    assert!(started.elapsed() < Duration::from_secs(8));
}

#[test]
fn more_problems_than_are_counted_are_said_to_be_more() {
    let r =
        report(&format!("{HEAD}[site]\n{}", (0..60_000).map(|i| format!("k{i} = 1\n")).collect::<String>()));
    assert_eq!(r.problems.len(), 100);
    assert!(r.to_string().contains("More than 50 000 problems to mend; the first 100"), "{}", r.count());
}

#[test]
fn too_many_things_are_told_with_both_numbers() {
    let things =
        |n: usize| (0..n).map(|i| format!("L{i} = {{ model = \"satellite-100\", position = [0, 0] }}\n"));
    let text = format!("{HEAD}[loudspeakers]\n{}", things(2001).collect::<String>());
    let r = report(&text);
    assert_eq!(r.problems.len(), 1);
    let p = &r.problems[0];
    assert!(
        p.key == "loudspeakers" && p.message.contains("2001 loudspeakers") && p.message.contains("2000"),
        "{r}"
    );
    let fewer = format!("{HEAD}[loudspeakers]\n{}", things(2000).collect::<String>());
    assert!(read_job(&SourceFile::new("job.toml", fewer), &[]).is_ok());
    let corners: String = (0..2001).map(|i| format!("[{i}, {}],", i * i)).collect();
    let r = report(&format!("{HEAD}[areas.a]\ntarget = 70\noutline = [{corners}]\n"));
    assert!(r.problems[0].message.contains("2001 points"), "{r}");
}

#[test]
fn texts_that_are_no_job_files_are_not_read_at_all() {
    for (text, words) in [
        (format!("{HEAD}{}", "# remark\n".repeat(500_000)), "at most 4 MB"),
        (format!("{HEAD}a = [{}]", "1,".repeat(300_000)), "at most 200 000"),
        (format!("a = {}", "[".repeat(100_000)), "at most 32"),
        (format!("a{} = 1", ".a".repeat(100_000)), "at most 32"),
    ] {
        let r = report(&text);
        assert!(r.problems.len() == 1 && r.to_string().contains(words), "{r}");
        assert!(r.to_string().starts_with("job.toml"), "{r}");
    }
}

#[test]
fn catalogues_are_bounded_together() {
    let part = |name: &str, n: usize| SourceFile::new(name, "# remark\n".repeat(n));
    let e = read_catalogue(&[part("a.toml", 250_000), part("b.toml", 250_000)]).unwrap_err();
    assert!(e.to_string().contains("4.5 MB together") && e.to_string().contains("at most 4 MB"), "{e}");
    let many: Vec<SourceFile> = (0..65).map(|i| part(&format!("{i}.toml"), 1)).collect();
    assert!(read_catalogue(&many).unwrap_err().to_string().contains("65 catalogue files"));
}

#[test]
fn a_job_file_that_could_not_be_read_again_is_not_made() {
    let catalogue = read_catalogue(&[]).unwrap();
    let mut file = JobFile::from_text(&SourceFile::new("job.toml", HEAD), Arc::new(catalogue)).unwrap();
    let notes = edit(json!([{ "op": "add", "path": "/job/notes", "value": "n".repeat(3_900_000) }]));
    file.apply(&notes).unwrap();
    let more = edit(json!([{ "op": "add", "path": "/job/summary", "value": "n".repeat(200_000) }]));
    let e = file.apply(&more).unwrap_err();
    assert!(matches!(e, EditError::TooLarge(_)) && e.to_string().contains("4.2 MB"), "{e}");
    let again = read_job_with(&SourceFile::new("job.toml", file.text()), file.catalogue().clone());
    assert!(again.is_ok());
}
