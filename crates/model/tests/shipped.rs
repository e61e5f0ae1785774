//! What ships with the program reads without a problem.

use loamline_model::{SHIPPED_CATALOGUE, load_job, shipped_catalogue};
use std::collections::BTreeSet;
use std::path::Path;

const ROOT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../..");

#[test]
fn the_embedded_catalogue_is_the_folder() {
    let mut in_folder = BTreeSet::new();
    for entry in std::fs::read_dir(Path::new(ROOT).join("catalogue")).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        if name.ends_with(".toml") {
            in_folder.insert(name);
        }
    }
    let embedded: BTreeSet<_> = SHIPPED_CATALOGUE.iter().map(|f| f.0.to_owned()).collect();
    assert_eq!(embedded, in_folder, "SHIPPED_CATALOGUE lists the files of catalogue/, no more and no fewer");
}

#[test]
fn the_shipped_catalogue_reads_and_repeats_no_id() {
    let catalogue = shipped_catalogue().map_err(|r| r.to_string()).unwrap();
    assert!(
        catalogue.loudspeakers.len() >= 8 && catalogue.amplifiers.len() >= 5 && catalogue.prices.is_some()
    );
    // Put together, an id that stands in two files would be lost: count the headers.
    let headers = |section: &str| -> usize {
        let opening = format!("[{section}.");
        let entry =
            |l: &&str| l.starts_with(&opening) && l.matches('.').count() - l.matches("\".").count() >= 1;
        SHIPPED_CATALOGUE.iter().map(|(_, text)| text.lines().filter(entry).count()).sum()
    };
    assert_eq!(catalogue.loudspeakers.len(), headers("loudspeakers"));
    assert_eq!(catalogue.amplifiers.len(), headers("amplifiers"));
}

#[test]
fn the_examples_load() {
    let mut seen = 0;
    for entry in std::fs::read_dir(Path::new(ROOT).join("examples")).unwrap() {
        let folder = entry.unwrap().path();
        if !folder.is_dir() {
            continue;
        }
        let job = load_job(&folder).map_err(|e| e.to_string()).unwrap();
        assert!(!job.document().areas.is_empty(), "{}", folder.display());
        for line in job.lines() {
            let wanted = job.loudspeakers_of_line(line.id).len();
            assert_eq!(
                wanted,
                job.loudspeakers().filter(|l| l.placed.line.as_deref() == Some(line.id)).count(),
                "line {} of {}",
                line.id,
                folder.display()
            );
        }
        seen += 1;
    }
    assert!(seen >= 3, "{seen} examples");
}
