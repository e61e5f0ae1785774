//! The shipped examples, read once: what edits, readings and prices are tried on.

use loamline_model::{JobFile, SourceFile, shipped_catalogue};
use std::sync::OnceLock;

/// Text of the smallest example: four loudspeakers, no visits.
pub const SMALL: &str = include_str!("../../../examples/walled-courtyard/job.toml");
/// Text of the usual one: two lines, stubs, visits with readings.
pub const USUAL: &str = include_str!("../../../examples/guesthouse-garden/job.toml");

/// The examples as jobs that can be edited: the small one, the usual one.
pub fn files() -> &'static [JobFile; 2] {
    static FILES: OnceLock<[JobFile; 2]> = OnceLock::new();
    FILES.get_or_init(|| {
        [SMALL, USUAL].map(|text| {
            let catalogue = shipped_catalogue().expect("the shipped catalogue is good");
            JobFile::from_text(&SourceFile::new("job.toml", text), catalogue).expect("an example is good")
        })
    })
}
