//! What to measure next: the test that is expected to tell most per minute of work.
//!
//! For each test the outcomes are binned over ln|Z| (plus "open"); under each explanation the outcome is normal with
//! its predicted mean and deviation. The expected drop in entropy of the posterior, in bits, is divided by the minutes.

use loamline_electrics::{Line, Network, Probe};
use serde::{Deserialize, Serialize};

use crate::error::FaultError;
use crate::expect::{cut_at, downstream_probe, upstream_runs};
use crate::hypotheses::{Hypothesis, Priors, hypotheses as all_hypotheses};
use crate::locate::Evaluated;
use crate::model::{LogReading, Tolerances, log_readings};

/// Minutes of work. Defaults are common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Effort {
    /// One more reading at the rack.
    pub rack_min: f64,
    /// Finding, opening, reading and closing a joint.
    pub joint_min: f64,
}

impl Default for Effort {
    fn default() -> Self {
        Self { rack_min: 2.0, joint_min: 25.0 }
    }
}

/// A test.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Test {
    /// Read |Z| at this frequency in Hz at the rack (0 is DC).
    AtRack(f64),
    /// Open this joint, take off the run towards the rack, read downstream at this frequency in Hz.
    OpenJoint {
        /// The joint.
        joint: String,
        /// Meter frequency in Hz.
        frequency_hz: f64,
    },
}

/// A test and its worth.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NextTest {
    /// What to do.
    pub test: Test,
    /// Expected drop of the entropy of the explanations, bits.
    pub expected_bits: f64,
    /// Minutes of work.
    pub minutes: f64,
    /// Where a sound line would read, ohm; `None` for open.
    pub sound_ohm: Option<f64>,
    /// What each outcome would mean: the explanations it leaves, by probability mass below, within and above the sound
    /// reading (plus and minus two deviations), the last for an open reading.
    pub outcome_probability: [f64; 4],
}

/// Frequencies a rack meter may offer besides those read already, Hz (0 is DC).
const RACK_FREQUENCIES: [f64; 4] = [0.0, 100.0, 330.0, 1000.0];
/// Explanations below this probability do not steer the choice.
const STEERS: f64 = 2e-3;
/// Bins over ln|Z|; each is narrower than a good meter's error over a factor 1000 in ohms.
const BINS: usize = 240;
/// Tests listed.
const LISTED: usize = 5;

pub(crate) fn next_tests(
    line: &Line,
    network: &Network,
    hypotheses: &[Hypothesis],
    points: &[Evaluated],
    read_hz: &[f64],
    tolerances: &Tolerances,
    effort: &Effort,
) -> Result<Vec<NextTest>, FaultError> {
    let alive: Vec<&Evaluated> = points.iter().filter(|point| point.log_weight.exp() > STEERS).collect();
    let mut tests = Vec::new();
    for f in RACK_FREQUENCIES.into_iter().filter(|f| read_hz.iter().all(|read| (read - f).abs() > 1.0)) {
        let probe = Probe::new(network, &[f])?;
        // Replaced loads carry admittances per frequency: ask for the same hypotheses again at this one.
        let here = all_hypotheses(line, network, &[], &[f], &Priors::default());
        let outcomes = outcomes(&alive, hypotheses, &here, &probe, &[], tolerances);
        let sound = log_readings(&probe, &[], tolerances).into_iter().next().flatten();
        tests.push(worth(Test::AtRack(f), effort.rack_min, &outcomes, sound.as_ref()));
    }
    let f = read_hz.iter().copied().filter(|f| *f > 0.0).fold(1000.0, |_, f| f);
    let here = all_hypotheses(line, network, &[], &[f], &Priors::default());
    for (joint, upstream) in upstream_runs(network).into_iter().enumerate() {
        let Some(run) = upstream else { continue };
        let name = network.joints()[joint].clone();
        let Some(probe) = downstream_probe(network, &name, &[f])? else { continue };
        let cut = [cut_at(network, run, joint)];
        let outcomes = outcomes(&alive, hypotheses, &here, &probe, &cut, tolerances);
        let sound = log_readings(&probe, &cut, tolerances).into_iter().next().flatten();
        let test = Test::OpenJoint { joint: name, frequency_hz: f };
        tests.push(worth(test, effort.joint_min, &outcomes, sound.as_ref()));
    }
    tests.retain(|test| test.expected_bits > 1e-3);
    tests.sort_by(|a, b| (b.expected_bits / b.minutes).total_cmp(&(a.expected_bits / a.minutes)));
    tests.truncate(LISTED);
    Ok(tests)
}

/// (probability, hypothesis, outcome) per live explanation.
fn outcomes(
    alive: &[&Evaluated],
    hypotheses: &[Hypothesis],
    here: &[Hypothesis],
    probe: &Probe,
    cut: &[loamline_electrics::Change],
    tolerances: &Tolerances,
) -> Vec<(f64, usize, Option<LogReading>)> {
    alive
        .iter()
        .filter(|point| hypotheses[point.hypothesis].other.is_none())
        .filter_map(|point| {
            let mut changes = here.get(point.hypothesis)?.points.get(point.point)?.changes.clone();
            // The run taken off goes last: a fault on it is out of the measured part.
            changes.retain(|change| !on_cut_run(change, cut));
            changes.extend_from_slice(cut);
            let reading = log_readings(probe, &changes, tolerances).into_iter().next().flatten();
            Some((point.log_weight.exp(), point.hypothesis, reading))
        })
        .collect()
}

fn on_cut_run(change: &loamline_electrics::Change, cut: &[loamline_electrics::Change]) -> bool {
    use loamline_electrics::Change;
    let run_of = |change: &Change| match change {
        Change::Cut { run, .. } | Change::ShortAlong { run, .. } | Change::Series { run, .. } => Some(*run),
        _ => None,
    };
    run_of(change).is_some_and(|run| cut.iter().any(|other| run_of(other) == Some(run)))
}

fn worth(
    test: Test,
    minutes: f64,
    outcomes: &[(f64, usize, Option<LogReading>)],
    sound: Option<&LogReading>,
) -> NextTest {
    let total: f64 = outcomes.iter().map(|outcome| outcome.0).sum::<f64>().max(1e-12);
    let means = || outcomes.iter().filter_map(|outcome| outcome.2.as_ref().map(|r| r.mean));
    let (low, high) = (means().fold(f64::MAX, f64::min) - 0.5, means().fold(f64::MIN, f64::max) + 0.5);
    let width = ((high - low) / BINS as f64).max(1e-6);
    // Joint probability of hypothesis and bin; the last bin is "open".
    let mut per_bin: Vec<std::collections::BTreeMap<usize, f64>> =
        vec![std::collections::BTreeMap::new(); BINS + 1];
    let mut prior = std::collections::BTreeMap::new();
    let mut outcome_probability = [0.0; 4];
    for (probability, hypothesis, reading) in outcomes {
        let share = probability / total;
        *prior.entry(*hypothesis).or_insert(0.0) += share;
        let Some(reading) = reading else {
            *per_bin[BINS].entry(*hypothesis).or_insert(0.0) += share;
            outcome_probability[3] += share;
            continue;
        };
        let deviation = reading.variance().sqrt().max(width);
        let weights: Vec<f64> = (0..BINS)
            .map(|bin| (-0.5 * ((low + (bin as f64 + 0.5) * width - reading.mean) / deviation).powi(2)).exp())
            .collect();
        let sum: f64 = weights.iter().sum::<f64>().max(1e-300);
        for (bin, weight) in weights.iter().enumerate().filter(|(_, weight)| **weight > 1e-6) {
            *per_bin[bin].entry(*hypothesis).or_insert(0.0) += share * weight / sum;
        }
        let band = sound.map(|sound| (reading.mean - sound.mean) / (2.0 * sound.variance().sqrt()));
        outcome_probability[band.map_or(1, |b| {
            if b < -1.0 {
                0
            } else if b > 1.0 {
                2
            } else {
                1
            }
        })] += share;
    }
    let entropy = |weights: &std::collections::BTreeMap<usize, f64>, sum: f64| -> f64 {
        weights.values().map(|w| w / sum).filter(|p| *p > 0.0).map(|p| -p * p.log2()).sum()
    };
    let after: f64 = per_bin
        .iter()
        .map(|bin| (bin.values().sum::<f64>(), bin))
        .filter(|(sum, _)| *sum > 0.0)
        .map(|(sum, bin)| sum * entropy(bin, sum))
        .sum();
    NextTest {
        test,
        expected_bits: (entropy(&prior, 1.0) - after).max(0.0),
        minutes,
        sound_ohm: sound.map(|sound| sound.mean.exp()),
        outcome_probability,
    }
}
