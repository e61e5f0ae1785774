//! Solving a network: voltages at all joints, currents in all runs, power in all loudspeakers, at all frequencies.
//!
//! Complex nodal analysis by the elimination of [`crate::elimination`], eight frequencies at a time. The source is an
//! ideal voltage behind a resistance. The cost is linear in joints on a tree.
//! Checked against: ngspice AC analysis (`checks/test_network_ngspice.py`), a dense nodal solve, power balance and
//! reciprocity (property tests).

use loamline_limits::go_on;
use num_complex::Complex64;

use crate::elimination::Elimination;
use crate::error::InputError;
use crate::lanes::{Lanes, WIDTH};
use crate::line::{LoadResponse, Source};
use crate::network::Network;

/// A solved network. Joints, runs and loads are indexed as in the [`Network`], frequencies as asked.
#[derive(Debug, Clone)]
pub struct Solution {
    frequencies_hz: Vec<f64>,
    source: Source,
    joint_v: Vec<Complex64>,
    /// What run currents follow from: ends, resistance, inductance. Currents are worked out when asked for, which
    /// spares a third of the memory of a large line.
    runs: Vec<(usize, usize, f64, f64)>,
    /// Joints each load stands between; the second is absent across the line.
    loads: Vec<(usize, Option<usize>)>,
    load_v: Vec<Complex64>,
    load_w: Vec<f64>,
    admittance_s: Vec<Complex64>,
}

impl Network {
    /// Solves at `frequencies_hz` (each zero or more; zero is DC, where capacitors are open and coils are wire).
    ///
    /// # Errors
    /// A frequency that is negative or not a number, an empty list, a source value outside its range.
    pub fn solve(&self, source: &Source, frequencies_hz: &[f64]) -> Result<Solution, InputError> {
        source.check()?;
        if frequencies_hz.is_empty() {
            return Err(InputError::Empty { place: "line".to_owned(), quantity: "list of frequencies" });
        }
        for &f in frequencies_hz {
            InputError::check_not_negative("line", "frequency", "Hz", f)?;
        }
        let count = frequencies_hz.len();
        let zero = Complex64::new(0.0, 0.0);
        let mut solution = Solution {
            frequencies_hz: frequencies_hz.to_vec(),
            source: *source,
            joint_v: vec![zero; self.joints.len() * count],
            runs: self
                .runs
                .iter()
                .map(|run| (run.from, run.to, run.resistance_ohm, run.inductance_h))
                .collect(),
            loads: self.loads.iter().map(|load| (load.joint, load.series.map(|(to, _)| to))).collect(),
            load_v: vec![zero; self.loads.len() * count],
            load_w: vec![0.0; self.loads.len() * count],
            admittance_s: vec![zero; count],
        };
        let mut work = Work::new(self);
        for first in (0..count).step_by(WIDTH) {
            work.solve_block(self, &mut solution, first);
        }
        Ok(solution)
    }
}

impl Network {
    /// Admittance at the source joint in S at frequencies already known to be possible; half the work of a solution.
    pub(crate) fn line_admittance(&self, frequencies_hz: &[f64]) -> Vec<Complex64> {
        let mut work = Work::new(self);
        let mut admittance = Vec::with_capacity(frequencies_hz.len());
        for block in frequencies_hz.chunks(WIDTH) {
            work.load(self, lane_frequencies(block), |_, _| ());
            fold(&self.plan, &mut work.branch, &mut work.ground, &mut work.inverse);
            admittance.extend((0..block.len()).map(|lane| work.ground[self.source].get(lane)));
        }
        admittance
    }
}

/// A load in series conducts this much more, S: nothing against any load, and what is behind one that blocks direct current
/// still has a voltage.
const BLOCKED_S: f64 = 1e-18;

/// The first frequencies of `left`, one per lane; lanes past the last repeat it and are not read.
fn lane_frequencies(left: &[f64]) -> [f64; WIDTH] {
    let last = left.len().min(WIDTH) - 1;
    std::array::from_fn(|lane| left[lane.min(last)])
}

/// Buffers of one block of frequencies.
struct Work {
    branch: Vec<Lanes>,
    ground: Vec<Lanes>,
    inverse: Vec<Lanes>,
}

impl Work {
    fn new(network: &Network) -> Self {
        Self {
            branch: vec![Lanes::ZERO; network.plan.slots],
            ground: vec![Lanes::ZERO; network.joints.len()],
            inverse: vec![Lanes::ZERO; network.plan.steps.len()],
        }
    }

    /// Fills in branches and admittances to ground at `hz`.
    fn load(
        &mut self,
        network: &Network,
        hz: [f64; WIDTH],
        mut each_load: impl FnMut(usize, &[LoadResponse; WIDTH]),
    ) {
        let omega = hz.map(|f| std::f64::consts::TAU * f);
        self.branch.fill(Lanes::ZERO);
        self.ground.fill(Lanes::ZERO);
        for run in &network.runs {
            self.branch[run.slot] += Lanes::from_fn(|lane| run.series_ohm(omega[lane])).inv();
            let half = Lanes::from_fn(|lane| Complex64::new(0.0, 0.5 * omega[lane] * run.capacitance_f));
            self.ground[run.from] += half;
            self.ground[run.to] += half;
        }
        for (index, load) in network.loads.iter().enumerate() {
            let responses: [_; WIDTH] = std::array::from_fn(|lane| load.response(hz[lane]));
            let admittance = Lanes::from_fn(|lane| responses[lane].admittance_s);
            match load.series {
                None => self.ground[load.joint] += admittance,
                Some((_, slot)) => {
                    self.branch[slot] += admittance + Lanes::from_fn(|_| Complex64::from(BLOCKED_S));
                }
            }
            each_load(index, &responses);
        }
    }

    fn solve_block(&mut self, network: &Network, out: &mut Solution, first: usize) {
        go_on();
        let count = out.frequencies_hz.len();
        let used = WIDTH.min(count - first);
        let hz: [f64; WIDTH] = lane_frequencies(&out.frequencies_hz[first..]);
        self.load(network, hz, |index, responses| {
            for (lane, response) in responses.iter().enumerate().take(used) {
                // Per volt across it; scaled once the voltage is known.
                out.load_v[index * count + first + lane] = response.loudspeaker_ratio;
                out.load_w[index * count + first + lane] = response.loudspeaker_w_per_v2;
            }
        });
        fold(&network.plan, &mut self.branch, &mut self.ground, &mut self.inverse);
        let input = self.ground[network.source];
        let source = out.source;
        self.ground[network.source] = Lanes::from_fn(|lane| {
            source.open_circuit_v / (1.0 + source.output_impedance_ohm * input.get(lane))
        });
        unfold(&network.plan, &self.branch, &mut self.ground, &self.inverse);
        let volts = &self.ground;
        for (lane, at) in (first..first + used).enumerate() {
            out.admittance_s[at] = input.get(lane);
        }
        for (joint, v) in volts.iter().enumerate() {
            for (lane, cell) in out.joint_v[joint * count + first..][..used].iter_mut().enumerate() {
                *cell = v.get(lane);
            }
        }
        for (index, load) in network.loads.iter().enumerate() {
            for lane in 0..used {
                let beyond = load.series.map_or(Complex64::new(0.0, 0.0), |(to, _)| volts[to].get(lane));
                let v = volts[load.joint].get(lane) - beyond;
                out.load_v[index * count + first + lane] *= v;
                out.load_w[index * count + first + lane] *= v.norm_sqr();
            }
        }
    }
}

/// Eliminates all joints but the root; leaves the network's input admittance at the root's `ground`.
fn fold(plan: &Elimination, branch: &mut [Lanes], ground: &mut [Lanes], inverse: &mut [Lanes]) {
    for (step, inverse) in plan.steps.iter().zip(inverse) {
        let around = &plan.neighbours[step.first..step.first + step.count];
        let own = ground[step.node];
        let sum = around.iter().fold(own, |sum, &(_, slot)| sum + branch[slot]);
        *inverse = sum.inv();
        for &(next, slot) in around {
            ground[next] += branch[slot] * own * *inverse;
        }
        let mut fill = step.first_fill;
        for j in 1..around.len() {
            let share = branch[around[j].1] * *inverse;
            for &(_, slot) in &around[..j] {
                let through = branch[slot] * share;
                branch[plan.fill[fill]] += through;
                fill += 1;
            }
        }
    }
}

/// Spreads the root's voltage (in `volts[root]`) to all joints, each a weighted mean of its neighbours.
fn unfold(plan: &Elimination, branch: &[Lanes], volts: &mut [Lanes], inverse: &[Lanes]) {
    for (step, inverse) in plan.steps.iter().zip(inverse).rev() {
        let around = &plan.neighbours[step.first..step.first + step.count];
        let sum = around.iter().fold(Lanes::ZERO, |sum, &(next, slot)| sum + branch[slot] * volts[next]);
        volts[step.node] = sum * *inverse;
    }
}

impl Solution {
    /// The frequencies solved at, Hz, as asked.
    #[must_use]
    pub fn frequencies_hz(&self) -> &[f64] {
        &self.frequencies_hz
    }

    /// The source the network was solved with.
    #[must_use]
    pub fn source(&self) -> Source {
        self.source
    }

    /// Voltages at a joint in V RMS, per frequency, phase relative to the source. Empty for an unknown joint.
    #[must_use]
    pub fn joint_v(&self, joint: usize) -> &[Complex64] {
        row(&self.joint_v, joint, self.frequencies_hz.len())
    }

    /// Voltages a load stands across in V RMS, per frequency: that of its joint, or in series its part of it. Empty for an
    /// unknown load.
    #[must_use]
    pub fn load_across_v(&self, load: usize) -> Vec<Complex64> {
        match self.loads.get(load) {
            Some(&(joint, None)) => self.joint_v(joint).to_vec(),
            Some(&(joint, Some(to))) => {
                self.joint_v(joint).iter().zip(self.joint_v(to)).map(|(a, b)| a - b).collect()
            }
            None => Vec::new(),
        }
    }

    /// Currents through a run's series impedance from its `from` to its `to` end in A RMS, per frequency. Empty for an
    /// unknown run.
    #[must_use]
    pub fn run_a(&self, run: usize) -> Vec<Complex64> {
        let Some(&(from, to, resistance_ohm, inductance_h)) = self.runs.get(run) else { return Vec::new() };
        self.joint_v(from)
            .iter()
            .zip(self.joint_v(to))
            .zip(&self.frequencies_hz)
            .map(|((from, to), f)| {
                (from - to) / Complex64::new(resistance_ohm, std::f64::consts::TAU * f * inductance_h)
            })
            .collect()
    }

    /// Power lost in a run in W, per frequency. Empty for an unknown run.
    #[must_use]
    pub fn run_loss_w(&self, run: usize) -> Vec<f64> {
        let resistance_ohm = self.runs.get(run).map_or(0.0, |run| run.2);
        self.run_a(run).iter().map(|current| resistance_ohm * current.norm_sqr()).collect()
    }

    /// Voltages at a load's loudspeaker terminals in V RMS, per frequency.
    #[must_use]
    pub fn loudspeaker_v(&self, load: usize) -> &[Complex64] {
        row(&self.load_v, load, self.frequencies_hz.len())
    }

    /// Power in a load's loudspeaker in W, per frequency.
    #[must_use]
    pub fn loudspeaker_w(&self, load: usize) -> &[f64] {
        row(&self.load_w, load, self.frequencies_hz.len())
    }

    /// Admittance of the network at its source joint in S, per frequency; zero where nothing is connected.
    #[must_use]
    pub fn line_admittance_s(&self) -> &[Complex64] {
        &self.admittance_s
    }

    /// Impedance of the line at its source joint in ohm; `None` where no current flows at all.
    #[must_use]
    pub fn line_impedance_ohm(&self, frequency: usize) -> Option<Complex64> {
        let admittance = *self.admittance_s.get(frequency)?;
        (admittance.norm() > 0.0).then(|| admittance.inv())
    }

    /// Current out of the source in A RMS; zero for a frequency index out of range.
    #[must_use]
    pub fn source_a(&self, frequency: usize) -> Complex64 {
        self.admittance_s.get(frequency).map_or(Complex64::new(0.0, 0.0), |&y| {
            self.source.open_circuit_v * y / (1.0 + self.source.output_impedance_ohm * y)
        })
    }

    /// Open-circuit voltage over source current in ohm: the line's impedance plus the source's own; `None` where no
    /// current flows at all.
    #[must_use]
    pub fn source_impedance_ohm(&self, frequency: usize) -> Option<Complex64> {
        self.line_impedance_ohm(frequency).map(|z| z + self.source.output_impedance_ohm)
    }

    /// Power the source gives to the line at its joint in W (its own resistance's loss not counted).
    #[must_use]
    pub fn line_w(&self, frequency: usize) -> f64 {
        self.admittance_s.get(frequency).map_or(0.0, |&y| {
            let joint_v = self.source.open_circuit_v / (1.0 + self.source.output_impedance_ohm * y);
            joint_v.norm_sqr() * y.re
        })
    }
}

fn row<T>(cells: &[T], index: usize, width: usize) -> &[T] {
    cells.get(index * width..(index + 1) * width).unwrap_or(&[])
}
