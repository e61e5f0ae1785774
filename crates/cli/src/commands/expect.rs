//! `loamline expect JOB`

use super::open::{self, section, shown};
use super::tolerances::tolerances;
use crate::args::ToleranceArguments;
use crate::failure::{Failure, Verdict};
use crate::output::{self, Column, Format, Progress, Table};
use loamline_faults::{ExpectedReading, Place, Sees};
use loamline_model::{Job, Quantity};
use loamline_study::{
    ExpectedLine, JudgedLevel, JudgedReading, LEAKAGE_MOHM, area_words, expect, expect_line, judged,
    judged_levels, measured_words, meter_frequencies_hz, neighbour_words,
};
use loamline_terms::{INSULATION_CAUTION, INSULATION_SOURCE, INSULATION_TEST_V, meter_digits};
use serde_json::json;
use std::path::Path;

/// Frequencies as typed: `dc` or a frequency, comma-separated.
fn frequencies(text: &str) -> Result<Vec<f64>, Failure> {
    text.split(',').map(str::trim).map(frequency).collect()
}

/// One meter frequency: `dc` or a frequency.
pub fn frequency(text: &str) -> Result<f64, Failure> {
    if text.eq_ignore_ascii_case("dc") {
        return Ok(0.0);
    }
    Quantity::Frequency.parse(text).map_err(|e| Failure::input(format!("{e}; or dc for direct current")))
}

pub fn run(
    folder: &Path,
    (typed, line): (Option<&str>, Option<&str>),
    allowed: &ToleranceArguments,
    format: Format,
) -> Result<Verdict, Failure> {
    let typed = typed.map(frequencies).transpose()?;
    let tolerances = tolerances(allowed)?;
    let study = open::study(folder)?;
    let format = format.of(study.job());
    let frequencies = typed.unwrap_or_else(|| meter_frequencies_hz(study.job()));
    let progress = Progress::start("Working out the readings");
    let job = study.job();
    let all = || judged(job, &study.runs(), &tolerances);
    let (expected, readings) = match line {
        Some(line) => {
            let expected = expect_line(job, line, &frequencies, &tolerances).map_err(Failure::study)?;
            let mut taken = job.document().visits.values().flat_map(|v| v.readings.values());
            let readings = if taken.any(|r| r.line == line) { all() } else { Vec::new() };
            (expected, readings.into_iter().filter(|r| r.line == line).collect())
        }
        None => (expect(job, &study.runs(), &frequencies, &tolerances).map_err(Failure::study)?, all()),
    };
    progress.finish();
    // Levels are of places and of no line.
    let levels = if line.is_none() { judged_levels(job) } else { Vec::new() };
    if format.json {
        let head = open::job_json(&study);
        output::json(&json!({ "job": head, "lines": expected, "readings": readings, "levels": levels }))?;
    } else {
        let mut text = format!(
            "Measure with the amplifier disconnected and power off. At a joint, take off the\n\
             run towards the rack. 95 of 100 good lines read within the interval.\n\
             Both conductors joined, a dry line reads at least {LEAKAGE_MOHM} Mohm to earth at {INSULATION_TEST_V} V DC\n\
             ({INSULATION_SOURCE}).\n\
             {}\n",
            output::paragraph(INSULATION_CAUTION)
        );
        for (id, line) in &expected {
            text.push_str(&line_text(id, line, &frequencies, format));
        }
        text.push_str(&read_text(&readings));
        text.push_str(&levels_text(job, &levels));
        output::data(&text)?;
    }
    Ok(Verdict::Fine)
}

/// What was read so far with its verdict; nothing while nothing was.
pub fn read_text(readings: &[JudgedReading]) -> String {
    if readings.is_empty() {
        return String::new();
    }
    let mut table = Table::new([
        Column::left("line"),
        Column::left("date"),
        Column::left("at"),
        Column::left("what"),
        Column::right("read"),
        Column::wrapped("expected, verdict"),
    ]);
    for r in readings {
        let line = if r.as_it_was.is_some() { format!("{} (before)", r.line) } else { r.line.clone() };
        let verdict = match &r.why_not {
            Some(why) => format!("not judged: {why}"),
            None => format!("{}; {}", r.expected, r.verdict),
        };
        let at = r.at.clone().unwrap_or_else(|| "rack".to_owned());
        table.row([line, r.date.clone(), at, measured_words(r.measured), r.read().to_string(), verdict]);
    }
    section("What was read", &table.to_string())
}

/// Sound levels that were measured, with their verdicts; nothing while none was.
fn levels_text(job: &Job, levels: &[JudgedLevel]) -> String {
    if levels.is_empty() {
        return String::new();
    }
    let d = job.document();
    let mut table = Table::new([
        Column::left("date"),
        Column::wrapped("at"),
        Column::right("measured"),
        Column::wrapped("verdict"),
    ]);
    for l in levels {
        let area = l.area.as_ref().and_then(|id| Some(area_words(id, d.areas.get(id)?)));
        let neighbour = l.neighbour.as_ref().and_then(|id| {
            let there = d.neighbours.get(id)?;
            Some(neighbour_words(id, there, l.floor.as_deref()))
        });
        let place = area.or(neighbour).unwrap_or_default().to_string();
        let place = if l.night { format!("{place}, by night") } else { place };
        let measured = if l.octave_63_hz {
            format!("{} dB at 63 Hz", loamline_terms::fixed(l.measured_db, 1))
        } else {
            format!("{} dBA", loamline_terms::fixed(l.measured_db, 1))
        };
        table.row([l.date.clone(), place, measured, l.verdict.to_string()]);
    }
    section("Levels measured", &table.to_string())
}

/// A frequency as a meter names it.
pub fn meter(hz: f64, format: Format) -> String {
    if hz <= 0.0 { "DC".into() } else { shown(format, Quantity::Frequency, hz) }
}

fn line_text(id: &str, line: &ExpectedLine, frequencies: &[f64], format: Format) -> String {
    let place = |chunk: &[ExpectedReading]| match chunk.first().map(|r| &r.place) {
        Some(Place::Rack) | None => "rack".to_owned(),
        Some(Place::Downstream(joint)) => joint.clone(),
    };
    let places: Vec<_> = line.readings.chunks(frequencies.len()).map(|chunk| (place(chunk), chunk)).collect();
    let stages: Vec<_> = line.stages.iter().map(|s| (s.joint.clone(), s.readings.as_slice())).collect();
    let every = line.readings.iter().chain(line.stages.iter().flat_map(|s| &s.readings));
    format!(
        "{}{}{}",
        section(
            &format!("Line {id}, finished: at the rack, and at each joint away from it"),
            &tables("at", &places, frequencies, format)
        ),
        section(
            &format!("Line {id} at the rack, while it is built"),
            &tables("built as far as", &stages, frequencies, format)
        ),
        sees_text(every.map(|r| r.sees))
    )
}

/// What readings are readings of, a paragraph; nothing without readings.
pub fn sees_text(all: impl IntoIterator<Item = Sees>) -> String {
    let told: Vec<&str> = Sees::distinct(all).into_iter().map(Sees::sentence).collect();
    if told.is_empty() { String::new() } else { format!("{}\n", output::paragraph(&told.join(" "))) }
}

/// Frequencies side by side: three fit 80 columns.
const SIDE_BY_SIDE: usize = 3;

/// Rows of readings by name, as many tables below each other as their frequencies need.
fn tables(
    heading: &str,
    rows: &[(String, &[ExpectedReading])],
    frequencies: &[f64],
    format: Format,
) -> String {
    let part = |(index, some): (usize, &[f64])| {
        let mut head = vec![Column::left(heading)];
        head.extend(some.iter().map(|f| Column::right(format!("{} ohm", meter(*f, format)))));
        let mut table = Table::new(head);
        for (name, readings) in rows {
            let here = readings.iter().skip(index * SIDE_BY_SIDE).take(SIDE_BY_SIDE);
            table.row(std::iter::once(name.clone()).chain(here.map(interval)));
        }
        table.to_string()
    };
    frequencies.chunks(SIDE_BY_SIDE).enumerate().map(part).collect::<Vec<_>>().join("\n")
}

fn interval(r: &ExpectedReading) -> String {
    let short = meter_digits;
    match (r.ohm, r.low_ohm, r.high_ohm) {
        (Some(ohm), Some(low), Some(high)) => format!("{} ({}..{})", short(ohm), short(low), short(high)),
        (Some(ohm), _, _) => short(ohm),
        (None, _, _) => "open".into(),
    }
}
