//! A meter's reading with two changes at once, quickly enough for hundreds of thousands of pairs.
//!
//! A change of the network adds D to its nodal admittances at no more than two joints. From the inverse Z of the nodal matrix
//! the inverse with the change is Z - Z U (1 + D S)^-1 D U' Z, U picking those joints and S = U' Z U (Sherman, Morrison and
//! Woodbury 1950). The first change of a pair updates the whole inverse, the second only the cell of the source: some tens
//! of multiplications instead of a new solution. A cut as the first change, or a load missing in series, where nearly equal
//! numbers would be subtracted, is solved anew.
//!
//! Every joint leaks through [`LEAK_S`], so that a part cut off has a voltage too: of a line of 100 joints a reading of
//! 100 ohm is 1e-4 of itself too low. Meant for finding the pairs worth a closer look.

use loamline_limits::go_on;
use num_complex::Complex64;

use crate::probe::{Change, Probe};

const ZERO: Complex64 = Complex64::new(0.0, 0.0);
const ONE: Complex64 = Complex64::new(1.0, 0.0);
/// Admittance from every joint to the other conductor in S. Larger falsifies high readings; smaller loses digits in a part
/// that is cut off.
const LEAK_S: f64 = 1e-8;
/// Determinants below this are all rounding: what is cut has nothing to carry on either side, and changes nothing.
const NOTHING: f64 = 1e-6;

/// Inverse nodal matrices of a probe, per frequency.
#[derive(Debug, Clone)]
pub struct TwoChanges<'a> {
    probe: &'a Probe,
    always: Vec<Change>,
    joints: usize,
    /// Per frequency, row by row.
    inverse_ohm: Vec<Vec<Complex64>>,
}

/// What a change adds to the nodal admittances.
#[derive(Debug, Clone, PartialEq)]
pub struct Stamp {
    joints: [usize; 2],
    /// Per frequency: at the first joint, between both, at the second; S.
    added_s: Vec<[Complex64; 3]>,
}

/// The inverse with one change made, as far as a second needs it.
#[derive(Debug, Clone)]
pub struct Altered {
    source: usize,
    joints: usize,
    inverse_ohm: Vec<Vec<Complex64>>,
}

impl<'a> TwoChanges<'a> {
    /// Inverts the nodal matrices of `probe` with `always` applied to them.
    #[must_use]
    pub fn new(probe: &'a Probe, always: &[Change]) -> Self {
        let (joints, always) = (probe.network.joints.len(), always.to_vec());
        let inverse_ohm = (0..probe.frequencies_hz.len()).map(|f| inverse(probe, f, &always)).collect();
        Self { probe, always, joints, inverse_ohm }
    }

    /// What `change` adds; nothing for one of a joint, run or load the network does not have.
    #[must_use]
    pub fn stamp(&self, change: &Change) -> Stamp {
        go_on();
        let network = &self.probe.network;
        let mut joints = [network.source; 2];
        let mut added_s = Vec::with_capacity(self.inverse_ohm.len());
        for f in 0..self.inverse_ohm.len() {
            let (branch, ground) = self.probe.changed(f, std::slice::from_ref(change));
            let (bare_branch, bare_ground) = self.probe.changed(f, &[]);
            let other = network.branches().find(|other| branch[other.slot] != bare_branch[other.slot]);
            let through = other.map_or(ZERO, |other| branch[other.slot] - bare_branch[other.slot]);
            if let Some(other) = other {
                joints = [other.from, other.to];
            } else if let Some(joint) = (0..self.joints).find(|&j| ground[j] != bare_ground[j]) {
                joints = [joint; 2];
            }
            let own = |joint: usize| ground[joint] - bare_ground[joint];
            let second = if joints[0] == joints[1] { ZERO } else { own(joints[1]) + through };
            added_s.push([own(joints[0]) + through, -through, second]);
        }
        Stamp { joints, added_s }
    }

    /// Makes a first change.
    #[must_use]
    pub fn altered(&self, change: &Change) -> Altered {
        go_on();
        let source = self.probe.network.source;
        let cuts = match *change {
            Change::Cut { .. } => true,
            Change::Missing { load } => self.probe.network.load_series_joint(load).is_some(),
            _ => false,
        };
        if cuts {
            let mut changes = self.always.clone();
            changes.push(change.clone());
            let inverse_ohm = (0..self.inverse_ohm.len()).map(|f| inverse(self.probe, f, &changes)).collect();
            return Altered { source, joints: self.joints, inverse_ohm };
        }
        let stamp = self.stamp(change);
        let n = self.joints;
        let [i, j] = stamp.joints;
        let inverse_ohm = self
            .inverse_ohm
            .iter()
            .zip(&stamp.added_s)
            .map(|(z, added)| {
                let m = reduced(added, z[i * n + i], z[i * n + j], z[j * n + j]);
                let mut changed = z.clone();
                for row in 0..n {
                    let (a, b) = (z[row * n + i], z[row * n + j]);
                    let (a, b) = (a * m[0] + b * m[2], a * m[1] + b * m[3]);
                    for column in 0..n {
                        changed[row * n + column] -= a * z[i * n + column] + b * z[j * n + column];
                    }
                }
                changed
            })
            .collect();
        Altered { source, joints: n, inverse_ohm }
    }
}

impl Altered {
    /// Number of frequencies.
    #[must_use]
    pub fn frequencies(&self) -> usize {
        self.inverse_ohm.len()
    }

    /// Impedance at the source joint in ohm at frequency index `f` with a second change made; zero for an index there is none of.
    #[must_use]
    pub fn with(&self, second: &Stamp, f: usize) -> Complex64 {
        let (Some(z), Some(added)) = (self.inverse_ohm.get(f), second.added_s.get(f)) else { return ZERO };
        let n = self.joints;
        let [i, j] = second.joints;
        let m = reduced(added, z[i * n + i], z[i * n + j], z[j * n + j]);
        let (a, b) = (z[self.source * n + i], z[self.source * n + j]);
        z[self.source * n + self.source] - (a * (m[0] * a + m[1] * b) + b * (m[2] * a + m[3] * b))
    }
}

/// The inverse nodal matrix at frequency index `f`, row by row.
fn inverse(probe: &Probe, f: usize, changes: &[Change]) -> Vec<Complex64> {
    let network = &probe.network;
    let n = network.joints.len();
    let (branch, ground) = probe.changed(f, changes);
    let mut y = vec![ZERO; n * n];
    for (joint, own) in ground.iter().enumerate() {
        y[joint * n + joint] = own + LEAK_S;
    }
    let mut done = vec![false; network.plan.slots];
    for between in network.branches() {
        if std::mem::replace(&mut done[between.slot], true) {
            continue;
        }
        let (from, to, through) = (between.from, between.to, branch[between.slot]);
        y[from * n + from] += through;
        y[to * n + to] += through;
        y[from * n + to] -= through;
        y[to * n + from] -= through;
    }
    invert(&mut y, n);
    y
}

/// (1 + D S)^-1 D, row by row.
fn reduced(&[d0, d1, d2]: &[Complex64; 3], s0: Complex64, s1: Complex64, s2: Complex64) -> [Complex64; 4] {
    let (a, b) = (ONE + d0 * s0 + d1 * s1, d0 * s1 + d1 * s2);
    let (c, d) = (d1 * s0 + d2 * s1, ONE + d1 * s1 + d2 * s2);
    let determinant = a * d - b * c;
    if determinant.norm() < NOTHING {
        return [ZERO; 4];
    }
    let scale = determinant.inv();
    [
        (d * d0 - b * d1) * scale,
        (d * d1 - b * d2) * scale,
        (a * d1 - c * d0) * scale,
        (a * d2 - c * d1) * scale,
    ]
}

/// Gauss and Jordan with the largest pivot of each column.
fn invert(y: &mut [Complex64], n: usize) {
    let mut z = vec![ZERO; n * n];
    (0..n).for_each(|k| z[k * n + k] = ONE);
    for column in 0..n {
        let pivot = (column..n)
            .max_by(|&a, &b| y[a * n + column].norm_sqr().total_cmp(&y[b * n + column].norm_sqr()))
            .unwrap_or(column);
        for k in 0..n {
            y.swap(column * n + k, pivot * n + k);
            z.swap(column * n + k, pivot * n + k);
        }
        let inverse = y[column * n + column].inv();
        for k in 0..n {
            y[column * n + k] *= inverse;
            z[column * n + k] *= inverse;
        }
        for row in (0..n).filter(|&row| row != column) {
            let share = y[row * n + column];
            if share == ZERO {
                continue;
            }
            for k in 0..n {
                let (a, b) = (y[column * n + k], z[column * n + k]);
                y[row * n + k] -= share * a;
                z[row * n + k] -= share * b;
            }
        }
    }
    y.copy_from_slice(&z);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        Cable, ConductorSize, Connection, Line, Load, Loudspeaker, Network, Run, Service, TappedTransformer,
        Windings,
    };

    fn line() -> Line {
        let pair = Cable::typical("14 AWG", ConductorSize::Awg(14), 2).pair(20.0).unwrap();
        let transformer = TappedTransformer {
            rated_v: 100.0,
            taps_w: vec![5.0, 10.0],
            insertion_loss_db: 0.5,
            rated_low_hz: 60.0,
            magnetising_inductance_h: None,
            windings: Windings::default(),
            loudspeaker_nominal_ohm: 8.0,
        };
        let run = |k: usize| Run {
            name: format!("R{k}"),
            from: format!("J{}", k / 2),
            to: format!("J{}", k + 1),
            length_m: 7.0 + k as f64,
            pair,
            in_series: false,
            laid: None,
        };
        let load = |k: usize| Load {
            name: format!("L{k}"),
            at: format!("J{}", k + 1),
            connection: Connection::Tapped { transformer: transformer.clone(), tap_w: 10.0 },
            loudspeaker: Loudspeaker::resistance(8.0),
            nominal_ohm: 8.0,
            series_capacitor_f: None,
            in_series: false,
        };
        Line {
            name: "A".to_owned(),
            service: Service::ConstantVoltage { rated_v: 100.0 },
            source_joint: "J0".to_owned(),
            joints: Vec::new(),
            runs: (0..9).map(run).collect(),
            loads: (0..9).map(load).collect(),
        }
    }

    #[test]
    fn two_changes_read_as_the_network_solved_anew() {
        let network = Network::build(&line()).unwrap();
        let frequencies = [0.0, 1000.0, 10_000.0];
        let probe = Probe::new(&network, &frequencies).unwrap();
        let joint = |name: &str| network.joint_index(name).unwrap();
        let changes = [
            Change::Cut { run: 1, fraction: 0.3 },
            Change::Cut { run: 6, fraction: 0.8 },
            Change::ShortAlong { run: 3, fraction: 0.4, ohm: 0.03 },
            Change::Series { run: 2, ohm: 12.0 },
            Change::Across { joint: joint("J4"), ohm: 0.03 },
            Change::Across { joint: joint("J8"), ohm: 500.0 },
            Change::Missing { load: 5 },
            Change::Replaced { load: 0, admittance_s: vec![Complex64::new(0.1, 0.02); 3] },
        ];
        let quick = TwoChanges::new(&probe, &[]);
        let mut compared = 0;
        for a in &changes {
            let altered = quick.altered(a);
            for b in changes.iter().filter(|b| *b != a) {
                let stamp = quick.stamp(b);
                for (f, exact) in probe.read(&[a.clone(), b.clone()]).into_iter().enumerate() {
                    let exact = exact.unwrap();
                    let off = (altered.with(&stamp, f) - exact).norm() / exact.norm();
                    // The leaks of ten joints beside 200 ohm are 2e-5 of it.
                    assert!(off < 5e-5, "{a:?} and {b:?} at {} Hz: {off}", frequencies[f]);
                    compared += 1;
                }
            }
        }
        assert_eq!(compared, 8 * 7 * 3);
    }

    #[test]
    fn a_part_cut_off_does_not_count_whatever_is_wrong_with_it() {
        let probe = Probe::new(&Network::build(&line()).unwrap(), &[0.0, 1000.0]).unwrap();
        let always = [Change::Cut { run: 2, fraction: 1.0 }];
        let quick = TwoChanges::new(&probe, &always);
        let none = Change::Missing { load: 99 };
        let (altered, nothing) = (quick.altered(&none), quick.stamp(&none));
        let exact = probe.read(&always);
        for (f, exact) in exact.into_iter().enumerate() {
            assert!((altered.with(&nothing, f) / exact.unwrap() - 1.0).norm() < 5e-5);
        }
    }
}
