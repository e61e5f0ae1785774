//! Cable between a line's start and where the search for its ways begins: the trunk it shares with other lines.

use super::choice::loop_ohm;
use loamline_adapt::{Carried, LaidCable, LaidRun};
use loamline_geometry::Point2;
use loamline_model::document::{Line, Run};
use loamline_model::{Job, LineView};
use loamline_routing::{Opened, Sleeve};
use std::collections::BTreeMap;

/// Cable a line comes through before it is on its own.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Before {
    /// Its runs, from the start on.
    pub runs: Vec<Run>,
    /// Tags of those the document has already.
    pub kept: Vec<String>,
    /// Tag of the joint it ends at.
    pub end: String,
    /// Where that is.
    pub at: Point2,
    /// Its loop resistance, ohm.
    pub ohm: f64,
}

/// What stays as it lies before each line: runs from its start on, from joint to joint without a branch, that are there
/// already, or that a person fixed and that lie in one cable with another line's.
pub(super) fn kept(job: &Job, runs: &[LaidRun], cables: &[LaidCable]) -> BTreeMap<String, Before> {
    job.lines().filter_map(|v| Some((v.id.to_owned(), kept_of(job, &v, runs, cables)?))).collect()
}

fn kept_of(job: &Job, view: &LineView<'_>, runs: &[LaidRun], cables: &[LaidCable]) -> Option<Before> {
    let shared = |run: &str| {
        let own = |c: &&LaidCable| c.carries.iter().any(|x| x.line == view.id && x.run == run);
        cables.iter().find(own).is_some_and(|c| c.lines().len() > 1)
    };
    let mut found: Option<Before> = None;
    let mut at = view.tree.start.clone();
    loop {
        let leaving: Vec<usize> = view.tree.leaving(&at).collect();
        let &[next] = leaving.as_slice() else { return found };
        let tree_run = view.tree.runs.get(next)?;
        let written = view.line.runs.get(&tree_run.id)?;
        let Some(joint) = job.document().joints.get(&tree_run.to) else { return found };
        if !(written.existing || (written.fixed && shared(&tree_run.id))) {
            return found;
        }
        let laid = runs.iter().find(|r| r.line == view.id && r.id == tree_run.id)?;
        let ohm = loop_ohm(job, &laid.cable) * laid.electrical_m();
        let so_far = found.get_or_insert_with(|| Before {
            runs: Vec::new(),
            kept: Vec::new(),
            end: String::new(),
            at: joint.position,
            ohm: 0.0,
        });
        so_far.runs.push(written.clone());
        so_far.kept.push(tree_run.id.clone());
        (so_far.end, so_far.at) = (tree_run.to.clone(), joint.position);
        so_far.ohm += ohm;
        at.clone_from(&tree_run.to);
    }
}

/// Whether a line stays as it lies: who is in series with whom is not a route's to change.
pub(super) fn stays(line: &Line) -> bool {
    line.runs.values().any(|run| run.in_series)
}

/// Cables to lay that keep their way: the runs of each that come before a line, all of a line that stays.
fn laid_before<'a>(
    job: &'a Job,
    before: &'a BTreeMap<String, Before>,
    runs: &'a [LaidRun],
    cables: &'a [LaidCable],
) -> impl Iterator<Item = &'a LaidRun> {
    let kept = |c: &&LaidCable| {
        let of = |x: &Carried| {
            before.get(&x.line).is_some_and(|b| b.kept.contains(&x.run))
                || job.document().lines.get(&x.line).is_some_and(stays)
        };
        !c.existing && c.carries.iter().any(of)
    };
    cables.iter().filter(kept).filter_map(|c| runs.get(c.lead))
}

/// Ground that stays open for others beside what keeps its way.
pub(super) fn opened_by(
    job: &Job,
    before: &BTreeMap<String, Before>,
    runs: &[LaidRun],
    cables: &[LaidCable],
) -> Opened {
    let open = laid_before(job, before, runs, cables).flat_map(crate::needs::open_stretches);
    Opened { ground: open.map(|s| [s.a, s.b]).collect(), holes: Vec::new() }
}

/// Draws what keeps its way through its sleeves.
pub(super) fn fill(
    job: &Job,
    before: &BTreeMap<String, Before>,
    runs: &[LaidRun],
    cables: &[LaidCable],
    sleeves: &mut [Sleeve],
) {
    for run in laid_before(job, before, runs, cables) {
        let Some(cable) = job.catalogue().cables.get(&run.cable) else { continue };
        for sleeve in sleeves.iter_mut().filter(|s| run.sleeves.contains(&s.id)) {
            sleeve.occupants_mm.push(1000.0 * cable.outside_diameter_m);
        }
    }
}
