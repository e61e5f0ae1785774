//! `loamline move --from FILE --to URL`, `loamline backup --to FILE`, `loamline restore --from FILE`: looking after the jobs
//! that `serve` keeps.

use super::serve::{data_folder, database};
use crate::args::{BackupArguments, MoveArguments, RestoreArguments};
use crate::failure::{Failure, Verdict};
use crate::output::{self, Column, Format, Table};
use loamline_server::{Backup, Moved, Place, Thing, file_in, move_all};
use serde_json::json;
use std::path::Path;

/// Letters of a sum that a table shows: enough to compare by eye.
const SHOWN: usize = 12;

pub fn move_over(arguments: &MoveArguments, format: Format) -> Result<Verdict, Failure> {
    let (from, to) = (Place::read(&arguments.from), Place::read(&arguments.to));
    let mut all = Vec::new();
    move_all(&from, &to, |thing, moved, sum| all.push((thing.clone(), moved.clone(), sum.to_owned())))
        .map_err(Failure::input)?;
    let missing = all.iter().filter(|(_, moved, _)| matches!(moved, Moved::Not(_))).count();
    if format.json {
        output::json(&as_json(&all, missing))?;
    } else {
        output::data(&as_text(&all, missing))?;
    }
    Ok(if missing == 0 { Verdict::Fine } else { Verdict::Errors })
}

/// A thing, what became of it and its sum.
type Carried = (Thing, Moved, String);

fn as_json(all: &[Carried], missing: usize) -> serde_json::Value {
    let (mut jobs, mut others) = (Vec::new(), Vec::new());
    for (thing, moved, sum) in all {
        let (state, why) = words(moved);
        let other = |kind: &str, name: &str| json!({ "kind": kind, "name": name, "state": state, "why": why, "sha256": sum });
        match thing {
            Thing::Job(row) => jobs.push(
                json!({ "id": row.id, "name": row.name, "revision": row.revision, "state": state, "why": why,
                    "sha256": sum }),
            ),
            Thing::FirmFile(name) => others.push(other("firm_file", name)),
            Thing::Person(name) => others.push(other("person", name)),
            Thing::Device(name) => others.push(other("device", name)),
            Thing::Doings(_) => others.push(other("log", "")),
        }
    }
    json!({ "jobs": jobs, "others": others, "not_moved": missing })
}

fn as_text(all: &[Carried], missing: usize) -> String {
    let mut table = Table::new([
        Column::wrapped("what"),
        Column::right("edits"),
        Column::left("SHA-256"),
        Column::wrapped("there"),
    ]);
    for (thing, moved, sum) in all {
        let (state, why) = words(moved);
        let told = why.map_or_else(|| state.to_owned(), |why| format!("{state}: {why}"));
        let (name, edits) = match thing {
            Thing::Job(row) => (row.name.clone(), row.revision.to_string()),
            Thing::FirmFile(name) => (format!("the firm's {name}"), String::new()),
            Thing::Person(name) => (name.clone(), String::new()),
            Thing::Device(name) => (format!("device {name}"), String::new()),
            Thing::Doings(entries) => (format!("log of who did what, {entries} entries"), String::new()),
        };
        table.row([name.as_str(), &edits, sum.get(..SHOWN).unwrap_or_default(), &told]);
    }
    let jobs = all.iter().filter(|(thing, ..)| matches!(thing, Thing::Job(_))).count();
    let end = match missing {
        0 => format!(
            "\nAll {jobs} jobs are there, each the same to the last edit and photo, with the firm's files, paired devices \
             and the log of who did what. Where they were they still are. Phones that find the new server at the address \
             they know stay paired.\n"
        ),
        n => {
            format!("\n{n} of {} are not there. The others are; moving again goes on from here.\n", all.len())
        }
    };
    format!("{table}{end}")
}

/// What became of a thing, in a word and why.
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
             pg_dump --format=custom --schema='loamline*' --file=jobs.dump DATABASE",
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
            "{what} in {}: {} jobs, {} MB, every edit and photo read back.\n",
            at.display(),
            made.jobs,
            loamline_terms::fixed(made.bytes as f64 / 1e6, 1)
        ))?;
    }
    Ok(if made.damaged.is_empty() { Verdict::Fine } else { Verdict::Errors })
}
