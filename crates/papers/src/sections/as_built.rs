//! The sheet that stays in the rack: lines, readings, a square code, and a log for whoever comes next.

use super::common::{Drawings, colour_of, common};
use super::readings;
use crate::drawing::square_code;
use crate::pack::Material;
use serde_json::{Value, json};

/// Rows of the log.
const LOG_ROWS: usize = 14;
/// Most letters in a square code that a telephone still reads from a worn sheet.
const MOST_LETTERS: usize = 700;

/// Data and drawings of the as-built sheet.
pub fn as_built(m: &Material<'_>) -> (Value, Vec<String>) {
    let words = &m.options.words;
    let mut drawings = Drawings::default();
    let mut data = common(m);
    let mut sheet: Vec<Value> = super::common::plan_sheets(m, &m.plans[..1.min(m.plans.len())], 0);
    drawings.0.extend(m.plans.first().map(|p| p.svg.clone()));
    data["plan"] = sheet.pop().unwrap_or(Value::Null);
    let text = code_text(m);
    data["code"] = match square_code(&text, words.get("as_built.code_title")) {
        Some(svg) => json!({ "file": drawings.add(svg), "address": !m.options.firm.server.is_empty() }),
        None => Value::Null,
    };
    data["meters"] = readings::meters(m).into();
    data["readings"] = readings::readings(m).into();
    data["lines"] = m
        .job
        .lines()
        .map(|line| {
            let tags: Vec<&str> = m.job.loudspeakers_of_line(line.id).iter().map(|l| l.id).collect();
            let metres: f64 = m.laid.iter().filter(|c| c.pair_of(line.id).is_some()).map(|c| c.order_m).sum();
            json!({
                "line": line.id,
                "colour": colour_of(m.job, Some(line.id)),
                "channel": line.line.channel,
                "cable": line.cable.description,
                "length": m.options.units.run(metres),
                "tags": tags.join(", "),
            })
        })
        .collect::<Vec<_>>()
        .into();
    data["log_rows"] = LOG_ROWS.into();
    (data, drawings.0)
}

/// The address of the job on the firm's server, or else the expected readings as text.
fn code_text(m: &Material<'_>) -> String {
    let about = &m.job.document().about;
    if !m.options.firm.server.is_empty() {
        return format!("{}/{}", m.options.firm.server.trim_end_matches('/'), about.reference);
    }
    let head = format!("{} {}", about.name, about.reference);
    let readings = readings::as_text(m, MOST_LETTERS.saturating_sub(head.len()));
    format!("{head}{readings}")
}
