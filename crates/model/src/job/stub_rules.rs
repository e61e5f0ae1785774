//! Rules of stubs: where their cable comes from, and that no two lines share a pair of it.

use super::broken::{broken, broken_with_hint, broken_with_hints};
use super::omitted::Omitted;
use crate::catalogue::Catalogue;
use crate::document::{JobDocument, Stub};
use crate::reading::Problem;
use loamline_terms::{Sentence, say};
use std::collections::BTreeMap;

/// Reports every broken rule of the stubs and of the lines that start there.
pub(super) fn check_stubs(
    document: &JobDocument,
    catalogue: &Catalogue,
    left_out: &Omitted,
    problems: &mut Vec<Problem>,
) {
    for (id, stub) in &document.stubs {
        if document.rack_of_stub(stub).is_none() && !left_out.any("racks") {
            let hint = match document.racks.keys().map(String::as_str).collect::<Vec<_>>().as_slice() {
                [] => say!("there is no rack at all yet: add one"),
                several => say!("give it one of the racks: {racks}", racks = several.join(", ")),
            };
            let rule = say!("nothing says from which rack the cable of stub-out {id} comes", id = id);
            broken_with_hint(problems, format!("/stubs/{id}"), rule, hint);
        }
        let Some(cable) = catalogue.cables.get(&stub.cable) else { continue };
        let conductors = cable.conductors.to_string();
        if let Some(free) = stub.free_conductors.filter(|&n| n > cable.conductors) {
            let rule = say!(
                "{free} conductors cannot be free: the cable \"{cable}\" has {conductors}",
                free = free.to_string(),
                cable = &stub.cable,
                conductors = &conductors
            );
            broken(problems, format!("/stubs/{id}/free_conductors"), rule);
        }
        for (index, pair) in stub.free_pairs.iter().flatten().enumerate() {
            if pair * 2 > cable.conductors {
                let rule = say!(
                    "pair {pair} of stub-out {id} cannot be free: the cable \"{cable}\" has {conductors} conductors, so {pairs} in all",
                    pair = pair.to_string(),
                    id = id,
                    cable = &stub.cable,
                    conductors = &conductors,
                    pairs = pairs(cable.conductors)
                );
                broken(problems, format!("/stubs/{id}/free_pairs/{index}"), rule);
            }
        }
        taken(id, stub, document, catalogue, problems);
    }
    for (id, line) in document.lines.iter().filter(|(_, line)| !line.stub_pairs.is_empty()) {
        let start = line.start.as_deref();
        if start.is_some_and(|s| document.stubs.contains_key(s) || left_out.has("stubs", s)) {
            continue;
        }
        let rule = say!(
            "line {id} starts at no stub-out, so there is no existing cable whose pairs it could take",
            id = id
        );
        let plain = say!("let it start at a stub-out, or take its pairs there out");
        let by_key = "take `stub_pairs` out, or write `start` with a stub-out";
        broken_with_hints(problems, format!("/lines/{id}/stub_pairs"), rule, plain, by_key);
    }
}

/// How many pairs so many conductors are.
pub(super) fn pairs(conductors: u32) -> Sentence {
    match conductors / 2 {
        1 => say!("1 pair"),
        n => say!("{count} pairs", count = n.to_string()),
    }
}

/// The pairs lines name must be in the cable, free, and each named once.
fn taken(id: &str, stub: &Stub, document: &JobDocument, catalogue: &Catalogue, problems: &mut Vec<Problem>) {
    let conductors = catalogue.cables.get(&stub.cable).map_or(0, |c| c.conductors);
    let free = document.free_pairs_of_stub(stub, catalogue);
    let mut users: BTreeMap<u32, &str> = BTreeMap::new();
    let named: Vec<u32> =
        document.lines_at_stub(id).flat_map(|(_, line)| line.stub_pairs.iter().copied()).collect();
    for (line, written) in document.lines_at_stub(id) {
        for (index, &pair) in written.stub_pairs.iter().enumerate() {
            let at = format!("/lines/{line}/stub_pairs/{index}");
            if pair * 2 > conductors {
                let rule = say!(
                    "line {line} takes pair {pair} of stub-out {id}, and its cable \"{cable}\" has {conductors} conductors, so {pairs} in all",
                    line = line,
                    pair = pair.to_string(),
                    id = id,
                    cable = &stub.cable,
                    conductors = conductors.to_string(),
                    pairs = pairs(conductors)
                );
                broken(problems, at, rule);
                continue;
            }
            let left: Vec<String> = free.iter().filter(|p| !named.contains(p)).map(u32::to_string).collect();
            let hint = match left.as_slice() {
                [] => say!(
                    "no other pair of stub-out {id} is free: start the line elsewhere, or feed both lines as one",
                    id = id
                ),
                left => say!("free at stub-out {id}: pair {pairs}", id = id, pairs = left.join(", ")),
            };
            if !free.contains(&pair) {
                let rule = say!(
                    "line {line} takes pair {pair} of stub-out {id}, which is in use for something else",
                    line = line,
                    pair = pair.to_string(),
                    id = id
                );
                broken_with_hint(problems, at, rule, hint);
                continue;
            }
            match users.insert(pair, line) {
                Some(other) if other == line => {
                    let rule = say!(
                        "line {line} names pair {pair} of stub-out {id} twice",
                        line = line,
                        pair = pair.to_string(),
                        id = id
                    );
                    broken(problems, at, rule);
                }
                Some(other) => {
                    let rule = say!(
                        "lines {other} and {line} both take pair {pair} of stub-out {id}; a pair carries one line",
                        other = other,
                        line = line,
                        pair = pair.to_string(),
                        id = id
                    );
                    broken_with_hint(problems, at, rule, hint);
                }
                None => {}
            }
        }
    }
}
