//! Writing: tables that fit 80 columns, JSON, progress.

mod progress;
mod table;
mod whole_file;

pub use progress::{Progress, under_way};
pub use table::{Column, Table, indented, paragraph};
pub use whole_file::whole_file;

use crate::failure::Failure;
use loamline_model::document::Language;
use loamline_model::{Choice as _, Job, Units};
use loamline_terms::{Phrases, Sentence};
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
    /// The language of sentences in tables: that asked for, else English, else that of the job ([`Format::of`]).
    pub language: Language,
    /// Whether it was asked for.
    language_asked: bool,
}

impl Format {
    /// With the units and the language asked for, if any were.
    pub fn new(json: bool, units: Option<Units>, language: Option<Language>) -> Self {
        Self {
            json,
            units: units.unwrap_or_default(),
            asked: units.is_some(),
            language: language.unwrap_or(Language::English),
            language_asked: language.is_some(),
        }
    }

    /// For what is told of a job: in its units and its language, where none were asked for.
    pub fn of(self, job: &Job) -> Self {
        let units = if self.asked { self.units } else { job.document().units() };
        let own = job.document().about.language.filter(|_| !self.language_asked);
        Self { units, language: own.unwrap_or(self.language), ..self }
    }

    /// A sentence as the person reads it: in their language, with measures in their units.
    pub fn tell(self, sentence: &Sentence) -> String {
        self.units.tell(&sentence.spoken(Phrases::of(self.language.word())))
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
