//! Writing a changed document back into the text people wrote: what did not change stays as it is, comments and
//! order included.

use serde_json::{Map, Value};
use toml_edit::{Array, DocumentMut, InlineTable, Item, Key, Table, TableLike, Value as Toml};

/// The text with the document's changes put in; `None` where the text is not TOML or the value no table.
pub(super) fn write_back(text: &str, new: &Value) -> Option<String> {
    let mut document: DocumentMut = text.parse().ok()?;
    let Value::Object(new) = new else { return None };
    sync_table(document.as_table_mut(), new, 0);
    if !in_order(document.as_table(), new) {
        sort(document.as_table_mut(), new);
        let mut next = 0;
        number(document.as_table_mut(), &mut next);
    }
    Some(document.to_string())
}

fn sync_table(table: &mut dyn TableLike, new: &Map<String, Value>, depth: usize) {
    let gone: Vec<String> =
        table.iter().map(|(k, _)| k.to_owned()).filter(|k| !new.contains_key(k)).collect();
    for key in gone {
        table.remove(&key);
    }
    let inline = prefers_inline(table, depth);
    for (key, value) in new {
        match table.get_mut(key) {
            Some(item) => sync_item(item, value, depth + 1),
            None => {
                table.insert(key, fresh(value, depth + 1, inline));
            }
        }
    }
}

/// Whether tables in this one are written on one line: as their neighbours are, else from the third level on.
fn prefers_inline(table: &dyn TableLike, depth: usize) -> bool {
    match table.iter().find_map(|(_, i)| match i {
        Item::Table(_) => Some(false),
        Item::Value(Toml::InlineTable(_)) => Some(true),
        _ => None,
    }) {
        Some(inline) => inline,
        None => depth >= 2,
    }
}

fn sync_item(item: &mut Item, new: &Value, depth: usize) {
    if matches(item, new) {
        return;
    }
    if let (Some(table), Value::Object(o)) = (item.as_table_like_mut(), new) {
        sync_table(table, o, depth);
        // An emptied section needs a header of its own, or it would be gone from the file.
        if let Item::Table(t) = item
            && t.is_empty()
        {
            t.set_implicit(false);
        }
        return;
    }
    match (item, new) {
        (Item::Value(Toml::Array(a)), Value::Array(list)) if a.len() == list.len() => {
            for (old, new) in a.iter_mut().zip(list) {
                let mut item = Item::Value(old.clone());
                sync_item(&mut item, new, depth + 1);
                if let Item::Value(v) = item {
                    *old = v;
                }
            }
        }
        (Item::Value(v), new) => {
            let decor = v.decor().clone();
            *v = toml_value(new);
            *v.decor_mut() = decor;
        }
        (item, new) => *item = fresh(new, depth, false),
    }
}

/// Whether an item of the text already says this.
fn matches(item: &Item, value: &Value) -> bool {
    match (item, value) {
        (Item::Value(Toml::String(s)), Value::String(t)) => s.value() == t,
        (Item::Value(Toml::Datetime(d)), Value::String(t)) => d.value().to_string() == *t,
        (Item::Value(Toml::Boolean(b)), Value::Bool(c)) => b.value() == c,
        (Item::Value(Toml::Integer(i)), Value::Number(n)) => n.as_i64() == Some(*i.value()),
        (Item::Value(Toml::Float(x)), Value::Number(n)) => n.is_f64() && n.as_f64() == Some(*x.value()),
        _ => false,
    }
}

fn fresh(value: &Value, depth: usize, inline: bool) -> Item {
    match value {
        Value::Object(o) if !inline && (depth <= 2 || holds_tables(o)) => {
            let mut table = Table::new();
            // A section that only holds entries needs no header of its own.
            table.set_implicit(!o.is_empty() && o.values().all(Value::is_object));
            let inline_below = depth >= 2;
            for (key, v) in o {
                table.insert(
                    key,
                    fresh(v, depth + 1, inline_below && !v.as_object().is_some_and(holds_tables)),
                );
            }
            Item::Table(table)
        }
        other => Item::Value(toml_value(other)),
    }
}

/// A map of named tables, such as the runs of a line.
fn holds_tables(o: &Map<String, Value>) -> bool {
    !o.is_empty() && o.values().all(Value::is_object)
}

fn toml_value(value: &Value) -> Toml {
    match value {
        // An edit that writes a null is refused before it comes here.
        Value::Null => Toml::from(""),
        Value::Bool(b) => Toml::from(*b),
        Value::Number(n) => match n.as_i64() {
            Some(i) => Toml::from(i),
            None => Toml::from(n.as_f64().unwrap_or_default()),
        },
        Value::String(s) => Toml::from(s.as_str()),
        Value::Array(a) => Toml::Array(a.iter().map(toml_value).collect::<Array>()),
        Value::Object(o) => {
            let mut t = InlineTable::new();
            for (k, v) in o {
                t.insert(k, toml_value(v));
            }
            Toml::InlineTable(t)
        }
    }
}

/// Whether the keys of tables stand in the order of the document, values and tables each among themselves: in TOML
/// the plain values of a table come before its tables whatever is done.
fn in_order(table: &Table, new: &Map<String, Value>) -> bool {
    let mut order: Vec<(isize, &str)> = Vec::new();
    let mut last = 0;
    for (key, item) in table.iter() {
        if let Item::Table(t) = item {
            last = first_position(t).unwrap_or(last);
            order.push((last, key));
        }
    }
    order.sort_by_key(|o| o.0);
    let is_table = |k: &str| matches!(table.get(k), Some(Item::Table(_)));
    let values = table.iter().map(|(k, _)| k).filter(|k| !is_table(k));
    let (tables_wanted, values_wanted): (Vec<&str>, Vec<&str>) =
        new.keys().map(String::as_str).partition(|k| is_table(k));
    order.iter().map(|o| o.1).eq(tables_wanted)
        && values.eq(values_wanted)
        && new.iter().all(|(k, v)| match (table.get(k), v) {
            (Some(Item::Table(t)), Value::Object(o)) => in_order(t, o),
            _ => true,
        })
}

fn first_position(table: &Table) -> Option<isize> {
    let below = table.iter().filter_map(|(_, i)| i.as_table()).filter_map(first_position);
    table.position().filter(|_| !table.is_implicit()).into_iter().chain(below).min()
}

/// Puts the keys of every table with a header in the order of the document.
fn sort(table: &mut Table, new: &Map<String, Value>) {
    let at = |k: &Key| new.keys().position(|n| n == k.get()).unwrap_or(usize::MAX);
    table.sort_values_by(|a, _, b, _| at(a).cmp(&at(b)));
    for (key, value) in new {
        if let (Some(Item::Table(t)), Value::Object(o)) = (table.get_mut(key), value) {
            sort(t, o);
        }
    }
}

/// Numbers the tables in the order they stand in.
fn number(table: &mut Table, next: &mut isize) {
    table.set_position(Some(*next));
    *next += 1;
    for (_, item) in table.iter_mut() {
        if let Item::Table(t) = item {
            number(t, next);
        }
    }
}
