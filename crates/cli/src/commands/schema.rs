//! `loamline schema [job|catalogue]`

use crate::args::SchemaKind;
use crate::failure::{Failure, Verdict};
use crate::output;

pub fn run(kind: SchemaKind) -> Result<Verdict, Failure> {
    output::json(&match kind {
        SchemaKind::Job => loamline_model::job_schema(),
        SchemaKind::Catalogue => loamline_model::catalogue_schema(),
    })?;
    Ok(Verdict::Fine)
}
