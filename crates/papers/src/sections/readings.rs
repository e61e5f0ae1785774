//! Expected readings: what a meter shows at the rack while a line is built, and of its insulation when it is.

use super::common::colour_of;
use super::conductors::at_rack_written;
use super::schedules::plain;
use crate::material::Material;
use crate::results::MeterResult;
use loamline_model::{Choice as _, LineView};
use serde_json::{Value, json};

/// Voltage of the insulation tester and least resistance of a sound line, volts DC and megohms: IEC 60364-6 Table
/// 6.1 (from memory), its row for extra-low voltage and its row up to 500 V.
const INSULATION_ELV: (f64, f64) = (250.0, 0.5);
const INSULATION_LV: (f64, f64) = (500.0, 1.0);
/// Highest line voltage that counts as extra-low outdoors, volts RMS: 25 V lines do, 70.7 V lines do not (common
/// practice, no source).
const EXTRA_LOW_V: f64 = 50.0;

/// Names of the meter's frequencies, in the order of every row.
pub fn meters(m: &Material<'_>) -> Vec<String> {
    let first = m.results.lines.values().find_map(|l| l.stages.first());
    let stage = first.map_or(&[][..], |s| &s.readings);
    stage.iter().map(|r| meter(m, r.frequency_hz)).collect()
}

fn meter(m: &Material<'_>, hertz: f64) -> String {
    match hertz {
        f if f <= 0.0 => m.options.words.get("reading.dc").to_owned(),
        f if f >= 1000.0 => format!("{} kHz", plain(f / 1000.0)),
        f => format!("{} Hz", plain(f)),
    }
}

/// Every line with results: its stages of building, in the order of the joints, and its insulation.
pub fn readings(m: &Material<'_>) -> Vec<Value> {
    let words = &m.options.words;
    let solved = m.job.lines().filter_map(|line| Some((line, m.results.lines.get(line.id)?)));
    solved
        .filter(|(_, result)| !result.stages.is_empty())
        .map(|(line, result)| {
            let last = result.stages.len() - 1;
            let stages: Vec<Value> = result
                .stages
                .iter()
                .enumerate()
                .map(|(i, stage)| {
                    let cells: Vec<Value> = stage.readings.iter().map(|r| cell(m, r)).collect();
                    json!({ "as_far_as": stage.joint, "finished": i == last, "cells": cells })
                })
                .collect();
            let (test_v, least_mohm) = insulation(&line);
            json!({
                "line": line.id,
                "colour": colour_of(m.job, Some(line.id)),
                "supply": words.find(&format!("supply.{}", line.supply.word())).unwrap_or(line.supply.word()),
                "load": result.load_w.map(|w| words.fill("reading.taps", &[("watts", &plain(w))])),
                "conductors": at_rack_written(m, line.id),
                "stages": stages,
                "test": format!("{} V", plain(test_v)),
                "least": words.fill("reading.at_least", &[("megohms", &plain(least_mohm))]),
            })
        })
        .collect()
}

fn insulation(line: &LineView<'_>) -> (f64, f64) {
    if line.line_v().unwrap_or(0.0) > EXTRA_LOW_V { INSULATION_LV } else { INSULATION_ELV }
}

fn cell(m: &Material<'_>, r: &MeterResult) -> Value {
    match r.ohm {
        Some((ohm, [low, high])) => json!({
            "value": digits(ohm),
            "range": format!("{}\u{2013}{}", digits(low), digits(high)),
        }),
        None => json!({ "value": m.options.words.get("reading.open"), "range": "" }),
    }
}

/// Three digits are what a meter is read to.
pub fn digits(ohms: f64) -> String {
    let places = if ohms < 10.0 {
        2
    } else if ohms < 100.0 {
        1
    } else {
        0
    };
    format!("{ohms:.places$}")
}

/// The readings of the finished lines as text, a line each, at most so many letters.
pub fn as_text(m: &Material<'_>, most: usize) -> String {
    let mut text = String::new();
    for (id, line) in &m.results.lines {
        let shown = |r: &MeterResult| {
            let value =
                r.ohm.map_or_else(|| m.options.words.get("reading.open").to_owned(), |(o, _)| digits(o));
            format!("{} {value}", meter(m, r.frequency_hz))
        };
        let all: Vec<String> = line.finished().iter().map(shown).collect();
        let row = format!("\n{id}: {} {}", all.join(", "), m.options.words.get("unit.ohm"));
        if text.len() + row.len() > most {
            text.push_str("\n...");
            break;
        }
        text.push_str(&row);
    }
    text
}
