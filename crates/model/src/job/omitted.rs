//! What the rules between the parts of a job must leave alone.

use crate::document::JobDocument;
use crate::reading::{Node, NodeValue};
use std::collections::BTreeSet;

/// Entries that stand in the file but could not be read, by section: rules that depend on them are left alone.
pub(super) struct Omitted(BTreeSet<(String, String)>);

impl Omitted {
    pub(super) fn new(root: &Node, document: &JobDocument) -> Self {
        let read = |section: &str, id: &str| match section {
            "loudspeakers" => document.loudspeakers.contains_key(id),
            "joints" => document.joints.contains_key(id),
            "racks" => document.racks.contains_key(id),
            "stubs" => document.stubs.contains_key(id),
            "lines" => document.lines.contains_key(id),
            "channels" => document.channels.contains_key(id),
            "amplifiers" => document.amplifiers.contains_key(id),
            "sources" => document.sources.contains_key(id),
            "leads" => document.leads.contains_key(id),
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

    /// Of a job of which everything could be read.
    pub(super) const fn none() -> Self {
        Self(BTreeSet::new())
    }

    pub(super) fn has(&self, section: &str, id: &str) -> bool {
        self.0.contains(&(section.to_owned(), id.to_owned()))
    }

    /// Whether any entry of a section could not be read.
    pub(super) fn any(&self, section: &str) -> bool {
        self.0.iter().any(|(s, _)| s == section)
    }

    /// Whether the id of a run's end belongs to an entry that could not be read.
    pub(super) fn has_run_end(&self, id: &str) -> bool {
        ["loudspeakers", "joints", "racks", "stubs"].iter().any(|s| self.has(s, id))
    }
}
