//! Expected readings: what a meter shows at the rack while a line is built, and of its insulation when it is.

use super::common::colour_of;
use super::conductors::at_rack_written;
use super::schedules::plain;
use crate::material::Material;
use crate::results::{LineResult, MeterResult};
use loamline_faults::{Grade, LEAKAGE_MOHM, Says, Sees};
use loamline_model::Choice as _;
use loamline_study::{JudgedReading, Measured};
use loamline_terms::{INSULATION_TEST_V, meter_digits};
use serde_json::{Value, json};

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
            json!({
                "line": line.id,
                "colour": colour_of(m.job, Some(line.id)),
                "supply": words.find(&format!("supply.{}", line.supply.word())).unwrap_or(line.supply.word()),
                "load": result.load_w.map(|w| words.fill("reading.taps", &[("watts", &plain(w))])),
                "conductors": at_rack_written(m, line.id),
                "stages": stages,
                "sees": sees(m, result),
                "read": m.results.finished_read(line.id).map(|r| r.map(|r| read(m, r))).collect::<Vec<_>>(),
            })
        })
        .collect()
}

/// What the readings of a line are readings of, each said once.
fn sees(m: &Material<'_>, result: &LineResult) -> String {
    let every = result.stages.iter().flat_map(|s| &s.readings).map(|r| r.sees);
    let told = Sees::distinct(every).into_iter().map(|s| m.options.words.get(sees_key(s)));
    told.collect::<Vec<_>>().join(" ")
}

const fn sees_key(sees: Sees) -> &'static str {
    match sees {
        Sees::Cable => "sees.cable",
        Sees::PrimaryCopper => "sees.primary_copper",
        Sees::VoiceCoils => "sees.voice_coils",
        Sees::PrimaryCopperAndVoiceCoils => "sees.primary_copper_and_voice_coils",
        Sees::LoudspeakersThroughTransformers => "sees.loudspeakers_through_transformers",
        Sees::Loudspeakers => "sees.loudspeakers",
    }
}

/// The rule of insulation: the tester's voltage, and what a line must read at least.
pub fn insulation(m: &Material<'_>) -> Value {
    json!({ "volts": format!("{} V", plain(INSULATION_TEST_V)), "least": at_least(m) })
}

fn at_least(m: &Material<'_>) -> String {
    m.options.words.fill("reading.at_least", &[("megohms", &plain(LEAKAGE_MOHM))])
}

/// What was read last of a finished line, with its verdict and its day.
fn read(m: &Material<'_>, r: &JudgedReading) -> Value {
    json!({ "value": shown(m, r), "verdict": verdict(m, r), "date": r.date, "good": r.grade == Some(Grade::Good) })
}

/// What a meter showed: digits as it has them, `open`, more than the end of its range.
fn shown(m: &Material<'_>, r: &JudgedReading) -> String {
    let words = &m.options.words;
    let Some(ohm) = r.ohm else { return words.get("reading.open").to_owned() };
    let mohm = r.measured == Measured::Leakage && ohm >= 1e4;
    let value = if mohm {
        format!("{} {}", meter_digits(ohm / 1e6), words.get("unit.megohm"))
    } else {
        meter_digits(ohm)
    };
    match (r.above, r.says) {
        (true, Some(Says::Open)) => words.get("reading.open").to_owned(),
        (true, _) => words.fill("verdict.more_than", &[("value", &value)]),
        _ => value,
    }
}

/// The verdict on a reading in a few words.
fn verdict(m: &Material<'_>, r: &JudgedReading) -> String {
    let words = &m.options.words;
    let Some(grade) = r.grade else { return words.get("verdict.not_judged").to_owned() };
    let why = match (r.says, r.measured) {
        (Some(Says::Within) | None, _) => return words.get(grade_key(grade)).to_owned(),
        (Some(_), Measured::Leakage) => "verdict.leaks",
        (Some(Says::Low), _) => "verdict.low",
        (Some(Says::High), _) => "verdict.high",
        (Some(Says::Short), _) => "verdict.short",
        (Some(Says::Open), _) => "verdict.open",
    };
    words.fill("verdict.because", &[("grade", words.get(grade_key(grade))), ("why", words.get(why))])
}

const fn grade_key(grade: Grade) -> &'static str {
    match grade {
        Grade::Good => "verdict.good",
        Grade::Doubtful => "verdict.doubtful",
        Grade::Bad => "verdict.bad",
    }
}

/// Every reading of every visit with its verdict, the oldest first: day, line, where, what, read, expected, verdict.
pub fn taken(m: &Material<'_>) -> Vec<Value> {
    m.results.judged.iter().map(|r| row(m, r)).collect()
}

/// A reading in words, with its verdict.
pub fn row(m: &Material<'_>, r: &JudgedReading) -> Value {
    let words = &m.options.words;
    let line = match &r.as_it_was {
        Some(_) => words.fill("verdict.before", &[("line", &r.line)]),
        None => r.line.clone(),
    };
    let what = match r.measured {
        Measured::Leakage => words.get("verdict.to_earth").to_owned(),
        Measured::Loop(hz) => meter(m, hz),
    };
    let expected = match (r.measured, r.low_ohm, r.high_ohm) {
        (Measured::Leakage, _, _) => at_least(m),
        (_, Some(low), Some(high)) => format!("{}\u{2013}{}", meter_digits(low), meter_digits(high)),
        _ if r.grade.is_none() => String::new(),
        _ => words.get("reading.open").to_owned(),
    };
    json!({
        "date": r.date,
        "line": line,
        "at": r.at.as_deref().unwrap_or_else(|| words.get("verdict.rack")),
        "what": what,
        "read": shown(m, r),
        "expected": expected,
        "verdict": verdict(m, r),
        "good": r.grade == Some(Grade::Good),
    })
}

fn cell(m: &Material<'_>, r: &MeterResult) -> Value {
    match r.ohm {
        Some((ohm, [low, high])) => json!({
            "value": meter_digits(ohm),
            "range": format!("{}\u{2013}{}", meter_digits(low), meter_digits(high)),
        }),
        None => json!({ "value": m.options.words.get("reading.open"), "range": "" }),
    }
}

/// The readings of the finished lines as text, a line each, at most so many letters.
pub fn as_text(m: &Material<'_>, most: usize) -> String {
    let mut text = String::new();
    for (id, line) in &m.results.lines {
        let shown = |r: &MeterResult| {
            let value = r
                .ohm
                .map_or_else(|| m.options.words.get("reading.open").to_owned(), |(o, _)| meter_digits(o));
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
