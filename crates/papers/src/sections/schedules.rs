//! Schedules: loudspeakers with their taps, cables, cuts, bill, as tables for the PDF (texts with units); those for a
//! spreadsheet are in `spreadsheets`.

use super::common::colour_of;
use crate::material::Material;
use crate::measures::{M_PER_FT, up, volume};
use crate::wording::spools_to_order;
use loamline_adapt::LaidCable;
use loamline_model::{Choice as _, Units};
use loamline_quotation::{BillItem, JointConductor, JointNeed, Unit};
use loamline_study::{CableOrder, Cut};
use rust_decimal::prelude::ToPrimitive as _;
use serde_json::{Value, json};

/// A number without needless decimals.
pub fn plain(value: f64) -> String {
    let text = loamline_terms::fixed(value, 2);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Cable schedule and cut list in one, cable by cable and spool by spool.
pub fn cuts(m: &Material<'_>) -> Vec<Value> {
    let (words, units) = (&m.options.words, m.options.units);
    m.cables
        .iter()
        .map(|need| {
            let cable = m.job.catalogue().cables.get(&need.cable);
            let description = cable.map_or_else(String::new, |c| m.cable_names().called(c));
            let pairs = cable.is_some_and(|c| c.conductors > 2);
            let spools: Vec<Value> = need
                .spools
                .iter()
                .zip(1..)
                .map(|(spool, number)| {
                    let cut = |c: &Cut| m.laid.iter().find(|l| l.tag == c.tag).map(|l| row(m, l, pairs));
                    json!({
                        "name": words.fill(
                            "crew.spool",
                            &[("number", &number.to_string()), ("length", &units.run(spool.spool_m))],
                        ),
                        "rows": spool.cuts.iter().filter_map(cut).collect::<Vec<_>>(),
                        "left": words.fill("crew.left", &[("length", &units.left(spool.left_m))]),
                        "racks": if spool.racks.is_empty() {
                            String::new()
                        } else {
                            words.fill("crew.cuts_for", &[("racks", &spool.racks.join(", "))])
                        },
                    })
                })
                .collect();
            json!({
                "cable": description,
                "pairs": pairs,
                "order": words.fill(
                    "crew.spools_of",
                    &[("spools", &spools_to_order(need, words, units)), ("total", &to_cut(m, need))],
                ),
                "spools": spools,
            })
        })
        .collect()
}

/// A cable to cut.
fn row(m: &Material<'_>, cable: &LaidCable, pairs: bool) -> Value {
    let (words, units) = (&m.options.words, m.options.units);
    let carries: Vec<String> = cable
        .carries
        .iter()
        .map(|c| match pairs {
            true => words.fill("crew.pair", &[("line", &c.line), ("pair", &c.pair.to_string())]),
            false => c.line.clone(),
        })
        .collect();
    json!({
        "tag": cable.tag,
        "colour": colour_of(m.job, cable.carries.first().map(|c| c.line.as_str())),
        "from": cable.from,
        "to": cable.to,
        "carries": carries.join(", "),
        "way": units.run(cable.path_m),
        "cut": units.cut(cable.order_m),
    })
}

/// The bill, group by group, without prices.
pub fn bill(m: &Material<'_>) -> Vec<Value> {
    let words = &m.options.words;
    loamline_quotation::Group::ALL
        .into_iter()
        .filter_map(|group| {
            let rows: Vec<Value> = m
                .bill
                .iter()
                .filter(|i| i.group == group)
                .map(|i| {
                    let shown = shown(m, i);
                    json!({
                        "description": shown.description,
                        "note": shown.note,
                        "quantity": shown.quantity,
                        "unit": shown.unit,
                        "load": group != loamline_quotation::Group::Work && !i.material.is_zero(),
                        "labour": if i.labour_h.is_zero() { String::new() } else { i.labour_h.to_string() },
                    })
                })
                .collect();
            let name = words.get(&format!("bill.group.{}", group.word())).to_owned();
            (!rows.is_empty()).then(|| json!({ "name": name, "rows": rows }))
        })
        .collect()
}

/// All of a cable to cut, as the bill has it.
fn to_cut(m: &Material<'_>, need: &CableOrder) -> String {
    let billed = m.bill.iter().find(|i| orders(i, need)).map(|i| shown(m, i));
    billed.map_or_else(String::new, |b| format!("{} {}", b.quantity, b.unit))
}

/// Whether an entry of the bill is for a cable.
fn orders(item: &BillItem, need: &CableOrder) -> bool {
    item.code.strip_prefix("cable/") == Some(&need.cable)
}

/// An entry of the bill as people of a system of units read it.
pub struct Shown {
    pub description: String,
    pub quantity: String,
    pub unit: String,
    pub note: String,
}

/// An entry of the bill in the units of the reader: cable to cut rounded up, what it is for in the same unit.
pub fn shown(m: &Material<'_>, item: &BillItem) -> Shown {
    let words = &m.options.words;
    let us = m.options.units == Units::Us;
    let value = item.quantity.to_f64().unwrap_or(0.0);
    let need = m.cables.iter().find(|need| orders(item, need));
    let note = need.map_or_else(|| item.note.clone(), |n| spools_to_order(n, words, m.options.units));
    let unit = |word: &str| words.get(&format!("unit.{word}")).to_owned();
    let (quantity, unit) = match (item.unit, need) {
        (Unit::Metre, Some(need)) if us => (up(need.cut_m / M_PER_FT).to_string(), unit("foot")),
        (Unit::Metre, _) if us => (loamline_terms::fixed(value / M_PER_FT, 0), unit("foot")),
        (Unit::CubicMetre, _) if us => {
            let (yards, word) = volume(Units::Us, value);
            (loamline_terms::fixed(yards, 2), words.get(word).to_owned())
        }
        (kind, _) => (item.quantity.to_string(), unit(kind.word())),
    };
    let description = need.map_or_else(|| item.description.clone(), |n| m.cable_names().named(&n.cable));
    Shown { description, quantity, unit, note }
}

/// A joint with every wire that meets in it.
fn joint(joint: &JointNeed) -> Value {
    let conductor = |c: &JointConductor| {
        let wires: Vec<Value> =
            c.wires.iter().map(|w| json!({ "cable": w.cable, "colour": w.colour })).collect();
        json!({
            "line": c.line, "positive": c.positive, "wires": wires, "terminal": c.terminal,
            "connectors": c.connectors,
        })
    };
    json!({
        "at": joint.at, "lines": joint.lines, "arriving": joint.arriving, "onward": joint.onward,
        "conductors": joint.conductors.iter().map(conductor).collect::<Vec<_>>(),
    })
}

/// Everything the papers say, as JSON: SI units, amounts of money as texts with the decimals of their currency.
pub fn data(m: &Material<'_>) -> Value {
    let about = &m.job.document().about;
    json!({
        "job": { "name": about.name, "reference": about.reference, "date": about.date },
        "drawings": m.plans.iter().map(|p| json!({
            "name": p.name, "title": p.title, "scale": p.sheet.scale.written, "tags": p.tags,
        })).collect::<Vec<_>>(),
        "runs": *m.results.runs,
        "laid_cables": m.laid,
        "joints": m.joints.iter().map(joint).collect::<Vec<_>>(),
        "laying": m.ground.iter().map(|g| json!({
            "laying": g.laying.word(), "length_m": g.length_m, "shared_m": g.shared_m,
        })).collect::<Vec<_>>(),
        "cables": m.cables,
        "holes": m.holes.iter().map(|h| json!({
            "loudspeaker": h.loudspeaker, "length_m": h.length_m, "width_m": h.width_m, "depth_m": h.depth_m,
            "soil_m3": h.soil_m3, "gravel_m3": h.gravel_m3, "gravel_kg": h.gravel_kg,
        })).collect::<Vec<_>>(),
        "quotation": m.quotation,
    })
}
