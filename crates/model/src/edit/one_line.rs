//! A job of one line over a joint: what the tests of kept lines are about.

use super::{Edit, JobFile};
use crate::job::shipped_catalogue;
use crate::source::SourceFile;
use serde_json::Value;

const JOB: &str = r#"format = 1
[job]
name = "One line"
[racks.R1]
position = [0, 0]
[amplifiers.P1]
model = "line-4x280"
rack = "R1"
[channels.C1]
amplifier = "P1"
output = 1
[joints.J1]
position = [10, 0]
[loudspeakers.L1]
model = "stake-110-wide"
position = [12, 0]
tap = "10 W"
line = "A"
[loudspeakers.L2]
model = "stake-110-wide"
position = [20, 0]
tap = "10 W"
line = "A"
[lines.A]
channel = "C1"
cable = "burial-2x14awg"
[lines.A.runs]
a1 = { from = "R1", to = "J1" }
a2 = { from = "J1", to = "L1" }
a3 = { from = "L1", to = "L2" }
"#;

/// The job, with what its visits say.
pub(super) fn job(visits: &str) -> JobFile {
    let file = SourceFile::new("job.toml".to_owned(), format!("{JOB}{visits}"));
    JobFile::from_text(&file, shipped_catalogue().unwrap()).unwrap_or_else(|e| panic!("{e}"))
}

pub(super) fn edit(operations: Value) -> Edit {
    serde_json::from_value(operations).unwrap()
}
