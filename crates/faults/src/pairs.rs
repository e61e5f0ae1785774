//! Two faults at once.
//!
//! Every pair of single faults is weighed, on coarser grids than those of one fault: means from
//! [`loamline_electrics::TwoChanges`], covariances as the mean of those of its two faults alone. The pairs that together have
//! [`KEPT`] of what pairs explain then become hypotheses like any other, predicted in full. Two faults of one run, one joint's
//! insulation or one loudspeaker are not paired: the reading shows the worse of the two.

use loamline_electrics::{Altered, Change, Line, Stamp, TwoChanges};
use loamline_limits::{FAULT_PAIRS, go_on};
use serde::Serialize;

use crate::build_table::build_table;
use crate::error::FaultError;
use crate::grid::predict_grid;
use crate::hypotheses::{Alteration, COARSE, Fault, Hypothesis, Neighbours, Point, Priors, hypotheses};
use crate::line_under_test::LineUnderTest;
use crate::predict::{Prediction, Predictor};
use crate::readings::{MeterReading, setups};
use crate::table::Table;
use crate::weigh::{Value, log_likelihood};

/// Pairs weighed and kept.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PairCount {
    /// Pairs of faults weighed.
    pub weighed: usize,
    /// Of them, those likely enough to be predicted in full.
    pub kept: usize,
    /// What the others would have of what pairs explain, 0..=1, as first weighed.
    pub left_out: f64,
}

/// Pairs are kept from the likeliest down until they have this share of what pairs explain. Larger costs time; smaller
/// overstates those kept.
const KEPT: f64 = 0.99;
/// Points of a kept pair that are likelier than this share of its likeliest are predicted.
const POINT: f64 = 1e-2;
/// Deviation of a quantity that neither fault alone lets be read.
const UNKNOWN: f64 = 0.1;

/// One fault of a pair, at one place: its points' predictions and changes.
struct Single {
    predictions: Vec<Prediction>,
    stamps: Vec<Stamp>,
    altered: Vec<Altered>,
}

/// The pairs that may explain the readings, as hypotheses, and how many were weighed.
pub(crate) fn pairs(
    under_test: &LineUnderTest<'_>,
    readings: &[MeterReading],
    priors: &Priors,
) -> Result<(Vec<Hypothesis>, PairCount), FaultError> {
    let coarse: Vec<Hypothesis> = hypotheses(under_test.line, &under_test.network, &[], priors, COARSE)
        .into_iter()
        .filter(|h| h.fault != Fault::Healthy)
        .collect();
    let mut weighed = PairLikelihoods::new(&coarse, under_test.line);
    let table = build_table(under_test, &setups(readings))?;
    for place in &table.places {
        let values = table.values(place, readings)?;
        let predictor = under_test.predictor(&place.place, &place.frequencies_hz, place.phases)?;
        let quick = predictor.two_changes();
        let singles: Vec<Single> = coarse.iter().map(|h| Single::new(h, &predictor, &quick)).collect();
        weighed.add(&singles, &predictor, &values, table.range_end());
    }
    let singles: f64 = coarse.iter().map(|h| h.weight).sum();
    Ok(weighed.hypotheses(&coarse, priors.two * singles))
}

impl Single {
    fn new(hypothesis: &Hypothesis, predictor: &Predictor<'_>, quick: &TwoChanges<'_>) -> Self {
        let changes: Vec<Change> = hypothesis
            .points
            .iter()
            .map(|point| {
                let change = predictor.own_changes(&point.alterations).into_iter().next();
                // On the run that is taken off at the place: nothing that is seen from there.
                change.unwrap_or(Change::Missing { load: usize::MAX })
            })
            .collect();
        Self {
            predictions: predict_grid(predictor, &hypothesis.points),
            stamps: changes.iter().map(|change| quick.stamp(change)).collect(),
            altered: changes.iter().map(|change| quick.altered(change)).collect(),
        }
    }
}

/// Two faults that may be there side by side.
struct Pair {
    first: usize,
    second: usize,
    prior: f64,
    /// Ln likelihood of every product of points, first by first.
    log: Vec<f64>,
}

struct PairLikelihoods {
    pairs: Vec<Pair>,
}

impl PairLikelihoods {
    fn new(coarse: &[Hypothesis], line: &Line) -> Self {
        let mut pairs = Vec::new();
        for (second, b) in coarse.iter().enumerate() {
            go_on();
            for (first, a) in coarse[..second].iter().enumerate() {
                if subject(&a.fault) != subject(&b.fault) {
                    let log = vec![0.0; a.points.len() * b.points.len()];
                    // The cut first: a first change may be one exactly.
                    let cut = |h: &Hypothesis| match &h.fault {
                        Fault::Open { .. } => true,
                        Fault::Missing { load } => {
                            line.loads.iter().any(|other| other.in_series && other.name == *load)
                        }
                        _ => false,
                    };
                    let (first, second) = if cut(b) && !cut(a) { (second, first) } else { (first, second) };
                    pairs.push(Pair { first, second, prior: a.weight * b.weight, log });
                }
            }
        }
        let total: f64 = pairs.iter().map(|pair| pair.prior).sum();
        pairs.iter_mut().for_each(|pair| pair.prior /= total.max(1e-300));
        Self { pairs }
    }

    fn add(&mut self, singles: &[Single], predictor: &Predictor<'_>, values: &[Value], open: f64) {
        let mut read = Vec::new();
        for pair in &mut self.pairs {
            let (a, b) = (&singles[pair.first], &singles[pair.second]);
            let mut log = pair.log.iter_mut();
            for (one, altered) in a.predictions.iter().zip(&a.altered) {
                go_on();
                for (other, stamp) in b.predictions.iter().zip(&b.stamps) {
                    read.clear();
                    read.extend((0..altered.frequencies()).map(|f| Some(altered.with(stamp, f))));
                    let both = with_mean_covariance(predictor.quantities_of(&read), one, other);
                    if let Some(log) = log.next() {
                        *log += log_likelihood(&both, values, open).0;
                    }
                }
            }
        }
    }

    /// The likeliest pairs, sharing `weight`.
    fn hypotheses(self, coarse: &[Hypothesis], weight: f64) -> (Vec<Hypothesis>, PairCount) {
        let most = self.pairs.iter().flat_map(|pair| &pair.log).copied().fold(f64::NEG_INFINITY, f64::max);
        let mass = |pair: &Pair| {
            let sum: f64 = pair.log.iter().map(|log| (log - most).exp()).sum();
            pair.prior * sum / pair.log.len() as f64
        };
        let masses: Vec<f64> = self.pairs.iter().map(mass).collect();
        let total: f64 = masses.iter().sum();
        let mut order: Vec<usize> = (0..masses.len()).collect();
        order.sort_by(|&a, &b| masses[b].total_cmp(&masses[a]));
        let mut kept = 0.0;
        let mut all = Vec::new();
        for index in order {
            if kept >= KEPT * total || all.len() == FAULT_PAIRS.most() {
                break;
            }
            kept += masses[index];
            let pair = &self.pairs[index];
            all.push(pair_hypothesis(
                &coarse[pair.first],
                &coarse[pair.second],
                weight * pair.prior,
                &pair.log,
            ));
        }
        let left_out = 1.0 - kept / total.max(1e-300);
        let count = PairCount { weighed: masses.len(), kept: all.len(), left_out: left_out.max(0.0) };
        (all, count)
    }
}

/// What two faults of one kind of subject would both alter.
#[derive(PartialEq)]
enum Subject<'a> {
    Run(&'a str),
    Joint(&'a str),
    Load(&'a str),
}

fn subject(fault: &Fault) -> Option<Subject<'_>> {
    match fault {
        Fault::Open { run } | Fault::ShortAlong { run } | Fault::HighSplice { run } => {
            Some(Subject::Run(run))
        }
        Fault::ShortAt { joint } | Fault::Wet { joint } => Some(Subject::Joint(joint)),
        Fault::WrongTap { load, .. } | Fault::LowImpedance { load } | Fault::Missing { load } => {
            Some(Subject::Load(load))
        }
        Fault::Healthy | Fault::Swapped { .. } | Fault::SwappedAt { .. } | Fault::Two { .. } => None,
    }
}

/// A prediction with the covariance of two others, where they have one.
fn with_mean_covariance(mean: Vec<Option<f64>>, a: &Prediction, b: &Prediction) -> Prediction {
    let mut covariance = Vec::with_capacity(a.covariance.len());
    for i in 0..mean.len() {
        for j in 0..=i {
            let has = |p: &Prediction| p.mean[i].is_some() && p.mean[j].is_some();
            covariance.push(match (has(a), has(b)) {
                (true, true) => 0.5 * (a.covariance(i, j) + b.covariance(i, j)),
                (true, false) => a.covariance(i, j),
                (false, true) => b.covariance(i, j),
                (false, false) if i == j => UNKNOWN * UNKNOWN,
                (false, false) => 0.0,
            });
        }
    }
    Prediction { mean, covariance }
}

/// The hypothesis that both are there, with the likely points of their grids.
fn pair_hypothesis(a: &Hypothesis, b: &Hypothesis, weight: f64, log: &[f64]) -> Hypothesis {
    go_on();
    let (m, n) = (a.points.len(), b.points.len());
    let most = log.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let both = |i: usize, j: usize| -> Vec<Alteration> {
        a.points[i].alterations.iter().chain(&b.points[j].alterations).cloned().collect()
    };
    let around = |k: usize, count: usize| (k.saturating_sub(1), (k + 1).min(count - 1));
    let likely = (0..m * n).filter(|&k| log[k] >= most + POINT.ln());
    let points: Vec<Point> = likely
        .map(|k| {
            let (i, j) = (k / n, k % n);
            let ((before, after), (left, right)) = (around(i, m), around(j, n));
            let steps = |low: usize, high: usize| (high - low).max(1) as f64;
            Point {
                alterations: both(i, j),
                parameter: a.points[i].parameter,
                second_parameter: b.points[j].parameter,
                neighbours: vec![
                    Neighbours {
                        before: both(before, j),
                        after: both(after, j),
                        steps: steps(before, after),
                    },
                    Neighbours { before: both(i, left), after: both(i, right), steps: steps(left, right) },
                ],
            }
        })
        .collect();
    Hypothesis {
        fault: Fault::Two { first: Box::new(a.fault.clone()), second: Box::new(b.fault.clone()) },
        // Each point keeps the share of the prior it has among all of them.
        weight: weight * points.len() as f64 / (m * n) as f64,
        points,
        swapped_with: None,
        lattice: [m, n],
    }
}

impl Table {
    /// Single faults and their probability of being there, alone or with another, likeliest first.
    pub(crate) fn suspects(&self, probability: &[f64]) -> Vec<(Fault, f64)> {
        let mut all: Vec<(Fault, f64)> = Vec::new();
        for (hypothesis, p) in self.hypotheses.iter().zip(probability) {
            for part in hypothesis.fault.parts() {
                match all.iter_mut().find(|(fault, _)| fault == part) {
                    Some((_, sum)) => *sum += p,
                    None => all.push((part.clone(), *p)),
                }
            }
        }
        all.retain(|(fault, _)| *fault != Fault::Healthy);
        all.sort_by(|a, b| b.1.total_cmp(&a.1));
        all
    }
}
