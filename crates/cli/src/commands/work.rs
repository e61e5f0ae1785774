//! `loamline work [--database URL] [--log LEVEL]`

use super::serve::{database, log_to_standard_error};
use crate::args::WorkArguments;
use crate::failure::{Failure, Verdict};
use crate::output::{self, Format};
use loamline_server::{WorkOptions, work};
use serde_json::json;

pub fn run(arguments: &WorkArguments, format: Format) -> Result<Verdict, Failure> {
    let Some(database) = database(arguments.database.as_deref()) else {
        return Err(Failure::input(
            "a worker works for servers on a database: name it with --database, or in LOAMLINE_DATABASE; \
             a server on a file does its work itself",
        ));
    };
    log_to_standard_error(arguments.log);
    work(&WorkOptions { database }, |kept_in| {
        // The worker works whether or not somebody reads this.
        let _ = if format.json {
            output::json(&json!({ "works_for": kept_in }))
        } else {
            output::data(&format!("Works for the servers on {kept_in}. Stop with Ctrl-C.\n"))
        };
    })
    .map_err(Failure::input)?;
    Ok(Verdict::Fine)
}
