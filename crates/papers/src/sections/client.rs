//! The client's papers: proposal and quotation.

use super::common::{Drawings, common, decimal, sentence, volume};
use super::schedules::shown_quantity;
use crate::design_options::DesignOption;
use crate::drawing::{self, PlanRequest, Reader};
use crate::material::Material;
use crate::money::{decimals, grouped};
use crate::quantities::Group;
use crate::results::LimitResult;
use crate::words::Words;
use loamline_model::Choice as _;
use rust_decimal::Decimal;
use serde_json::{Value, json};

fn money(m: &Material<'_>, amount: Decimal) -> String {
    money_to(m, amount, decimals(&m.quotation.currency))
}

fn money_to(m: &Material<'_>, amount: Decimal, places: u32) -> String {
    format!("{} {}", m.quotation.currency, number_to(m, amount, places))
}

fn number_to(m: &Material<'_>, amount: Decimal, places: u32) -> String {
    let words = &m.options.words;
    grouped(amount, places, words.get("number.thousands"), words.get("number.point"))
}

/// What a level means for people who listen there.
fn in_words(words: &Words, level_dba: f64) -> &str {
    words.get(match level_dba {
        l if l < 55.0 => "heard.barely",
        l if l < 65.0 => "heard.background",
        l if l < 72.0 => "heard.present",
        l if l < 80.0 => "heard.lively",
        l if l < 90.0 => "heard.loud",
        _ => "heard.very_loud",
    })
}

/// Data and drawings of the proposal.
pub fn proposal(m: &Material<'_>) -> (Value, Vec<String>) {
    let (words, units) = (&m.options.words, m.options.units);
    let document = m.job.document();
    let mut drawings = Drawings::default();
    let mut data = common(m);
    let width = m.options.paper.size_mm().0 - 2.0 * drawing::MARGIN_X_MM;
    let (low, high) = drawing::extent(m.job);
    let ground = (high.x - low.x, high.y - low.y);
    let shape = (ground.1 / ground.0).clamp(0.3, 0.9);
    let size = (width, width * shape + 24.0);
    let title = words.get("proposal.plan");
    // A client's plan fills the page: it carries a scale bar, not a scale to measure by.
    let plan = drawing::draw(&drawing::filled(PlanRequest {
        job: m.job,
        words,
        units,
        reader: Reader::Client,
        centre: low.lerp(high, 0.5),
        mm_per_m: 1.0,
        size_mm: size,
        field: m.results.field.as_ref(),
        only_line: None,
        parts: &[],
        key: true,
        title,
    }));
    data["plan"] = json!({
        "file": drawings.add(plan.svg), "width": size.0, "height": size.1, "title": title,
        "sound": m.results.field.is_some(),
    });
    data["areas"] = document
        .areas
        .iter()
        .map(|(id, area)| {
            let level = m.results.areas.get(id);
            json!({
                "name": if area.name.is_empty() { id } else { &area.name },
                "target": format!("{} dBA", decimal(area.target_dba, 0)),
                "mean": level.map(|l| format!("{} dBA", decimal(l.mean_dba, 0))),
                "range": level.map(|l| format!("{} \u{2013} {} dBA", decimal(l.low_dba, 0), decimal(l.high_dba, 0))),
                "words": sentence(in_words(words, level.map_or(area.target_dba, |l| l.mean_dba))),
            })
        })
        .collect::<Vec<_>>()
        .into();
    data["neighbours"] = document
        .neighbours
        .iter()
        .filter_map(|(id, n)| Some((id, n, m.results.neighbours.get(id)?)))
        .map(|(id, n, r)| {
            let row = |when: &str, limits: &[LimitResult]| -> Vec<Value> {
                limits.iter().map(|l| limit(words, when, l)).collect()
            };
            let rows: Vec<Value> = row("day", &r.day).into_iter().chain(row("night", &r.night)).collect();
            let all = r.day.iter().chain(&r.night);
            let least = all.map(LimitResult::margin_db).fold(f64::INFINITY, f64::min);
            let text = if least >= 0.0 {
                words.fill("proposal.promise", &[("margin", &decimal(least, 0))])
            } else {
                words.fill("proposal.no_promise", &[("excess", &decimal(-least, 0))])
            };
            json!({ "name": if n.name.is_empty() { id } else { &n.name }, "rows": rows, "text": text })
        })
        .collect::<Vec<_>>()
        .into();
    let mut dig: Vec<Value> = m
        .ground
        .iter()
        .map(|need| {
            json!({
                "what": sentence(words.get(&format!("laying.{}", need.laying.word()))),
                "how_much": units.run(rounded(need.length_m, 10.0)),
                "after": sentence(words.get(&format!("put_back.{}", need.laying.word()))),
            })
        })
        .collect();
    if !m.holes.is_empty() {
        let soil = rounded(m.holes.iter().map(|h| h.soil_m3).sum(), 1000.0);
        dig.push(json!({
            "what": sentence(words.get("proposal.holes")),
            "how_much": format!("{} ({})", m.holes.len(), volume(m, soil)),
            "after": sentence(words.get("put_back.hole")),
        }));
    }
    data["dig"] = dig.into();
    data["options"] = options(m);
    data["equipment"] = equipment(m).into();
    data["groups"] = groups(m).into();
    totals(m, &mut data);
    (data, drawings.0)
}

/// As the bill has it, so that the papers say the same in any unit.
fn rounded(value: f64, parts: f64) -> f64 {
    (value * parts).round() / parts
}

fn limit(words: &Words, when: &str, l: &LimitResult) -> Value {
    let unit = if l.octave_63 { "dB" } else { "dBA" };
    let what = if l.octave_63 { "proposal.octave" } else { "proposal.overall" };
    json!({
        "when": sentence(words.get(&format!("proposal.{when}"))),
        "what": sentence(words.get(what)),
        "level": format!("{} {unit}", decimal(l.level_db, 0)),
        "limit": format!("{} {unit}", decimal(l.limit_db, 0)),
        "margin": format!("{} dB", decimal(l.margin_db(), 0)),
        "uncertainty": format!("\u{00b1} {} dB", decimal(l.uncertainty_db, 0)),
        "kept": l.margin_db() >= 0.0,
    })
}

/// Options side by side: a column each, and a row for every figure that at least one of them has.
fn options(m: &Material<'_>) -> Value {
    let designs = &m.options.designs;
    if designs.is_empty() {
        return Value::Null;
    }
    let (words, units) = (&m.options.words, m.options.units);
    type CellText<'a> = Box<dyn Fn(&DesignOption) -> Option<String> + 'a>;
    let rows: [(&str, CellText<'_>); 8] = [
        ("price", Box::new(|o| price(m, o))),
        ("loudspeakers", Box::new(|o| o.loudspeakers.map(|n| n.to_string()))),
        ("evenness", Box::new(|o| Some(words.fill("option.within", &[("db", &decimal(o.evenness_db?, 1))])))),
        ("bass", Box::new(|o| o.bass_db.map(|b| signed(b, words)))),
        ("neighbours", Box::new(|o| o.neighbour_margin_db.map(|b| promise(words, b)))),
        ("power", Box::new(|o| o.watts.map(|w| format!("{} W", decimal(w, 0))))),
        ("cable", Box::new(|o| o.cable_m.map(|c| units.run(c)))),
        ("digging", Box::new(|o| o.digging_m.map(|d| units.run(d)))),
    ];
    let rows: Vec<Value> = rows
        .iter()
        .filter(|(_, shown)| designs.iter().any(|o| shown(o).is_some()))
        .map(|(key, shown)| {
            let cells: Vec<String> = designs.iter().map(|o| shown(o).unwrap_or_default()).collect();
            json!({ "name": words.get(&format!("option.{key}")), "strong": *key == "price", "cells": cells })
        })
        .collect();
    let heads: Vec<Value> = designs
        .iter()
        .map(|o| json!({ "name": o.name, "summary": o.summary, "chosen": is_this(m, o) }))
        .collect();
    json!({ "heads": heads, "rows": rows })
}

/// How far an estimate may be from the quotation of the same design: a proposal adds up what is not rounded yet.
const SAME_PRICE: Decimal = Decimal::from_parts(5, 0, 0, false, 3);

/// Whether the proposal is drawn for an option: the one that says so or, where none does, the one with its price and as
/// many loudspeakers.
fn is_this(m: &Material<'_>, option: &DesignOption) -> bool {
    if m.options.designs.iter().any(|o| o.chosen) {
        return option.chosen;
    }
    let (placed, total) = (m.job.document().loudspeakers.len(), m.quotation.total);
    option.price.is_some_and(|p| (p - total).abs() <= total * SAME_PRICE)
        && option.loudspeakers.is_some_and(|n| n as usize == placed)
}

/// The price of an option: of the one the papers are for, what they add up to; an estimate in whole units.
fn price(m: &Material<'_>, option: &DesignOption) -> Option<String> {
    let words = &m.options.words;
    if option.estimated && is_this(m, option) {
        return Some(money(m, m.quotation.total));
    }
    let price = option.price?;
    if !option.estimated {
        return Some(money(m, price));
    }
    Some(words.fill("option.about", &[("price", &money_to(m, price, 0))]))
}

fn signed(db: f64, words: &Words) -> String {
    let sign = if db >= 0.05 { "+" } else { "" };
    words.fill("option.bass_db", &[("db", &format!("{sign}{}", decimal(db, 1)))])
}

fn promise(words: &Words, margin_db: f64) -> String {
    let key = if margin_db >= 0.0 { "option.below" } else { "option.above" };
    words.fill(key, &[("db", &decimal(margin_db.abs(), 0))])
}

fn equipment(m: &Material<'_>) -> Vec<Value> {
    let items = m.bill.iter().filter(|i| matches!(i.group, Group::Loudspeakers | Group::Amplifiers));
    items.map(|i| json!({ "quantity": i.quantity.to_string(), "description": i.description })).collect()
}

fn groups(m: &Material<'_>) -> Vec<Value> {
    let words = &m.options.words;
    let one = |(group, amount): &(Group, Decimal)| {
        json!({
            "name": words.get(&format!("bill.group.{}", group.word())),
            "amount": money(m, *amount),
        })
    };
    m.quotation.groups.iter().map(one).collect()
}

fn totals(m: &Material<'_>, data: &mut Value) {
    let q = &m.quotation;
    let rate = (q.tax_rate * Decimal::ONE_HUNDRED).normalize().to_string();
    data["allowance"] = if q.allowance.is_zero() { Value::Null } else { money(m, q.allowance).into() };
    data["net"] = money(m, q.net).into();
    data["tax"] = money(m, q.tax).into();
    data["tax_name"] = m.options.words.fill("quotation.tax_at", &[("rate", &rate)]).into();
    data["total"] = money(m, q.total).into();
}

/// Data of the quotation.
pub fn quotation(m: &Material<'_>) -> (Value, Vec<String>) {
    let words = &m.options.words;
    let places = decimals(&m.quotation.currency);
    let number = |amount: Decimal| number_to(m, amount, places);
    let mut data = common(m);
    data["bill"] = m
        .quotation
        .groups
        .iter()
        .map(|(group, amount)| {
            let rows: Vec<Value> = m
                .quotation
                .items
                .iter()
                .filter(|i| i.item.group == *group)
                .map(|i| {
                    let (quantity, unit) = shown_quantity(m, &i.item);
                    json!({
                        "description": i.item.description,
                        "note": i.item.note,
                        "quantity": quantity,
                        "unit": unit,
                        "material": number(i.material_amount),
                        "labour": number(i.labour_amount),
                        "amount": number(i.amount),
                    })
                })
                .collect();
            json!({
                "name": words.get(&format!("bill.group.{}", group.word())),
                "rows": rows,
                "amount": number(*amount),
            })
        })
        .collect::<Vec<_>>()
        .into();
    data["groups"] = groups(m).into();
    data["currency"] = m.quotation.currency.clone().into();
    totals(m, &mut data);
    (data, Vec::new())
}
