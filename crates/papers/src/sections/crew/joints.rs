//! A sheet per joint, with its sketch.

use super::super::common::{Drawings, colour_of};
use super::super::schedules::plain;
use super::loudspeakers::onward_in_series;
use crate::drawing::joint_sketch;
use crate::material::Material;
use loamline_quotation::JointNeed;
use serde_json::{Value, json};

/// Data of the joint sheets: a sketch for each joint, or where `listed` one for all that are made alike, with their list.
pub fn joints(m: &Material<'_>, drawings: &mut Drawings, listed: bool) -> Vec<Value> {
    let words = &m.options.words;
    alike(m, listed)
        .into_iter()
        .filter_map(|those| {
            let (joint, others) = those.split_first()?;
            let title = match others.len() {
                0 => words.fill("crew.joint_title", &[("tag", &joint.at)]),
                count => words.fill("crew.joint_alike", &[("tag", &joint.at), ("count", &count.to_string())]),
            };
            let size = joint_sketch::size_mm(joint);
            let colour = |line: &str| colour_of(m.job, Some(line));
            let file = drawings.add(joint_sketch::draw(joint, &m.laid, colour, words, &title));
            let document = m.job.document();
            let note = document.joints.get(&joint.at).map_or("", |j| j.note.as_str());
            let stub = document.stubs.get(&joint.at).map_or("", |s| s.name.as_str());
            let row = |joint: &&JointNeed| {
                let ways = [("arriving", joint.arriving.join(", ")), ("onward", joint.onward.join(", "))];
                let ways = ways.each_ref().map(|(key, tags)| (*key, tags.as_str()));
                json!({ "tag": joint.at, "ways": words.fill("crew.joint_ways", &ways) })
            };
            let all: Vec<Value> =
                if others.is_empty() { Vec::new() } else { those.iter().map(row).collect() };
            Some(json!({
                "tag": joint.at,
                "all": all,
                "file": file,
                "title": title,
                "width": size.0,
                "height": size.1,
                "ties": joint.cable_ends(),
                "connectors": connector_counts(m, joint),
                "series": series(m, joint),
                "at": stub,
                "note": note,
            }))
        })
        .collect()
}

/// The joints, those that are made alike together where `listed`; one with a note or at existing cable is like no other.
fn alike<'m>(m: &'m Material<'_>, listed: bool) -> Vec<Vec<&'m JointNeed>> {
    if !listed {
        return m.joints.iter().map(|joint| vec![joint]).collect();
    }
    let document = m.job.document();
    let mut groups: indexmap::IndexMap<String, Vec<&JointNeed>> = indexmap::IndexMap::new();
    for joint in &m.joints {
        let noted = document.joints.get(&joint.at).is_some_and(|j| !j.note.is_empty());
        let particular = noted || document.stubs.contains_key(&joint.at) || series(m, joint).is_some();
        let form = if particular { joint.at.clone() } else { form(joint) };
        groups.entry(form).or_default().push(joint);
    }
    groups.into_values().collect()
}

/// What a joint looks like whatever its tags are: which wire of which cable meets which, in which connector.
fn form(joint: &JointNeed) -> String {
    let cable = |tag: &str| {
        let place = |tags: &[String]| tags.iter().position(|t| t == tag);
        match (place(&joint.arriving), place(&joint.onward)) {
            (Some(i), _) => format!("in {i}"),
            (None, Some(i)) => format!("out {i}"),
            (None, None) => "beside".to_owned(),
        }
    };
    let conductor = |c: &loamline_quotation::JointConductor| {
        let wires: Vec<String> =
            c.wires.iter().map(|w| format!("{} {}", cable(&w.cable), w.colour)).collect();
        let line = c.line.as_ref().and_then(|line| joint.lines.iter().position(|l| l == line));
        format!("{line:?} {} {wires:?} {:?} {:?} {:?}", c.positive, c.terminal, c.sizes_mm2, c.connectors)
    };
    let conductors: Vec<String> = joint.conductors.iter().map(conductor).collect();
    format!(
        "{} {} {} {} {conductors:?}",
        joint.lines.len(),
        joint.arriving.len(),
        joint.onward.len(),
        joint.loudspeaker
    )
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
