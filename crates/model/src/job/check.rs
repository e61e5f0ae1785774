//! From a tree of values to a [`Job`]: shape, ids, then the rules between parts, every problem in one go.

use super::Job;
use super::lines::check_lines;
use super::references::check_references;
use super::rules::check_rules;
use crate::catalogue::Catalogue;
use crate::document::{JobDocument, KeptLine, Line};
use crate::reading::{Node, NodeValue, Place, Problem, Record as _};
use indexmap::IndexMap;
use std::collections::BTreeSet;
use std::sync::Arc;

/// Reads and checks a job.
pub(crate) fn check(root: &Node, catalogue: Arc<Catalogue>) -> Result<Job, Vec<Problem>> {
    let mut problems = Vec::new();
    let shape = JobDocument::read(root, &Place::ROOT, &mut problems);
    check_references(root, &catalogue, &mut problems);
    // Where some entries cannot be read, the rules between the others are still worth checking.
    let document = match shape {
        Some(document) if problems.is_empty() => Some(document),
        _ => JobDocument::read(&without_faulty_entries(root, &problems), &Place::ROOT, &mut Vec::new()),
    };
    let Some(document) = document else { return Err(problems) };
    let left_out = Omitted::new(root, &document);
    check_rules(&document, &catalogue, &mut problems);
    let trees = check_lines(&document, &catalogue, &left_out, &mut problems);
    if problems.is_empty() {
        Ok(Job { document: Arc::new(document), catalogue, trees })
    } else {
        Err(problems)
    }
}

/// A copy without the entries that have problems, so that the rest can be read.
fn without_faulty_entries(root: &Node, problems: &[Problem]) -> Node {
    let mut copy = root.clone();
    for problem in problems {
        let parts: Vec<String> = problem.pointer.split('/').skip(1).map(unescape).collect();
        let NodeValue::Table(sections) = &mut copy.value else { break };
        match parts.as_slice() {
            // `format` or `job` missing at the root: put in something that reads.
            [] => {}
            [section, id, ..] if !matches!(section.as_str(), "job" | "brief" | "site") => {
                if let Some(NodeValue::Table(entries)) = sections.get_mut(section).map(|s| &mut s.value) {
                    entries.shift_remove(id);
                }
            }
            [section, ..] => {
                sections.shift_remove(section);
            }
        }
    }
    if let NodeValue::Table(sections) = &mut copy.value {
        sections.entry("format".into()).or_insert_with(|| Node::bare(NodeValue::Whole(1)));
        sections.entry("job".into()).or_insert_with(|| {
            let name = Node::bare(NodeValue::Text(String::new()));
            Node::bare(NodeValue::Table(IndexMap::from([("name".to_owned(), name)])))
        });
    }
    copy
}

fn unescape(part: &str) -> String {
    part.replace("~1", "/").replace("~0", "~")
}

/// A job that holds one line as it was, on the site and with the catalogue of this one.
///
/// # Errors
/// What it needs and is gone, in a sentence.
pub(super) fn job_of_kept(of: &Job, kept: &KeptLine) -> Result<Job, String> {
    let mut document = of.document().clone();
    document.lines = IndexMap::from([(kept.line.clone(), Line { channel: None, ..kept.as_it_was.clone() })]);
    document.loudspeakers = kept.loudspeakers.clone();
    document.joints = kept.joints.clone();
    document.racks.extend(kept.racks.clone());
    document.stubs.extend(kept.stubs.clone());
    document.channels.clear();
    document.amplifiers.clear();
    document.visits.clear();
    let cables = std::iter::once(&kept.as_it_was.cable)
        .chain(kept.as_it_was.runs.values().filter_map(|r| r.cable.as_ref()));
    let mut gone = cables.filter(|c| !of.catalogue.cables.contains_key(*c));
    let mut models = kept.loudspeakers.values().map(|l| &l.model);
    if let Some(cable) = gone.next() {
        return Err(format!("its cable \"{cable}\" is in the catalogue no more"));
    }
    if let Some(model) = models.find(|m| !of.catalogue.loudspeakers.contains_key(*m)) {
        return Err(format!("its loudspeaker \"{model}\" is in the catalogue no more"));
    }
    let mut problems = Vec::new();
    let trees = check_lines(&document, &of.catalogue, &Omitted(BTreeSet::new()), &mut problems);
    match problems.first() {
        None => Ok(Job { document: Arc::new(document), catalogue: of.catalogue.clone(), trees }),
        Some(problem) => Err(problem.kind.to_string()),
    }
}

/// Entries that stand in the file but could not be read, by section: rules that depend on them are left alone.
pub(super) struct Omitted(BTreeSet<(String, String)>);

impl Omitted {
    fn new(root: &Node, document: &JobDocument) -> Self {
        let read = |section: &str, id: &str| match section {
            "loudspeakers" => document.loudspeakers.contains_key(id),
            "joints" => document.joints.contains_key(id),
            "racks" => document.racks.contains_key(id),
            "stubs" => document.stubs.contains_key(id),
            "lines" => document.lines.contains_key(id),
            "channels" => document.channels.contains_key(id),
            "amplifiers" => document.amplifiers.contains_key(id),
            _ => true,
        };
        let mut left_out = BTreeSet::new();
        if let NodeValue::Table(sections) = &root.value {
            for (section, node) in sections {
                if let NodeValue::Table(entries) = &node.value {
                    let lost = entries.keys().filter(|id| !read(section, id));
                    left_out.extend(lost.map(|id| (section.clone(), id.clone())));
                }
            }
        }
        Self(left_out)
    }

    pub(super) fn has(&self, section: &str, id: &str) -> bool {
        self.0.contains(&(section.to_owned(), id.to_owned()))
    }

    /// Whether the id of a run's end belongs to an entry that could not be read.
    pub(super) fn has_run_end(&self, id: &str) -> bool {
        ["loudspeakers", "joints", "racks", "stubs"].iter().any(|s| self.has(s, id))
    }
}
