//! Writing: tables that fit 80 columns, JSON, progress.

mod progress;
mod table;
mod whole_file;

pub use progress::{Progress, under_way};
pub use table::{Column, Table, indented, paragraph};
pub use whole_file::whole_file;

use crate::failure::Failure;
use loamline_model::{Job, Units};
use serde::Serialize;
use std::io::{BufWriter, ErrorKind, Write};

/// How a person wants to read the results.
#[derive(Debug, Clone, Copy)]
pub struct Format {
    /// JSON instead of tables.
    pub json: bool,
    /// The units of tables: those asked for, else metric, else those of the job ([`Format::of`]).
    pub units: Units,
    /// Whether they were asked for.
    asked: bool,
}

impl Format {
    /// With the units asked for, if any were.
    pub fn new(json: bool, units: Option<Units>) -> Self {
        Self { json, units: units.unwrap_or_default(), asked: units.is_some() }
    }

    /// For what is told of a job: in its units, where none were asked for.
    pub fn of(self, job: &Job) -> Self {
        if self.asked { self } else { Self { units: job.document().units(), ..self } }
    }
}

/// Writes data to standard output. A reader that stops early (`| head`) is no error.
pub fn data(text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => Err(Failure::Write(error)),
        _ => Ok(()),
    }
}

/// Writes a value as indented JSON to standard output, piece by piece: the text of a large report fills more memory than
/// the report. A reader that stops early is no error.
pub fn json(value: &impl Serialize) -> Result<(), Failure> {
    let mut out = BufWriter::with_capacity(1 << 16, std::io::stdout().lock());
    let written = serde_json::to_writer_pretty(&mut out, value).map_err(std::io::Error::from);
    match written.and_then(|()| out.write_all(b"\n")).and_then(|()| out.flush()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => Err(Failure::Write(error)),
        _ => Ok(()),
    }
}

/// Writes a message to standard error; nothing can be done when that fails.
pub fn log(message: &str) {
    let _ = writeln!(std::io::stderr().lock(), "{message}");
}
