//! Electrical notes: what each supply asks an electrician to decide and to test. What the local code wants is a line to write
//! on, never asserted.

use super::common::{colour_of, common, decimal};
use super::crew::power;
use super::readings;
use super::schedules::plain;
use crate::material::Material;
use crate::measures::M_PER_FT;
use crate::results::RACK_RISE_K;
use indexmap::IndexMap;
use loamline_adapt::inside_a_building;
use loamline_geometry::Point2;
use loamline_model::document::Supply;
use loamline_model::{Choice as _, LineView, Units};
use serde_json::{Value, json};

/// Minutes in an hour.
const MIN_PER_H: f64 = 60.0;
const DEG_F_PER_K: f64 = 1.8;

/// Data of the notes.
pub fn electrical(m: &Material<'_>) -> (Value, Vec<String>) {
    let mut data = common(m);
    data["racks"] = racks(m).into();
    data["lines"] = m.job.lines().map(|line| row(m, &line)).collect::<Vec<_>>().into();
    data["by_code"] = by_code(m).into();
    data["tests"] = tests(m).into();
    (data, Vec::new())
}

/// Every rack: mains, draw, circuits, and the air that carries its heat away.
fn racks(m: &Material<'_>) -> Vec<Value> {
    let words = &m.options.words;
    let air = |m3_per_h: f64| match m.options.units {
        Units::Metric => format!("{} {}", decimal(m3_per_h, 0), words.get("unit.cubic_metre_per_hour")),
        Units::Us => {
            let feet = m3_per_h / M_PER_FT.powi(3) / MIN_PER_H;
            format!("{} {}", decimal(feet, 0), words.get("unit.cubic_foot_per_minute"))
        }
    };
    let rise = match m.options.units {
        Units::Metric => words.fill("electrical.rise", &[("rise", &plain(RACK_RISE_K))]),
        Units::Us => words.fill("electrical.rise_us", &[("rise", &plain(RACK_RISE_K * DEG_F_PER_K))]),
    };
    m.job
        .document()
        .racks
        .iter()
        .map(|(id, rack)| {
            let result = m.results.racks.get(id).filter(|r| !r.draws.is_empty());
            let ventilation = result.and_then(|r| {
                let heat = format!("{} W", decimal(r.eighth_heat_w, 0));
                let values = [("heat", heat.as_str()), ("air", &air(r.air_m3_per_h?)), ("rise", &rise)];
                Some(words.fill("electrical.ventilation", &values))
            });
            let mains = m.job.document().mains_of(rack);
            json!({
                "title": words.fill("electrical.rack_title", &[("tag", id)]),
                "name": rack.name,
                "mains": words.fill(
                    "crew.mains_text",
                    &[("volts", &plain(mains.voltage_v)), ("amps", &plain(mains.circuit_a))],
                ),
                "power": if result.is_some() { power(m, id) } else { Value::Null },
                "ventilation": ventilation,
            })
        })
        .collect()
}

/// How a line is fed, in words.
fn fed(m: &Material<'_>, supply: Supply) -> String {
    m.options.words.find(&format!("supply.{}", supply.word())).unwrap_or(supply.word()).to_owned()
}

fn row(m: &Material<'_>, line: &LineView<'_>) -> Value {
    let words = &m.options.words;
    let result = m.results.lines.get(line.id);
    json!({
        "line": line.id,
        "colour": colour_of(m.job, Some(line.id)),
        "channel": line.line.channel,
        "supply": fed(m, line.supply),
        "taps": result.and_then(|r| r.load_w).map(|w| format!("{} W", plain(w))),
        "cable": m.cable_names().written(line),
        "leaves": words.get(if leaves(m, line.id) { "electrical.yes" } else { "electrical.no" }),
    })
}

/// Whether a line passes from the inside of a building to the outside.
fn leaves(m: &Material<'_>, line: &str) -> bool {
    let mut runs = m.results.runs.iter().filter(|r| r.line == line);
    let inside = |at: &Point2| inside_a_building(m.job, *at);
    runs.any(|r| {
        let ends = r.way.first().zip(r.way.last());
        !r.through.is_empty() || ends.is_some_and(|(a, b)| inside(a) != inside(b))
    })
}

/// What the local code has to say, supply by supply.
fn by_code(m: &Material<'_>) -> Vec<String> {
    let mut supplies: IndexMap<String, Vec<&str>> = IndexMap::new();
    for line in m.job.lines() {
        supplies.entry(fed(m, line.supply)).or_default().push(line.id);
    }
    let one = |(supply, lines): (String, Vec<&str>)| {
        let values = [("supply", supply.as_str()), ("lines", &lines.join(", "))];
        m.options.words.fill("electrical.by_code", &values)
    };
    supplies.into_iter().map(one).collect()
}

/// What is seen and tested, a row each.
fn tests(m: &Material<'_>) -> Vec<String> {
    let words = &m.options.words;
    let say = |key: &str, values: &[(&str, &str)]| words.fill(&format!("electrical.{key}"), values);
    let mut told = Vec::new();
    for (id, rack) in &m.job.document().racks {
        let circuits = m.results.racks.get(id).map_or(&[][..], |r| r.circuits.as_slice());
        told.push(say("lock_off", &[("tag", id)]));
        let of_rack = m.job.lines().filter(|l| l.rack.is_some_and(|(rack, _)| rack == id));
        if let Some(volts) = of_rack.filter_map(|l| l.supply.line_v()).reduce(f64::max) {
            let count = circuits.len().max(1).to_string();
            told.push(say("label", &[("volts", &plain(volts)), ("circuits", &count)]));
        }
        for ((_, amps), number) in circuits.iter().zip(1..) {
            let (number, amps) = (number.to_string(), decimal(*amps, 1));
            let breaker = plain(m.job.document().mains_of(rack).circuit_a);
            let values = [("number", number.as_str()), ("tag", id), ("amps", &amps), ("breaker", &breaker)];
            told.push(say("circuit", &values));
        }
        told.push(say("earth", &[("tag", id)]));
        told.push(say("residual", &[("tag", id)]));
    }
    told.push(say("residual_outdoor", &[]));
    let outside: Vec<&str> = m.job.lines().map(|l| l.id).filter(|l| leaves(m, l)).collect();
    if !outside.is_empty() {
        let lines = outside.join(", ");
        told.push(say("surge", &[("lines", &lines)]));
        told.push(say("sealed", &[("lines", &lines)]));
    }
    let rule = readings::insulation(m);
    let part = |key: &str| rule[key].as_str().unwrap_or_default().to_owned();
    told.push(say("insulation", &[("volts", &part("volts")), ("least", &part("least"))]));
    told
}
