//! `loamline move --from FILE --to URL`, `loamline backup --to FILE`, `loamline restore --from FILE`: looking after the jobs
//! that `serve` keeps.

use super::serve::{data_folder, database};
use crate::args::{BackupArguments, MoveArguments, RestoreArguments};
use crate::failure::{Failure, Verdict};
use crate::output::{self, Column, Format, Table};
use loamline_server::{Backup, Moved, Place, file_in, move_jobs};
use serde_json::json;
use std::path::Path;

/// Letters of a sum that a table shows: enough to compare by eye.
const SHOWN: usize = 12;

pub fn move_over(arguments: &MoveArguments, format: Format) -> Result<Verdict, Failure> {
    let (from, to) = (Place::read(&arguments.from), Place::read(&arguments.to));
    let mut all = Vec::new();
    move_jobs(&from, &to, |row, moved, sum| all.push((row.clone(), moved.clone(), sum.to_owned())))
        .map_err(Failure::input)?;
    let missing = all.iter().filter(|(_, moved, _)| matches!(moved, Moved::Not(_))).count();
    if format.json {
        let jobs: Vec<_> = all
            .iter()
            .map(|(row, moved, sum)| {
                let (state, why) = words(moved);
                json!({ "id": row.id, "name": row.name, "revision": row.revision, "state": state, "why": why,
                    "sha256": sum })
            })
            .collect();
        output::json(&json!({ "jobs": jobs, "not_moved": missing }))?;
    } else {
        let mut table = Table::new([
            Column::wrapped("job"),
            Column::right("edits"),
            Column::left("SHA-256"),
            Column::wrapped("there"),
        ]);
        for (row, moved, sum) in &all {
            let (state, why) = words(moved);
            let told = why.map_or_else(|| state.to_owned(), |why| format!("{state}: {why}"));
            let revision = row.revision.to_string();
            table.row([row.name.as_str(), &revision, sum.get(..SHOWN).unwrap_or_default(), &told]);
        }
        let end = match missing {
            0 => format!(
                "\nAll {} jobs are there, each the same to the last edit and photo. Where they were they still are. \
                 Phones pair again.\n",
                all.len()
            ),
            n => format!(
                "\n{n} of {} jobs are not there. The others are; moving again goes on from here.\n",
                all.len()
            ),
        };
        output::data(&format!("{table}{end}"))?;
    }
    Ok(if missing == 0 { Verdict::Fine } else { Verdict::Errors })
}

/// What became of a job, in a word and why.
fn words(moved: &Moved) -> (&'static str, Option<&str>) {
    match moved {
        Moved::Same => ("moved", None),
        Moved::Already => ("was there", None),
        Moved::Not(why) => ("not moved", Some(why)),
    }
}

pub fn back_up(arguments: &BackupArguments, format: Format) -> Result<Verdict, Failure> {
    if database(arguments.database.as_deref()).is_some() && arguments.data.is_none() {
        return Err(Failure::input(
            "a database is copied by its own program, while it serves: \
             pg_dump --format=custom --schema=loamline --file=jobs.dump DATABASE",
        ));
    }
    let data = data_folder(arguments.data.as_deref())?;
    let made = loamline_server::back_up(&data, &arguments.to).map_err(Failure::input)?;
    tell(&made, &arguments.to, "The copy is", format)
}

pub fn put_back(arguments: &RestoreArguments, format: Format) -> Result<Verdict, Failure> {
    if database(arguments.database.as_deref()).is_some() && arguments.data.is_none() {
        return Err(Failure::input(
            "a database is put back by its own program, with no server on it: \
             pg_restore --clean --if-exists --dbname=DATABASE jobs.dump",
        ));
    }
    let data = data_folder(arguments.data.as_deref())?;
    let made = loamline_server::put_back(&arguments.from, &data).map_err(Failure::input)?;
    tell(&made, &file_in(&data), "The jobs are", format)
}

/// What a copy holds and where it is.
fn tell(made: &Backup, at: &Path, what: &str, format: Format) -> Result<Verdict, Failure> {
    for damaged in &made.damaged {
        output::log(damaged);
    }
    if format.json {
        output::json(
            &json!({ "file": at, "jobs": made.jobs, "damaged": made.damaged, "bytes": made.bytes }),
        )?;
    } else {
        output::data(&format!(
            "{what} in {}: {} jobs, {:.1} MB, every edit and photo read back.\n",
            at.display(),
            made.jobs,
            made.bytes as f64 / 1e6
        ))?;
    }
    Ok(if made.damaged.is_empty() { Verdict::Fine } else { Verdict::Errors })
}
