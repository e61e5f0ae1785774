//! A line as a tree: its runs of cable in order from its start.

use crate::document::Line;
use loamline_limits::LINE_FAULTS;
use std::collections::{BTreeMap, BTreeSet};

/// The runs of a line, turned away from its start and in depth-first order: every run comes after the run that
/// feeds it, and a chain reads from end to end.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LineTree {
    /// Where the line starts: a rack or stub.
    pub start: String,
    /// The runs; empty while the line is not laid out yet.
    pub runs: Vec<TreeRun>,
}

/// A run of a [`LineTree`].
#[derive(Debug, Clone, PartialEq)]
pub struct TreeRun {
    /// Id of the run.
    pub id: String,
    /// The end nearer to the start: a loudspeaker, joint, rack or stub.
    pub from: String,
    /// The end farther from the start.
    pub to: String,
    /// Whether the document writes it the other way round.
    pub reversed: bool,
    /// Index in [`LineTree::runs`] of the run that feeds this one; `None` at the start.
    pub fed_by: Option<usize>,
}

impl LineTree {
    /// Index of the run that arrives at a loudspeaker or joint.
    pub fn arriving(&self, node: &str) -> Option<usize> {
        self.runs.iter().position(|r| r.to == node)
    }

    /// Indices of the runs that leave a node away from the start.
    pub fn leaving<'t>(&'t self, node: &'t str) -> impl Iterator<Item = usize> + 't {
        self.runs.iter().enumerate().filter(move |(_, r)| r.from == node).map(|(i, _)| i)
    }

    /// Indices of the runs between the start and a node, from the start on; empty for the start itself.
    pub fn path_to(&self, node: &str) -> Vec<usize> {
        let mut path = Vec::new();
        let mut next = self.arriving(node);
        while let Some(i) = next {
            path.push(i);
            next = self.runs[i].fed_by;
        }
        path.reverse();
        path
    }

    /// Everything that lies behind a run, its far end first.
    pub fn behind(&self, run: usize) -> impl Iterator<Item = &str> {
        let mut within = vec![false; self.runs.len()];
        // Every run comes after the one that feeds it.
        for (index, one) in self.runs.iter().enumerate() {
            let fed = one.fed_by.is_some_and(|by| within.get(by).copied().unwrap_or(false));
            if let Some(cell) = within.get_mut(index) {
                *cell = index == run || fed;
            }
        }
        self.runs.iter().zip(within).filter(|(_, within)| *within).map(|(run, _)| run.to.as_str())
    }

    /// Everything the line joins, its start first, in the order of the runs.
    pub fn nodes(&self) -> impl Iterator<Item = &str> {
        std::iter::once(self.start.as_str()).chain(self.runs.iter().map(|r| r.to.as_str()))
    }
}

/// Why runs do not form a tree from the start.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum TreeFault {
    /// A run comes back to where the line already is; the ring of nodes it closes.
    Loop { run: String, ring: Vec<String> },
    /// Runs that hang together but not on the start.
    Apart { runs: Vec<String>, nodes: Vec<String> },
}

/// Nodes that hang together, whichever way: asked and joined in nearly no time.
#[derive(Default)]
struct Together<'l> {
    number: BTreeMap<&'l str, usize>,
    towards: Vec<usize>,
}

impl<'l> Together<'l> {
    fn group(&mut self, node: &'l str) -> usize {
        let next = self.towards.len();
        let mut at = *self.number.entry(node).or_insert(next);
        if at == next {
            self.towards.push(next);
        }
        while self.towards[at] != at {
            // Half of the way is saved for the next to ask.
            self.towards[at] = self.towards[self.towards[at]];
            at = self.towards[at];
        }
        at
    }

    /// Joins two nodes; whether they hung together already.
    fn join(&mut self, a: &'l str, b: &'l str) -> bool {
        let (a, b) = (self.group(a), self.group(b));
        self.towards[b] = a;
        a == b
    }
}

/// Builds the tree of a line's runs from `start`, or says what keeps them from being one.
pub(super) fn build(line: &Line, start: &str) -> Result<LineTree, Vec<TreeFault>> {
    let mut faults = Vec::new();
    let mut kept: Vec<(&str, &str, &str)> = Vec::new();
    let mut together = Together::default();
    for (id, run) in &line.runs {
        let (a, b) = (run.from.as_str(), run.to.as_str());
        if !together.join(a, b) {
            kept.push((id, a, b));
        } else if faults.len() < LINE_FAULTS.most()
            && let Some(mut ring) = path_between(&kept, a, b)
        {
            ring.push(a.to_owned());
            faults.push(TreeFault::Loop { run: id.clone(), ring });
        }
    }
    let mut tree = LineTree { start: start.to_owned(), runs: Vec::new() };
    grow(&mut tree, &kept, start);
    let reached: BTreeSet<&str> = tree.runs.iter().map(|r| r.id.as_str()).collect();
    let mut left: Vec<(&str, &str, &str)> = kept.iter().filter(|k| !reached.contains(k.0)).copied().collect();
    let loops = faults.len();
    while let Some(&(_, from, _)) = left.first().filter(|_| faults.len() < loops + LINE_FAULTS.most()) {
        let mut part = LineTree { start: from.to_owned(), runs: Vec::new() };
        grow(&mut part, &left, from);
        let runs: BTreeSet<&str> = part.runs.iter().map(|r| r.id.as_str()).collect();
        faults.push(TreeFault::Apart {
            runs: left.iter().filter(|k| runs.contains(k.0)).map(|k| k.0.to_owned()).collect(),
            nodes: part.nodes().map(str::to_owned).collect(),
        });
        left.retain(|k| !runs.contains(k.0));
    }
    if faults.is_empty() { Ok(tree) } else { Err(faults) }
}

/// Adds what hangs on `node`, depth first, in the order of the file, without recursion: a line may be long.
fn grow(tree: &mut LineTree, runs: &[(&str, &str, &str)], node: &str) {
    let mut at: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for (i, (_, a, b)) in runs.iter().enumerate() {
        at.entry(a).or_default().push(i);
        at.entry(b).or_default().push(i);
    }
    let mut used = vec![false; runs.len()];
    // Open ends, the one to follow next on top.
    let mut open: Vec<(usize, String, Option<usize>)> = Vec::new();
    let push = |open: &mut Vec<(usize, String, Option<usize>)>, node: &str, fed_by: Option<usize>| {
        for &i in at.get(node).map(Vec::as_slice).unwrap_or_default().iter().rev() {
            open.push((i, node.to_owned(), fed_by));
        }
    };
    push(&mut open, node, None);
    while let Some((i, from, fed_by)) = open.pop() {
        if std::mem::replace(&mut used[i], true) {
            continue;
        }
        let (id, a, b) = runs[i];
        let reversed = a != from;
        let to = if reversed { a } else { b };
        tree.runs.push(TreeRun { id: id.to_owned(), from, to: to.to_owned(), reversed, fed_by });
        push(&mut open, to, Some(tree.runs.len() - 1));
    }
}

/// Nodes on the way from `a` to `b` over these runs, both included.
fn path_between(runs: &[(&str, &str, &str)], a: &str, b: &str) -> Option<Vec<String>> {
    let mut tree = LineTree { start: a.to_owned(), runs: Vec::new() };
    if a == b {
        return Some(vec![a.to_owned()]);
    }
    grow(&mut tree, runs, a);
    tree.arriving(b)?;
    let way = tree.path_to(b).into_iter().map(|i| tree.runs[i].to.clone());
    Some(std::iter::once(a.to_owned()).chain(way).collect())
}
