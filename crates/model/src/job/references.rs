//! Ids that name something elsewhere: which keys hold them, and what they may name.
//!
//! Checked on the tree of values rather than on the finished document, so that a misspelt id is reported in the
//! same go as a misspelt key. What visits name is not among them: what was measured, done or photographed stays for ever,
//! also where the thing is gone; a finding says what it names and cannot be found.

use crate::catalogue::Catalogue;
use crate::reading::{Node, NodeValue, Problem, ProblemKind, did_you_mean, enough, kind_told, short};
use loamline_limits::PROBLEMS_TOLD;
use loamline_terms::{Sentence, say};
use std::collections::HashSet;

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

/// Where ids stand in a document: keys from its root, `*` for any id or list item.
pub(crate) type ReferencePath = &'static [&'static str];

/// Where an id stands (`*` is any id or list item), what it is called in messages, and what it may name.
const REFERENCES: &[(ReferencePath, &str, Target)] = &[
    (&["brief", "wishes", "models", "*"], "loudspeaker model", Target::LoudspeakerModel),
    (&["brief", "wishes", "not_models", "*"], "loudspeaker model", Target::LoudspeakerModel),
    (&["zones", "*", "phase"], "phase", PHASE),
    (&["areas", "*", "programme"], "programme", Target::Job(&["programmes"])),
    (&["areas", "*", "zone"], "zone", ZONE),
    (&["areas", "*", "phase"], "phase", PHASE),
    (&["racks", "*", "zone"], "zone", ZONE),
    (&["racks", "*", "phase"], "phase", PHASE),
    (&["lines", "*", "zone"], "zone", ZONE),
    (&["lines", "*", "phase"], "phase", PHASE),
    (&["amplifiers", "*", "phase"], "phase", PHASE),
    (&["stubs", "*", "cable"], "cable", Target::Cable),
    (&["stubs", "*", "rack"], "rack", Target::Job(&["racks"])),
    (&["loudspeakers", "*", "model"], "loudspeaker model", Target::LoudspeakerModel),
    (&["loudspeakers", "*", "line"], "line", Target::Job(&["lines"])),
    (&["lines", "*", "channel"], "channel", Target::Job(&["channels"])),
    (&["lines", "*", "start"], "rack or stub-out", Target::Job(&["racks", "stubs"])),
    (&["lines", "*", "cable"], "cable", Target::Cable),
    (&["lines", "*", "runs", "*", "from"], "loudspeaker, joint, rack or stub-out", RUN_ENDS),
    (&["lines", "*", "runs", "*", "to"], "loudspeaker, joint, rack or stub-out", RUN_ENDS),
    (&["lines", "*", "runs", "*", "cable"], "cable", Target::Cable),
    (&["lines", "*", "runs", "*", "sleeves", "*"], "sleeve", Target::Job(&["sleeves"])),
    (&["amplifiers", "*", "model"], "amplifier model", Target::AmplifierModel),
    (&["amplifiers", "*", "rack"], "rack", Target::Job(&["racks"])),
    (&["channels", "*", "amplifier"], "amplifier", Target::Job(&["amplifiers"])),
    (&["channels", "*", "programme"], "programme", Target::Job(&["programmes"])),
    (&["sources", "*", "rack"], "rack", Target::Job(&["racks"])),
    (&["leads", "*", "source"], "source", Target::Job(&["sources"])),
    (&["leads", "*", "amplifier"], "amplifier", Target::Job(&["amplifiers"])),
    (&["leads", "*", "link"], "link", Target::Job(&["links"])),
    (&["links", "*", "from"], "rack", Target::Job(&["racks"])),
    (&["links", "*", "to"], "rack", Target::Job(&["racks"])),
];

const ZONE: Target = Target::Job(&["zones"]);
const PHASE: Target = Target::Job(&["phases"]);
const RUN_ENDS: Target = Target::Job(&["loudspeakers", "joints", "racks", "stubs"]);

/// Where ids of things of a table of the job stand.
pub(crate) fn job_references(table: &str) -> Vec<ReferencePath> {
    let names = |target: &Target| matches!(target, Target::Job(tables) if tables.contains(&table));
    REFERENCES.iter().filter(|r| names(&r.2)).map(|r| r.0).collect()
}

/// An id that names nothing.
struct Lost<'n> {
    pointer: String,
    id: &'n str,
    /// Where it stands in its text.
    at: usize,
    /// Which of [`REFERENCES`].
    reference: usize,
}

/// Reports every id that names nothing.
pub(super) fn check_references(root: &Node, catalogue: &Catalogue, problems: &mut Vec<Problem>) {
    let mut lost: Vec<Lost<'_>> = Vec::new();
    for (reference, (path, _, target)) in REFERENCES.iter().enumerate() {
        if lost.len() > PROBLEMS_TOLD.most() && enough(problems) {
            break;
        }
        let known: HashSet<&str> = known_ids(*target, root, catalogue).into_iter().collect();
        walk(root, path, String::new(), &mut |node, pointer| {
            let NodeValue::Text(id) = &node.value else { return };
            if !known.contains(id.as_str()) {
                lost.push(Lost { pointer, id, at: node.span.as_ref().map_or(0, |s| s.start), reference });
            }
        });
    }
    // What a word may have meant takes a look at every known one: only for those that are told.
    let mut order: Vec<usize> = (0..lost.len()).collect();
    order.sort_by_key(|&i| lost[i].at);
    let told: HashSet<usize> = order.into_iter().take(PROBLEMS_TOLD.most()).collect();
    let mut known: Option<(usize, Vec<&str>)> = None;
    for (i, Lost { pointer, id, reference, .. }) in lost.into_iter().enumerate() {
        if enough(problems) {
            return;
        }
        let (_, called, target) = REFERENCES[reference];
        let hint = told.contains(&i).then(|| {
            let (_, known) = match known.take() {
                Some(k) if k.0 == reference => known.insert(k),
                _ => known.insert((reference, known_ids(target, root, catalogue))),
            };
            did_you_mean(id, known.iter().copied()).unwrap_or_else(|| offered(known, called))
        });
        let kind = ProblemKind::UnknownId { kind: called, id: short(id) };
        let by_key = known
            .as_ref()
            .is_some_and(|(of, known)| *of == reference && known.is_empty())
            .then(|| format!("there is no {called} at all yet: add one, or take this key out"));
        problems.push(Problem::new(pointer, kind).hint(hint).key_hint(by_key));
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
fn offered(known: &[&str], called: &'static str) -> Sentence {
    match known.len() {
        0 => say!("there is no {kind} at all yet: add one first", kind = kind_told(called)),
        1..=12 => say!("there is: {known}", known = known.join(", ")),
        n => say!("{count} others are defined; none is spelt like this", count = n.to_string()),
    }
}

fn walk<'n>(node: &'n Node, path: &[&str], pointer: String, found: &mut impl FnMut(&'n Node, String)) {
    let Some((first, rest)) = path.split_first() else { return found(node, pointer) };
    let step = |key: &str| loamline_terms::pointer::child(&pointer, key);
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
