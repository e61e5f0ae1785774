//! Catalogue files, and the small example with such a file beside it.

use crate::examples::SMALL;
use crate::job::told;
use loamline_model::{SourceFile, catalogue_with, read_catalogue, read_job};

pub fn catalogue(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    let own = [SourceFile::new("own.toml", text)];
    match read_catalogue(&own) {
        Ok(read) => {
            let with = catalogue_with(&own).expect("a file that is good by itself is good with the others");
            assert!(with.loudspeakers.len() >= read.loudspeakers.len());
        }
        Err(report) => told(&report, &own[0].text),
    }
    // Ids of the example may have changed their meaning.
    if let Err(report) = read_job(&SourceFile::new("job.toml", SMALL), &own) {
        drop(report.to_string());
    }
}
