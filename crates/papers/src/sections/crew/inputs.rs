//! Inputs of the amplifiers on the rack sheet: what arrives at each, how its lead is wired, and how an amplifier was left.

use super::super::commissioned::commissioned;
use super::super::common::{Drawings, decimal};
use crate::drawing::lead_sketch;
use crate::material::Material;
use crate::pins::lead_wiring;
use loamline_adapt::{AddedLead, leads};
use loamline_model::Choice as _;
use loamline_model::document::{SignalConnector, Source};
use serde_json::{Value, json};

/// Data of an amplifier's inputs: each with its lead, and how it was commissioned.
pub fn inputs(m: &Material<'_>, amplifier: &str, drawings: &mut Drawings) -> Value {
    let own: Vec<Value> =
        leads(m.job).filter(|l| l.lead.amplifier == amplifier).map(|l| input(m, &l, drawings)).collect();
    json!({ "leads": own, "commissioned": commissioned(m, amplifier) })
}

fn input(m: &Material<'_>, l: &AddedLead<'_>, drawings: &mut Drawings) -> Value {
    let words = &m.options.words;
    let side = words.get(&format!("side_of_source.{}", l.lead.side.word())).to_owned();
    let number = l.lead.input.to_string();
    let name = source_name(&l.lead.source, l.source);
    let title = words.fill("inputs.title", &[("input", &number), ("source", name), ("side", &side)]);
    let ends = [l.source.connector, l.inputs.connector].map(|c| words.get(connector(c)));
    let wiring = lead_wiring(l.source, l.lead.side, l.inputs, l.lead.input);
    let sketch = wiring.map(|w| {
        let (width, height) = lead_sketch::size_mm(&w);
        let joined = w.joined;
        let file = drawings.add(lead_sketch::draw(&w, ends, words, &title));
        json!({ "file": file, "width": width, "height": height, "joined": joined })
    });
    let added: Vec<&str> = m
        .job
        .channels()
        .filter(|c| c.channel.amplifier == l.lead.amplifier && c.channel.inputs.contains(&l.lead.input))
        .map(|c| c.id)
        .collect();
    let (link, before) = (through(m, l), goes_before(m, l.source));
    let notes: Vec<&str> = [link.as_str(), &before, &l.source.note, &l.lead.note]
        .into_iter()
        .filter(|n| !n.is_empty())
        .collect();
    json!({
        "lead": l.id,
        "title": title,
        "length": l.lead.length_m.map(|length| m.options.units.run(length)),
        "level": level(m, l),
        "added": added.join(", "),
        "sketch": sketch,
        "light": l.source.is_optical(),
        "note": notes.join(" "),
    })
}

/// The link a lead comes through, with its delay; empty where it comes through none.
fn through(m: &Material<'_>, l: &AddedLead<'_>) -> String {
    let links = &m.job.document().links;
    let Some((id, link)) = l.lead.link.as_ref().and_then(|id| links.get_key_value(id)) else {
        return String::new();
    };
    let (name, delay) = (if link.name.is_empty() { id } else { &link.name }, decimal(1e3 * link.delay_s, 1));
    m.options.words.fill("inputs.through", &[("link", name), ("from", &link.from), ("delay", &delay)])
}

/// What a source of some priority asks of the amplifier; empty for music.
fn goes_before(m: &Material<'_>, source: &Source) -> String {
    let words = &m.options.words;
    let priority = source.priority.to_string();
    match (source.priority, source.turns_down_db) {
        (0, _) => String::new(),
        (_, None) => words.fill("inputs.silences", &[("priority", &priority)]),
        (_, Some(db)) => {
            words.fill("inputs.turns_down", &[("priority", &priority), ("down", &decimal(db, 0))])
        }
    }
}

/// What a source is called: its name, else its id.
pub fn source_name<'s>(id: &'s str, source: &'s Source) -> &'s str {
    if source.name.is_empty() { id } else { &source.name }
}

/// Key of a connector's name in the language file.
const fn connector(c: SignalConnector) -> &'static str {
    match c {
        SignalConnector::Phono => "connector.phono",
        SignalConnector::LargeJack => "connector.large_jack",
        SignalConnector::SmallJack => "connector.small_jack",
        SignalConnector::Xlr => "connector.three_pins",
        SignalConnector::ScrewTerminals => "connector.screw_terminals",
        SignalConnector::Optical => "connector.optical",
    }
}

/// What arrives, in volts and dBu, and what the input takes; where that is less, what to do.
fn level(m: &Material<'_>, l: &AddedLead<'_>) -> Option<String> {
    let words = &m.options.words;
    let stages = m.results.sources.iter().flat_map(|s| s.channels.values()).flat_map(|g| &g.sources);
    let stage = stages.flat_map(|s| &s.inputs).find(|i| i.lead == l.id)?;
    let (volts, dbu, headroom) = (stage.level_v?, stage.level_dbu?, stage.headroom_db?);
    let (key, apart) =
        if headroom < 0.0 { ("inputs.level_over", "over") } else { ("inputs.level", "headroom") };
    let values = [
        ("volts", decimal(volts, 3)),
        ("dbu", decimal(dbu, 1)),
        ("greatest", decimal(l.inputs.greatest_v, 1)),
        (apart, decimal(headroom.abs(), 1)),
    ];
    let values: Vec<(&str, &str)> = values.iter().map(|(k, v)| (*k, v.as_str())).collect();
    Some(words.fill(key, &values))
}
