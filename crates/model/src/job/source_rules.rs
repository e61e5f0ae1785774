//! Rules of sources, their leads and the inputs they go to.

use super::broken::{broken, broken_with_hint, broken_with_hints};
use crate::catalogue::{AmplifierInputs, Catalogue};
use crate::document::{JobDocument, Lead, LeadSide, SignalConnector, Source, SourceOutput, SourceSignal};
use crate::reading::{Choice as _, Problem};
use std::collections::BTreeMap;

/// Reports every broken rule of sources, leads and the inputs channels add.
pub(super) fn check_sources(document: &JobDocument, catalogue: &Catalogue, problems: &mut Vec<Problem>) {
    for (id, s) in &document.sources {
        source(id, s, problems);
    }
    let mut used: BTreeMap<(&str, u32), &str> = BTreeMap::new();
    for (id, l) in &document.leads {
        side(id, l, document, problems);
        let at = format!("/leads/{id}/input");
        match inputs_of(document, catalogue, &l.amplifier) {
            None => {}
            Some((model, None)) => no_inputs(problems, format!("/leads/{id}/amplifier"), &l.amplifier, model),
            Some((model, Some(inputs))) if l.input > inputs.all() => {
                beyond(problems, at, &l.amplifier, model, l.input, inputs);
            }
            Some(_) => {
                if let Some(other) = used.insert((&l.amplifier, l.input), id) {
                    let rule = format!(
                        "leads {other} and {id} both go to input {} of amplifier {}: two outputs are never joined, they would drive each other",
                        l.input, l.amplifier
                    );
                    broken_with_hints(
                        problems,
                        at,
                        rule,
                        "give each lead an input of its own and let the channel add both",
                        "write another `input`, and both in the channel's `inputs`".into(),
                    );
                }
            }
        }
    }
    for (id, link) in document.links.iter().filter(|(_, link)| link.from == link.to) {
        let rule = format!("link {id} begins and ends at rack {}", link.from);
        broken_with_hint(
            problems,
            format!("/links/{id}/to"),
            rule,
            "within one rack a lead is enough: let it end at another rack, or take it out".into(),
        );
    }
    for (id, c) in &document.channels {
        for (index, &input) in c.inputs.iter().enumerate() {
            let at = format!("/channels/{id}/inputs/{index}");
            if c.inputs[..index].contains(&input) {
                broken(problems, at, format!("channel {id} names input {input} twice"));
                continue;
            }
            match inputs_of(document, catalogue, &c.amplifier) {
                None => break,
                Some((model, None)) => {
                    no_inputs(problems, format!("/channels/{id}/inputs"), &c.amplifier, model);
                    break;
                }
                Some((model, Some(inputs))) if input > inputs.all() => {
                    beyond(problems, at, &c.amplifier, model, input, inputs);
                }
                Some(_) => {}
            }
        }
    }
}

/// The model of an amplifier and its inputs, where both can be looked up.
fn inputs_of<'j>(
    document: &'j JobDocument,
    catalogue: &'j Catalogue,
    amplifier: &str,
) -> Option<(&'j str, Option<&'j AmplifierInputs>)> {
    let model = &document.amplifiers.get(amplifier)?.model;
    Some((model, catalogue.amplifiers.get(model)?.inputs.as_ref()))
}

fn no_inputs(problems: &mut Vec<Problem>, at: String, amplifier: &str, model: &str) {
    broken_with_hints(
        problems,
        at,
        format!(
            "nothing is known of the inputs of amplifier {amplifier}: the catalogue states none for \"{model}\""
        ),
        "add the inputs to the model in the job's own catalogue, or choose a model that states them",
        format!("give \"{model}\" a table `inputs` in a catalogue file of this job"),
    );
}

fn beyond(
    problems: &mut Vec<Problem>,
    at: String,
    amplifier: &str,
    model: &str,
    input: u32,
    inputs: &AmplifierInputs,
) {
    let named = |called: &str, first: u32, last: u32| {
        (first == last)
            .then(|| format!("{called} {first}"))
            .or_else(|| (first < last).then(|| format!("{called}s {first} to {last}")))
    };
    let each = [named("input", 1, inputs.count), named("optical input", inputs.count + 1, inputs.all())];
    let each: Vec<String> = each.into_iter().flatten().collect();
    let has = if each.is_empty() { "none at all".to_owned() } else { each.join(" and ") };
    broken(problems, at, format!("amplifier {amplifier} has no input {input}: \"{model}\" has {has}"));
}

fn source(id: &str, s: &Source, problems: &mut Vec<Problem>) {
    let at = |key: &str| format!("/sources/{id}/{key}");
    let optical_connector = s.connector == SignalConnector::Optical;
    if s.is_optical() != optical_connector {
        let rule = format!(
            "an output that is {} does not end in a connector \"{}\"",
            s.output.word(),
            s.connector.word()
        );
        broken(problems, at("connector"), rule);
    }
    if s.output == SourceOutput::Balanced && s.connector == SignalConnector::Phono {
        broken_with_hint(
            problems,
            at("connector"),
            "a phono connector has two contacts, a balanced output needs three".into(),
            "look at the source again: a phono output is unbalanced".into(),
        );
    }
    if s.is_optical() {
        let levels = [("nominal", s.nominal_v), ("highest", s.highest_v), ("noise", s.noise_v)];
        for (key, _) in levels.into_iter().filter(|(_, v)| v.is_some()) {
            let rule =
                "an optical output gives light and has no voltage: its peaks are taken to reach full scale";
            broken_with_hint(problems, at(key), rule.into(), "take this value out".into());
        }
        return;
    }
    if let (Some(nominal), Some(highest)) = (s.level_v(), s.highest_v)
        && nominal > highest
    {
        let rule = format!("the source cannot play at {nominal:.3} V: the most it gives is {highest:.3} V");
        broken(problems, at("highest"), rule);
    }
    if let (Some(nominal), Some(noise)) = (s.level_v(), s.noise_v)
        && noise >= nominal
    {
        let rule = format!("the noise of {noise:.6} V is as loud as what it plays, {nominal:.3} V");
        broken(problems, at("noise"), rule);
    }
}

/// A lead brings a side its source has.
fn side(id: &str, l: &Lead, document: &JobDocument, problems: &mut Vec<Problem>) {
    let Some(source) = document.sources.get(&l.source) else { return };
    if l.side == LeadSide::Both {
        return;
    }
    let word = l.side.word();
    let rule = if source.is_optical() {
        format!(
            "lead {id} cannot bring the {word} side alone: the light guide of source {} carries both",
            l.source
        )
    } else if source.signal == SourceSignal::Mono {
        format!("lead {id} cannot bring the {word} side: source {} is mono and has one signal", l.source)
    } else {
        return;
    };
    broken_with_hints(
        problems,
        format!("/leads/{id}/side"),
        rule,
        "let the lead bring both",
        "write side = \"both\"".into(),
    );
}
