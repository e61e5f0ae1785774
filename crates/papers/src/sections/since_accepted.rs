//! What of a job differs from what its client accepted, line by line.

use super::schedules::plain;
use crate::material::Material;
use loamline_study::DesignChange;

/// What differs from what the client accepted, the price last.
pub fn since_accepted(m: &Material<'_>) -> Vec<String> {
    let words = &m.options.words;
    let Some(accepted) = &m.options.accepted else { return Vec::new() };
    let mut told: Vec<String> = accepted.changes.iter().map(|change| change_words(m, change)).collect();
    if let (Some(then), Some(now)) = (&accepted.total, &accepted.total_now) {
        let by = [("name", accepted.by.as_str()), ("date", &accepted.day)];
        let values = [by[0], by[1], ("then", then), ("now", now)];
        told.push(words.fill("certificate.since.price", &values));
    }
    told
}

/// A difference from the accepted design in the language of the papers.
fn change_words(m: &Material<'_>, change: &DesignChange) -> String {
    let words = &m.options.words;
    let tap =
        |w: Option<f64>| w.map_or_else(|| words.get("page.none").to_owned(), |w| format!("{} W", plain(w)));
    let line = |id: &Option<String>| id.clone().unwrap_or_else(|| words.get("page.none").to_owned());
    let fill = |key: &str, values: &[(&str, &str)]| words.fill(&format!("certificate.since.{key}"), values);
    match change {
        DesignChange::Added { tag, model } => fill("added", &[("tag", tag), ("now", model)]),
        DesignChange::Gone { tag, model } => fill("gone", &[("tag", tag), ("was", model)]),
        DesignChange::Model { tag, was, now } => fill("model", &[("tag", tag), ("was", was), ("now", now)]),
        DesignChange::Moved { tag, by_m } => {
            fill("moved", &[("tag", tag), ("far", &m.options.units.length(*by_m))])
        }
        DesignChange::Tap { tag, was_w, now_w } => {
            fill("tap", &[("tag", tag), ("was", &tap(*was_w)), ("now", &tap(*now_w))])
        }
        DesignChange::Line { tag, was, now } => {
            fill("line", &[("tag", tag), ("was", &line(was)), ("now", &line(now))])
        }
        DesignChange::NewLine { line } => fill("new_line", &[("line", line)]),
        DesignChange::NoLine { line } => fill("no_line", &[("line", line)]),
        DesignChange::Cable { line, was, now } => {
            fill("cable", &[("line", line), ("was", was), ("now", now)])
        }
    }
}
