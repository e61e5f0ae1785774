//! From a tree of values to a [`Job`]: shape, ids, then the rules between parts, every problem in one go.

use super::Job;
use super::lines::check_lines;
use super::omitted::Omitted;
use super::references::check_references;
use super::rules::check_rules;
use crate::catalogue::Catalogue;
use crate::document::JobDocument;
use crate::reading::{Node, NodeValue, Place, Problem, Record as _};
use indexmap::IndexMap;
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
    check_rules(&document, &catalogue, &left_out, &mut problems);
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
        sections.entry("format".into()).or_insert_with(|| Node::without_place(NodeValue::Whole(1)));
        sections.entry("job".into()).or_insert_with(|| {
            let name = Node::without_place(NodeValue::Text(String::new()));
            Node::without_place(NodeValue::Table(IndexMap::from([("name".to_owned(), name)])))
        });
    }
    copy
}

fn unescape(part: &str) -> String {
    part.replace("~1", "/").replace("~0", "~")
}
