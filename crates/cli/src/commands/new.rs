//! `loamline new DIR`

use crate::failure::{Failure, Verdict};
use crate::output::{self, Format};
use serde_json::json;
use std::path::Path;

/// A small job that passes `check`, with a comment on every part.
const STARTER: &str = include_str!("new_job.toml");
const NAME_LINE: &str = "name = \"New garden\"";

pub fn run(folder: &Path, name: Option<&str>, format: Format) -> Result<Verdict, Failure> {
    let file = folder.join("job.toml");
    if file.exists() {
        return Err(Failure::input(format!("{} is already there; choose another folder", file.display())));
    }
    let text = match name {
        Some(name) => STARTER.replace(NAME_LINE, &format!("name = {}", toml_text(name)?)),
        None => STARTER.to_owned(),
    };
    let cannot =
        |error: std::io::Error| Failure::input(format!("{} cannot be written: {error}", file.display()));
    std::fs::create_dir_all(folder).map_err(cannot)?;
    std::fs::write(&file, text).map_err(cannot)?;
    if format.json {
        output::json(&json!({ "job": folder, "file": file }))?;
    } else {
        output::data(&format!(
            "{} holds a small job to start from. Change it to your site, then:\n\n  \
             loamline check {folder}\n  loamline predict {folder}\n  loamline lines {folder}\n",
            file.display(),
            folder = folder.display()
        ))?;
    }
    Ok(Verdict::Fine)
}

/// A basic string of TOML.
fn toml_text(name: &str) -> Result<String, Failure> {
    if name.chars().any(char::is_control) {
        return Err(Failure::input("--name: a name is one line of plain text"));
    }
    Ok(format!("\"{}\"", name.replace('\\', "\\\\").replace('"', "\\\"")))
}

#[cfg(test)]
mod tests {
    use super::{NAME_LINE, STARTER, toml_text};
    use loamline_model::{SourceFile, read_job};

    #[test]
    fn the_starter_is_a_sound_job_under_any_name() {
        assert_eq!(STARTER.matches(NAME_LINE).count(), 1);
        let name = r#"The "Old" \ Mill"#;
        let text = STARTER.replace(NAME_LINE, &format!("name = {}", toml_text(name).unwrap()));
        let job =
            read_job(&SourceFile::new("job.toml", text), &[]).unwrap_or_else(|report| panic!("{report}"));
        assert_eq!(job.document().about.name, name);
        assert!(toml_text("two\nlines").is_err());
    }
}
