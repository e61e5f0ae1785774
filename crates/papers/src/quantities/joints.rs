//! Joints: which conductor meets which, and the connectors that takes.
//!
//! Common practice, no source: a joint wherever cable ends meet away from a rack, at every loudspeaker too; like
//! colours join like; one gel-filled connector per conductor; a conductor that goes no further is capped with a
//! connector of its own; a strain tie for every cable end; a service loop on every cable.

use loamline_model::catalogue::{Cable, Connector};
use loamline_model::document::{Line, Polarity};
use loamline_model::{Job, JobNode};
use loamline_study::LaidRun;

/// One conductor of a joint.
#[derive(Debug, Clone, PartialEq)]
pub struct JointConductor {
    /// Colour of the conductor, or its number where the catalogue gives no colours.
    pub colour: String,
    /// Whether it is the positive one of its pair.
    pub positive: bool,
    /// Whether it carries this line's signal.
    pub in_use: bool,
    /// Tags of the runs that bring it here.
    pub runs: Vec<String>,
    /// Terminal of the loudspeaker that joins it: `+` or `-`; none where it does not.
    pub terminal: Option<char>,
    /// Catalogue ids of the connectors it takes, one each.
    pub connectors: Vec<String>,
}

impl JointConductor {
    /// Wires that meet.
    pub fn wires(&self) -> usize {
        self.runs.len() + usize::from(self.terminal.is_some())
    }
}

/// A joint to make.
#[derive(Debug, Clone, PartialEq)]
pub struct JointNeed {
    /// Tag of the joint or loudspeaker.
    pub at: String,
    /// Line it belongs to.
    pub line: String,
    /// Run that comes from the rack.
    pub from_rack: String,
    /// Runs that go on.
    pub onward: Vec<String>,
    /// Whether a loudspeaker is connected here.
    pub loudspeaker: bool,
    /// Conductors, in the order of the cable.
    pub conductors: Vec<JointConductor>,
}

impl JointNeed {
    /// Cable ends that meet here, each with a strain tie and a service loop.
    pub fn cable_ends(&self) -> usize {
        1 + self.onward.len()
    }
}

/// Every joint of a job, line by line, from the rack outwards.
pub fn joint_needs(job: &Job, runs: &[LaidRun]) -> Vec<JointNeed> {
    let mut out = Vec::new();
    for view in job.lines() {
        let own: Vec<&LaidRun> = runs.iter().filter(|r| r.line == view.id).collect();
        for arriving in &own {
            if matches!(job.node(&arriving.to), Some(JobNode::Rack(_) | JobNode::Stub(_)) | None) {
                continue;
            }
            let onward: Vec<&LaidRun> = own.iter().copied().filter(|r| r.from == arriving.to).collect();
            let speaker = job.loudspeaker(&arriving.to);
            let polarity = speaker.map(|l| l.placed.polarity);
            let ends: Vec<&LaidRun> = std::iter::once(*arriving).chain(onward.iter().copied()).collect();
            out.push(JointNeed {
                at: arriving.to.clone(),
                line: view.id.to_owned(),
                from_rack: arriving.id.clone(),
                onward: onward.iter().map(|r| r.id.clone()).collect(),
                loudspeaker: speaker.is_some(),
                conductors: conductors(job, view.line, &ends, polarity),
            });
        }
    }
    out
}

fn conductors(job: &Job, line: &Line, ends: &[&LaidRun], polarity: Option<Polarity>) -> Vec<JointConductor> {
    let cable = |r: &LaidRun| job.catalogue().cables.get(&r.cable);
    let most = ends.iter().filter_map(|r| cable(r)).map(|c| c.conductors).max().unwrap_or(0);
    let size_mm2 = ends.iter().filter_map(|r| cable(r)).map(|c| c.conductor_mm2).fold(0.0, f64::max);
    let first = ends.iter().find_map(|r| cable(r).filter(|c| c.conductors == most));
    (1..=most)
        .map(|number| {
            let positive = number % 2 == 1;
            let in_use = (number - 1) / 2 + 1 == line.pair;
            let runs: Vec<String> = ends
                .iter()
                .filter(|r| cable(r).is_some_and(|c| c.conductors >= number))
                .map(|r| r.id.clone())
                .collect();
            let terminal = polarity
                .filter(|_| in_use)
                .map(|polarity| if positive == (polarity == Polarity::Normal) { '+' } else { '-' });
            let wires = runs.len() + usize::from(terminal.is_some());
            JointConductor {
                colour: first.map_or_else(|| number.to_string(), |c| colour(c, number)),
                positive,
                in_use,
                connectors: connectors(job, size_mm2, wires),
                runs,
                terminal,
            }
        })
        .collect()
}

fn colour(cable: &Cable, number: u32) -> String {
    let named = cable.colours.get(number as usize - 1);
    named.cloned().unwrap_or_else(|| number.to_string())
}

/// Connectors for so many wires of a size: the cheapest gel-filled one that takes them all; where none is large
/// enough, several of the largest in a row, each giving up one place to the next.
fn connectors(job: &Job, size_mm2: f64, wires: usize) -> Vec<String> {
    let fitting: Vec<(&String, &Connector)> = job
        .catalogue()
        .connectors
        .iter()
        .filter(|(_, c)| {
            c.gel_filled && c.smallest_mm2 <= size_mm2 + 1e-9 && size_mm2 <= c.largest_mm2 + 1e-9
        })
        .collect();
    let enough = fitting.iter().filter(|(_, c)| c.conductors as usize >= wires);
    if let Some((id, _)) = enough.min_by_key(|(_, c)| c.price) {
        return vec![(*id).clone()];
    }
    let Some((id, largest)) = fitting.iter().max_by_key(|(_, c)| c.conductors) else {
        return Vec::new();
    };
    let each = (largest.conductors as usize).saturating_sub(1).max(1);
    vec![(*id).clone(); wires.saturating_sub(1).div_ceil(each)]
}
