//! What a meter should show: at the rack, at every joint looking downstream, and at every stage of building.

use loamline_electrics::{Change, Line, Network, Probe};
use serde::Serialize;

use crate::error::FaultError;
use crate::model::{Tolerances, log_readings};

/// Where a meter is connected.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Place {
    /// At the source joint, amplifier disconnected.
    Rack,
    /// At a joint, the run towards the rack disconnected.
    Downstream(String),
}

/// A reading to expect.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ExpectedReading {
    /// Where.
    pub place: Place,
    /// Meter frequency in Hz, 0 for DC.
    pub frequency_hz: f64,
    /// |Z| or DC resistance in ohm; `None` means the meter shows an open line.
    pub ohm: Option<f64>,
    /// 95 % of sound lines read at least this, ohm.
    pub low_ohm: Option<f64>,
    /// 95 % of sound lines read at most this, ohm.
    pub high_ohm: Option<f64>,
}

/// The rack reading once the line is built as far as a joint.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StageReading {
    /// The joint just added.
    pub joint: String,
    /// What the rack reads then.
    pub readings: Vec<ExpectedReading>,
}

/// 95 % of a normal variable lie within this many standard deviations.
const TWO_SIDED_95: f64 = 1.959_964;

/// Readings at the rack and, on a tree, at every joint looking downstream.
///
/// # Errors
/// Everything wrong with the line, the frequencies or the tolerances.
pub fn expected_readings(
    line: &Line,
    frequencies_hz: &[f64],
    tolerances: &Tolerances,
) -> Result<Vec<ExpectedReading>, FaultError> {
    tolerances.check()?;
    let network = Network::build(line)?;
    let mut all = readings(&Probe::new(&network, frequencies_hz)?, &[], Place::Rack, tolerances);
    for (joint, upstream) in upstream_runs(&network).into_iter().enumerate() {
        let Some(run) = upstream else { continue };
        let name = network.joints()[joint].clone();
        let Some(probe) = downstream_probe(&network, &name, frequencies_hz)? else { continue };
        all.extend(readings(&probe, &[cut_at(&network, run, joint)], Place::Downstream(name), tolerances));
    }
    Ok(all)
}

/// Rack readings as the line grows: joints are added in the order the line lists its runs from the rack outwards, each
/// with its loads.
///
/// # Errors
/// As [`expected_readings`].
pub fn expected_stages(
    line: &Line,
    frequencies_hz: &[f64],
    tolerances: &Tolerances,
) -> Result<Vec<StageReading>, FaultError> {
    tolerances.check()?;
    let network = Network::build(line)?;
    let mut stage = Line { runs: Vec::new(), loads: Vec::new(), joints: Vec::new(), ..line.clone() };
    let mut built = vec![false; line.runs.len()];
    let mut reached = vec![line.source_joint.clone()];
    stage.loads.extend(line.loads.iter().filter(|load| load.at == line.source_joint).cloned());
    let mut stages = Vec::with_capacity(network.joints().len());
    while let Some(index) = (0..line.runs.len()).find(|&index| {
        let run = &line.runs[index];
        !built[index] && (reached.contains(&run.from) || reached.contains(&run.to))
    }) {
        built[index] = true;
        let run = line.runs[index].clone();
        let joint = if reached.contains(&run.from) { run.to.clone() } else { run.from.clone() };
        stage.runs.push(run);
        if !reached.contains(&joint) {
            stage.loads.extend(line.loads.iter().filter(|load| load.at == joint).cloned());
            reached.push(joint.clone());
        }
        let probe = Probe::new(&Network::build(&stage)?, frequencies_hz)?;
        stages.push(StageReading { joint, readings: readings(&probe, &[], Place::Rack, tolerances) });
    }
    Ok(stages)
}

fn readings(
    probe: &Probe,
    changes: &[Change],
    place: Place,
    tolerances: &Tolerances,
) -> Vec<ExpectedReading> {
    log_readings(probe, changes, tolerances)
        .into_iter()
        .zip(probe.frequencies_hz())
        .map(|(reading, &frequency_hz)| {
            let bound = |sign: f64| {
                reading.as_ref().map(|r| (r.mean + sign * TWO_SIDED_95 * r.variance().sqrt()).exp())
            };
            ExpectedReading {
                place: place.clone(),
                frequency_hz,
                ohm: bound(0.0),
                low_ohm: bound(-1.0),
                high_ohm: bound(1.0),
            }
        })
        .collect()
}

/// Per joint, the run towards the source; all `None` on a line with loops, where opening one joint parts nothing.
pub(crate) fn upstream_runs(network: &Network) -> Vec<Option<usize>> {
    let count = network.joints().len();
    let mut upstream = vec![None; count];
    let runs: Vec<_> = (0..network.run_names().len()).filter_map(|run| network.run_ends(run)).collect();
    if runs.len() + 1 != count {
        return upstream;
    }
    let mut adjacent = vec![Vec::new(); count];
    for (run, &(from, to)) in runs.iter().enumerate() {
        adjacent[from].push((to, run));
        adjacent[to].push((from, run));
    }
    let mut waiting = vec![network.source_index()];
    while let Some(joint) = waiting.pop() {
        for &(next, run) in &adjacent[joint] {
            if upstream[joint] != Some(run) {
                upstream[next] = Some(run);
                waiting.push(next);
            }
        }
    }
    upstream
}

pub(crate) fn downstream_probe(
    network: &Network,
    joint: &str,
    frequencies_hz: &[f64],
) -> Result<Option<Probe>, FaultError> {
    let Some(seen) = network.seen_from(joint) else { return Ok(None) };
    Ok(Some(Probe::new(&seen, frequencies_hz)?))
}

/// The run taken off the joint.
pub(crate) fn cut_at(network: &Network, run: usize, joint: usize) -> Change {
    let at_start = network.run_ends(run).is_some_and(|(from, _)| from == joint);
    Change::Cut { run, fraction: if at_start { 0.0 } else { 1.0 } }
}
