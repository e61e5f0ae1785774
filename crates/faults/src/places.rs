//! Where a meter is connected, and which faults it can see from there.

use loamline_electrics::{Change, Line, Network};
use serde::{Deserialize, Serialize};

use crate::hypotheses::Fault;

/// Where a meter is connected.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Place {
    /// At the source joint, amplifier disconnected.
    Rack,
    /// At a joint, the run towards the rack taken off, looking away from the rack.
    Downstream(String),
}

/// Which joint lies behind which on a tree.
pub(crate) struct Tree {
    /// Per joint, the run towards the source; all `None` on a line with loops, where opening one joint parts nothing.
    pub(crate) upstream: Vec<Option<usize>>,
    /// Per joint, the next joint towards the source.
    towards: Vec<Option<usize>>,
}

impl Tree {
    pub(crate) fn new(network: &Network) -> Self {
        let count = network.joints().len();
        let mut tree = Self { upstream: vec![None; count], towards: vec![None; count] };
        let runs = (0..network.run_names().len()).filter_map(|run| Some((Some(run), network.run_ends(run)?)));
        let mut links: Vec<_> = runs.collect();
        // From a joint with a loudspeaker in series to what leaves behind it there is no run to take off.
        for ends in network.series_joints() {
            if links.iter().all(|(_, other)| *other != ends) {
                links.push((None, ends));
            }
        }
        if links.len() + 1 != count {
            return tree;
        }
        let mut adjacent = vec![Vec::new(); count];
        for (run, (from, to)) in links {
            adjacent[from].push((to, run));
            adjacent[to].push((from, run));
        }
        let mut waiting = vec![network.source_index()];
        while let Some(joint) = waiting.pop() {
            for &(next, run) in &adjacent[joint] {
                if tree.towards[joint] != Some(next) {
                    tree.upstream[next] = run;
                    tree.towards[next] = Some(joint);
                    waiting.push(next);
                }
            }
        }
        tree
    }

    /// `joint` is `ancestor` or lies behind it.
    pub(crate) fn behind(&self, mut joint: usize, ancestor: usize) -> bool {
        loop {
            if joint == ancestor {
                return true;
            }
            match self.towards[joint] {
                Some(next) => joint = next,
                None => return false,
            }
        }
    }

    /// A meter at `joint`, looking away from the rack, can see the fault.
    pub(crate) fn seen_from(&self, network: &Network, line: &Line, joint: usize, fault: &Fault) -> bool {
        match fault {
            Fault::Healthy | Fault::Swapped { .. } => false,
            Fault::Two { first, second } => {
                [first, second].into_iter().any(|one| self.seen_from(network, line, joint, one))
            }
            Fault::Open { run } | Fault::ShortAlong { run } | Fault::HighSplice { run } => {
                let index = network.run_names().position(|name| name == run);
                index
                    .and_then(|run| network.run_ends(run))
                    .is_some_and(|(from, to)| self.behind(from, joint) && self.behind(to, joint))
            }
            Fault::ShortAt { joint: at } | Fault::Wet { joint: at } | Fault::SwappedAt { joint: at, .. } => {
                network.joint_index(at).is_some_and(|at| self.behind(at, joint))
            }
            Fault::WrongTap { load, .. } | Fault::LowImpedance { load } | Fault::Missing { load } => {
                let at = line.loads.iter().find(|other| other.name == *load).map(|load| &load.at);
                at.and_then(|at| network.joint_index(at)).is_some_and(|at| self.behind(at, joint))
            }
        }
    }
}

/// Joints at which somebody who opens them sees the fault, with the share of such faults seen there. Faults along a run are
/// seen at no joint; a splice is at either end of its run.
pub(crate) fn visible_at(line: &Line, fault: &Fault) -> Vec<(String, f64)> {
    match fault {
        Fault::Healthy | Fault::Swapped { .. } | Fault::ShortAlong { .. } | Fault::Open { .. } => Vec::new(),
        Fault::HighSplice { run } => {
            let run = line.runs.iter().find(|other| other.name == *run);
            run.map_or_else(Vec::new, |run| [&run.from, &run.to].map(|joint| (joint.clone(), 0.5)).to_vec())
        }
        Fault::ShortAt { joint } | Fault::Wet { joint } | Fault::SwappedAt { joint, .. } => {
            vec![(joint.clone(), 1.0)]
        }
        Fault::Two { first, second } => {
            let mut all = visible_at(line, first);
            for (joint, share) in visible_at(line, second) {
                match all.iter_mut().find(|(other, _)| *other == joint) {
                    // Neither is there with the product of what is left of each.
                    Some((_, seen)) => *seen = 1.0 - (1.0 - *seen) * (1.0 - share),
                    None => all.push((joint, share)),
                }
            }
            all
        }
        Fault::WrongTap { load, .. } | Fault::LowImpedance { load } | Fault::Missing { load } => {
            let at = line.loads.iter().find(|other| other.name == *load);
            at.map_or_else(Vec::new, |load| vec![(load.at.clone(), 1.0)])
        }
    }
}

/// The run taken off the joint.
pub(crate) fn cut_at(network: &Network, run: usize, joint: usize) -> Change {
    let at_start = network.run_ends(run).is_some_and(|(from, _)| from == joint);
    Change::Cut { run, fraction: if at_start { 0.0 } else { 1.0 } }
}
