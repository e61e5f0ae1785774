//! From a tree of values to a [`Job`]: shape, ids, then the rules between parts, every problem in one go.

use super::Job;
use super::lines::check_lines;
use super::omitted::Omitted;
use super::references::check_references;
use super::rules::check_rules;
use crate::catalogue::Catalogue;
use crate::document::JobDocument;
use crate::reading::{DocumentPlace, Node, NodeValue, Problem, Record as _};
use indexmap::IndexMap;
use loamline_terms::pointer;
use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Reads and checks a job.
pub(crate) fn check(root: &Node, catalogue: Arc<Catalogue>) -> Result<Job, Vec<Problem>> {
    let mut problems = Vec::new();
    let shape = JobDocument::read(root, &DocumentPlace::ROOT, &mut problems);
    check_references(root, &catalogue, &mut problems);
    // Where some entries cannot be read, the rules between the others are still worth checking.
    let document = match shape {
        Some(document) if problems.is_empty() => Some(document),
        _ => {
            JobDocument::read(&without_faulty_entries(root, &problems), &DocumentPlace::ROOT, &mut Vec::new())
        }
    };
    let Some(document) = document else { return Err(problems) };
    let left_out = Omitted::new(root, &document);
    check_rules(&document, &catalogue, &left_out, &mut problems);
    let trees = check_lines(&document, &catalogue, &left_out, &mut problems);
    if problems.is_empty() { Ok(Job::of(document, catalogue, trees)) } else { Err(problems) }
}

/// A copy without the entries that have problems, so that the rest can be read.
fn without_faulty_entries(root: &Node, problems: &[Problem]) -> Node {
    let mut sections: BTreeSet<String> = BTreeSet::new();
    let mut entries: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for problem in problems {
        let mut parts = pointer::keys(&problem.pointer).map(Cow::into_owned);
        match (parts.next(), parts.next()) {
            // `format` or `job` missing at the root: put in something that reads.
            (None, _) => {}
            (Some(section), Some(id)) if !matches!(section.as_str(), "job" | "brief" | "site") => {
                entries.entry(section).or_default().insert(id);
            }
            (Some(section), _) => {
                sections.insert(section);
            }
        }
    }
    let kept = |section: &Node, faulty: &BTreeSet<String>| match &section.value {
        NodeValue::Table(all) => {
            let good = all.iter().filter(|(id, _)| !faulty.contains(*id));
            let all = good.map(|(id, node)| (id.clone(), node.clone())).collect();
            Node { value: NodeValue::Table(all), ..section.clone_place() }
        }
        _ => section.clone(),
    };
    let NodeValue::Table(all) = &root.value else { return root.clone() };
    let mut copy: IndexMap<String, Node> = IndexMap::with_capacity(all.len());
    for (name, section) in all.iter().filter(|(name, _)| !sections.contains(*name)) {
        let section = match entries.get(name) {
            Some(faulty) => kept(section, faulty),
            None => section.clone(),
        };
        copy.insert(name.clone(), section);
    }
    copy.entry("format".into()).or_insert_with(|| Node::without_place(NodeValue::Whole(1)));
    copy.entry("job".into()).or_insert_with(|| {
        let name = Node::without_place(NodeValue::Text(String::new()));
        Node::without_place(NodeValue::Table(IndexMap::from([("name".to_owned(), name)])))
    });
    Node { value: NodeValue::Table(copy), ..root.clone_place() }
}
