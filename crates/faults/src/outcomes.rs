//! What a test may show, and what each outcome would mean.

use loamline_electrics::Line;
use loamline_limits::go_on;
use loamline_terms::{Sentence, say};
use serde::Serialize;

use crate::hypotheses::Fault;
use crate::sentences::several;

/// What one point of an explanation makes a test show.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Possible {
    pub(crate) hypothesis: usize,
    pub(crate) probability: f64,
    /// Probability that the fault is seen, so that no reading is needed.
    pub(crate) seen: f64,
    /// Ln(ohm + offset); absent for an open line.
    pub(crate) mean: Option<f64>,
    pub(crate) deviation: f64,
}

/// An outcome of a test.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Outcome {
    /// What the test shows.
    pub shows: Shows,
    /// How probable that is.
    pub probability: f64,
    /// What it would mean, in a sentence.
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub sentence: Sentence,
}

/// What a test shows.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Shows {
    /// The fault is plain to see in the opened joint.
    TheFault,
    /// A reading between two values in ohm; absent where there is no bound.
    Ohm {
        /// At least.
        low: Option<f64>,
        /// At most.
        high: Option<f64>,
    },
    /// An open line.
    Open,
}

/// Bins over ln|Z|: each is narrower than a good meter's error over a factor 1000 in ohms.
pub const BINS: usize = 240;
/// The bins reach this far, in ln(ohm), below the lowest and above the highest mean.
pub const MARGIN: f64 = 0.3;
/// A reading is spread over so many of its deviations on either side.
pub const REACH: f64 = 4.0;
const OPEN: usize = BINS;
const SEEN: usize = BINS + 1;
/// An outcome less probable than this is told with its neighbour.
const TOLD: f64 = 0.04;
/// Most intervals of a rack reading told apart.
const INTERVALS: usize = 4;
/// Explanations named for an outcome are those that make up this share of it.
const NAMED: f64 = 0.8;
/// Most explanations named for an outcome.
const MOST_NAMED: usize = 5;
/// A good line reads within this many deviations.
const GOOD: f64 = 2.0;

/// Joint probability of explanations and outcomes.
pub(crate) struct OutcomeDistribution {
    low: f64,
    width: f64,
    /// Per bin, (hypothesis, probability).
    bins: Vec<Vec<(usize, f64)>>,
    /// Ln(ohm + offset) of a good line and its deviation.
    good: Option<(f64, f64)>,
    offset_ohm: f64,
}

impl OutcomeDistribution {
    pub(crate) fn new(possible: Vec<Possible>, good: Option<(f64, f64)>, offset_ohm: f64) -> Self {
        let means = || possible.iter().filter_map(|p| p.mean);
        let (low, high) =
            (means().fold(f64::MAX, f64::min) - MARGIN, means().fold(f64::MIN, f64::max) + MARGIN);
        let width = ((high - low) / BINS as f64).max(1e-6);
        let mut bins: Vec<Vec<(usize, f64)>> = vec![Vec::new(); BINS + 2];
        let mut weights = Vec::with_capacity(BINS);
        for p in possible {
            let mut add = |bin: usize, weight: f64| match bins[bin].last_mut() {
                Some((hypothesis, sum)) if *hypothesis == p.hypothesis => *sum += weight,
                _ => bins[bin].push((p.hypothesis, weight)),
            };
            if p.seen > 0.0 {
                add(SEEN, p.probability * p.seen);
            }
            let rest = p.probability * (1.0 - p.seen);
            let Some(mean) = p.mean else {
                add(OPEN, rest);
                continue;
            };
            let deviation = p.deviation.max(width);
            let at = |ln: f64| ((ln - low) / width).clamp(0.0, BINS as f64 - 1.0) as usize;
            let first = at(mean - REACH * deviation);
            weights.clear();
            weights.extend((first..=at(mean + REACH * deviation)).map(|bin| {
                let off = (low + (bin as f64 + 0.5) * width - mean) / deviation;
                (-0.5 * off * off).exp()
            }));
            let sum: f64 = weights.iter().sum::<f64>().max(1e-300);
            for (bin, weight) in weights.iter().enumerate() {
                add(first + bin, rest * weight / sum);
            }
        }
        Self { low, width, bins, good, offset_ohm }
    }

    /// Expected drop of the entropy of the explanations, bits.
    pub(crate) fn expected_bits(&self) -> f64 {
        go_on();
        let entropy = |weights: &[(usize, f64)]| -> f64 {
            let sum: f64 = weights.iter().map(|w| w.1).sum();
            weights.iter().map(|w| w.1).filter(|w| *w > 0.0).map(|w| -w * (w / sum).log2()).sum()
        };
        let before = entropy(&total(&self.bins));
        let after: f64 = self.bins.iter().map(|bin| entropy(bin)).sum();
        (before - after).max(0.0)
    }

    /// The outcomes of a test, at the joint that is opened for it or else at the rack, with what each would mean.
    pub(crate) fn outcomes(&self, line: &Line, joint: Option<&str>, faults: &[&Fault]) -> Vec<Outcome> {
        let edges = if joint.is_some() { self.beside_good() } else { self.intervals() };
        let mut all = Vec::new();
        if joint.is_some() {
            all.push((Shows::TheFault, self.bins[SEEN].clone()));
        }
        for pair in edges.windows(2) {
            let ohm = |edge: usize| ((self.low + edge as f64 * self.width).exp() - self.offset_ohm).max(0.0);
            let low = (pair[0] > 0).then(|| ohm(pair[0]));
            let high = (pair[1] < BINS).then(|| ohm(pair[1]));
            all.push((Shows::Ohm { low, high }, total(&self.bins[pair[0]..pair[1]])));
        }
        all.push((Shows::Open, self.bins[OPEN].clone()));
        all.into_iter()
            .filter_map(|(shows, weights)| {
                let probability: f64 = weights.iter().map(|w| w.1).sum();
                let named = likeliest(&weights, probability);
                let named_faults: Vec<&Fault> = named.0.iter().map(|&h| faults[h]).collect();
                let sentence = self.sentence(shows, joint, several(line, &named_faults), named.1);
                (probability > 5e-3).then_some(Outcome { shows, probability, sentence })
            })
            .collect()
    }

    /// Below, within and above what a good line reads.
    fn beside_good(&self) -> Vec<usize> {
        let mut edges = vec![0];
        if let Some((mean, deviation)) = self.good {
            for sign in [-1.0, 1.0] {
                let bin = ((mean + sign * GOOD * deviation - self.low) / self.width).round();
                edges.push(bin.clamp(0.0, BINS as f64) as usize);
            }
        }
        edges.push(BINS);
        edges.dedup();
        edges
    }

    /// Stretches of bins whose likeliest explanation is the same, small ones joined to a neighbour.
    fn intervals(&self) -> Vec<usize> {
        let likeliest = |bin: &[(usize, f64)]| bin.iter().max_by(|a, b| a.1.total_cmp(&b.1)).map(|w| w.0);
        let sum = |from: usize, to: usize| -> f64 { self.bins[from..to].iter().flatten().map(|w| w.1).sum() };
        let mut edges = vec![0];
        let mut last = None;
        for (bin, weights) in self.bins[..BINS].iter().enumerate() {
            let Some(now) = likeliest(weights) else { continue };
            if last.is_some_and(|last| last != now) {
                edges.push(bin);
            }
            last = Some(now);
        }
        edges.push(BINS);
        while edges.len() > 2 {
            let parts: Vec<f64> = edges.windows(2).map(|w| sum(w[0], w[1])).collect();
            let Some((least, part)) = parts.iter().enumerate().min_by(|a, b| a.1.total_cmp(b.1)) else {
                break;
            };
            if *part >= TOLD && parts.len() <= INTERVALS {
                break;
            }
            // Joined to the smaller neighbour.
            let left = least.checked_sub(1).map_or(f64::MAX, |left| parts[left]);
            let right = parts.get(least + 1).copied().unwrap_or(f64::MAX);
            edges.remove(if left <= right { least } else { least + 1 });
        }
        edges
    }

    /// An outcome in words; `named` are the explanations it leaves, with the share of it they make up.
    fn sentence(&self, shows: Shows, joint: Option<&str>, named: Sentence, share: f64) -> Sentence {
        let within = |low: f64, high: f64| {
            self.good.is_some_and(|(mean, deviation)| {
                let off = GOOD * deviation + self.width;
                (low + self.offset_ohm).ln() > mean - off && (high + self.offset_ohm).ln() < mean + off
            })
        };
        let shown = match (shows, joint) {
            (Shows::TheFault, _) => say!("The fault is plain to see there"),
            (Shows::Open, _) => say!("Open"),
            (Shows::Ohm { low: Some(low), high: Some(high) }, Some(joint)) if within(low, high) => say!(
                "{low} to {high} ohm, as a good line: the fault is not beyond {joint}",
                low = figure(low),
                high = figure(high),
                joint = joint
            ),
            (Shows::Ohm { low: Some(low), high: Some(high) }, _) => {
                say!("{low} to {high} ohm", low = figure(low), high = figure(high))
            }
            (Shows::Ohm { low: Some(low), high: None }, _) => say!("More than {ohm} ohm", ohm = figure(low)),
            (Shows::Ohm { low: None, high: Some(high) }, _) => {
                say!("Less than {ohm} ohm", ohm = figure(high))
            }
            (Shows::Ohm { low: None, high: None }, _) => say!("Any reading"),
        };
        let sure = if share > 0.99 {
            say!("certainly")
        } else {
            format!("{} %", loamline_terms::fixed(100.0 * share, 0)).into()
        };
        say!("{shown}: then {fault} ({sure}).", shown = shown, fault = named, sure = sure)
    }
}

/// The hypotheses that make up most of an outcome, likeliest first, and their share of it.
fn likeliest(weights: &[(usize, f64)], probability: f64) -> (Vec<usize>, f64) {
    let mut ranked = weights.to_vec();
    ranked.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    let mut named = Vec::new();
    let mut share = 0.0;
    for (hypothesis, weight) in ranked {
        named.push(hypothesis);
        share += weight / probability.max(1e-300);
        if share >= NAMED || named.len() == MOST_NAMED {
            break;
        }
    }
    (named, share)
}

/// Three meaningful digits.
fn figure(ohm: f64) -> String {
    let places = if ohm < 10.0 { 2 } else { usize::from(ohm < 100.0) };
    loamline_terms::fixed(ohm, places)
}

/// Sum over bins, by hypothesis.
fn total(bins: &[Vec<(usize, f64)>]) -> Vec<(usize, f64)> {
    let mut sums = std::collections::BTreeMap::new();
    for &(hypothesis, weight) in bins.iter().flatten() {
        *sums.entry(hypothesis).or_insert(0.0) += weight;
    }
    sums.into_iter().collect()
}
