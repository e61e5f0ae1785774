//! Ids that name something elsewhere: which keys hold them, and what they may name.
//!
//! Checked on the tree of values rather than on the finished document, so that a misspelt id is reported in the
//! same go as a misspelt key. What visits name is not among them: what was measured, done or photographed stays for ever,
//! also where the thing is gone; a finding says what it names and cannot be found.

use crate::catalogue::Catalogue;
use crate::reading::{Node, NodeValue, Problem, ProblemKind, did_you_mean};

/// What an id may name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Target {
    /// Entries of these tables of the job.
    Job(&'static [&'static str]),
    /// A loudspeaker of the catalogue.
    LoudspeakerModel,
    /// An amplifier of the catalogue.
    AmplifierModel,
    /// A cable of the catalogue.
    Cable,
}

/// Where an id stands (`*` is any id or list item), what it is called in messages, and what it may name.
const REFERENCES: &[(&[&str], &str, Target)] = &[
    (&["brief", "wishes", "models", "*"], "loudspeaker model", Target::LoudspeakerModel),
    (&["brief", "wishes", "not_models", "*"], "loudspeaker model", Target::LoudspeakerModel),
    (&["areas", "*", "programme"], "programme", Target::Job(&["programmes"])),
    (&["stubs", "*", "cable"], "cable", Target::Cable),
    (&["stubs", "*", "rack"], "rack", Target::Job(&["racks"])),
    (&["loudspeakers", "*", "model"], "loudspeaker model", Target::LoudspeakerModel),
    (&["loudspeakers", "*", "line"], "line", Target::Job(&["lines"])),
    (&["lines", "*", "channel"], "channel", Target::Job(&["channels"])),
    (&["lines", "*", "start"], "rack or stub", Target::Job(&["racks", "stubs"])),
    (&["lines", "*", "cable"], "cable", Target::Cable),
    (&["lines", "*", "runs", "*", "from"], "loudspeaker, joint, rack or stub", RUN_ENDS),
    (&["lines", "*", "runs", "*", "to"], "loudspeaker, joint, rack or stub", RUN_ENDS),
    (&["lines", "*", "runs", "*", "cable"], "cable", Target::Cable),
    (&["lines", "*", "runs", "*", "sleeves", "*"], "sleeve", Target::Job(&["sleeves"])),
    (&["amplifiers", "*", "model"], "amplifier model", Target::AmplifierModel),
    (&["amplifiers", "*", "rack"], "rack", Target::Job(&["racks"])),
    (&["channels", "*", "amplifier"], "amplifier", Target::Job(&["amplifiers"])),
    (&["channels", "*", "programme"], "programme", Target::Job(&["programmes"])),
];

const RUN_ENDS: Target = Target::Job(&["loudspeakers", "joints", "racks", "stubs"]);

/// Reports every id that names nothing.
pub(super) fn check_references(root: &Node, catalogue: &Catalogue, problems: &mut Vec<Problem>) {
    for (path, called, target) in REFERENCES {
        let known = known_ids(*target, root, catalogue);
        walk(root, path, String::new(), &mut |node, pointer| {
            let NodeValue::Text(id) = &node.value else { return };
            if known.contains(&id.as_str()) {
                return;
            }
            let hint = did_you_mean(id, known.iter().copied()).or_else(|| offered(&known, called));
            let kind = ProblemKind::UnknownId { kind: called, id: id.clone() };
            problems.push(Problem::new(pointer, kind).hint(hint));
        });
    }
}

fn known_ids<'n>(target: Target, root: &'n Node, catalogue: &'n Catalogue) -> Vec<&'n str> {
    match target {
        Target::Job(tables) => tables
            .iter()
            .filter_map(|t| match &root.get(t)?.value {
                NodeValue::Table(entries) => Some(entries.keys().map(String::as_str)),
                _ => None,
            })
            .flatten()
            .collect(),
        Target::LoudspeakerModel => catalogue.loudspeakers.keys().map(String::as_str).collect(),
        Target::AmplifierModel => catalogue.amplifiers.keys().map(String::as_str).collect(),
        Target::Cable => catalogue.cables.keys().map(String::as_str).collect(),
    }
}

/// Names what there is, when it is little enough to read.
fn offered(known: &[&str], called: &str) -> Option<String> {
    match known.len() {
        0 => Some(format!("there is no {called} at all yet: add one, or take this key out")),
        1..=12 => Some(format!("there is: {}", known.join(", "))),
        n => Some(format!("{n} others are defined; none is spelt like this")),
    }
}

fn walk(node: &Node, path: &[&str], pointer: String, found: &mut impl FnMut(&Node, String)) {
    let Some((first, rest)) = path.split_first() else { return found(node, pointer) };
    let step = |key: &str| format!("{pointer}/{}", key.replace('~', "~0").replace('/', "~1"));
    match (&node.value, *first) {
        (NodeValue::Table(t), "*") => {
            for (key, child) in t {
                walk(child, rest, step(key), found);
            }
        }
        (NodeValue::List(l), "*") => {
            for (i, child) in l.iter().enumerate() {
                walk(child, rest, step(&i.to_string()), found);
            }
        }
        (NodeValue::Table(t), key) => {
            if let Some(child) = t.get(key) {
                walk(child, rest, step(key), found);
            }
        }
        _ => {}
    }
}
