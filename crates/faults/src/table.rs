//! Everything needed to rank the explanations of readings on one line, as plain numbers.
//!
//! A phone without the engine gets the same posterior as [`crate::locate`], which itself evaluates such a table. The rule,
//! for readings each belonging to one of the table's places and quantities:
//!
//! 1. For each place with readings, and each of its `predictions`, let `used` be the quantities that were read as a number
//!    and are predicted as one. r = value - mean over `used` (value: ln(ohms + offset); for a phase, radians);
//!    C = the covariance over `used`. The log likelihood is -(ln det C + r' C^-1 r) / 2 - penalty.
//! 2. A penalty arises where one side is an open line (`open` below is ln(the meter's range + offset)): reading open, prediction
//!    a number m with variance v: clamp((open - m) / sqrt v, 0, 20)^2 / 2; reading a number x, prediction open:
//!    clamp((open - x) / 0.05, 0, 20)^2 / 2; both open: nothing. A phase is used only where |Z| is a number; a reading above
//!    the range counts as open.
//! 3. The log weight of point p of hypothesis h is ln(weight_h / points_h) + the sum over places of the log likelihood of
//!    prediction `of_point[p]`. Places are taken as independent of each other, though temperature, lengths and loudspeakers
//!    of one batch move all of them alike. With readings at joints the ranking therefore is too sure of itself: of lines read
//!    at the rack and three joints (readings from ngspice) claims of 80 to 90 % were true in 74 %, and 91 % of sound lines
//!    were called sound, against 85 % and 98.8 % from the rack alone.
//! 4. For each joint that was opened and looked sound, each hypothesis with that joint in its `seen` list is multiplied
//!    by 1 - 0.95 share.
//! 5. Weights are normalised to sum one over all points; a hypothesis has the sum of its points.

use loamline_electrics::{Change, Line, Network};
use serde::{Deserialize, Serialize};

use crate::error::FaultError;
use crate::hypotheses::{Beside, FINE, Fault, Hypothesis, Point, Priors, hypotheses};
use crate::places::{Place, Tree, cut_at, visible_at};
use crate::predict::{Prediction, Predictor};
use crate::readings::{MeterReading, Shown};
use crate::tolerances::Tolerances;

/// Of faults at a joint, this share is seen by opening it (from memory: a careful look misses one in twenty).
pub const SEEN: f64 = 0.95;
/// Steepness of the end of the meter's range, relative.
pub const RANGE_EDGE: f64 = 0.05;
/// Standard deviations at which a contradiction between a number and an open line stops growing.
pub const CONTRADICTION: f64 = 20.0;

/// The explanations of one line's readings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Table {
    /// The line.
    pub line: String,
    /// Everything that may be wrong, and that nothing is.
    pub hypotheses: Vec<TableHypothesis>,
    /// Grid points of all hypotheses: place along a run as a share of its length, or ohm; absent where there is none.
    pub parameters: Vec<Option<f64>>,
    /// Where a meter may be connected.
    pub places: Vec<TablePlace>,
    /// A meter shows an open line above this, ohm.
    pub meter_range_ohm: f64,
    /// Added to ohms before the logarithm is taken, ohm.
    pub offset_ohm: f64,
}

/// One hypothesis.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TableHypothesis {
    /// The fault.
    pub fault: Fault,
    /// In words.
    pub sentence: String,
    /// Prior weight; the weights of a table need not sum to one.
    pub weight: f64,
    /// Its first point.
    pub first: usize,
    /// How many points it has.
    pub count: usize,
    /// Joints at which it is seen when they are opened.
    pub seen: Vec<SeenAt>,
}

/// A joint at which a fault shows itself.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SeenAt {
    /// The joint.
    pub joint: String,
    /// Share of such faults seen there.
    pub share: f64,
}

/// One place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TablePlace {
    /// Where.
    pub place: Place,
    /// Frequencies in Hz, 0 for DC. The quantities are ln(|Z| + offset) at each, then the phase at each if `phases`.
    pub frequencies_hz: Vec<f64>,
    /// The quantities include phases.
    pub phases: bool,
    /// The different predictions; the first is a sound line's.
    pub predictions: Vec<Prediction>,
    /// Per point, its prediction.
    pub of_point: Vec<usize>,
}

/// What is to be read at one place.
#[derive(Debug, Clone, PartialEq)]
pub struct Setup {
    /// Where.
    pub place: Place,
    /// Frequencies in Hz, 0 for DC.
    pub frequencies_hz: Vec<f64>,
    /// The meter shows phases as well.
    pub phases: bool,
}

/// Weights of a table's points and hypotheses given readings.
#[derive(Debug, Clone, PartialEq)]
pub struct Weighed {
    /// Per point, ln of its probability.
    pub log_probability: Vec<f64>,
    /// Per point, how far the readings are from it, standard deviations.
    pub deviations: Vec<f64>,
    /// Per hypothesis, its probability.
    pub probability: Vec<f64>,
}

/// The line with all that predictions need.
pub(crate) struct Engine<'a> {
    pub(crate) line: &'a Line,
    pub(crate) network: Network,
    pub(crate) tree: Tree,
    others: Vec<(&'a Line, Network)>,
    pub(crate) hypotheses: Vec<Hypothesis>,
    pub(crate) tolerances: &'a Tolerances,
}

impl<'a> Engine<'a> {
    pub(crate) fn new(
        line: &'a Line,
        others: &[&'a Line],
        tolerances: &'a Tolerances,
        priors: &Priors,
    ) -> Result<Self, FaultError> {
        tolerances.check()?;
        let network = Network::build(line)?;
        let hypotheses = hypotheses(line, &network, others, priors, FINE);
        let tree = Tree::new(&network);
        let others = others
            .iter()
            .map(|&other| Ok((other, Network::build(other)?)))
            .collect::<Result<Vec<_>, FaultError>>()?;
        Ok(Self { line, network, tree, others, hypotheses, tolerances })
    }

    /// The predictor at a place of this line.
    ///
    /// # Errors
    /// A joint the line does not have or that cannot be parted from the rack.
    pub(crate) fn predictor(
        &self,
        place: &Place,
        frequencies_hz: &[f64],
        phases: bool,
    ) -> Result<Predictor<'a>, FaultError> {
        let Place::Downstream(name) = place else {
            return Predictor::new(
                self.line,
                &self.network,
                Vec::new(),
                frequencies_hz,
                phases,
                self.tolerances,
            );
        };
        let (joint, run) = self.joint(name)?;
        let cut: Vec<Change> = vec![cut_at(&self.network, run, joint)];
        let seen =
            self.network.seen_from(name).ok_or_else(|| FaultError::NoSuchJoint { joint: name.clone() })?;
        Predictor::new(self.line, &seen, cut, frequencies_hz, phases, self.tolerances)
    }

    /// Predictors at the rack of the lines this one may have been swapped with.
    pub(crate) fn swapped_predictors(
        &self,
        frequencies_hz: &[f64],
        phases: bool,
    ) -> Result<Vec<Predictor<'a>>, FaultError> {
        let predictor = |(line, network): &(&Line, Network)| {
            Predictor::new(line, network, Vec::new(), frequencies_hz, phases, self.tolerances)
        };
        self.others.iter().map(predictor).collect()
    }

    /// Index of a joint and of the run to take off there.
    pub(crate) fn joint(&self, name: &str) -> Result<(usize, usize), FaultError> {
        let joint = self
            .network
            .joint_index(name)
            .ok_or_else(|| FaultError::NoSuchJoint { joint: name.to_owned() })?;
        let run = self.tree.upstream[joint];
        let run = run.ok_or_else(|| FaultError::NotBehindTheRack { joint: name.to_owned() })?;
        Ok((joint, run))
    }

    /// Every joint a meter can look away from the rack at.
    pub(crate) fn joints_behind_the_rack(&self) -> impl Iterator<Item = Place> + '_ {
        let joints = self.network.joints().iter().zip(&self.tree.upstream);
        joints.filter(|(_, run)| run.is_some()).map(|(joint, _)| Place::Downstream(joint.clone()))
    }

    /// Joints a short at which a meter at the place sees.
    pub(crate) fn shorts_seen_from(&self, place: &Place) -> Vec<usize> {
        let seen = |joint: usize| match place {
            Place::Rack => joint != self.network.source_index(),
            // A short at the joint itself is at the meter.
            Place::Downstream(name) => self.joint(name).is_ok_and(|(here, _)| {
                let fault = Fault::ShortAt { joint: self.network.joints()[joint].clone() };
                joint != here && self.tree.seen_from(&self.network, self.line, here, &fault)
            }),
        };
        (0..self.network.joints().len()).filter(|&joint| seen(joint)).collect()
    }

    fn place(&self, setup: &Setup) -> Result<TablePlace, FaultError> {
        let predictor = self.predictor(&setup.place, &setup.frequencies_hz, setup.phases)?;
        let others = if setup.place == Place::Rack {
            self.swapped_predictors(&setup.frequencies_hz, setup.phases)?
        } else {
            Vec::new()
        };
        let joint = match &setup.place {
            Place::Rack => None,
            Place::Downstream(name) => Some(self.joint(name)?.0),
        };
        let mut predictions = Vec::new();
        let mut of_point = Vec::new();
        for hypothesis in &self.hypotheses {
            let other = hypothesis.other.and_then(|other| others.get(other));
            let sound_here = joint.is_some_and(|joint| {
                !self.tree.seen_from(&self.network, self.line, joint, &hypothesis.fault)
            });
            if sound_here && !predictions.is_empty() {
                of_point.extend(std::iter::repeat_n(0, hypothesis.points.len()));
                continue;
            }
            for prediction in over_grid(other.unwrap_or(&predictor), &hypothesis.points) {
                of_point.push(predictions.len());
                predictions.push(prediction);
            }
        }
        Ok(TablePlace {
            place: setup.place.clone(),
            frequencies_hz: setup.frequencies_hz.clone(),
            phases: setup.phases,
            predictions,
            of_point,
        })
    }

    pub(crate) fn table(&self, setups: &[Setup]) -> Result<Table, FaultError> {
        let mut first = 0;
        let hypotheses = self
            .hypotheses
            .iter()
            .map(|h| {
                let count = h.points.len();
                first += count;
                TableHypothesis {
                    fault: h.fault.clone(),
                    sentence: crate::sentences::explain(self.line, &h.fault, None, None),
                    weight: h.weight,
                    first: first - count,
                    count,
                    seen: visible_at(self.line, &self.network, &h.fault)
                        .into_iter()
                        .map(|(joint, share)| SeenAt { joint, share })
                        .collect(),
                }
            })
            .collect();
        Ok(Table {
            line: self.line.name.clone(),
            hypotheses,
            parameters: self.hypotheses.iter().flat_map(|h| h.points.iter().map(|p| p.parameter)).collect(),
            places: setups.iter().map(|setup| self.place(setup)).collect::<Result<_, _>>()?,
            meter_range_ohm: self.tolerances.meter_range_ohm,
            offset_ohm: self.tolerances.offset_ohm(),
        })
    }
}

/// Predictions at the points of one hypothesis, each blurred by the spacing of the grid.
pub(crate) fn over_grid(predictor: &Predictor<'_>, points: &[Point]) -> Vec<Prediction> {
    let grid: Vec<Prediction> = points.iter().map(|point| predictor.predict(point)).collect();
    let last = grid.len().saturating_sub(1);
    let steps: Vec<Vec<Vec<f64>>> = points
        .iter()
        .enumerate()
        .map(|(index, point)| {
            if point.beside.is_empty() {
                let (before, after) = (index.saturating_sub(1), (index + 1).min(last));
                return vec![step(&grid[before].mean, &grid[after].mean, (after - before).max(1) as f64)];
            }
            let along = |beside: &Beside| {
                step(&predictor.means(&beside.before), &predictor.means(&beside.after), beside.steps)
            };
            point.beside.iter().map(along).collect()
        })
        .collect();
    grid.into_iter()
        .zip(steps)
        .map(|(mut prediction, steps)| {
            steps.iter().for_each(|step| prediction.blur(step));
            prediction
        })
        .collect()
}

/// One step of a grid, from the quantities before and after.
fn step(before: &[Option<f64>], after: &[Option<f64>], steps: f64) -> Vec<f64> {
    let one = |(a, b): (&Option<f64>, &Option<f64>)| match (a, b) {
        (Some(a), Some(b)) => (b - a) / steps,
        _ => 0.0,
    };
    before.iter().zip(after).map(one).collect()
}

impl Table {
    /// The table of `line` for readings as in `setups`; `others` are lines it may have been swapped with.
    ///
    /// # Errors
    /// Everything wrong with the lines, the frequencies, the joints or the tolerances.
    pub fn build(
        line: &Line,
        others: &[&Line],
        setups: &[Setup],
        tolerances: &Tolerances,
        priors: &Priors,
    ) -> Result<Self, FaultError> {
        Engine::new(line, others, tolerances, priors)?.table(setups)
    }

    /// Weighs every hypothesis by the rule of this module. `opened` are joints that were opened and looked sound.
    ///
    /// # Errors
    /// A reading at a place or frequency the table does not have.
    pub fn weigh(&self, readings: &[MeterReading], opened: &[String]) -> Result<Weighed, FaultError> {
        let count = self.parameters.len();
        let mut log_weight = vec![0.0; count];
        let mut squared = vec![0.0; count];
        for hypothesis in &self.hypotheses {
            let mut prior = hypothesis.weight / hypothesis.count as f64;
            for seen in hypothesis.seen.iter().filter(|seen| opened.contains(&seen.joint)) {
                prior *= 1.0 - SEEN * seen.share;
            }
            let ln = prior.max(1e-300).ln();
            log_weight[hypothesis.first..hypothesis.first + hypothesis.count].fill(ln);
        }
        for reading in readings {
            if !self.places.iter().any(|place| place.place == reading.place) {
                return Err(FaultError::NotInTable { frequency_hz: reading.frequency_hz });
            }
        }
        for place in &self.places {
            let values = self.values(place, readings)?;
            if values.is_empty() {
                continue;
            }
            let scored: Vec<(f64, f64)> = place
                .predictions
                .iter()
                .map(|prediction| log_likelihood(prediction, &values, self.open()))
                .collect();
            for (point, &prediction) in place.of_point.iter().enumerate() {
                log_weight[point] += scored[prediction].0;
                squared[point] += scored[prediction].1;
            }
        }
        let most = log_weight.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let sum: f64 = log_weight.iter().map(|w| (w - most).exp()).sum();
        let log_probability: Vec<f64> = log_weight.iter().map(|w| w - most - sum.ln()).collect();
        let probability = self
            .hypotheses
            .iter()
            .map(|h| log_probability[h.first..h.first + h.count].iter().map(|w| w.exp()).sum())
            .collect();
        let deviations = squared.into_iter().map(f64::sqrt).collect();
        Ok(Weighed { log_probability, deviations, probability })
    }
}

/// A quantity that was read.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Value {
    /// Its index at the place.
    pub(crate) quantity: usize,
    /// Ln(ohm + offset) or radians; absent for an open line.
    pub(crate) value: Option<f64>,
    phase: bool,
}

impl Table {
    /// The end of the meter's range as a quantity.
    pub(crate) fn open(&self) -> f64 {
        (self.meter_range_ohm + self.offset_ohm).ln()
    }

    /// The readings taken at a place as quantities.
    pub(crate) fn values(
        &self,
        place: &TablePlace,
        readings: &[MeterReading],
    ) -> Result<Vec<Value>, FaultError> {
        let mut values = Vec::new();
        for reading in readings.iter().filter(|reading| reading.place == place.place) {
            let frequency_hz = reading.frequency_hz;
            let index = place.frequencies_hz.iter().position(|f| (f - frequency_hz).abs() < 1e-6);
            let index = index.ok_or(FaultError::NotInTable { frequency_hz })?;
            match reading.shown {
                Shown::Ohm(ohm) if ohm <= self.meter_range_ohm => {
                    let value = Some((ohm + self.offset_ohm).ln());
                    values.push(Value { quantity: index, value, phase: false });
                    if let Some(phase) = reading.phase_rad {
                        if !place.phases {
                            return Err(FaultError::NotInTable { frequency_hz });
                        }
                        let quantity = place.frequencies_hz.len() + index;
                        values.push(Value { quantity, value: Some(phase), phase: true });
                    }
                }
                _ => values.push(Value { quantity: index, value: None, phase: false }),
            }
        }
        Ok(values)
    }
}

/// Log likelihood of what was read under a prediction, and the squared distance in standard deviations.
pub(crate) fn log_likelihood(prediction: &Prediction, values: &[Value], open: f64) -> (f64, f64) {
    let mut used = Vec::with_capacity(values.len());
    let mut penalty = 0.0;
    for read in values {
        let quantity = read.quantity;
        match (prediction.mean[quantity], read.value) {
            (Some(mean), Some(value)) => used.push((quantity, value - mean)),
            (None, None) => {}
            (Some(mean), None) => {
                let off = (open - mean) / prediction.covariance(quantity, quantity).sqrt();
                penalty += 0.5 * off.clamp(0.0, CONTRADICTION).powi(2);
            }
            // A phase has no open line of its own: its |Z| has counted already.
            (None, Some(_)) if read.phase => {}
            (None, Some(value)) => {
                let off = (open - value) / RANGE_EDGE;
                penalty += 0.5 * off.clamp(0.0, CONTRADICTION).powi(2);
            }
        }
    }
    let (log_determinant, squared) =
        gauss(used.len(), |i, j| prediction.covariance(used[i].0, used[j].0), |i| used[i].1);
    (-0.5 * (log_determinant + squared) - penalty, squared + 2.0 * penalty)
}

/// ln det C and r' C^-1 r by Cholesky; C is positive definite because every meter has an error.
pub(crate) fn gauss(
    n: usize,
    covariance: impl Fn(usize, usize) -> f64,
    residual: impl Fn(usize) -> f64,
) -> (f64, f64) {
    let mut c = vec![0.0; n * n];
    let mut y = vec![0.0; n];
    let (mut log_determinant, mut squared) = (0.0, 0.0);
    for i in 0..n {
        for j in 0..=i {
            let dot: f64 = (0..j).map(|k| c[i * n + k] * c[j * n + k]).sum();
            let rest = covariance(i, j) - dot;
            c[i * n + j] = if i == j { rest.max(1e-12).sqrt() } else { rest / c[j * n + j] };
        }
        let dot: f64 = (0..i).map(|k| c[i * n + k] * y[k]).sum();
        y[i] = (residual(i) - dot) / c[i * n + i];
        log_determinant += 2.0 * c[i * n + i].ln();
        squared += y[i] * y[i];
    }
    (log_determinant, squared)
}
