//! The tables of the pack for a spreadsheet: plain numbers, the unit in the heading. Lengths are in the units people read on
//! paper, metres or feet, and a column has one of them, so that its sum is the sum; cable to cut stands as it is cut.

use super::schedules::{plain, shown};
use crate::material::Material;
use crate::measures::M_PER_FT;
use crate::table::Table;
use loamline_model::{Choice as _, Units};
use loamline_quotation::{BillItem, Unit};
use rust_decimal::Decimal;

/// What each is called by in the words, and table.
pub fn tables(m: &Material<'_>) -> [(&'static str, Table); 4] {
    [("bill", bill(m)), ("loudspeakers", loudspeakers(m)), ("cables", cables(m)), ("cuts", cuts(m))]
}

fn word(m: &Material<'_>, key: &str) -> String {
    m.options.words.get(key).to_owned()
}

/// A heading with the unit of lengths behind it.
fn long(m: &Material<'_>, key: &str) -> String {
    let unit = match m.options.units {
        Units::Metric => "unit.metre",
        Units::Us => "unit.foot",
    };
    format!("{}, {}", word(m, key), word(m, unit))
}

/// A length in the unit of its heading, to so many places of a metre; of a foot to hundredths.
fn length(m: &Material<'_>, length_m: f64, places: usize) -> String {
    match m.options.units {
        Units::Metric => loamline_terms::fixed(length_m, places),
        Units::Us => loamline_terms::fixed(length_m / M_PER_FT, 2),
    }
}

/// A length as it is cut, as the crew reads it: a tenth of a metre, or a whole foot.
fn cut(m: &Material<'_>, order_m: f64) -> String {
    let length_m = m.options.units.cut_m(order_m);
    match m.options.units {
        Units::Metric => loamline_terms::fixed(length_m, 1),
        Units::Us => loamline_terms::fixed(length_m / M_PER_FT, 0),
    }
}

fn bill(m: &Material<'_>) -> Table {
    let w = |key: &str| word(m, key);
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
    for priced in &m.quotation.items {
        let item = &priced.item;
        let [description, note, quantity, unit] = told(m, item);
        bill.rows.push(vec![
            item.code.clone(),
            description,
            note,
            quantity,
            unit,
            item.labour_h.to_string(),
            price_of_one(m, item, priced.price).to_string(),
            priced.amount.to_string(),
        ]);
    }
    for (key, amount) in [
        ("quotation.allowance", m.quotation.allowance),
        ("quotation.net", m.quotation.net),
        ("quotation.tax", m.quotation.tax),
        ("quotation.rounding", m.quotation.rounding),
        ("quotation.total", m.quotation.total),
    ] {
        if key == "quotation.rounding" && amount.is_zero() {
            continue;
        }
        let mut row = vec![String::new(); 8];
        row[1] = w(key);
        row[7] = amount.to_string();
        bill.rows.push(row);
    }
    bill
}

/// What an entry of the bill is, what it is for, how much of it and in what.
fn told(m: &Material<'_>, item: &BillItem) -> [String; 4] {
    if m.options.units == Units::Us {
        let shown = shown(m, item);
        return [shown.description, shown.note, shown.quantity, shown.unit];
    }
    let unit = word(m, &format!("unit.{}", item.unit.word()));
    [item.description.clone(), item.note.clone(), item.quantity.to_string(), unit]
}

/// What one of an entry costs, of the unit its quantity is told in: of a foot and a cubic yard to the hundredth of a cent, as
/// prices of a metre have no whole cents there.
fn price_of_one(m: &Material<'_>, item: &BillItem, price: Decimal) -> Decimal {
    // 0.3048 m is a foot, 0.764554857984 m3 a cubic yard, by definition.
    let part = match (m.options.units, item.unit) {
        (Units::Us, Unit::Metre) => Decimal::new(3048, 4),
        (Units::Us, Unit::CubicMetre) => Decimal::new(764_554_857_984, 12),
        _ => return price,
    };
    price.checked_mul(part).map_or(price, |told| told.round_dp(4))
}

fn loudspeakers(m: &Material<'_>) -> Table {
    let w = |key: &str| word(m, key);
    let mut speakers = Table::new([
        w("crew.tag"),
        w("crew.model"),
        w("crew.line"),
        format!("{}, W", w("crew.tap")),
        w("crew.mount"),
        long(m, "crew.height"),
        format!("{}, °", w("crew.bearing")),
        format!("{}, °", w("crew.pitch")),
        long(m, "crew.east"),
        long(m, "crew.north"),
        format!("{}, V", w("crew.volts")),
        format!("{}, dB", w("crew.loss")),
    ]);
    for l in m.job.loudspeakers() {
        let solved = m.results.loudspeakers.get(l.id);
        speakers.rows.push(vec![
            l.id.to_owned(),
            l.model.description.clone(),
            l.placed.line.clone().unwrap_or_default(),
            l.placed.tap_w.map(plain).unwrap_or_default(),
            w(&format!("mount.{}", l.mount.word())),
            length(m, l.height_m, 2),
            loamline_terms::fixed(l.placed.bearing_deg.rem_euclid(360.0), 1),
            loamline_terms::fixed(l.placed.pitch_deg, 1),
            length(m, l.placed.position.x, 3),
            length(m, l.placed.position.y, 3),
            solved.map(|s| loamline_terms::fixed(s.voltage_v, 2)).unwrap_or_default(),
            solved.map(|s| loamline_terms::fixed(s.loss_db, 3)).unwrap_or_default(),
        ]);
    }
    speakers
}

fn cables(m: &Material<'_>) -> Table {
    let w = |key: &str| word(m, key);
    let mut cables = Table::new([
        w("crew.cable_tag"),
        w("crew.line"),
        w("crew.run"),
        w("crew.pair_number"),
        w("crew.from"),
        w("crew.to"),
        w("crew.cable"),
        long(m, "crew.way"),
        long(m, "crew.cut"),
    ]);
    for cable in &m.laid {
        for (i, c) in cable.carries.iter().enumerate() {
            // A cable that carries several lines is cut once: its length stands in its first row.
            let once = |text: String| if i == 0 { text } else { String::new() };
            // Existing cable is not cut, and of one whose length is not known no length is told.
            let lead = &m.results.runs[cable.lead];
            let known = lead.existing.as_ref().is_none_or(|e| e.length_known);
            cables.rows.push(vec![
                cable.tag.clone(),
                c.line.clone(),
                c.run.clone(),
                c.pair.to_string(),
                cable.from.clone(),
                cable.to.clone(),
                cable.cable.clone(),
                if known { once(length(m, cable.path_m, 2)) } else { String::new() },
                if cable.existing { String::new() } else { once(cut(m, cable.order_m)) },
            ]);
        }
    }
    cables
}

fn cuts(m: &Material<'_>) -> Table {
    let w = |key: &str| word(m, key);
    let mut cuts =
        Table::new([w("crew.cable"), w("crew.spool_number"), w("crew.cable_tag"), long(m, "crew.cut")]);
    for need in &m.cables {
        for (i, spool) in need.spools.iter().enumerate() {
            for one in &spool.cuts {
                // As the schedule has it, also where its reader's units are not those the job is cut in.
                let laid = m.laid.iter().find(|l| l.tag == one.tag);
                cuts.rows.push(vec![
                    need.cable.clone(),
                    (i + 1).to_string(),
                    one.tag.clone(),
                    cut(m, laid.map_or(one.length_m, |l| l.order_m)),
                ]);
            }
        }
    }
    cuts
}
