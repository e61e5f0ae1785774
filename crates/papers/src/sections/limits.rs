//! What neighbours are promised: limits, when they hold, and what is expected of them.

use super::common::{decimal, sentence};
use crate::drawing::floor_by_id;
use crate::material::Material;
use crate::results::{LimitResult, NeighbourResult};
use loamline_study::{AskedLimit, JudgedLevel, When, asked_limits};
use loamline_terms::Hours;
use serde_json::{Value, json};

/// A neighbour's name, as it stands on the plan as well; its id where it has none.
pub fn name(m: &Material<'_>, id: &str) -> String {
    let named = m.job.document().neighbours.get(id).map(|n| n.name.clone());
    named.filter(|n| !n.is_empty()).unwrap_or_else(|| id.to_owned())
}

/// A floor of a neighbour: its name, or "floor" with its id.
fn floor_name(m: &Material<'_>, neighbour: &str, floor: &str) -> String {
    let named = m.job.document().neighbours.get(neighbour).and_then(|n| n.floors.get(floor));
    named
        .map(|f| f.name.clone())
        .filter(|n| !n.is_empty())
        .unwrap_or_else(|| floor_by_id(&m.options.words, floor))
}

/// When a limit holds, with the hours where the brief says them.
fn when_said(m: &Material<'_>, when: When) -> String {
    let words = &m.options.words;
    let night = m.job.document().brief.night_hours;
    let (key, hours) = match when {
        When::Day => ("proposal.day", night.map(Hours::others)),
        When::Night => ("proposal.night", night),
        When::Always => ("proposal.always", None),
    };
    let Some(hours) = hours else { return words.get(key).to_owned() };
    let (from, until) = hours.ends();
    let hours = words.fill("proposal.from_until", &[("from", &from), ("until", &until)]);
    words.fill("proposal.hours", &[("when", words.get(key)), ("hours", &hours)])
}

/// "By night", with the hours where the brief says them.
pub fn by_night(m: &Material<'_>) -> String {
    when_said(m, When::Night)
}

/// That the system is turned down by night, by how much and when; nothing where it is not.
pub fn turned_down(m: &Material<'_>) -> String {
    let (words, brief) = (&m.options.words, &m.job.document().brief);
    if brief.night_turn_down_db < 0.05 {
        return String::new();
    }
    let down = format!("{} dB", decimal(brief.night_turn_down_db, 0));
    let when = sentence(&when_said(m, When::Night));
    words.fill("proposal.turned_down", &[("when", &when), ("down", &down)])
}

/// Every neighbour with its limits and what is expected, for the client.
pub fn neighbours(m: &Material<'_>) -> Vec<Value> {
    let words = &m.options.words;
    let results =
        m.job.document().neighbours.keys().filter_map(|id| Some((id, m.results.neighbours.get(id)?)));
    results
        .map(|(id, r)| {
            let row = |when: When, limits: &[LimitResult]| -> Vec<Value> {
                limits.iter().map(|l| row(m, id, &when_said(m, when), l)).collect()
            };
            let rows: Vec<Value> =
                row(When::Day, &r.day).into_iter().chain(row(When::Night, &r.night)).collect();
            let least = all_limits(r).map(LimitResult::margin_db).fold(f64::INFINITY, f64::min);
            let text = if least >= 0.0 {
                words.fill("proposal.promise", &[("margin", &decimal(least, 0))])
            } else {
                words.fill("proposal.no_promise", &[("excess", &decimal(-least, 0))])
            };
            let tightest = all_limits(r).min_by(|a, b| a.margin_db().total_cmp(&b.margin_db()));
            let text = text + &tightest.map_or_else(String::new, |l| reflections(m, l));
            json!({ "name": name(m, id), "rows": rows, "text": text })
        })
        .collect()
}

/// Every limit with what is expected and what was measured, with its verdict, for the handover.
pub fn measured<'l>(
    m: &Material<'_>,
    found: impl Fn(&str, When, &LimitResult) -> Option<&'l JudgedLevel>,
) -> Vec<Value> {
    let results =
        m.job.document().neighbours.keys().filter_map(|id| Some((id, m.results.neighbours.get(id)?)));
    let mut rows = Vec::new();
    for (id, r) in results {
        // The name once, above its limits.
        let mut named = Some(name(m, id));
        let day = r.day.iter().map(|l| (When::Day, l));
        let night = r.night.iter().map(|l| (When::Night, l));
        for (when, l) in day.chain(night) {
            let mut one = row(m, id, &when_said(m, when), l);
            let measured = found(id, when, l);
            one["neighbour"] = named.take().unwrap_or_default().into();
            one["measured"] =
                measured.map(|found| format!("{} {}", decimal(found.measured_db, 1), unit(l))).into();
            one["verdict"] = measured.map(|found| limit_verdict(m, found)).into();
            one["kept"] = measured.is_none_or(|found| found.kept).into();
            rows.push(one);
        }
    }
    rows
}

/// A measured level against its limit in a few words.
fn limit_verdict(m: &Material<'_>, found: &JudgedLevel) -> String {
    if found.kept {
        return m.options.words.get("certificate.kept").to_owned();
    }
    m.options.words.fill("certificate.over", &[("db", &decimal(found.over_db(), 1))])
}

/// Unit of what a limit is of.
pub const fn unit(l: &LimitResult) -> &'static str {
    if l.octave_63 { "dB" } else { "dBA" }
}

fn all_limits(r: &NeighbourResult) -> impl Iterator<Item = &LimitResult> {
    r.day.iter().chain(&r.night)
}

/// Less than this is not worth a sentence to the client, dB.
const NOT_TOLD_DB: f64 = 0.5;

/// What house faces and walls add to a level, as a sentence of its own.
fn reflections(m: &Material<'_>, l: &LimitResult) -> String {
    if l.reflected_db < NOT_TOLD_DB {
        return String::new();
    }
    let adds = decimal(l.reflected_db, 1);
    format!(" {}", m.options.words.fill("proposal.reflections", &[("adds", &adds)]))
}

fn row(m: &Material<'_>, neighbour: &str, when: &str, l: &LimitResult) -> Value {
    let words = &m.options.words;
    let unit = unit(l);
    let what = words.get(if l.octave_63 { "proposal.octave" } else { "proposal.overall" });
    let what = match &l.floor {
        Some(floor) => {
            let floor = floor_name(m, neighbour, floor);
            words.fill("proposal.on_floor", &[("floor", &floor), ("what", what)])
        }
        None => what.to_owned(),
    };
    json!({
        "when": sentence(when),
        "what": sentence(&what),
        "level": format!("{} {unit}", decimal(l.level_db, 0)),
        "limit": format!("{} {unit}", decimal(l.limit_db, 0)),
        "margin": format!("{} dB", decimal(l.margin_db(), 0)),
        "uncertainty": format!("\u{00b1} {} dB", decimal(l.uncertainty_db, 0)),
        "kept": l.margin_db() >= 0.0,
    })
}

/// A step of the crew written out for every place at a neighbour, its limits beside it.
pub fn steps(m: &Material<'_>, text: &str) -> Vec<String> {
    let mut places: Vec<(String, Vec<String>)> = Vec::new();
    for l in asked_limits(m.job) {
        let name = name(m, l.neighbour);
        let place = match l.floor {
            Some(floor) => {
                let floor = floor_name(m, l.neighbour, floor);
                m.options.words.fill("order.on_floor", &[("name", &name), ("floor", &floor)])
            }
            None => name,
        };
        let limit = asked(m, &l);
        match places.last_mut().filter(|p| p.0 == place) {
            Some(p) => p.1.push(limit),
            None => places.push((place, vec![limit])),
        }
    }
    let one = |(place, limits): (String, Vec<String>)| {
        text.replace("{name}", &place).replace("{limits}", &limits.join("; "))
    };
    places.into_iter().map(one).collect()
}

/// A limit in words: what is allowed and when.
fn asked(m: &Material<'_>, l: &AskedLimit<'_>) -> String {
    let words = &m.options.words;
    let unit = if l.octave_63_hz { "dB" } else { "dBA" };
    let level = format!("{} {unit}", decimal(l.limit_db, 0));
    let key = if l.octave_63_hz { "order.limit_octave" } else { "order.limit" };
    let limit = words.fill(key, &[("limit", &level), ("when", &when_said(m, l.when))]);
    if l.turned_down_db > 0.0 {
        let down = format!("{} dB", decimal(l.turned_down_db, 0));
        words.fill("order.turned_down", &[("limit", &limit), ("down", &down)])
    } else {
        limit
    }
}
