//! Ranking the explanations of readings.
//!
//! Bayes' rule over the hypotheses of [`crate::hypotheses`], the readings' logarithms being jointly normal under each
//! (see [`crate::model`]). The posterior of a fault is the sum over its grid.

use loamline_electrics::{Line, Network, Probe};
use serde::Serialize;

use crate::error::FaultError;
use crate::hypotheses::{Fault, Hypothesis, Priors, hypotheses};
use crate::model::{LogReading, Tolerances, log_readings};
use crate::next::{Effort, NextTest, next_tests};
use crate::sentences::explain;

/// What the meter shows.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Shown {
    /// So many ohms.
    Ohm(f64),
    /// More than the meter's range.
    Open,
}

/// A reading at the rack, amplifier disconnected.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct MeterReading {
    /// Meter frequency in Hz, 0 for DC.
    pub frequency_hz: f64,
    /// What it shows.
    pub shown: Shown,
}

/// A stretch of a run, m from its two ends (95 % of the probability).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Stretch {
    /// The run.
    pub run: String,
    /// The end distances are counted from.
    pub from: String,
    /// The other end.
    pub to: String,
    /// Nearest point, m from `from`.
    pub low_m: f64,
    /// Likeliest point, m from `from`.
    pub likely_m: f64,
    /// Farthest point, m from `from`.
    pub high_m: f64,
    /// Length of the run in m.
    pub length_m: f64,
}

/// One explanation.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Explanation {
    /// The fault.
    pub fault: Fault,
    /// Its probability, 0..=1.
    pub probability: f64,
    /// In words.
    pub sentence: String,
    /// Where along a run, for a short.
    pub stretch: Option<Stretch>,
    /// Likeliest resistance of a high splice or a leak, ohm.
    pub ohm: Option<f64>,
    /// Positions in the list of explanations these readings cannot tell from this one (within one standard deviation).
    pub alike: Vec<usize>,
}

/// A reading no hypothesis comes near.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Unexplained {
    /// The fault that comes nearest.
    pub nearest: Fault,
    /// How many standard deviations away it is.
    pub deviations: f64,
    /// In words.
    pub sentence: String,
}

/// The ranking and what to do next.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Diagnosis {
    /// Explanations, most probable first, down to one in ten thousand.
    pub explanations: Vec<Explanation>,
    /// Set when even the best explanation is far off.
    pub unexplained: Option<Unexplained>,
    /// Tests that tell most per minute, best first.
    pub next: Vec<NextTest>,
    /// What these readings can never show.
    pub blind_spot: &'static str,
}

/// An explanation this many standard deviations off is called no explanation.
const FAR_OFF: f64 = 5.0;
/// Explanations below this are not listed. Smaller lists noise; larger hides faults a next test would bring back.
const LISTED: f64 = 1e-4;
const BLIND_SPOT: &str = "A loudspeaker with plus and minus swapped reads the same on any impedance or resistance meter; \
     play a polarity pulse and listen or use a polarity tester at each loudspeaker.";

/// A point of a hypothesis with its predicted readings.
pub(crate) struct Evaluated {
    pub(crate) hypothesis: usize,
    pub(crate) point: usize,
    pub(crate) readings: Vec<Option<LogReading>>,
    /// Half the spread of the grid around the point, per reading.
    spacing: Vec<f64>,
    pub(crate) log_weight: f64,
    deviations: f64,
}

/// Ranks what would explain `readings` on `line`, `others` being lines it may have been swapped with.
///
/// # Errors
/// Everything wrong with the lines, the readings or the tolerances.
pub fn locate(
    line: &Line,
    others: &[&Line],
    readings: &[MeterReading],
    tolerances: &Tolerances,
    priors: &Priors,
    effort: &Effort,
) -> Result<Diagnosis, FaultError> {
    tolerances.check()?;
    check_readings(readings)?;
    let frequencies: Vec<f64> = readings.iter().map(|reading| reading.frequency_hz).collect();
    let network = Network::build(line)?;
    let probe = Probe::new(&network, &frequencies)?;
    let other_probes = others
        .iter()
        .map(|other| Ok(Probe::new(&Network::build(other)?, &frequencies)?))
        .collect::<Result<Vec<_>, FaultError>>()?;
    let hypotheses = hypotheses(line, &network, others, &frequencies, priors);
    let mut evaluated = evaluate(&hypotheses, &probe, &other_probes, tolerances);
    for point in &mut evaluated {
        let hypothesis = &hypotheses[point.hypothesis];
        let prior = (hypothesis.weight / hypothesis.points.len() as f64).max(1e-12).ln();
        let (log_likelihood, deviations) = likelihood(point, readings, tolerances);
        point.log_weight = prior + log_likelihood;
        point.deviations = deviations;
    }
    normalise(&mut evaluated);
    let explanations = rank(line, &hypotheses, &evaluated);
    let unexplained = far_off(line, &hypotheses, &evaluated, readings);
    let next = next_tests(line, &network, &hypotheses, &evaluated, &frequencies, tolerances, effort)?;
    Ok(Diagnosis { explanations, unexplained, next, blind_spot: BLIND_SPOT })
}

fn check_readings(readings: &[MeterReading]) -> Result<(), FaultError> {
    if readings.is_empty() {
        return Err(FaultError::NoReading);
    }
    for (index, reading) in readings.iter().enumerate() {
        if let Shown::Ohm(ohm) = reading.shown
            && !(ohm.is_finite() && ohm >= 0.0)
        {
            return Err(FaultError::BadReading { frequency_hz: reading.frequency_hz, ohm });
        }
        if readings[..index].iter().any(|other| (other.frequency_hz - reading.frequency_hz).abs() < 1e-9) {
            return Err(FaultError::ReadTwice { frequency_hz: reading.frequency_hz });
        }
    }
    Ok(())
}

fn evaluate(
    hypotheses: &[Hypothesis],
    probe: &Probe,
    others: &[Probe],
    tolerances: &Tolerances,
) -> Vec<Evaluated> {
    let mut all = Vec::new();
    for (index, hypothesis) in hypotheses.iter().enumerate() {
        let probe = hypothesis.other.and_then(|other| others.get(other)).unwrap_or(probe);
        let grid: Vec<_> =
            hypothesis.points.iter().map(|point| log_readings(probe, &point.changes, tolerances)).collect();
        for (point, readings) in grid.iter().enumerate() {
            let mean = |at: usize, f: usize| grid[at][f].as_ref().map(|reading| reading.mean);
            let (before, after) = (point.saturating_sub(1), (point + 1).min(grid.len() - 1));
            let steps = (after - before).max(1) as f64;
            let spacing = (0..readings.len())
                .map(|f| match (mean(before, f), mean(after, f)) {
                    (Some(a), Some(b)) => (b - a) / steps,
                    _ => 0.0,
                })
                .collect();
            all.push(Evaluated {
                hypothesis: index,
                point,
                readings: readings.clone(),
                spacing,
                log_weight: 0.0,
                deviations: 0.0,
            });
        }
    }
    all
}

/// Log likelihood of the readings at a point, and the distance in standard deviations.
fn likelihood(point: &Evaluated, readings: &[MeterReading], tolerances: &Tolerances) -> (f64, f64) {
    let mut used: Vec<(&LogReading, f64, f64)> = Vec::new();
    let mut penalty = 0.0;
    for ((predicted, reading), spacing) in point.readings.iter().zip(readings).zip(&point.spacing) {
        match (predicted, reading.shown) {
            (Some(predicted), Shown::Ohm(ohm)) => {
                used.push((predicted, ohm.max(1e-4).ln() - predicted.mean, *spacing));
            }
            (None, Shown::Open) => {}
            // One side open: as unlikely as twenty standard deviations, softened near the end of the meter's range.
            (Some(predicted), Shown::Open) => {
                let short = (tolerances.meter_range_ohm.ln() - predicted.mean) / predicted.variance().sqrt();
                penalty += 0.5 * short.clamp(0.0, 20.0).powi(2);
            }
            (None, Shown::Ohm(_)) => penalty += 200.0,
        }
    }
    let count = used.len();
    let mut matrix = vec![vec![0.0; count]; count];
    for i in 0..count {
        for j in 0..count {
            // A uniform spread of one grid step: variance step^2 / 12.
            matrix[i][j] = used[i].0.covariance(used[j].0)
                + used[i].2 * used[j].2 / 12.0
                + if i == j { used[i].0.meter } else { 0.0 };
        }
    }
    let residual: Vec<f64> = used.iter().map(|u| u.1).collect();
    let (log_determinant, squared) = gauss(matrix, &residual);
    let log_likelihood = -0.5 * (log_determinant + squared) - penalty;
    (log_likelihood, (squared + 2.0 * penalty).sqrt())
}

/// ln det C and r' C^-1 r by Cholesky; C is positive definite because every meter has an error.
fn gauss(mut c: Vec<Vec<f64>>, residual: &[f64]) -> (f64, f64) {
    let n = residual.len();
    let (mut log_determinant, mut squared) = (0.0, 0.0);
    let mut y = residual.to_vec();
    for i in 0..n {
        for j in 0..=i {
            let dot: f64 = (0..j).map(|k| c[i][k] * c[j][k]).sum();
            let rest = c[i][j] - dot;
            c[i][j] = if i == j { rest.max(1e-12).sqrt() } else { rest / c[j][j] };
        }
        let dot: f64 = (0..i).map(|k| c[i][k] * y[k]).sum();
        y[i] = (y[i] - dot) / c[i][i];
        log_determinant += 2.0 * c[i][i].ln();
        squared += y[i] * y[i];
    }
    (log_determinant, squared)
}

/// Log weights to probabilities' logarithms.
fn normalise(points: &mut [Evaluated]) {
    let most = points.iter().map(|point| point.log_weight).fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 = points.iter().map(|point| (point.log_weight - most).exp()).sum();
    for point in points {
        point.log_weight -= most + sum.ln();
    }
}

fn rank(line: &Line, hypotheses: &[Hypothesis], points: &[Evaluated]) -> Vec<Explanation> {
    let mut sums = vec![0.0; hypotheses.len()];
    let mut best: Vec<Option<&Evaluated>> = vec![None; hypotheses.len()];
    for point in points {
        sums[point.hypothesis] += point.log_weight.exp();
        let best = &mut best[point.hypothesis];
        if best.is_none_or(|other| point.log_weight > other.log_weight) {
            *best = Some(point);
        }
    }
    let mut order: Vec<usize> = (0..hypotheses.len()).filter(|&h| sums[h] >= LISTED).collect();
    order.sort_by(|&a, &b| sums[b].total_cmp(&sums[a]));
    let alike = |a: usize, b: usize| match (best[a], best[b]) {
        (Some(a), Some(b)) => (0..a.readings.len()).all(|f| match (&a.readings[f], &b.readings[f]) {
            // Sizes between two grid points are possible too: half a step of each is no difference.
            (Some(x), Some(y)) => {
                (x.mean - y.mean).powi(2)
                    < x.variance() + 0.25 * (a.spacing[f].powi(2) + b.spacing[f].powi(2))
            }
            (None, None) => true,
            _ => false,
        }),
        _ => false,
    };
    order
        .iter()
        .map(|&h| {
            let hypothesis = &hypotheses[h];
            let stretch = stretch(line, h, hypothesis, points);
            let parameter = best[h].and_then(|point| hypothesis.points[point.point].parameter);
            let ohm = matches!(hypothesis.fault, Fault::HighSplice { .. } | Fault::Wet { .. })
                .then_some(parameter)
                .flatten();
            Explanation {
                fault: hypothesis.fault.clone(),
                probability: sums[h],
                sentence: explain(line, &hypothesis.fault, stretch.as_ref(), ohm),
                stretch,
                ohm,
                alike: order
                    .iter()
                    .enumerate()
                    .filter(|&(_, &o)| o != h && alike(h, o))
                    .map(|(k, _)| k)
                    .collect(),
            }
        })
        .collect()
}

/// Where a short lies: the posterior over its grid.
fn stretch(line: &Line, h: usize, hypothesis: &Hypothesis, points: &[Evaluated]) -> Option<Stretch> {
    let Fault::ShortAlong { run } = &hypothesis.fault else { return None };
    let run = line.runs.iter().find(|other| other.name == *run)?;
    let mut cells: Vec<(f64, f64)> = points
        .iter()
        .filter(|point| point.hypothesis == h)
        .filter_map(|point| Some((hypothesis.points[point.point].parameter?, point.log_weight.exp())))
        .collect();
    let total: f64 = cells.iter().map(|cell| cell.1).sum();
    let half = 0.5 / cells.len() as f64;
    cells.iter_mut().for_each(|cell| cell.1 /= total);
    let at = |share: f64| {
        let mut sum = 0.0;
        for &(fraction, weight) in &cells {
            if sum + weight >= share {
                return fraction - half + 2.0 * half * (share - sum) / weight.max(1e-12);
            }
            sum += weight;
        }
        1.0
    };
    Some(Stretch {
        run: run.name.clone(),
        from: run.from.clone(),
        to: run.to.clone(),
        low_m: at(0.025) * run.length_m,
        likely_m: at(0.5) * run.length_m,
        high_m: at(0.975) * run.length_m,
        length_m: run.length_m,
    })
}

fn far_off(
    line: &Line,
    hypotheses: &[Hypothesis],
    points: &[Evaluated],
    readings: &[MeterReading],
) -> Option<Unexplained> {
    let nearest = points.iter().min_by(|a, b| a.deviations.total_cmp(&b.deviations))?;
    if nearest.deviations <= FAR_OFF {
        return None;
    }
    let fault = hypotheses[nearest.hypothesis].fault.clone();
    let show = |ohm: Option<f64>| ohm.map_or("open".to_owned(), |ohm| format!("{ohm:.2} ohm"));
    let compared: Vec<String> = readings
        .iter()
        .zip(&nearest.readings)
        .map(|(reading, predicted)| {
            let read = match reading.shown {
                Shown::Ohm(ohm) => Some(ohm),
                Shown::Open => None,
            };
            format!(
                "{} read at {}, {} there",
                show(read),
                if reading.frequency_hz > 0.0 {
                    format!("{} Hz", reading.frequency_hz)
                } else {
                    "DC".to_owned()
                },
                show(predicted.as_ref().map(|p| p.mean.exp()))
            )
        })
        .collect();
    Some(Unexplained {
        sentence: format!(
            "No single fault explains this. The nearest is {:.0} standard deviations off ({}): {} \
             Check the meter, its leads and which line is on it; there may be several faults.",
            nearest.deviations,
            compared.join("; "),
            explain(line, &fault, None, None)
        ),
        nearest: fault,
        deviations: nearest.deviations,
    })
}
