//! A network at a meter's few frequencies, ready to be perturbed thousands of times.
//!
//! [`Probe::read`] gives the impedance a meter at the source joint shows with any set of [`Change`]s applied, in
//! microseconds for a line of tens of joints. [`Probe::examine`] adds how that reading moves with every run's and every load's
//! value, by Tellegen's theorem: with one ampere in, dZ = sum I_run^2 dZ_run - sum V_load^2 dY_load, V_load the voltage a
//! load stands across (Penfield, Spence and Duinker 1970). Frequency zero is the ohmmeter's DC.

use loamline_limits::go_on;
use num_complex::Complex64;

use crate::error::InputError;
use crate::network::{NetLoad, Network};

const ZERO: Complex64 = Complex64::new(0.0, 0.0);

/// A departure from the line as designed. Indices are those of the [`Network`].
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// The run is cut `fraction` (0..=1) of its length from its `from` end.
    Cut {
        /// Run index.
        run: usize,
        /// Where along the run.
        fraction: f64,
    },
    /// The run's conductors touch through `ohm` (above zero) `fraction` of its length from its `from` end.
    ShortAlong {
        /// Run index.
        run: usize,
        /// Where along the run.
        fraction: f64,
        /// Resistance of the contact in ohm.
        ohm: f64,
    },
    /// `ohm` (zero or more) more in series with a run: a corroded joint or splice at either end.
    Series {
        /// Run index.
        run: usize,
        /// Added resistance in ohm.
        ohm: f64,
    },
    /// `ohm` (above zero) across a joint: a short there, or leakage through water.
    Across {
        /// Joint index.
        joint: usize,
        /// Resistance in ohm.
        ohm: f64,
    },
    /// The load is not there.
    Missing {
        /// Load index.
        load: usize,
    },
    /// The load shows other admittances, one per frequency of the probe in S: another tap, no transformer, a dead coil.
    Replaced {
        /// Load index.
        load: usize,
        /// Admittances in S.
        admittance_s: Vec<Complex64>,
    },
    /// A further load of these admittances, one per frequency of the probe in S, across a joint.
    Added {
        /// Joint index.
        joint: usize,
        /// Admittances in S.
        admittance_s: Vec<Complex64>,
    },
}

/// A network prepared at a few frequencies.
#[derive(Debug, Clone)]
pub struct Probe {
    pub(crate) network: Network,
    pub(crate) frequencies_hz: Vec<f64>,
    series_ohm: Vec<Vec<Complex64>>,
    load_s: Vec<Vec<Complex64>>,
    branch_s: Vec<Vec<Complex64>>,
    ground_s: Vec<Vec<Complex64>>,
}

/// A reading and what moves it, at one frequency.
#[derive(Debug, Clone, PartialEq)]
pub struct Examined {
    /// Impedance at the source joint in ohm; `None` for an open line.
    pub impedance_ohm: Option<Complex64>,
    /// Per run, change of the impedance per unit relative change of the run's series impedance, ohm.
    pub per_run_ohm: Vec<Complex64>,
    /// The part of `per_run_ohm` that belongs to the run's resistance, ohm.
    pub per_run_resistance_ohm: Vec<Complex64>,
    /// Per load, change of the impedance per unit relative change of the load's impedance, ohm.
    pub per_load_ohm: Vec<Complex64>,
    /// Change of the impedance per unit relative change of the capacitance of all cable, ohm.
    pub capacitance_ohm: Complex64,
}

impl Probe {
    /// Prepares `network` at `frequencies_hz` (zero or more, at least one).
    ///
    /// # Errors
    /// A frequency that is negative or not a number, or an empty list.
    pub fn new(network: &Network, frequencies_hz: &[f64]) -> Result<Self, InputError> {
        if frequencies_hz.is_empty() {
            return Err(InputError::Empty { place: "meter".to_owned(), quantity: "list of frequencies" });
        }
        for &f in frequencies_hz {
            InputError::check_not_negative("meter", "frequency", "Hz", f)?;
        }
        let omega = |f: f64| std::f64::consts::TAU * f;
        let each = |value: &dyn Fn(f64) -> Vec<Complex64>| frequencies_hz.iter().map(|&f| value(f)).collect();
        let series_ohm: Vec<Vec<_>> =
            each(&|f| network.runs.iter().map(|run| run.series_ohm(omega(f))).collect());
        let load_s: Vec<Vec<_>> =
            each(&|f| network.loads.iter().map(|load| load.response(f).admittance_s).collect());
        let mut branch_s = vec![vec![ZERO; network.plan.slots]; frequencies_hz.len()];
        let mut ground_s = vec![vec![ZERO; network.joints.len()]; frequencies_hz.len()];
        for (index, &f) in frequencies_hz.iter().enumerate() {
            for (run, z) in network.runs.iter().zip(&series_ohm[index]) {
                branch_s[index][run.slot] += z.inv();
                let half = Complex64::new(0.0, 0.5 * omega(f) * run.capacitance_f);
                ground_s[index][run.from] += half;
                ground_s[index][run.to] += half;
            }
            for (load, y) in network.loads.iter().zip(&load_s[index]) {
                match load.series {
                    None => ground_s[index][load.joint] += y,
                    Some((_, slot)) => branch_s[index][slot] += y,
                }
            }
        }
        let frequencies_hz = frequencies_hz.to_vec();
        Ok(Self { network: network.clone(), frequencies_hz, series_ohm, load_s, branch_s, ground_s })
    }

    /// The network probed.
    #[must_use]
    pub fn network(&self) -> &Network {
        &self.network
    }

    /// The frequencies in Hz.
    #[must_use]
    pub fn frequencies_hz(&self) -> &[f64] {
        &self.frequencies_hz
    }

    /// Admittance of a load as designed in S, per frequency; zero for an unknown load.
    #[must_use]
    pub fn load_admittance_s(&self, load: usize) -> Vec<Complex64> {
        self.load_s.iter().map(|loads| loads.get(load).copied().unwrap_or(ZERO)).collect()
    }

    /// Impedance at the source joint in ohm with `changes` applied, per frequency; `None` for an open line. Changes of
    /// joints, runs or loads the network does not have are passed over.
    #[must_use]
    pub fn read(&self, changes: &[Change]) -> Vec<Option<Complex64>> {
        (0..self.frequencies_hz.len())
            .map(|f| {
                let (mut branch, mut ground) = self.changed(f, changes);
                fold(&self.network, &mut branch, &mut ground, None);
                inverse(ground[self.network.source])
            })
            .collect()
    }

    /// As [`Probe::read`], with the sensitivities.
    #[must_use]
    pub fn examine(&self, changes: &[Change]) -> Vec<Examined> {
        (0..self.frequencies_hz.len()).map(|f| self.examine_at(f, changes)).collect()
    }

    fn examine_at(&self, f: usize, changes: &[Change]) -> Examined {
        let network = &self.network;
        let (mut branch, mut ground) = self.changed(f, changes);
        let mut inverses = vec![ZERO; network.plan.steps.len()];
        fold(network, &mut branch, &mut ground, Some(&mut inverses));
        let impedance_ohm = inverse(ground[network.source]);
        let mut volts = vec![ZERO; network.joints.len()];
        volts[network.source] = impedance_ohm.unwrap_or(ZERO);
        for (step, inverse) in network.plan.steps.iter().zip(&inverses).rev() {
            let around = &network.plan.neighbours[step.first..step.first + step.count];
            volts[step.node] =
                around.iter().map(|&(next, slot)| branch[slot] * volts[next]).sum::<Complex64>() * inverse;
        }
        let capacitance_ohm = self.capacitance_sensitivity(f, changes, &volts);
        let mut per_run: Vec<_> = network
            .runs
            .iter()
            .zip(&self.series_ohm[f])
            .map(|(run, z)| (volts[run.from] - volts[run.to]).powu(2) / z)
            .collect();
        let mut per_load: Vec<_> = network
            .loads
            .iter()
            .zip(&self.load_s[f])
            .map(|(load, y)| across(load, &volts).powu(2) * y)
            .collect();
        for change in changes {
            match *change {
                // One length error moves both halves; the near one carries the current.
                Change::Cut { run, .. } if run < per_run.len() => per_run[run] = ZERO,
                Change::ShortAlong { run, fraction, ohm } if run < per_run.len() => {
                    let (z, ends) = (self.series_ohm[f][run], &network.runs[run]);
                    per_run[run] = short_sensitivity(z, fraction, ohm, volts[ends.from], volts[ends.to]);
                }
                Change::Series { run, ohm } if run < per_run.len() => {
                    let (z, ends) = (self.series_ohm[f][run], &network.runs[run]);
                    per_run[run] = ((volts[ends.from] - volts[ends.to]) / (z + ohm)).powu(2) * z;
                }
                Change::Missing { load } if load < per_load.len() => per_load[load] = ZERO,
                Change::Replaced { load, ref admittance_s } if load < per_load.len() => {
                    let v = across(&network.loads[load], &volts);
                    per_load[load] = v.powu(2) * admittance_s.get(f).copied().unwrap_or(ZERO);
                }
                _ => {}
            }
        }
        let per_run_resistance_ohm = per_run
            .iter()
            .zip(&self.series_ohm[f])
            .zip(&network.runs)
            .map(|((d, z), run)| d * run.resistance_ohm / z)
            .collect();
        Examined {
            impedance_ohm,
            per_run_ohm: per_run,
            per_run_resistance_ohm,
            per_load_ohm: per_load,
            capacitance_ohm,
        }
    }

    /// dZ = - sum V^2 dY over the halves of every run's capacitance; a cut run's halves are its stubs.
    fn capacitance_sensitivity(&self, f: usize, changes: &[Change], volts: &[Complex64]) -> Complex64 {
        let omega = std::f64::consts::TAU * self.frequencies_hz[f];
        let sum = self.network.runs.iter().enumerate().map(|(index, run)| {
            let cut = changes.iter().find_map(|change| match *change {
                Change::Cut { run, fraction } if run == index => Some(fraction),
                _ => None,
            });
            let near = cut.unwrap_or(0.5);
            let total = Complex64::new(0.0, omega * run.capacitance_f);
            total * (near * volts[run.from].powu(2) + (1.0 - near) * volts[run.to].powu(2))
        });
        -sum.sum::<Complex64>()
    }

    /// Branches and admittances to ground at frequency index `f` with `changes` applied.
    pub(crate) fn changed(&self, f: usize, changes: &[Change]) -> (Vec<Complex64>, Vec<Complex64>) {
        go_on();
        let (mut branch, mut ground) = (self.branch_s[f].clone(), self.ground_s[f].clone());
        branch.resize(self.network.plan.slots, ZERO);
        let omega = std::f64::consts::TAU * self.frequencies_hz[f];
        for change in changes {
            match *change {
                Change::Cut { run, fraction } => {
                    let Some(cut) = self.network.runs.get(run) else { continue };
                    remove(&mut branch[cut.slot], self.series_ohm[f][run], self.is_alone(run));
                    // The stubs keep their own capacitance.
                    let moved = Complex64::new(0.0, omega * cut.capacitance_f * (fraction - 0.5));
                    ground[cut.from] += moved;
                    ground[cut.to] -= moved;
                }
                Change::ShortAlong { run, fraction, ohm } => {
                    let Some(short) = self.network.runs.get(run) else { continue };
                    let z = self.series_ohm[f][run];
                    remove(&mut branch[short.slot], z, self.is_alone(run));
                    let (near, far) = split(z, fraction);
                    let contact = Complex64::from(ohm.max(1e-9).recip());
                    let sum = near + far + contact;
                    branch[short.slot] += near * far / sum;
                    ground[short.from] += near * contact / sum;
                    ground[short.to] += far * contact / sum;
                }
                Change::Series { run, ohm } => {
                    let Some(corroded) = self.network.runs.get(run) else { continue };
                    let z = self.series_ohm[f][run];
                    remove(&mut branch[corroded.slot], z, self.is_alone(run));
                    branch[corroded.slot] += (z + ohm).inv();
                }
                Change::Across { joint, ohm } => {
                    if let Some(cell) = ground.get_mut(joint) {
                        *cell += ohm.max(1e-9).recip();
                    }
                }
                Change::Missing { load } => self.replace(f, load, ZERO, &mut branch, &mut ground),
                Change::Replaced { load, ref admittance_s } => {
                    if let Some(&y) = admittance_s.get(f) {
                        self.replace(f, load, y, &mut branch, &mut ground);
                    }
                }
                Change::Added { joint, ref admittance_s } => {
                    if let (Some(cell), Some(y)) = (ground.get_mut(joint), admittance_s.get(f)) {
                        *cell += y;
                    }
                }
            }
        }
        (branch, ground)
    }

    /// Swaps a load's admittance without leaving rounding behind where it was the only one.
    fn replace(
        &self,
        f: usize,
        load: usize,
        new: Complex64,
        branch: &mut [Complex64],
        ground: &mut [Complex64],
    ) {
        let (Some(replaced), Some(&old)) = (self.network.loads.get(load), self.load_s[f].get(load)) else {
            return;
        };
        let cell = match replaced.series {
            None => &mut ground[replaced.joint],
            Some((_, slot)) => &mut branch[slot],
        };
        let rest = *cell - old;
        *cell = new + if rest.norm() <= 1e-14 * old.norm() { ZERO } else { rest };
    }

    /// Nothing else lies beside this run.
    fn is_alone(&self, run: usize) -> bool {
        let slot = self.network.runs[run].slot;
        self.network.branches().filter(|other| other.slot == slot).count() == 1
    }
}

/// Voltage a load stands across.
fn across(load: &NetLoad, volts: &[Complex64]) -> Complex64 {
    volts[load.joint] - load.series.map_or(ZERO, |(to, _)| volts[to])
}

fn remove(branch: &mut Complex64, series_ohm: Complex64, alone: bool) {
    *branch = if alone { ZERO } else { *branch - series_ohm.inv() };
}

/// Admittances of the parts of a run before and after `fraction`.
fn split(z: Complex64, fraction: f64) -> (Complex64, Complex64) {
    let fraction = fraction.clamp(1e-6, 1.0 - 1e-6);
    ((z * fraction).inv(), (z * (1.0 - fraction)).inv())
}

/// Both parts of a shorted run grow together: sum of I^2 z over the two.
fn short_sensitivity(z: Complex64, fraction: f64, ohm: f64, from: Complex64, to: Complex64) -> Complex64 {
    let (near, far) = split(z, fraction);
    let contact = ohm.max(1e-9).recip();
    let middle = (near * from + far * to) / (near + far + contact);
    (from - middle).powu(2) * near + (to - middle).powu(2) * far
}

fn fold(
    network: &Network,
    branch: &mut [Complex64],
    ground: &mut [Complex64],
    mut inverses: Option<&mut Vec<Complex64>>,
) {
    let plan = &network.plan;
    for (index, step) in plan.steps.iter().enumerate() {
        let around = &plan.neighbours[step.first..step.first + step.count];
        let own = ground[step.node];
        let sum = around.iter().fold(own, |sum, &(_, slot)| sum + branch[slot]);
        // A part that is cut off and has nothing on it: no current, no voltage.
        let inverse = inverse(sum).unwrap_or(ZERO);
        for &(next, slot) in around {
            ground[next] += branch[slot] * own * inverse;
        }
        let mut fill = step.first_fill;
        for j in 1..around.len() {
            let share = branch[around[j].1] * inverse;
            for &(_, slot) in &around[..j] {
                let through = branch[slot] * share;
                branch[plan.fill[fill]] += through;
                fill += 1;
            }
        }
        if let Some(inverses) = inverses.as_deref_mut() {
            inverses[index] = inverse;
        }
    }
}

fn inverse(value: Complex64) -> Option<Complex64> {
    (value.norm_sqr() > 0.0).then(|| value.inv())
}
