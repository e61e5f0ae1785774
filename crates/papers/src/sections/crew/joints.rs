//! A sheet per joint, with its sketch.

use super::super::common::{Drawings, colour_of};
use super::super::schedules::plain;
use super::loudspeakers::onward_in_series;
use crate::drawing::joint_sketch;
use crate::material::Material;
use loamline_quotation::JointNeed;
use serde_json::{Value, json};

/// Data of the joint sheets.
pub fn joints(m: &Material<'_>, drawings: &mut Drawings) -> Vec<Value> {
    let words = &m.options.words;
    m.joints
        .iter()
        .map(|joint| {
            let title = words.fill("crew.joint_title", &[("tag", &joint.at)]);
            let size = joint_sketch::size_mm(joint);
            let colour = |line: &str| colour_of(m.job, Some(line));
            let file = drawings.add(joint_sketch::draw(joint, &m.laid, colour, words, &title));
            let document = m.job.document();
            let note = document.joints.get(&joint.at).map_or("", |j| j.note.as_str());
            let stub = document.stubs.get(&joint.at).map_or("", |s| s.name.as_str());
            json!({
                "tag": joint.at,
                "file": file,
                "title": title,
                "width": size.0,
                "height": size.1,
                "ties": joint.cable_ends(),
                "connectors": connector_counts(m, joint),
                "series": series(m, joint),
                "at": stub,
                "note": note,
            })
        })
        .collect()
}

/// What is particular to the joint of a loudspeaker that others are in series with.
fn series(m: &Material<'_>, joint: &JointNeed) -> Option<String> {
    let onward = onward_in_series(m, &joint.at);
    (!onward.is_empty()).then(|| {
        let others = m.job.in_series_with(&joint.at).join(", ");
        let onward = onward.join(", ");
        m.options
            .words
            .fill("crew.series_joint", &[("tag", &joint.at), ("others", &others), ("onward", &onward)])
    })
}

fn connector_counts(m: &Material<'_>, joint: &JointNeed) -> String {
    let mut counts: indexmap::IndexMap<&str, usize> = indexmap::IndexMap::new();
    for id in joint.conductors.iter().flat_map(|c| &c.connectors) {
        *counts.entry(id).or_default() += 1;
    }
    let name =
        |id: &str| m.job.catalogue().connectors.get(id).map_or(id.to_owned(), |c| c.description.clone());
    let mut texts: Vec<String> = counts.iter().map(|(id, n)| format!("{n} \u{00d7} {}", name(id))).collect();
    for c in joint.conductors.iter().filter(|c| c.connectors.is_empty()) {
        let [thin, thick] = c.sizes_mm2.map(plain);
        let none = m.options.words.fill("crew.no_connector", &[("thin", &thin), ("thick", &thick)]);
        if !texts.contains(&none) {
            texts.push(none);
        }
    }
    texts.join("; ")
}
