//! The index of tags: on which part of the plan each stands, and on which pages it is set out, laid and read.

use super::super::common::colour_of;
use crate::material::Material;
use crate::tags::natural;
use serde_json::{Value, json};

/// What carries a tag: its kind as the language file has it, and its line.
type Tagged<'m> = (&'m str, &'static str, Option<&'m str>);

/// A row for every tag, in the order people look for one.
pub fn index(m: &Material<'_>) -> Vec<Value> {
    let words = &m.options.words;
    let mut tags = tagged(m);
    tags.sort_by(|a, b| natural(a.0, b.0));
    tags.into_iter()
        .map(|(tag, kind, line)| {
            let on = m.plans.iter().filter(|plan| plan.tags.iter().any(|other| other == tag));
            let parts: Vec<usize> = on.filter_map(|plan| plan.sheet.detail).collect();
            json!({
                "tag": tag,
                "colour": colour_of(m.job, line),
                "what": words.get(&format!("crew.kind_{kind}")),
                "line": line,
                "loudspeaker": kind == "loudspeaker",
                // Number 0 is the whole.
                "parts": if parts.is_empty() { vec![0] } else { parts },
            })
        })
        .collect()
}

fn tagged<'m>(m: &'m Material<'_>) -> Vec<Tagged<'m>> {
    let document = m.job.document();
    let mut all: Vec<Tagged<'_>> = Vec::new();
    all.extend(document.loudspeakers.iter().map(|(id, l)| (id.as_str(), "loudspeaker", l.line.as_deref())));
    let line_at = |joint: &str| m.job.lines().find(|l| l.tree.nodes().any(|n| n == joint)).map(|l| l.id);
    all.extend(document.joints.keys().map(|id| (id.as_str(), "joint", line_at(id))));
    all.extend(document.racks.keys().map(|id| (id.as_str(), "rack", None)));
    all.extend(document.stubs.keys().map(|id| (id.as_str(), "stub", None)));
    all.extend(document.marks.keys().map(|id| (id.as_str(), "mark", None)));
    let lead = |c: &'m loamline_adapt::LaidCable| c.carries.first().map(|carried| carried.line.as_str());
    all.extend(m.laid.iter().map(|c| (c.tag.as_str(), "cable", lead(c))));
    // A stub's cable has the stub's own tag.
    let mut seen = std::collections::BTreeSet::new();
    all.retain(|(tag, ..)| seen.insert(*tag));
    all
}
