//! The sheet that stays in the rack: lines, readings, a QR code, and a log for whoever comes next.

use super::commissioned::commissioned;
use super::common::{Drawings, colour_of, common, place};
use super::readings;
use crate::drawing::square_code;
use crate::material::Material;
use crate::tags::listed;
use indexmap::IndexMap;
use loamline_adapt::{LaidCable, LaidRun};
use loamline_limits::SQUARE_CODE_LETTERS;
use loamline_model::document::Photo;
use loamline_model::{LineView, PlacedLoudspeaker};
use serde_json::{Value, json};

/// Height of a row of the log, and what a page holds beside the log: margins and headings, millimetres.
const LOG_ROW_MM: f64 = 9.55;
const BESIDE_LOG_MM: f64 = 62.0;
/// Height of the safety words, millimetres.
const SAFETY_MM: f64 = 104.0;
/// Most lines whose tables leave room for the safety words on the first page; with more of them they stand above the
/// log.
const MOST_LINES_BESIDE_SAFETY: usize = 5;
/// Rows of lines that the record of an amplifier takes the place of.
const ROWS_OF_AN_AMPLIFIER: usize = 2;

/// Data and drawings of the as-built sheet.
pub fn as_built(m: &Material<'_>) -> (Value, Vec<String>) {
    let words = &m.options.words;
    let mut drawings = Drawings::default();
    let mut data = common(m);
    drawings.0.extend(m.plans.iter().map(|p| p.svg.clone()));
    data["plans"] = super::common::plan_sheets(m, &m.plans, 0).into();
    data["unlabelled"] = super::common::unlabelled(m).into();
    let text = code_text(m);
    data["code"] = match square_code(&text, words.get("as_built.code_title")) {
        Some(svg) => json!({ "file": drawings.add(svg), "address": !m.options.firm.server.is_empty() }),
        None => Value::Null,
    };
    data["meters"] = readings::meters(m).into();
    data["readings"] = readings::readings(m).into();
    data["taken"] = readings::taken(m).into();
    let photos = photos(m);
    let photo_rows = photos.len().div_ceil(2);
    data["photos"] = photos.into();
    let lines: Vec<Value> = m.job.lines().flat_map(|line| line_rows(m, &line)).collect();
    let rows = lines.len();
    data["lines"] = lines.into();
    let amplifiers = m.job.document().amplifiers.keys();
    data["amplifiers"] =
        amplifiers.map(|a| json!({ "tag": a, "record": commissioned(m, a) })).collect::<Vec<_>>().into();
    // A line takes the room of more than two readings, or photos.
    let lines = rows
        + photo_rows
        + m.results.judged.len().div_ceil(2)
        + ROWS_OF_AN_AMPLIFIER * m.job.document().amplifiers.len();
    let safety_first = lines <= MOST_LINES_BESIDE_SAFETY;
    let room = m.options.paper.size_mm().1 - BESIDE_LOG_MM - if safety_first { 0.0 } else { SAFETY_MM };
    data["safety_first"] = safety_first.into();
    data["log_rows"] = ((room / LOG_ROW_MM) as usize).into();
    (data, drawings.0)
}

/// Every photo, the oldest first: the day, what it shows or else its place in plan, its file, what there is to see.
fn photos(m: &Material<'_>) -> Vec<Value> {
    let visits = m.job.document().visits.values();
    let mut all: Vec<(&str, &Photo)> =
        visits.flat_map(|v| v.photos.values().map(move |p| (v.date.as_str(), p))).collect();
    all.sort_by_key(|(date, _)| *date);
    let row = |(date, photo): (&str, &Photo)| {
        let at = photo.at.clone().or_else(|| photo.position.map(|at| place(m, at)));
        json!({ "date": date, "place": at.unwrap_or_default(), "file": photo.file, "notes": photo.notes })
    };
    all.into_iter().map(row).collect()
}

/// A line on the sheet: a row for each type of cable it has, with the metres that lie. A cable that carries several lines
/// counts with the first of them, so that the rows of all lines add up to what was put into the ground.
fn line_rows(m: &Material<'_>, line: &LineView<'_>) -> Vec<Value> {
    let lead = |c: &LaidCable| m.results.runs.get(c.lead).map_or("", |r| r.line.as_str()).to_owned();
    let mut metres: IndexMap<&str, f64> = IndexMap::new();
    let mut shared: Vec<String> = Vec::new();
    for cable in m.laid.iter().filter(|c| c.pair_of(line.id).is_some()) {
        let counted = metres.entry(cable.cable.as_str()).or_default();
        let first = lead(cable);
        if first == line.id {
            *counted += cable.laid_m;
        } else {
            let values = [("cable", cable.tag.as_str()), ("line", &first)];
            shared.push(m.options.words.fill("as_built.counted_with", &values));
        }
    }
    let runs: Vec<&LaidRun> = m.results.runs.iter().filter(|r| r.line == line.id).collect();
    let about = [shared, about(m, line.id, &runs)].concat().join(" \u{b7} ");
    let names = m.cable_names();
    let mut rows: Vec<(String, String)> =
        metres.into_iter().map(|(id, metres)| (names.named(id), m.options.units.run(metres))).collect();
    if rows.is_empty() {
        rows.push((names.called(line.cable), m.options.units.run(0.0)));
    }
    let last = rows.len() - 1;
    rows.into_iter()
        .enumerate()
        .map(|(i, (cable, length))| {
            json!({
                "line": if i == 0 { line.id } else { "" },
                "colour": colour_of(m.job, Some(line.id)),
                "channel": line.line.channel.as_deref().filter(|_| i == 0),
                "cable": cable,
                "about": if i == last { about.as_str() } else { "" },
                "length": length,
            })
        })
        .collect()
}

/// What else is to be known of a line's cable: what of it was there before, and which loudspeakers it serves.
fn about(m: &Material<'_>, line: &str, runs: &[&LaidRun]) -> Vec<String> {
    let words = &m.options.words;
    let mut about = Vec::new();
    let existing = || runs.iter().filter_map(|r| Some((r, r.existing.as_ref()?)));
    if let Some(stub) = existing().find_map(|(_, e)| e.stub.as_deref()) {
        about.push(words.fill("as_built.existing_stub", &[("stub", stub)]));
    }
    let own: Vec<&str> = existing().filter(|(_, e)| e.stub.is_none()).map(|(r, _)| r.id.as_str()).collect();
    if !own.is_empty() {
        about.push(words.fill("as_built.existing_runs", &[("runs", &own.join(", "))]));
    }
    if existing().any(|(_, e)| !e.length_known) {
        about.push(words.get("as_built.length_unknown").to_owned());
    }
    let on_line = |l: &PlacedLoudspeaker<'_>| l.placed.line.as_deref() == Some(line);
    let tags: Vec<&str> = m.job.loudspeakers().filter(on_line).map(|l| l.id).collect();
    if !tags.is_empty() {
        about.push(words.fill("as_built.serves", &[("tags", &listed(&tags, words.get("number.to")))]));
    }
    about
}

/// The address of the job on the firm's server, or else the expected readings as text.
fn code_text(m: &Material<'_>) -> String {
    let about = &m.job.document().about;
    if !m.options.firm.server.is_empty() {
        return format!("{}/{}", m.options.firm.server.trim_end_matches('/'), about.reference);
    }
    let head = format!("{} {}", about.name, about.reference);
    let readings = readings::as_text(m, SQUARE_CODE_LETTERS.most().saturating_sub(head.len()));
    format!("{head}{readings}")
}
