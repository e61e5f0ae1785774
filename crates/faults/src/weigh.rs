//! The rule by which readings are held against a [`Table`].
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
//!    at the rack and three joints (readings from ngspice) claims of 80 to 90 % were true in 74 %, and 91 % of good lines
//!    were called good, against 85 % and 98.8 % from the rack alone.
//! 4. For each joint that was opened and looked good, each hypothesis with that joint in its `seen` list is multiplied
//!    by 1 - 0.95 share.
//!    Where the line's insulation to earth was measured and is not good, each hypothesis is multiplied by the likelihood of
//!    that ([`Table::leaks`]): the meter's readings of the loop say nothing of it, and a line that leaks beyond its limit is not
//!    one with nothing wrong.
//! 5. Weights are normalised to sum one over all points; a hypothesis has the sum of its points.

use crate::error::FaultError;
use crate::grade::Grade;
use crate::hypotheses::Fault;
use crate::predict::Prediction;
use crate::readings::{MeterReading, Shown};
use crate::table::{Table, TablePlace};
use loamline_limits::go_on;

/// Of faults at a joint, this share is seen by opening it (from memory: a careful look misses one in twenty).
pub const SEEN: f64 = 0.95;
/// Insulation that is not good is measured of so many lines whose fault lets water or earth in (from memory: the rest are dry on
/// the day).
pub const LEAKS: f64 = 0.5;
/// Insulation that is doubtful is measured of so many lines without such a fault (from memory: wet ground alone).
pub const LEAKS_DOUBTFULLY: f64 = 0.002;
/// Insulation that is bad is measured of so many of them (from memory).
pub const LEAKS_BADLY: f64 = 0.0002;
/// Steepness of the end of the meter's range, relative.
pub const RANGE_EDGE: f64 = 0.05;
/// Standard deviations at which a contradiction between a number and an open line stops growing.
pub const CONTRADICTION: f64 = 20.0;

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

impl Table {
    /// How likely insulation to earth of this grade is under a fault; of good insulation nothing follows.
    #[must_use]
    pub fn leaks(fault: &Fault, insulation: Option<Grade>) -> f64 {
        let otherwise = match insulation {
            None | Some(Grade::Good) => return 1.0,
            Some(Grade::Doubtful) => LEAKS_DOUBTFULLY,
            Some(Grade::Bad) => LEAKS_BADLY,
        };
        if fault.parts().into_iter().any(lets_earth_in) { LEAKS } else { otherwise }
    }

    /// Weighs every hypothesis by the rule of this module. `opened` are joints that were opened and looked good, `insulation` is
    /// what was measured to earth.
    ///
    /// # Errors
    /// A reading at a place or frequency the table does not have.
    pub fn weigh(
        &self,
        readings: &[MeterReading],
        opened: &[String],
        insulation: Option<Grade>,
    ) -> Result<Weighed, FaultError> {
        let count = self.parameters.len();
        let mut log_weight = vec![0.0; count];
        let mut squared = vec![0.0; count];
        for hypothesis in &self.hypotheses {
            let mut prior = hypothesis.weight / hypothesis.count as f64;
            for seen in hypothesis.seen.iter().filter(|seen| opened.contains(&seen.joint)) {
                prior *= 1.0 - SEEN * seen.share;
            }
            prior *= Self::leaks(&hypothesis.fault, insulation);
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
                .map(|prediction| log_likelihood(prediction, &values, self.range_end()))
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

/// Whether a fault opens a way for water or earth to a conductor: a wet joint, a staple or a short in one, a cut.
pub(crate) fn lets_earth_in(fault: &Fault) -> bool {
    matches!(fault, Fault::Wet { .. } | Fault::ShortAt { .. } | Fault::ShortAlong { .. } | Fault::Open { .. })
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
    pub(crate) fn range_end(&self) -> f64 {
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
    go_on();
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
    let (log_determinant, squared) = log_determinant_and_distance(
        used.len(),
        |i, j| prediction.covariance(used[i].0, used[j].0),
        |i| used[i].1,
    );
    (-0.5 * (log_determinant + squared) - penalty, squared + 2.0 * penalty)
}

/// ln det C and r' C^-1 r by Cholesky; C is positive definite because every meter has an error.
pub(crate) fn log_determinant_and_distance(
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_leak_speaks_for_what_lets_earth_in_and_good_insulation_for_nothing() {
        let wet = Fault::Wet { joint: "L1".into() };
        let [bad, doubtful] = [Grade::Bad, Grade::Doubtful].map(Some);
        for grade in [None, Some(Grade::Good)] {
            assert!((Table::leaks(&wet, grade) - Table::leaks(&Fault::Healthy, grade)).abs() < 1e-12);
        }
        assert!(Table::leaks(&wet, doubtful) > 100.0 * Table::leaks(&Fault::Healthy, doubtful));
        assert!(Table::leaks(&Fault::Healthy, bad) < Table::leaks(&Fault::Healthy, doubtful));
        let two = Fault::Two { first: Box::new(Fault::Missing { load: "L2".into() }), second: Box::new(wet) };
        assert!(Table::leaks(&two, bad) > Table::leaks(&Fault::Missing { load: "L2".into() }, bad));
    }
}
