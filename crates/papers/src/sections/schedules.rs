//! Schedules: loudspeakers with their taps, cables, cuts, bill. Each is a table for the PDF (texts with units) and a
//! table for the spreadsheet (plain numbers, units in the headings).

use super::common::decimal;
use crate::pack::Material;
use crate::table::Table;
use loamline_model::{Choice as _, Units};
use serde_json::{Value, json};

const M_PER_FT: f64 = 0.3048;

/// Rows of the loudspeaker schedule.
pub fn loudspeakers(m: &Material<'_>) -> Vec<Value> {
    let (words, units) = (&m.options.words, m.options.units);
    m.job
        .loudspeakers()
        .map(|l| {
            let solved = m.results.loudspeakers.get(l.id);
            json!({
                "tag": l.id,
                "model": l.model.description,
                "line": l.placed.line,
                "tap": l.placed.tap_w.map(|w| format!("{} W", plain(w))),
                "mount": words.get(&format!("mount.{}", l.mount.word())),
                "height": units.length(l.height_m),
                "bearing": format!("{}°", decimal(l.placed.bearing_deg.rem_euclid(360.0), 0)),
                "pitch": format!("{}°", decimal(l.placed.pitch_deg, 0)),
                "position": format!(
                    "{} / {}",
                    units.length(l.placed.position.x),
                    units.length(l.placed.position.y)
                ),
                "volts": solved.map(|s| decimal(s.voltage_v, 1)),
                "watts": solved.map(|s| decimal(s.power_w, 1)),
                "loss": solved.map(|s| decimal(s.loss_db, 2)),
                "note": l.placed.note,
            })
        })
        .collect()
}

/// A number without needless decimals.
pub fn plain(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Rows of the cable schedule, line by line.
pub fn cables(m: &Material<'_>) -> Vec<Value> {
    let (words, units) = (&m.options.words, m.options.units);
    m.job
        .lines()
        .enumerate()
        .map(|(index, line)| {
            let own = m.results.runs.iter().filter(|r| r.line == line.id);
            let rows: Vec<Value> = own
                .map(|r| {
                    let laid: Vec<String> = r
                        .by_laying()
                        .into_iter()
                        .map(|(laying, metres)| {
                            let word = laying.map_or("trench", loamline_model::Choice::word);
                            let method = words.get(&format!("laying_short.{word}")).to_owned();
                            format!("{method} {}", units.run(metres))
                        })
                        .collect();
                    json!({
                        "run": r.id,
                        "from": r.from,
                        "to": r.to,
                        "cable": m.job.catalogue().cables.get(&r.cable).map(|c| &c.description),
                        "way": units.run(r.length.path_m),
                        "laid": laid.join(" · "),
                        "cut": units.run(r.length.order_m),
                    })
                })
                .collect();
            let total: f64 =
                m.results.runs.iter().filter(|r| r.line == line.id).map(|r| r.length.order_m).sum();
            let style = crate::drawing::line_style(index);
            json!({
                "line": line.id,
                "cable": line.cable.description,
                "colour": style.colour,
                "total": units.run(total),
                "rows": rows,
            })
        })
        .collect()
}

/// The cut list, cable by cable.
pub fn cuts(m: &Material<'_>) -> Vec<Value> {
    let (words, units) = (&m.options.words, m.options.units);
    m.cables
        .iter()
        .map(|need| {
            let cable = m.job.catalogue().cables.get(&need.cable);
            let description = cable.map_or("", |c| c.description.as_str());
            let spools: Vec<Value> = need
                .spools
                .iter()
                .enumerate()
                .map(|(i, spool)| {
                    let cuts: Vec<String> =
                        spool.cuts.iter().map(|c| format!("{} {}", c.run, units.run(c.length_m))).collect();
                    json!({
                        "name": words.fill("crew.spool", &[("number", &(i + 1).to_string())]),
                        "cuts": cuts,
                        "left": units.run(spool.left_m),
                    })
                })
                .collect();
            let length = units.run(need.spool_m);
            json!({
                "cable": words.fill("crew.spool_of", &[("cable", description), ("length", &length)]),
                "total": units.run(need.cut_m),
                "spools": spools,
            })
        })
        .collect()
}

/// The bill, group by group, without prices.
pub fn bill(m: &Material<'_>) -> Vec<Value> {
    let words = &m.options.words;
    crate::quantities::Group::ALL
        .into_iter()
        .filter_map(|group| {
            let rows: Vec<Value> = m
                .bill
                .iter()
                .filter(|i| i.group == group)
                .map(|i| {
                    let (quantity, unit) = shown_quantity(m, i);
                    json!({
                        "description": i.description,
                        "note": i.note,
                        "quantity": quantity,
                        "unit": unit,
                        "labour": if i.labour_h.is_zero() { String::new() } else { i.labour_h.to_string() },
                    })
                })
                .collect();
            let name = words.get(&format!("bill.group.{}", group.word())).to_owned();
            (!rows.is_empty()).then(|| json!({ "name": name, "rows": rows }))
        })
        .collect()
}

/// Quantity and unit as people of a system of units read them.
pub fn shown_quantity(m: &Material<'_>, item: &crate::quantities::BillItem) -> (String, String) {
    use crate::quantities::Unit;
    let words = &m.options.words;
    let us = m.options.units == Units::Us;
    let value = item.quantity.to_string().parse::<f64>().unwrap_or(0.0);
    match item.unit {
        Unit::Metre if us => (format!("{:.0}", value / M_PER_FT), words.get("unit.foot").to_owned()),
        Unit::CubicMetre if us => {
            (format!("{:.1}", value / M_PER_FT.powi(3)), words.get("unit.cubic_foot").to_owned())
        }
        unit => (item.quantity.to_string(), words.get(&format!("unit.{}", unit.word())).to_owned()),
    }
}

/// The tables of the pack: file name without ending, and table. Lengths in metres whatever people read on paper, so
/// that a spreadsheet's sums are exact.
pub fn tables(m: &Material<'_>) -> Vec<(String, Table)> {
    let w = |key: &str| m.options.words.get(key).to_owned();
    let metres = |key: &str| format!("{}, m", w(key));
    let mut bill = Table::new([
        w("bill.code"),
        w("bill.description"),
        w("bill.note"),
        w("bill.quantity"),
        w("bill.unit"),
        w("bill.labour"),
        w("quotation.price"),
        w("quotation.amount"),
    ]);
    for item in &m.quotation.items {
        bill.rows.push(vec![
            item.item.code.clone(),
            item.item.description.clone(),
            item.item.note.clone(),
            item.item.quantity.to_string(),
            w(&format!("unit.{}", item.item.unit.word())),
            item.item.labour_h.to_string(),
            item.price.to_string(),
            item.amount.to_string(),
        ]);
    }
    for (key, amount) in [
        ("quotation.allowance", m.quotation.allowance),
        ("quotation.net", m.quotation.net),
        ("quotation.tax", m.quotation.tax),
        ("quotation.total", m.quotation.total),
    ] {
        let mut row = vec![String::new(); 8];
        row[1] = w(key);
        row[7] = amount.to_string();
        bill.rows.push(row);
    }
    let mut speakers = Table::new([
        w("crew.tag"),
        w("crew.model"),
        w("crew.line"),
        format!("{}, W", w("crew.tap")),
        w("crew.mount"),
        metres("crew.height"),
        format!("{}, deg", w("crew.bearing")),
        format!("{}, deg", w("crew.pitch")),
        format!("{}, m", w("crew.east")),
        format!("{}, m", w("crew.north")),
    ]);
    for l in m.job.loudspeakers() {
        speakers.rows.push(vec![
            l.id.to_owned(),
            l.model.description.clone(),
            l.placed.line.clone().unwrap_or_default(),
            l.placed.tap_w.map(plain).unwrap_or_default(),
            w(&format!("mount.{}", l.mount.word())),
            format!("{:.2}", l.height_m),
            format!("{:.1}", l.placed.bearing_deg.rem_euclid(360.0)),
            format!("{:.1}", l.placed.pitch_deg),
            format!("{:.3}", l.placed.position.x),
            format!("{:.3}", l.placed.position.y),
        ]);
    }
    let mut cables = Table::new([
        w("crew.line"),
        w("crew.run"),
        w("crew.from"),
        w("crew.to"),
        w("crew.cable"),
        metres("crew.way"),
        metres("crew.cut"),
    ]);
    for r in m.results.runs.iter() {
        cables.rows.push(vec![
            r.line.clone(),
            r.id.clone(),
            r.from.clone(),
            r.to.clone(),
            r.cable.clone(),
            format!("{:.2}", r.length.path_m),
            format!("{:.2}", r.length.order_m),
        ]);
    }
    let mut cuts = Table::new([w("crew.cable"), w("crew.spool_number"), w("crew.run"), metres("crew.cut")]);
    for need in &m.cables {
        for (i, spool) in need.spools.iter().enumerate() {
            for cut in &spool.cuts {
                cuts.rows.push(vec![
                    need.cable.clone(),
                    (i + 1).to_string(),
                    cut.run.clone(),
                    format!("{:.2}", cut.length_m),
                ]);
            }
        }
    }
    [("bill", bill), ("loudspeakers", speakers), ("cables", cables), ("cuts", cuts)]
        .into_iter()
        .map(|(key, table)| (w(&format!("file.{key}")), table))
        .collect()
}

/// Everything the papers say, as JSON: SI units, amounts of money as texts with their cents.
pub fn data(m: &Material<'_>) -> Value {
    let about = &m.job.document().about;
    let spools = |need: &crate::quantities::CableNeed| {
        let one = |s: &crate::quantities::SpoolCuts| {
            let cuts: Vec<Value> =
                s.cuts.iter().map(|c| json!({ "run": c.run, "length_m": c.length_m })).collect();
            json!({ "cuts": cuts, "left_m": s.left_m })
        };
        need.spools.iter().map(one).collect::<Vec<_>>()
    };
    json!({
        "job": { "name": about.name, "reference": about.reference, "date": about.date },
        "drawings": m.plans.iter().map(|p| json!({
            "name": p.name, "title": p.title, "scale": p.sheet.scale.written, "tags": p.tags,
        })).collect::<Vec<_>>(),
        "runs": *m.results.runs,
        "cables": m.cables.iter().map(|n| json!({
            "cable": n.cable, "cut_m": n.cut_m, "spool_m": n.spool_m, "spools": spools(n),
            "fewest_proven": n.fewest_proven,
        })).collect::<Vec<_>>(),
        "holes": m.holes.iter().map(|h| json!({
            "loudspeaker": h.loudspeaker, "length_m": h.length_m, "width_m": h.width_m, "depth_m": h.depth_m,
            "soil_m3": h.soil_m3, "gravel_m3": h.gravel_m3, "gravel_kg": h.gravel_kg,
        })).collect::<Vec<_>>(),
        "quotation": m.quotation,
    })
}
