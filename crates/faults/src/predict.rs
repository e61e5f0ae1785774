//! What a meter shows at one place under one hypothesis: a normal variable with every common error in its covariance.
//!
//! The quantities are ln(|Z| + offset) at each frequency and, where a meter shows it, the phase at each. The offset is
//! [`Tolerances::offset_ohm`], a few tenths of an ohm. Lengths (each run's own and one
//! common), temperature of all copper, the cable's inductance and capacitance, eight parts of each loudspeaker and what is
//! not known of each transformer model's windings are independent normal errors; they are carried to ln Z = ln|Z| + j phase
//! by the sensitivities of `loamline_electrics::Probe` (Tellegen) and, within a loudspeaker, by central differences over one
//! standard deviation. First order: an error that moves a reading by a tenth is carried to about a hundredth of itself.

use loamline_electrics::{
    COPPER_COEFFICIENT_PER_K, Change, Complex64, Line, Load, Network, Probe, TwoChanges,
};
use loamline_limits::go_on;
use serde::{Deserialize, Serialize};

use crate::error::FaultError;
use crate::hypotheses::{Alteration, Point};
use crate::load_sensitivity::{COIL, LoadSensitivity, WINDING, load_sensitivity};
use crate::tolerances::{Cause, LoadTolerances, Tolerances, WindingTolerances};

const PARTS: usize = LoadTolerances::PARTS;
const UNKNOWNS: usize = WindingTolerances::PARTS;
/// Ohms below this are taken as this where a phase or a share is formed.
const LEAST_OHM: f64 = 1e-4;

/// Predicted quantities of one place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Prediction {
    /// Mean per quantity, ln(ohm + offset) or radians; absent where the meter shows an open line.
    pub mean: Vec<Option<f64>>,
    /// Covariance, the lower triangle row by row: (0,0), (1,0), (1,1), (2,0)...; zero where the mean is absent.
    pub covariance: Vec<f64>,
}

impl Prediction {
    pub(crate) fn covariance(&self, i: usize, j: usize) -> f64 {
        let (low, high) = (i.min(j), i.max(j));
        self.covariance[high * (high + 1) / 2 + low]
    }

    /// Adds `step` `step`' / 12, the variance of a uniform spread over one step of a grid.
    pub(crate) fn blur(&mut self, step: &[f64]) {
        let mut index = 0;
        for i in 0..step.len() {
            for j in 0..=i {
                if self.mean[i].is_some() && self.mean[j].is_some() {
                    self.covariance[index] += step[i] * step[j] / 12.0;
                }
                index += 1;
            }
        }
    }
}

/// Predicts readings at one place.
pub(crate) struct Predictor<'a> {
    probe: Probe,
    /// The run taken off at the place, if any; applied after everything else.
    cut: Vec<Change>,
    /// Per frequency, per load.
    loads: Vec<Vec<LoadSensitivity>>,
    /// Per load, its batch.
    batch: Vec<usize>,
    batches: usize,
    /// Per load, its transformer model; loads without one have the model they would share with others of their kind.
    model: Vec<usize>,
    models: usize,
    phases: bool,
    tolerances: &'a Tolerances,
}

impl<'a> Predictor<'a> {
    /// `network` is that of `line`, seen from the place. With `phases` the quantities include a phase per frequency.
    pub(crate) fn new(
        line: &Line,
        network: &Network,
        cut: Vec<Change>,
        frequencies_hz: &[f64],
        phases: bool,
        tolerances: &'a Tolerances,
    ) -> Result<Self, FaultError> {
        let probe = Probe::new(network, frequencies_hz)?;
        let loads = frequencies_hz
            .iter()
            .map(|&f| line.loads.iter().map(|load| load_sensitivity(load, tolerances, f)).collect())
            .collect();
        let (batch, batches) = alike(&line.loads, |a, b| a.loudspeaker == b.loudspeaker);
        let (model, models) = alike(&line.loads, |a, b| a.tapped() == b.tapped());
        Ok(Self { probe, cut, loads, batch, batches, model, models, phases, tolerances })
    }

    /// Number of quantities predicted.
    pub(crate) fn quantities(&self) -> usize {
        self.probe.frequencies_hz().len() * if self.phases { 2 } else { 1 }
    }

    /// A point's alterations as changes of the network.
    fn changes(&self, alterations: &[Alteration]) -> Vec<Change> {
        let mut changes = self.own_changes(alterations);
        changes.extend_from_slice(&self.cut);
        changes
    }

    /// The same without the run taken off at the place.
    pub(crate) fn own_changes(&self, alterations: &[Alteration]) -> Vec<Change> {
        let mut changes = Vec::with_capacity(alterations.len() + self.cut.len());
        for alteration in alterations {
            match alteration {
                Alteration::Network(change) if on_cut_run(change, &self.cut) => {}
                Alteration::Network(change) => changes.push(change.clone()),
                Alteration::Load { index, load } => {
                    let frequencies = self.probe.frequencies_hz().iter();
                    let admittance_s = frequencies.map(|&f| load.response(f).admittance_s).collect();
                    changes.push(Change::Replaced { load: *index, admittance_s });
                }
            }
        }
        changes
    }

    /// The network with the run taken off, for pairs of changes.
    pub(crate) fn two_changes(&self) -> TwoChanges<'_> {
        TwoChanges::new(&self.probe, &self.cut)
    }

    /// Only the means: much less work.
    pub(crate) fn means(&self, alterations: &[Alteration]) -> Vec<Option<f64>> {
        go_on();
        self.quantities_of(&self.probe.read(&self.changes(alterations)))
    }

    /// The quantities of impedances, one per frequency.
    pub(crate) fn quantities_of(&self, read: &[Option<Complex64>]) -> Vec<Option<f64>> {
        let range = self.tolerances.meter_range_ohm;
        let offset = self.tolerances.offset_ohm();
        let shown = |z: &Option<Complex64>| z.filter(|z| z.norm() <= range);
        let mut all: Vec<Option<f64>> =
            read.iter().map(|z| shown(z).map(|z| (z.norm() + offset).ln())).collect();
        if self.phases {
            let frequencies = self.probe.frequencies_hz();
            all.extend(
                read.iter().zip(frequencies).map(|(z, f)| shown(z).filter(|_| *f > 0.0).map(|z| z.arg())),
            );
        }
        all
    }

    /// The prediction with a point's alterations made.
    pub(crate) fn predict(&self, point: &Point) -> Prediction {
        go_on();
        let frequencies = self.probe.frequencies_hz();
        let changes = self.changes(&point.alterations);
        let mut altered: Vec<(usize, Vec<LoadSensitivity>)> = Vec::new();
        for alteration in &point.alterations {
            if let Alteration::Load { index, load } = alteration {
                let sensitivity = |&f: &f64| load_sensitivity(load, self.tolerances, f);
                altered.push((*index, frequencies.iter().map(sensitivity).collect()));
            }
        }
        let count = frequencies.len();
        let mut mean = vec![None; self.quantities()];
        let mut meter = vec![0.0; self.quantities()];
        let mut scale = vec![1.0; count];
        let mut moves: Vec<Vec<Complex64>> = Vec::with_capacity(count);
        for (f, examined) in self.probe.examine(&changes).into_iter().enumerate() {
            let z = examined.impedance_ohm.filter(|z| z.norm() <= self.tolerances.meter_range_ohm);
            let Some(z) = z else {
                moves.push(Vec::new());
                continue;
            };
            let offset = self.tolerances.offset_ohm();
            let ohm = z.norm().max(LEAST_OHM);
            mean[f] = Some((ohm + offset).ln());
            // d ln(ohm + offset) = d ln ohm * ohm / (ohm + offset)
            scale[f] = ohm / (ohm + offset);
            let floor = self.tolerances.meter_floor_ohm / ohm;
            meter[f] = (self.tolerances.meter.powi(2) + floor * floor) * scale[f] * scale[f];
            if self.phases && frequencies[f] > 0.0 {
                mean[count + f] = Some(z.arg());
                meter[count + f] = self.tolerances.meter_phase_deg.to_radians().powi(2) + floor * floor;
            }
            let sensitivity = |load: usize| {
                altered
                    .iter()
                    .find(|(other, _)| *other == load)
                    .map_or_else(|| &self.loads[f][load], |(_, sensitivities)| &sensitivities[f])
            };
            moves.push(self.moves(&examined, z, &sensitivity));
        }
        let row = |q: usize| if q < count { q } else { q - count };
        let part = |q: usize, value: Complex64| if q < count { scale[q] * value.re } else { value.im };
        let mut covariance = Vec::with_capacity(mean.len() * (mean.len() + 1) / 2);
        for i in 0..mean.len() {
            for j in 0..=i {
                let common = if mean[i].is_some() && mean[j].is_some() {
                    let pairs = moves[row(i)].iter().zip(&moves[row(j)]);
                    pairs.map(|(&a, &b)| part(i, a) * part(j, b)).sum()
                } else {
                    0.0
                };
                covariance.push(common + if i == j { meter[i] } else { 0.0 });
            }
        }
        Prediction { mean, covariance }
    }

    /// Variance of the first quantity of a good line by cause, in the order of [`Cause::ALL`]; zero where the line reads
    /// open.
    pub(crate) fn variance_by_cause(&self) -> [f64; Cause::ALL.len()] {
        let mut squares = [0.0; Cause::ALL.len()];
        let examined = self.probe.examine(&self.cut).into_iter().next();
        let Some((examined, z)) = examined.and_then(|e| e.impedance_ohm.map(|z| (e, z))) else {
            return squares;
        };
        let ohm = z.norm().max(LEAST_OHM);
        let scale = ohm / (ohm + self.tolerances.offset_ohm());
        let floor = self.tolerances.meter_floor_ohm / ohm;
        squares[Cause::Meter as usize] = (self.tolerances.meter.powi(2) + floor * floor) * scale * scale;
        let moves = self.moves(&examined, z, &|load| &self.loads[0][load]);
        let (runs, loads) = (examined.per_run_ohm.len(), examined.per_load_ohm.len());
        for (moved, cause) in moves.iter().zip(self.causes(runs, loads)) {
            squares[cause as usize] += (scale * moved.re).powi(2);
        }
        squares
    }

    /// What each of [`Self::moves`] comes from, in its order.
    fn causes(&self, runs: usize, loads: usize) -> impl Iterator<Item = Cause> + use<> {
        let several = std::iter::repeat_n::<Cause>;
        several(Cause::Length, runs + 1)
            .chain(several(Cause::CableMake, 2))
            .chain(several(Cause::Loudspeakers, loads * PARTS))
            .chain(several(Cause::Temperature, 1))
            .chain(several(Cause::Loudspeakers, self.batches * PARTS))
            .chain(several(Cause::Windings, self.models * UNKNOWNS))
    }

    /// How one standard deviation of each independent error moves ln Z.
    fn moves<'b>(
        &self,
        examined: &loamline_electrics::Examined,
        z: Complex64,
        sensitivity: &dyn Fn(usize) -> &'b LoadSensitivity,
    ) -> Vec<Complex64> {
        let t = self.tolerances;
        let sum = |values: &[Complex64]| values.iter().sum::<Complex64>() / z;
        let copper = t.temperature_k * COPPER_COEFFICIENT_PER_K;
        let resistive = sum(&examined.per_run_resistance_ohm);
        let all_runs = sum(&examined.per_run_ohm);
        let mut moves: Vec<Complex64> = examined.per_run_ohm.iter().map(|d| t.length * d / z).collect();
        let capacitive = examined.capacitance_ohm / z;
        moves.push(t.length_common * (all_runs + capacitive));
        moves.push(t.cable_inductance * (all_runs - resistive));
        moves.push(t.cable_capacitance * capacitive);
        let tolerance = t.load.parts();
        let (own, common) = ((1.0 - t.batch_share).sqrt(), t.batch_share.sqrt());
        let mut warm = copper * resistive;
        let mut batch = vec![Complex64::default(); self.batches * PARTS];
        let mut model = vec![Complex64::default(); self.models * UNKNOWNS];
        for (load, d) in examined.per_load_ohm.iter().enumerate() {
            let relative = d / z;
            let LoadSensitivity { parts, windings } = sensitivity(load);
            // Voice coil and windings are copper too.
            warm += copper * relative * (parts[COIL] + parts[WINDING]);
            for part in 0..PARTS {
                let moved = relative * parts[part] * tolerance[part];
                moves.push(own * moved);
                batch[self.batch[load] * PARTS + part] += common * moved;
            }
            for (unknown, moved) in windings.iter().enumerate() {
                model[self.model[load] * UNKNOWNS + unknown] += relative * moved;
            }
        }
        moves.push(warm);
        moves.extend(batch);
        moves.extend(model);
        moves
    }
}

fn on_cut_run(change: &Change, cut: &[Change]) -> bool {
    let run_of = |change: &Change| match change {
        Change::Cut { run, .. } | Change::ShortAlong { run, .. } | Change::Series { run, .. } => Some(*run),
        _ => None,
    };
    run_of(change).is_some_and(|run| cut.iter().any(|other| run_of(other) == Some(run)))
}

/// Per load, the number of the group of those that are the same in something; and how many groups there are.
fn alike(loads: &[Load], same: impl Fn(&Load, &Load) -> bool) -> (Vec<usize>, usize) {
    let mut group = Vec::with_capacity(loads.len());
    let mut groups = 0;
    for (index, load) in loads.iter().enumerate() {
        let like = loads[..index].iter().position(|other| same(other, load));
        group.push(like.map_or(groups, |other| group[other]));
        groups = groups.max(group[index] + 1);
    }
    (group, groups)
}
