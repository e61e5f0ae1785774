//! Jobs with one amplifier at rack R1, as the tests of routes write them.

use loamline_model::{JobFile, SourceFile, shipped_catalogue};

const AMPLIFIER: &str = r#"
[amplifiers.P1]
model = "line-4x280"
rack = "R1"
[channels.C1]
amplifier = "P1"
output = 1
[channels.C2]
amplifier = "P1"
output = 2
"#;

/// The job of a text that says all but the amplifier and its channels C1 and C2.
pub fn on_two_channels(text: &str) -> JobFile {
    let file = SourceFile::new("job.toml", format!("{text}{AMPLIFIER}"));
    match shipped_catalogue().and_then(|catalogue| JobFile::from_text(&file, catalogue)) {
        Ok(job) => job,
        Err(e) => unreachable!("the job of a test must load: {e}"),
    }
}
