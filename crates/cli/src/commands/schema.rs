//! `loamline schema [job|catalogue|api]`

use crate::args::SchemaKind;
use crate::failure::{Failure, Verdict};
use crate::output;

pub fn run(kind: SchemaKind) -> Result<Verdict, Failure> {
    output::json(&match kind {
        SchemaKind::Job => loamline_model::job_schema(),
        SchemaKind::Catalogue => loamline_model::catalogue_schema(),
        #[cfg(feature = "serve")]
        SchemaKind::Api => {
            let text = loamline_server::openapi().map_err(Failure::input)?;
            output::data(&format!("{text}\n"))?;
            return Ok(Verdict::Fine);
        }
    })?;
    Ok(Verdict::Fine)
}
