//! Edits: the standard's own examples, undo, and what becomes of the text.
#![expect(clippy::panic, reason = "a fixture that does not read must show its report")]

use loamline_model::{Edit, EditError, JobFile, Operation, PatchError, SourceFile, read_catalogue};
use proptest::prelude::*;
use serde_json::{Value, json};
use std::sync::Arc;

const GOOD: &str = include_str!("fixtures/good.toml");

fn file() -> JobFile {
    let catalogue = SourceFile::new("catalogue.toml", include_str!("fixtures/catalogue.toml"));
    let read = read_catalogue(&[catalogue])
        .and_then(|c| JobFile::from_text(&SourceFile::new("job.toml", GOOD), Arc::new(c)));
    read.unwrap_or_else(|r| panic!("{r}"))
}

fn edit(operations: Value) -> Edit {
    serde_json::from_value(operations).unwrap_or_else(|e| panic!("{e}"))
}

/// RFC 6902 appendix A: document, patch, and the document after it; `None` where it is an error.
#[test]
fn the_examples_of_the_standard() {
    let cases = [
        (
            json!({"foo": "bar"}),
            json!([{"op": "add", "path": "/baz", "value": "qux"}]),
            Some(json!({"baz": "qux", "foo": "bar"})),
        ),
        (
            json!({"foo": ["bar", "baz"]}),
            json!([{"op": "add", "path": "/foo/1", "value": "qux"}]),
            Some(json!({"foo": ["bar", "qux", "baz"]})),
        ),
        (
            json!({"baz": "qux", "foo": "bar"}),
            json!([{"op": "remove", "path": "/baz"}]),
            Some(json!({"foo": "bar"})),
        ),
        (
            json!({"foo": ["bar", "qux", "baz"]}),
            json!([{"op": "remove", "path": "/foo/1"}]),
            Some(json!({"foo": ["bar", "baz"]})),
        ),
        (
            json!({"baz": "qux", "foo": "bar"}),
            json!([{"op": "replace", "path": "/baz", "value": "boo"}]),
            Some(json!({"baz": "boo", "foo": "bar"})),
        ),
        (
            json!({"foo": {"bar": "baz", "waldo": "fred"}, "qux": {"corge": "grault"}}),
            json!([{"op": "move", "from": "/foo/waldo", "path": "/qux/thud"}]),
            Some(json!({"foo": {"bar": "baz"}, "qux": {"corge": "grault", "thud": "fred"}})),
        ),
        (
            json!({"foo": ["all", "grass", "cows", "eat"]}),
            json!([{"op": "move", "from": "/foo/1", "path": "/foo/3"}]),
            Some(json!({"foo": ["all", "cows", "eat", "grass"]})),
        ),
        (
            json!({"baz": "qux", "foo": ["a", 2, "c"]}),
            json!([{"op": "test", "path": "/baz", "value": "qux"}, {"op": "test", "path": "/foo/1", "value": 2}]),
            Some(json!({"baz": "qux", "foo": ["a", 2, "c"]})),
        ),
        (json!({"baz": "qux"}), json!([{"op": "test", "path": "/baz", "value": "bar"}]), None),
        (
            json!({"foo": "bar"}),
            json!([{"op": "add", "path": "/child", "value": {"grandchild": {}}}]),
            Some(json!({"foo": "bar", "child": {"grandchild": {}}})),
        ),
        (
            json!({"foo": "bar"}),
            json!([{"op": "add", "path": "/baz", "value": "qux", "xyz": 123}]),
            Some(json!({"foo": "bar", "baz": "qux"})),
        ),
        (json!({"foo": "bar"}), json!([{"op": "add", "path": "/baz/bat", "value": "qux"}]), None),
        (
            json!({"/": 9, "~1": 10}),
            json!([{"op": "test", "path": "/~01", "value": 10}]),
            Some(json!({"/": 9, "~1": 10})),
        ),
        (json!({"/": 9, "~1": 10}), json!([{"op": "test", "path": "/~01", "value": "10"}]), None),
        (
            json!({"foo": ["bar"]}),
            json!([{"op": "add", "path": "/foo/-", "value": ["abc", "def"]}]),
            Some(json!({"foo": ["bar", ["abc", "def"]]})),
        ),
    ];
    for (document, patch, wanted) in cases {
        let mut seen = document.clone();
        let result = edit(patch.clone()).apply(&mut seen);
        assert_eq!(result.is_ok(), wanted.is_some(), "{patch}");
        assert_eq!(seen, wanted.unwrap_or(document), "{patch}");
    }
}

#[test]
fn a_change_touches_its_own_line_only() {
    let mut file = file();
    let undo = file
        .apply(&edit(json!([{ "op": "replace", "path": "/loudspeakers/L2/tap", "value": "10 W" }])))
        .unwrap();
    let changed: Vec<(&str, &str)> = GOOD.lines().zip(file.text().lines()).filter(|(a, b)| a != b).collect();
    assert_eq!(changed, [("tap = \"20 W\"", "tap = \"10 W\"")]);
    assert_eq!(file.job().loudspeaker("L2").and_then(|l| l.placed.tap_w), Some(10.0));
    file.apply(&undo).unwrap();
    assert_eq!(file.text(), GOOD);
}

#[test]
fn a_loudspeaker_and_its_run_come_together_in_one_edit() {
    let mut file = file();
    let loudspeaker = json!({ "model": "garden-two-way", "position": ["40 ft", 9], "tap": 10, "line": "A" });
    let add = json!({ "op": "add", "path": "/loudspeakers/L4", "value": loudspeaker });
    let alone = file.apply(&edit(json!([add]))).unwrap_err();
    assert!(alone.to_string().contains("no run of line A reaches L4"), "{alone}");
    assert_eq!(file.text(), GOOD, "nothing is changed by an edit that is refused");
    let run = json!({ "op": "add", "path": "/lines/A/runs/A5", "value": { "from": "L2", "to": "L4" } });
    let undo = file.apply(&edit(json!([add, run]))).unwrap();
    assert!(
        file.text().contains("[loudspeakers.L4]\nmodel = \"garden-two-way\"\nposition = [\"40 ft\", 9]"),
        "{}",
        file.text()
    );
    assert!(file.text().contains("A5 = { from = \"L2\", to = \"L4\" }"), "{}", file.text());
    assert!(file.text().contains("# drawn from the far end"));
    file.apply(&undo).unwrap();
    assert_eq!(file.text(), GOOD);
}

#[test]
fn a_surface_taken_away_comes_back_where_it_was() {
    let mut file = file();
    let undo = file.apply(&edit(json!([{ "op": "remove", "path": "/surfaces/lawn" }]))).unwrap();
    assert_eq!(file.job().document().surfaces.keys().collect::<Vec<_>>(), ["bed"]);
    assert!(matches!(&undo.operations[0], Operation::Add { before: Some(b), .. } if b == "bed"));
    file.apply(&undo).unwrap();
    // The bed lies on the lawn, so it has to come after it again.
    assert_eq!(file.job().document().surfaces.keys().collect::<Vec<_>>(), ["lawn", "bed"]);
    assert!(file.text().find("[surfaces.lawn]") < file.text().find("[surfaces.bed]"));
}

#[test]
fn edits_that_break_the_job_say_why_and_change_nothing() {
    let mut file = file();
    for (path, value, words) in [
        ("/loudspeakers/L1/model", json!("garden-two-wy"), "did you mean \"garden-two-way\"?"),
        ("/areas/terrace/outline", json!([[0, 0], [1, 1]]), "at least 3 corners"),
        ("/areas/terrace/target", json!("3 ft"), "is a length; a level is wanted"),
    ] {
        let e = file.apply(&edit(json!([{ "op": "replace", "path": path, "value": value }]))).unwrap_err();
        assert!(matches!(e, EditError::Invalid(_)) && e.to_string().contains(words), "{e}");
    }
    let e = file.apply(&edit(json!([{ "op": "remove", "path": "/loudspeakers/L9" }]))).unwrap_err();
    assert!(matches!(e, EditError::Patch(PatchError::NothingThere { .. })));
    assert_eq!(file.text(), GOOD);
}

#[test]
fn saving_leaves_the_file_and_nothing_beside_it() {
    let folder = std::env::temp_dir().join(format!("loamline-save-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    file().save(&folder).unwrap();
    let names: Vec<_> = std::fs::read_dir(&folder).unwrap().map(|e| e.unwrap().file_name()).collect();
    assert_eq!(names, ["job.toml"]);
    assert_eq!(std::fs::read_to_string(folder.join("job.toml")).unwrap(), GOOD);
    std::fs::remove_dir_all(&folder).unwrap();
    assert!(file().save(&folder).unwrap_err().to_string().contains("cannot be written"));
}

fn paths(value: &Value, at: &str, all: &mut Vec<String>) {
    all.push(at.to_owned());
    match value {
        Value::Object(o) => {
            for (k, v) in o {
                paths(v, &format!("{at}/{k}"), all);
            }
        }
        Value::Array(a) => {
            for (i, v) in a.iter().enumerate() {
                paths(v, &format!("{at}/{i}"), all);
            }
        }
        _ => {}
    }
}

fn any_value() -> impl Strategy<Value = Value> {
    prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        (-50i64..50).prop_map(Value::from),
        (-50.0f64..50.0).prop_map(Value::from),
        prop::sample::select(vec![
            "A",
            "L1",
            "garden-two-way",
            "12 ft 6 in",
            "20 W",
            "a \"quoted\" word",
            ""
        ])
        .prop_map(Value::from),
        Just(json!({})),
        Just(json!({ "position": [1, 2] })),
        Just(json!([[0, 0], [3, 0], [0, 3]])),
    ]
}

fn any_operation() -> impl Strategy<Value = Operation> {
    let document = file().raw().clone();
    let mut all = Vec::new();
    paths(&document, "", &mut all);
    all.extend(
        ["/joints/J9", "/areas/terrace/outline/-", "/loudspeakers/L1/note", "nowhere", "/a/b/c"]
            .map(str::to_owned),
    );
    let path = prop::sample::select(all);
    let before =
        prop::option::of(prop::sample::select(vec!["bed".to_owned(), "L2".to_owned(), "A1".to_owned()]));
    prop_oneof![
        (path.clone(), any_value(), before.clone()).prop_map(|(path, value, before)| Operation::Add {
            path,
            value,
            before
        }),
        path.clone().prop_map(|path| Operation::Remove { path }),
        (path.clone(), any_value()).prop_map(|(path, value)| Operation::Replace { path, value }),
        (path.clone(), path.clone(), before.clone()).prop_map(|(from, path, before)| Operation::Move {
            from,
            path,
            before
        }),
        (path.clone(), path, before).prop_map(|(from, path, before)| Operation::Copy { from, path, before }),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn undoing_an_edit_is_as_if_it_had_not_been(operations in prop::collection::vec(any_operation(), 1..5)) {
        let start = file().raw().clone();
        let mut document = start.clone();
        if let Ok(undo) = Edit::new(operations).apply(&mut document) {
            undo.apply(&mut document).unwrap();
        }
        // As text, so that the order of keys counts as well.
        prop_assert_eq!(document.to_string(), start.to_string());
    }

    #[test]
    fn a_job_file_and_its_text_stay_of_one_mind(operations in prop::collection::vec(any_operation(), 1..3)) {
        let mut file = file();
        let start = file.clone();
        match file.apply(&Edit::new(operations)) {
            Ok(undo) => {
                let catalogue = Arc::new(file.job().catalogue().clone());
                let again = JobFile::from_text(&SourceFile::new("job.toml", file.text()), catalogue).unwrap();
                prop_assert_eq!(again.raw(), file.raw());
                prop_assert_eq!(again.job(), file.job());
                file.apply(&undo).unwrap();
                prop_assert_eq!(file.raw(), start.raw());
                prop_assert_eq!(file.job(), start.job());
            }
            Err(_) => prop_assert_eq!(file.text(), start.text()),
        }
    }

    #[test]
    fn any_text_is_read_or_reported(cut in 0usize..GOOD.len(), junk in "[ -~]{0,6}", skip in 0usize..30) {
        let mut cut = cut;
        while !GOOD.is_char_boundary(cut) { cut -= 1; }
        let rest: String = GOOD[cut..].chars().skip(skip).collect();
        let text = format!("{}{junk}{rest}", &GOOD[..cut]);
        let catalogue = Arc::new(file().job().catalogue().clone());
        if let Err(report) = JobFile::from_text(&SourceFile::new("job.toml", text), catalogue) {
            prop_assert!(!report.is_empty() && !report.to_string().is_empty());
        }
    }
}
