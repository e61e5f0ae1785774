//! A sheet per existing cable end: which pair is which, and how long the cable is, with boxes to fill in.

use super::super::common::colour_of;
use super::super::conductors::written;
use crate::material::Material;
use loamline_adapt::pair_conductors;
use loamline_faults::Tolerances;
use loamline_study::stub_loop;
use loamline_terms::meter_digits;
use serde_json::{Value, json};

/// Data of the sheets.
pub fn stubs(m: &Material<'_>) -> Vec<Value> {
    let (words, units, document) = (&m.options.words, m.options.units, m.job.document());
    document
        .stubs
        .iter()
        .filter_map(|(id, stub)| {
            let cable = m.job.catalogue().cables.get(&stub.cable)?;
            let free = document.free_pairs_of_stub(stub, m.job.catalogue());
            let lines = document.pairs_of_stub(id, m.job.catalogue());
            let expected = stub_loop(m.job, stub, &Tolerances::default());
            let pairs: Vec<Value> = (1..=cable.conductors / 2)
                .map(|pair| {
                    let line = lines.iter().find(|(_, pairs)| pairs.contains(&pair)).map(|(line, _)| line);
                    json!({
                        "pair": pair.to_string(),
                        "conductors": written(m, &pair_conductors(m.job, &stub.cable, &[pair])),
                        "line": line,
                        "colour": colour_of(m.job, line.map(String::as_str)),
                        "use": if free.contains(&pair) { words.get("stub.spare") } else { words.get("stub.taken") },
                        "free": free.contains(&pair),
                        // What is in use for something else is not read: nobody joins its far end.
                        "expected": expected.filter(|_| free.contains(&pair)).map(|e| json!({
                            "value": meter_digits(e.ohm),
                            "range": format!("{}\u{2013}{}", meter_digits(e.low_ohm), meter_digits(e.high_ohm)),
                        })),
                    })
                })
                .collect();
            let length = match stub.length_m {
                Some(length) => units.run(length),
                None => words.get("stub.length_unknown").to_owned(),
            };
            Some(json!({
                "tag": id,
                "title": words.fill("stub.title", &[("tag", id)]),
                "name": stub.name,
                "rack": document.rack_of_stub(stub),
                "cable": m.cable_names().called(cable),
                "length": length,
                "marking": stub.marking,
                "pairs": pairs,
                "store": words.fill("stub.store", &[("tag", id)]),
            }))
        })
        .collect()
}
