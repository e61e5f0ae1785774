//! Existing cable: what a line that starts at a stub takes of the stub's cable.

use super::Job;
use crate::catalogue::{Cable, Catalogue};
use crate::document::{JobDocument, Line, Rack, Stub};
use indexmap::IndexMap;

/// The existing cable a line comes through, from the rack to its stub.
#[derive(Debug, Clone, PartialEq)]
pub struct ExistingCable<'j> {
    /// Tag of the stub.
    pub stub_id: &'j str,
    /// The stub.
    pub stub: &'j Stub,
    /// Tag of the rack its other end is in.
    pub rack_id: &'j str,
    /// The rack.
    pub rack: &'j Rack,
    /// Catalogue id of the cable.
    pub cable_id: &'j str,
    /// The cable.
    pub cable: &'j Cable,
    /// Tag of the run it is in the line: the stub's, which says where it ends.
    pub run_id: String,
    /// Pairs the line takes, from 1, in parallel where there are several; empty where none is left for it.
    pub pairs: Vec<u32>,
}

impl JobDocument {
    /// Tag of the rack a stub's cable comes from: as written, or the only rack there is.
    pub fn rack_of_stub<'d>(&'d self, stub: &'d Stub) -> Option<&'d str> {
        stub.rack.as_deref().or_else(|| match self.racks.len() {
            1 => self.racks.keys().next().map(String::as_str),
            _ => None,
        })
    }

    /// The lines that start at a stub, in the order of the document.
    pub fn lines_at_stub<'d>(&'d self, stub: &'d str) -> impl Iterator<Item = (&'d str, &'d Line)> {
        let starts = move |(_, line): &(&String, &Line)| line.start.as_deref() == Some(stub);
        self.lines.iter().filter(starts).map(|(id, line)| (id.as_str(), line))
    }

    /// Pairs of a stub's cable that are free to use, from 1, in order; how many of them may be used is
    /// [`JobDocument::most_pairs_of_stub`].
    pub fn free_pairs_of_stub(&self, stub: &Stub, catalogue: &Catalogue) -> Vec<u32> {
        let all = catalogue.cables.get(&stub.cable).map_or(0, |c| c.conductors / 2);
        (1..=all).filter(|pair| stub.free_pairs.as_ref().is_none_or(|free| free.contains(pair))).collect()
    }

    /// How many pairs of a stub's cable may be used.
    pub fn most_pairs_of_stub(&self, stub: &Stub, catalogue: &Catalogue) -> usize {
        let free = self.free_pairs_of_stub(stub, catalogue).len();
        stub.free_conductors.map_or(free, |conductors| free.min(conductors as usize / 2))
    }

    /// Pairs of a stub's cable by line. A line has those it names; the others, in their order, the one of the number
    /// they use in their own cable where that is free, else the next free one. A line for which none is left has none.
    pub fn pairs_of_stub(&self, id: &str, catalogue: &Catalogue) -> IndexMap<String, Vec<u32>> {
        let Some(stub) = self.stubs.get(id) else { return IndexMap::new() };
        let lines: Vec<(&str, &Line)> = self.lines_at_stub(id).collect();
        let mut taken: Vec<u32> =
            lines.iter().flat_map(|(_, line)| line.stub_pairs.iter().copied()).collect();
        let (free, most) =
            (self.free_pairs_of_stub(stub, catalogue), self.most_pairs_of_stub(stub, catalogue));
        let mut pairs = IndexMap::new();
        for (id, line) in lines {
            let own = if line.stub_pairs.is_empty() {
                let left = |pair: &&u32| !taken.contains(pair) && taken.len() < most;
                let own = free.iter().filter(left).find(|pair| **pair == line.pair);
                let next = own.or_else(|| free.iter().find(left)).copied();
                taken.extend(next);
                next.into_iter().collect()
            } else {
                line.stub_pairs.clone()
            };
            pairs.insert(id.to_owned(), own);
        }
        pairs
    }
}

impl Job {
    /// The existing cable a line comes through; `None` for a line that starts at a rack, or nowhere yet.
    pub fn existing_cable(&self, line: &str) -> Option<ExistingCable<'_>> {
        let document = self.document();
        let written = document.lines.get(line)?;
        let (stub_id, stub) = document.stubs.get_key_value(written.start.as_ref()?)?;
        let (rack_id, rack) = document.racks.get_key_value(document.rack_of_stub(stub)?)?;
        let (cable_id, cable) = self.catalogue().cables.get_key_value(&stub.cable)?;
        // A run of the line may carry the stub's tag already.
        let mut run_id = stub_id.clone();
        while written.runs.contains_key(&run_id) {
            run_id.push_str(" existing");
        }
        let pairs = document.pairs_of_stub(stub_id, self.catalogue()).swap_remove(line).unwrap_or_default();
        Some(ExistingCable { stub_id, stub, rack_id, rack, cable_id, cable, run_id, pairs })
    }
}
