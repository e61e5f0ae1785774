//! What to measure next: the test that is expected to tell most per minute of work.
//!
//! For each test the outcomes are binned over ln|Z| (with "open" and, at a joint, "seen there" as outcomes of their own);
//! under each explanation the outcome is normal with its predicted mean and deviation. A reading at the rack is predicted
//! given those already taken there, with which it shares its errors. The expected drop in entropy of the explanations, in
//! bits, is divided by the minutes.

use loamline_limits::STEERING_POINTS;
use loamline_terms::LINE_METER_HZ;
use serde::Serialize;

use crate::asked::Asked;
use crate::error::FaultError;
use crate::grid::predict_grid;
use crate::hypotheses::{Fault, Point};
use crate::line_under_test::LineUnderTest;
use crate::outcomes::{Outcome, OutcomeDistribution, Possible};
use crate::places::Place;
use crate::predict::{Prediction, Predictor};
use crate::table::Table;
use crate::weigh::{SEEN, Value, Weighed};

/// A test.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Test {
    /// Read |Z| at this frequency in Hz at the rack (0 is DC).
    AtRack(f64),
    /// Open this joint, look, take off the run towards the rack, read away from it at this frequency in Hz.
    OpenJoint {
        /// The joint.
        joint: String,
        /// Meter frequency in Hz.
        frequency_hz: f64,
    },
}

/// A test and its worth.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct NextTest {
    /// What to do.
    pub test: Test,
    /// Expected drop of the entropy of the explanations, bits.
    pub expected_bits: f64,
    /// Minutes of work.
    pub minutes: f64,
    /// Where a good line would read, ohm; `None` for open.
    pub good_ohm: Option<f64>,
    /// What each outcome would mean; their probabilities sum to one.
    pub outcomes: Vec<Outcome>,
}

/// Points below this probability do not steer the choice. Smaller costs time; larger forgets explanations.
pub const STEERS: f64 = 5e-4;
/// Tests listed.
pub const LISTED: usize = 5;
/// A test that tells less than this, in bits, is not worth listing.
pub const WORTH: f64 = 0.01;
/// Frequencies nearer to each other than this, in hertz, are the same test.
pub const SAME_HZ: f64 = 1.0;

/// A point of the table that steers the choice.
struct SteeringPoint {
    hypothesis: usize,
    /// Number of the point within its hypothesis.
    point: usize,
    probability: f64,
}

pub(crate) fn next_tests(
    under_test: &LineUnderTest<'_>,
    asked: &Asked<'_>,
    table: &Table,
    weighed: &Weighed,
) -> Result<Vec<NextTest>, FaultError> {
    let mut steering = Vec::new();
    for (hypothesis, h) in table.hypotheses.iter().enumerate() {
        for point in 0..h.count {
            let probability = weighed.log_probability[h.first + point].exp();
            if probability > STEERS || asked.pairs {
                steering.push(SteeringPoint { hypothesis, point, probability });
            }
        }
    }
    if asked.pairs {
        steering.sort_by(|a, b| b.probability.total_cmp(&a.probability));
        // The probability of each is small: the likeliest steer.
        steering.truncate(STEERING_POINTS.most());
        steering.sort_by_key(|a| (a.hypothesis, a.point));
    }
    let total: f64 = steering.iter().map(|a| a.probability).sum();
    steering.iter_mut().for_each(|a| a.probability /= total);
    let faults: Vec<&Fault> = table.hypotheses.iter().map(|h| &h.fault).collect();
    let mut tests = at_rack(under_test, asked, table, &steering)?;
    tests.extend(at_joints(under_test, asked, table, &steering)?);
    tests.retain(|(test, _)| test.expected_bits > WORTH);
    tests.sort_by(|(a, _), (b, _)| (b.expected_bits / b.minutes).total_cmp(&(a.expected_bits / a.minutes)));
    tests.truncate(LISTED);
    Ok(tests
        .into_iter()
        .map(|(test, distribution)| {
            let opened = match &test.test {
                Test::OpenJoint { joint, .. } => Some(joint.as_str()),
                Test::AtRack(_) => None,
            };
            NextTest { outcomes: distribution.outcomes(under_test.line, opened, &faults), ..test }
        })
        .collect())
}

fn at_rack(
    under_test: &LineUnderTest<'_>,
    asked: &Asked<'_>,
    table: &Table,
    steering: &[SteeringPoint],
) -> Result<Vec<(NextTest, OutcomeDistribution)>, FaultError> {
    let read = table.places.iter().find(|place| place.place == Place::Rack);
    let read_hz = read.map_or(&[][..], |place| &place.frequencies_hz);
    // The meter may offer these besides those read already.
    let new: Vec<f64> = asked
        .meter_hz
        .iter()
        .copied()
        .filter(|f| read_hz.iter().all(|other| (other - f).abs() > SAME_HZ))
        .collect();
    if new.is_empty() {
        return Ok(Vec::new());
    }
    let values: Vec<Value> = match read {
        // A phase adds little to what the next magnitude will be.
        Some(place) => {
            let all = table.values(place, asked.readings)?;
            all.into_iter().filter(|value| value.quantity < read_hz.len()).collect()
        }
        None => Vec::new(),
    };
    let frequencies: Vec<f64> = read_hz.iter().chain(&new).copied().collect();
    let here = under_test.predictor(&Place::Rack, &frequencies, false)?;
    let mut possible_by_frequency: Vec<Vec<Possible>> = vec![Vec::new(); new.len()];
    let mut good = None;
    for chunk in steering.chunk_by(|a, b| a.hypothesis == b.hypothesis) {
        let hypothesis = &under_test.hypotheses[chunk[0].hypothesis];
        let swapped = match hypothesis.swapped_with {
            Some(line) => under_test.swapped_predictor(line, &Place::Rack, &frequencies, false)?,
            None => None,
        };
        let predictor = swapped.as_ref().unwrap_or(&here);
        // Points of two faults are predicted each on its own, those of one along its grid.
        let two = hypothesis.points.iter().any(|point| !point.neighbours.is_empty());
        let grid: Vec<Prediction> = if two {
            let point = |a: &SteeringPoint| {
                predict_grid(predictor, std::slice::from_ref(&hypothesis.points[a.point]))
            };
            chunk.iter().flat_map(point).collect()
        } else {
            predict_grid(predictor, &hypothesis.points)
        };
        for (number, a) in chunk.iter().enumerate() {
            let prediction = &grid[if two { number } else { a.point }];
            for (index, possible) in possible_by_frequency.iter_mut().enumerate() {
                let (mean, deviation) = conditioned(prediction, &values, read_hz.len() + index);
                possible.push(Possible {
                    hypothesis: a.hypothesis,
                    probability: a.probability,
                    seen: 0.0,
                    mean,
                    deviation,
                });
            }
        }
    }
    let good = good.get_or_insert_with(|| here.good());
    Ok(new
        .iter()
        .zip(possible_by_frequency)
        .enumerate()
        .map(|(index, (&f, possible))| {
            let quantity = read_hz.len() + index;
            let mean = good.mean[quantity];
            let deviation = good.covariance(quantity, quantity).sqrt();
            rated(Test::AtRack(f), asked.effort.rack_min, possible, mean, deviation, table.offset_ohm)
        })
        .collect())
}

fn at_joints(
    under_test: &LineUnderTest<'_>,
    asked: &Asked<'_>,
    table: &Table,
    steering: &[SteeringPoint],
) -> Result<Vec<(NextTest, OutcomeDistribution)>, FaultError> {
    // The meter in the crew's hands: of the frequencies that were read, else of those it has, the one nearest to that of a line
    // meter; a meter of direct current alone reads that.
    let f = nearest_to_a_line_meter(asked.readings.iter().map(|r| r.frequency_hz))
        .or_else(|| nearest_to_a_line_meter(asked.meter_hz.iter().copied()))
        .or_else(|| asked.meter_hz.first().copied())
        .unwrap_or(LINE_METER_HZ);
    let mut tests = Vec::new();
    for place in under_test.joints_behind_the_rack() {
        let Place::Downstream(name) = &place else { continue };
        let read = asked.readings.iter().any(|r| r.place == place && (r.frequency_hz - f).abs() < SAME_HZ);
        if read || asked.opened.contains(name) {
            continue;
        }
        let (joint, _) = under_test.joint(name)?;
        let predictor = under_test.predictor(&place, &[f], false)?;
        let good = predictor.good();
        let deviation = good.covariance(0, 0).sqrt();
        let mut possible = Vec::with_capacity(steering.len());
        for a in steering {
            let h = &table.hypotheses[a.hypothesis];
            let behind = under_test.tree.seen_from(&under_test.network, under_test.line, joint, &h.fault);
            let seen = h.seen.iter().find(|seen| seen.joint == *name).map_or(0.0, |s| SEEN * s.share);
            let mean = if behind {
                let hypothesis = &under_test.hypotheses[a.hypothesis];
                let swapped = match hypothesis.swapped_with {
                    Some(line) => under_test.swapped_predictor(line, &place, &[f], false)?,
                    None => None,
                };
                let alterations = &hypothesis.points[a.point].alterations;
                swapped.as_ref().unwrap_or(&predictor).means(alterations).into_iter().next().flatten()
            } else {
                good.mean[0]
            };
            let floor = mean.map_or(0.0, |mean| asked.tolerances.meter_floor_ohm / mean.exp());
            let deviation = deviation.hypot(floor);
            possible.push(Possible {
                hypothesis: a.hypothesis,
                probability: a.probability,
                seen,
                mean,
                deviation,
            });
        }
        let test = Test::OpenJoint { joint: name.clone(), frequency_hz: f };
        tests.push(rated(test, asked.effort.joint_min, possible, good.mean[0], deviation, table.offset_ohm));
    }
    Ok(tests)
}

/// Of some frequencies the one nearest to that of a line meter, direct current left out.
fn nearest_to_a_line_meter(frequencies_hz: impl Iterator<Item = f64>) -> Option<f64> {
    let off = |f: f64| (f / LINE_METER_HZ).ln().abs();
    frequencies_hz.filter(|f| *f > 0.0).min_by(|a, b| off(*a).total_cmp(&off(*b)))
}

/// A test with what it is expected to tell; its outcomes are put into words only when it is listed.
fn rated(
    test: Test,
    minutes: f64,
    possible: Vec<Possible>,
    good: Option<f64>,
    deviation: f64,
    offset_ohm: f64,
) -> (NextTest, OutcomeDistribution) {
    let distribution = OutcomeDistribution::new(possible, good.map(|mean| (mean, deviation)), offset_ohm);
    let expected_bits = distribution.expected_bits();
    let good_ohm = good.map(|mean| mean.exp() - offset_ohm);
    (NextTest { test, expected_bits, minutes, good_ohm, outcomes: Vec::new() }, distribution)
}

/// Mean and deviation of one quantity given others' values (normal conditioning).
fn conditioned(prediction: &Prediction, values: &[Value], wanted: usize) -> (Option<f64>, f64) {
    let Some(mean) = prediction.mean[wanted] else { return (None, 0.0) };
    let known: Vec<(usize, f64)> =
        values.iter().filter_map(|v| Some((v.quantity, v.value? - prediction.mean[v.quantity]?))).collect();
    // Gauss elimination by sequential conditioning: each known quantity in turn explains its part of all the others.
    let mut quantities: Vec<usize> = known.iter().map(|k| k.0).collect();
    quantities.push(wanted);
    let n = quantities.len();
    let mut c: Vec<Vec<f64>> = quantities
        .iter()
        .map(|&i| quantities.iter().map(|&j| prediction.covariance(i, j)).collect())
        .collect();
    let mut shift = vec![0.0; n];
    for k in 0..known.len() {
        let surprise = known[k].1 - shift[k];
        let row = c[k].clone();
        let variance = row[k].max(1e-12);
        for i in k..n {
            let share = c[i][k] / variance;
            shift[i] += share * surprise;
            for j in k..n {
                c[i][j] -= share * row[j];
            }
        }
    }
    (Some(mean + shift[n - 1]), c[n - 1][n - 1].max(1e-12).sqrt())
}

impl Predictor<'_> {
    /// The prediction for a good line.
    fn good(&self) -> Prediction {
        self.predict(&Point::good())
    }
}
