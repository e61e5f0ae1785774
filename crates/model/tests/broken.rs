//! Broken job files and what a person is told about them. Each folder of `tests/broken` holds a job and the report
//! it must give; `UPDATE_REPORTS=1 cargo test -p loamline-model --test broken` writes the reports anew, to be read
//! before they are kept.

use loamline_model::{SourceFile, read_catalogue, read_job_with};
use std::path::PathBuf;
use std::sync::Arc;

#[test]
fn every_broken_job_gets_its_report() {
    let catalogue = SourceFile::new("catalogue.toml", include_str!("fixtures/catalogue.toml"));
    let catalogue = Arc::new(read_catalogue(&[catalogue]).unwrap());
    let folder = PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/broken"));
    let mut cases: Vec<PathBuf> = std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    cases.sort();
    assert!(cases.len() >= 10);
    let mut different = Vec::new();
    for case in cases {
        let text = std::fs::read_to_string(case.join("job.toml")).unwrap();
        let report = read_job_with(&SourceFile::new("job.toml", text), catalogue.clone()).unwrap_err();
        let seen = format!("{report}\n");
        let file = case.join("report.txt");
        if std::env::var_os("UPDATE_REPORTS").is_some() {
            std::fs::write(&file, &seen).unwrap();
        }
        if std::fs::read_to_string(&file).unwrap_or_default() != seen {
            different.push(format!("{}:\n{seen}", case.display()));
        }
    }
    assert!(different.is_empty(), "{}", different.join("\n"));
}

#[test]
fn what_the_reports_must_say() {
    let told = |name: &str| {
        let path = format!("{}/tests/broken/{name}/report.txt", env!("CARGO_MANIFEST_DIR"));
        std::fs::read_to_string(path).unwrap()
    };
    for (name, words) in [
        ("misspelt-key", &["job.toml:42:1  loudspeakers.L1.baering", "did you mean \"bearing\"?"][..]),
        ("misspelt-id", &["did you mean \"music\"?", "did you mean \"pair-14\"?"]),
        (
            "wrong-unit",
            &["\"60 dB\" is a level; a length is wanted", "\"75 ft\" is a length; a level is wanted"],
        ),
        ("self-crossing-outline", &["the outline meets itself", "x 6.00 m, y 3.00 m"]),
        ("loop-in-line", &["run A5 closes a loop: L1 - J1 - L2 - L1", "run A6 is not connected to R1"]),
        ("several-at-once", &["7 problems to mend."]),
        ("syntax-error", &["a second time", "is not closed", "\"500 dBA\" is out of range", "3 problems"]),
        ("ids", &["if the id is zone.2, put it in quotes: \"zone.2\""]),
    ] {
        for w in words {
            assert!(told(name).contains(w), "{name}: {w}\n{}", told(name));
        }
    }
}
