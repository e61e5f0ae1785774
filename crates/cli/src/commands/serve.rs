//! `loamline serve [--data DIR] [--port PORT]`

use crate::args::ServeArguments;
use crate::failure::{Failure, Verdict};
use crate::output::{self, Format};
use loamline_server::{ServeOptions, serve};
use serde_json::json;
use std::path::PathBuf;

pub fn run(arguments: &ServeArguments, format: Format) -> Result<Verdict, Failure> {
    let data = arguments.data.clone().or_else(usual_folder).ok_or_else(|| {
        Failure::input(
            "there is no usual place for application data here; say where to keep jobs with --data",
        )
    })?;
    let options = ServeOptions { data, port: arguments.port };
    serve(&options, |ready| {
        // The server runs whether or not somebody reads this.
        let _ = if format.json {
            output::json(&json!({ "address": ready.address, "data": options.data }))
        } else {
            let app = if ready.app_built {
                ""
            } else {
                "The web app is not in this program; ./run serve builds it. The interface works.\n"
            };
            output::data(&format!(
                "loamline is at {}\nJobs are kept in {}. Stop with Ctrl-C.\n{app}",
                ready.address,
                options.data.display()
            ))
        };
    })
    .map_err(Failure::input)?;
    Ok(Verdict::Fine)
}

/// Where applications keep their data on this system.
fn usual_folder() -> Option<PathBuf> {
    let set = |name: &str| std::env::var_os(name).filter(|v| !v.is_empty()).map(PathBuf::from);
    let base = if cfg!(windows) {
        set("APPDATA")?
    } else if cfg!(target_os = "macos") {
        set("HOME")?.join("Library/Application Support")
    } else {
        match set("XDG_DATA_HOME") {
            Some(data) => data,
            None => set("HOME")?.join(".local/share"),
        }
    };
    Some(base.join("loamline"))
}
