//! The client's papers: proposal and quotation.

use super::common::{Drawings, common, decimal, sentence, volume};
use super::schedules::shown;
use super::{limits, pictures, work_plan};
use crate::design_options::{DesignOption, OPTION_PICTURE_MM};
use crate::drawing::{self, PlanRequest, Reader};
use crate::material::Material;
use crate::results::AreaResult;
use crate::words::Words;
use loamline_model::Choice as _;
use loamline_quotation::{Group, decimals, grouped};
use rust_decimal::Decimal;
use serde_json::{Value, json};

fn money(m: &Material<'_>, amount: Decimal) -> String {
    format!("{} {}", m.quotation.currency, number_to(m, amount, decimals(&m.quotation.currency)))
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

/// The same as a sentence, with how far speech stands above what else is heard.
fn said(words: &Words, level_dba: f64, level: Option<&AreaResult>) -> String {
    let loud = sentence(in_words(words, level_dba));
    match level.and_then(|l| l.speech_over_others_db) {
        Some(over_db) => {
            let key = if over_db < 0.0 { "heard.speech_under" } else { "heard.speech_over" };
            words.fill(key, &[("loud", &loud), ("db", &decimal(over_db.abs(), 0))])
        }
        None => loud,
    }
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
        laid: &m.laid,
        words,
        units,
        reader: Reader::Client,
        centre: low.lerp(high, 0.5),
        mm_per_m: 1.0,
        size_mm: size,
        field: m.results.field.as_ref(),
        only_line: None,
        parts: &[],
        numbered: &[],
        key: true,
        title,
    }));
    data["plan"] = json!({
        "file": drawings.add(plan.svg), "width": size.0, "height": size.1, "title": title,
        "sound": m.results.field.is_some(),
    });
    let (view, views) = pictures::views(m, &mut drawings);
    data["view"] = view;
    data["views"] = views;
    data["heard_when"] = pictures::heard_when(m);
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
                // By the figure that stands beside them: two areas of one figure have one set of words.
                "words": said(words, level.map_or(area.target_dba, |l| l.mean_dba).round(), level),
            })
        })
        .collect::<Vec<_>>()
        .into();
    data["neighbours"] = limits::neighbours(m).into();
    data["turned_down"] = limits::turned_down(m).into();
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
    data["options"] = options(m, &mut drawings);
    data["days"] = work_plan::days_for_client(m).into();
    data["album"] = pictures::photos(m, &mut drawings);
    data["equipment"] = equipment(m).into();
    data["groups"] = groups(m).into();
    totals(m, &mut data);
    (data, drawings.0)
}

/// As the bill has it, so that the papers say the same in any unit.
fn rounded(value: f64, parts: f64) -> f64 {
    (value * parts).round() / parts
}

/// Options side by side: a column each, and a row for every figure that at least one of them has.
fn options(m: &Material<'_>, drawings: &mut Drawings) -> Value {
    let designs = &m.options.designs;
    if designs.is_empty() {
        return Value::Null;
    }
    let (words, units) = (&m.options.words, m.options.units);
    type CellText<'a> = Box<dyn Fn(&DesignOption) -> Option<String> + 'a>;
    let rows: [(&'static str, CellText<'_>); 7] = [
        ("loudspeakers", Box::new(|o| o.loudspeakers.map(|n| n.to_string()))),
        ("evenness", Box::new(|o| Some(words.fill("option.within", &[("db", &decimal(o.evenness_db?, 1))])))),
        ("bass", Box::new(|o| o.bass_db.map(|b| signed(b, words)))),
        ("neighbours", Box::new(|o| o.neighbour_margin_db.map(|b| promise(words, b)))),
        ("power", Box::new(|o| o.watts.map(|w| format!("{} W", decimal(w, 0))))),
        ("cable", Box::new(|o| o.cable_m.map(|c| units.run(c)))),
        ("digging", Box::new(|o| o.digging_m.map(|d| units.run(d)))),
    ];
    type Row<'a> = (&'a str, Vec<Option<String>>);
    let of_each = |(key, shown): &(&'static str, CellText<'_>)| -> Row<'_> {
        (*key, designs.iter().map(shown).collect())
    };
    let prices: Vec<Option<String>> = m.design_prices.iter().map(|p| p.map(|p| money(m, p))).collect();
    let rows: Vec<Value> = std::iter::once(("price", prices))
        .chain(rows.iter().map(of_each))
        .filter(|(_, cells): &Row<'_>| cells.iter().any(Option::is_some))
        .map(|(key, cells)| {
            let cells: Vec<String> = cells.into_iter().map(Option::unwrap_or_default).collect();
            json!({ "name": words.get(&format!("option.{key}")), "strong": key == "price", "cells": cells })
        })
        .collect();
    let heads: Vec<Value> = designs
        .iter()
        .zip(&m.design_prices)
        .map(|(o, price)| {
            let picture = o.picture.clone().map(|svg| drawings.add(svg));
            let chosen = is_this(m, o, *price);
            json!({ "name": o.name, "summary": o.summary, "chosen": chosen, "picture": picture })
        })
        .collect();
    let (width, height) = OPTION_PICTURE_MM;
    json!({ "heads": heads, "rows": rows, "shape": height / width })
}

/// Whether the proposal is drawn for an option: the one that says so or, where none does, the one with its price and as
/// many loudspeakers.
fn is_this(m: &Material<'_>, option: &DesignOption, price: Option<Decimal>) -> bool {
    if m.options.designs.iter().any(|o| o.chosen) {
        return option.chosen;
    }
    let placed = m.job.document().loudspeakers.len();
    price == Some(m.quotation.total) && option.loudspeakers.is_some_and(|n| n as usize == placed)
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
    data["rounding"] = if q.rounding.is_zero() { Value::Null } else { money(m, q.rounding).into() };
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
                    let shown = shown(m, &i.item);
                    json!({
                        "description": shown.description,
                        "note": shown.note,
                        "quantity": shown.quantity,
                        "unit": shown.unit,
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
    data["of_part"] = m.results.of_part.then(|| words.get("quotation.of_part")).into();
    data["currency"] = m.quotation.currency.clone().into();
    totals(m, &mut data);
    (data, Vec::new())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::options::PackOptions;
    use crate::results::Results;
    use loamline_model::{SourceFile, read_job};

    /// Two areas that read 65 dBA, one from below and one from above, are described in the same words.
    #[test]
    fn areas_of_one_figure_have_one_description() {
        let text = "format = 1\n[job]\nname = \"Garden\"\n\
                    [areas.a]\nname = \"Deck\"\noutline = [[0, 0], [4, 0], [4, 4], [0, 4]]\ntarget = \"65 dBA\"\n\
                    [areas.b]\nname = \"Lawn\"\noutline = [[6, 0], [9, 0], [9, 4], [6, 4]]\ntarget = \"65 dBA\"\n";
        let job =
            read_job(&SourceFile::new("job.toml".to_owned(), text), &[]).unwrap_or_else(|e| panic!("{e}"));
        let mut results = Results::runs_of(&job);
        for (id, mean_dba) in [("a", 65.2), ("b", 64.7)] {
            let level = AreaResult {
                mean_dba,
                low_dba: 63.0,
                high_dba: 67.0,
                share_within: 1.0,
                speech_over_others_db: None,
            };
            results.areas.insert(id.to_owned(), level);
        }
        let options = PackOptions::usual().unwrap();
        let m = Material::gather(&job, &results, &options).unwrap();
        let (data, _) = proposal(&m);
        let said = |k: usize| (data["areas"][k]["mean"].clone(), data["areas"][k]["words"].clone());
        assert_eq!(said(0), said(1));
        assert_eq!(data["areas"][0]["mean"], "65 dBA");
    }
}
