//! Two lines whose pairs are swapped at a joint both come through: as far as the joint each is itself, behind it the other.

use std::collections::BTreeSet;

use loamline_electrics::{Line, Load, Run};

use crate::hypotheses::Fault;

/// What a line is when its pairs are swapped with another line's at one joint.
pub(crate) struct SwappedAt {
    pub(crate) fault: Fault,
    /// The line on its terminals then.
    pub(crate) line: Line,
}

/// Every joint away from their starts that a line shares with another, as long as both go on behind it.
pub(crate) fn swapped_at(line: &Line, others: &[&Line]) -> Vec<SwappedAt> {
    let mut all = Vec::new();
    for other in others {
        for joint in joints(line).filter(|joint| joints(other).any(|j| j == *joint)) {
            let (own, theirs) = (behind(line, joint), behind(other, joint));
            let is_loudspeaker = |line: &Line| line.loads.iter().any(|load| load.at == joint);
            if own.is_empty() || theirs.is_empty() || is_loudspeaker(line) || is_loudspeaker(other) {
                continue;
            }
            all.push(SwappedAt {
                fault: Fault::SwappedAt { joint: joint.to_owned(), line: other.name.clone() },
                line: going_on_as(line, &own, other, &theirs),
            });
        }
    }
    all
}

/// The joints of a line but its start, each once, in the order of its runs.
fn joints(line: &Line) -> impl Iterator<Item = &str> {
    let mut seen = BTreeSet::from([line.source_joint.as_str()]);
    let ends = line.runs.iter().flat_map(|run| [run.from.as_str(), run.to.as_str()]);
    ends.filter(move |joint| seen.insert(joint))
}

/// What is reached from the start of a line only through a joint.
fn behind<'a>(line: &'a Line, joint: &str) -> BTreeSet<&'a str> {
    let mut reached = vec![line.source_joint.as_str()];
    let mut done = 0;
    while let Some(&here) = reached.get(done) {
        done += 1;
        if here == joint {
            continue;
        }
        for run in &line.runs {
            let ends = [(run.from.as_str(), run.to.as_str()), (run.to.as_str(), run.from.as_str())];
            for (_, next) in ends.into_iter().filter(|(from, _)| *from == here) {
                if !reached.contains(&next) {
                    reached.push(next);
                }
            }
        }
    }
    let ends = line.runs.iter().flat_map(|run| [run.from.as_str(), run.to.as_str()]);
    ends.filter(|end| !reached.contains(end)).collect()
}

/// A line whose part behind a joint is another line's.
fn going_on_as(line: &Line, own: &BTreeSet<&str>, other: &Line, theirs: &BTreeSet<&str>) -> Line {
    let lies =
        |run: &Run, part: &BTreeSet<&str>| part.contains(run.from.as_str()) || part.contains(run.to.as_str());
    let hangs = |load: &Load, part: &BTreeSet<&str>| part.contains(load.at.as_str());
    let mut runs: Vec<Run> = line.runs.iter().filter(|run| !lies(run, own)).cloned().collect();
    let named = |run: &Run| Run { name: format!("{} of line {}", run.name, other.name), ..run.clone() };
    runs.extend(other.runs.iter().filter(|run| lies(run, theirs)).map(named));
    let mut loads: Vec<Load> = line.loads.iter().filter(|load| !hangs(load, own)).cloned().collect();
    loads.extend(other.loads.iter().filter(|load| hangs(load, theirs)).cloned());
    Line { joints: Vec::new(), runs, loads, ..line.clone() }
}
