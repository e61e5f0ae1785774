//! Rules of sources, their leads and the inputs they go to.

use super::broken::{broken, broken_with_hint, broken_with_hints};
use crate::catalogue::{AmplifierInputs, Catalogue};
use crate::document::{JobDocument, Lead, LeadSide, SignalConnector, Source, SourceOutput, SourceSignal};
use crate::reading::{Choice as _, Problem};
use loamline_terms::{Sentence, each_of, say, template};
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
                    let rule = say!(
                        "leads {other} and {id} both go to input {input} of amplifier {amplifier}: two outputs are never joined, they would drive each other",
                        other = other,
                        id = id,
                        input = l.input.to_string(),
                        amplifier = &l.amplifier
                    );
                    broken_with_hints(
                        problems,
                        at,
                        rule,
                        say!("give each lead an input of its own and let the channel add both"),
                        "write another `input`, and both in the channel's `inputs`",
                    );
                }
            }
        }
    }
    for (id, link) in document.links.iter().filter(|(_, link)| link.from == link.to) {
        let rule = say!("link {id} begins and ends at rack {rack}", id = id, rack = &link.from);
        broken_with_hint(
            problems,
            format!("/links/{id}/to"),
            rule,
            say!("within one rack a lead is enough: let it end at another rack, or take it out"),
        );
    }
    for (id, c) in &document.channels {
        for (index, &input) in c.inputs.iter().enumerate() {
            let at = format!("/channels/{id}/inputs/{index}");
            if c.inputs[..index].contains(&input) {
                broken(
                    problems,
                    at,
                    say!("channel {id} names input {input} twice", id = id, input = input.to_string()),
                );
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
        say!(
            "nothing is known of the inputs of amplifier {amplifier}: the catalogue states none for \"{model}\"",
            amplifier = amplifier,
            model = model
        ),
        say!("add the inputs to the model in the job's own catalogue, or choose a model that states them"),
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
    let named = |[one, several]: [&'static str; 2], first: u32, last: u32| {
        let value = |name: &'static str, n: u32| (name, Sentence::from(n.to_string()));
        let alone = || Sentence::of(one, vec![value("first", first)]);
        let all = || Sentence::of(several, vec![value("first", first), value("last", last)]);
        (first == last).then(alone).or_else(|| (first < last).then(all))
    };
    let wired = [template!("input {first}"), template!("inputs {first} to {last}")];
    let optical = [template!("optical input {first}"), template!("optical inputs {first} to {last}")];
    let each = [named(wired, 1, inputs.count), named(optical, inputs.count + 1, inputs.all())];
    let each: Vec<Sentence> = each.into_iter().flatten().collect();
    let has = if each.is_empty() { say!("none at all") } else { each_of(each) };
    let rule = say!(
        "amplifier {amplifier} has no input {input}: \"{model}\" has {has}",
        amplifier = amplifier,
        input = input.to_string(),
        model = model,
        has = has
    );
    broken(problems, at, rule);
}

fn source(id: &str, s: &Source, problems: &mut Vec<Problem>) {
    let at = |key: &str| format!("/sources/{id}/{key}");
    let optical_connector = s.connector == SignalConnector::Optical;
    if s.is_optical() != optical_connector {
        let rule = say!(
            "an output that is {output} does not end in a connector \"{connector}\"",
            output = s.output.word(),
            connector = s.connector.word()
        );
        broken(problems, at("connector"), rule);
    }
    if s.output == SourceOutput::Balanced && s.connector == SignalConnector::Phono {
        broken_with_hint(
            problems,
            at("connector"),
            say!("a phono connector has two contacts, a balanced output needs three"),
            say!("look at the source again: a phono output is unbalanced"),
        );
    }
    if s.is_optical() {
        let levels = [("nominal", s.nominal_v), ("highest", s.highest_v), ("noise", s.noise_v)];
        for (key, _) in levels.into_iter().filter(|(_, v)| v.is_some()) {
            let rule = say!(
                "an optical output gives light and has no voltage: its peaks are taken to reach full scale"
            );
            broken_with_hint(problems, at(key), rule, say!("take this value out"));
        }
        return;
    }
    if let (Some(nominal), Some(highest)) = (s.level_v(), s.highest_v)
        && nominal > highest
    {
        let rule = say!(
            "the source cannot play at {nominal} V: the most it gives is {highest} V",
            nominal = loamline_terms::fixed(nominal, 3),
            highest = loamline_terms::fixed(highest, 3)
        );
        broken(problems, at("highest"), rule);
    }
    if let (Some(nominal), Some(noise)) = (s.level_v(), s.noise_v)
        && noise >= nominal
    {
        let rule = say!(
            "the noise of {noise} V is as loud as what it plays, {nominal} V",
            noise = loamline_terms::fixed(noise, 6),
            nominal = loamline_terms::fixed(nominal, 3)
        );
        broken(problems, at("noise"), rule);
    }
}

fn side_told(side: LeadSide) -> Sentence {
    match side {
        LeadSide::Left => say!("left"),
        LeadSide::Right => say!("right"),
        LeadSide::Both => side.word().into(),
    }
}

/// A lead brings a side its source has.
fn side(id: &str, l: &Lead, document: &JobDocument, problems: &mut Vec<Problem>) {
    let Some(source) = document.sources.get(&l.source) else { return };
    if l.side == LeadSide::Both {
        return;
    }
    let rule = if source.is_optical() {
        say!(
            "lead {id} cannot bring the {side} side alone: the light guide of source {source} carries both",
            id = id,
            side = side_told(l.side),
            source = &l.source
        )
    } else if source.signal == SourceSignal::Mono {
        say!(
            "lead {id} cannot bring the {side} side: source {source} is mono and has one signal",
            id = id,
            side = side_told(l.side),
            source = &l.source
        )
    } else {
        return;
    };
    broken_with_hints(
        problems,
        format!("/leads/{id}/side"),
        rule,
        say!("let the lead bring both"),
        "write side = \"both\"",
    );
}
