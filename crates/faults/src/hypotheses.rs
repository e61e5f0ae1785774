//! Everything that may be wrong with a line, with its prior probability.
//!
//! A fault with an unknown size (where along a run, how many ohms) is a grid of points that share its prior; the spacing
//! of the grid counts as an error of its own, so a reading between two points is not held against it.

use std::sync::Arc;

use loamline_electrics::{Change, Connection, Line, Load, Network};
use serde::{Deserialize, Serialize};

/// A fault, by the names of the line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(tag = "kind", rename_all = "snake_case")]
#[expect(missing_docs, reason = "fields are the names of runs, joints, loads and lines")]
pub enum Fault {
    /// Nothing is wrong.
    Healthy,
    /// A run is open: cut, or off at a splice.
    Open { run: String },
    /// The conductors of a run touch somewhere along it: a staple, a spade.
    ShortAlong { run: String },
    /// The conductors touch at a joint.
    ShortAt { joint: String },
    /// A splice at an end of a run has gone high: corrosion.
    HighSplice { run: String },
    /// Water leaks current across a joint.
    Wet { joint: String },
    /// A loudspeaker is set to another tap, W.
    WrongTap { load: String, tap_w: f64 },
    /// A loudspeaker's switch is on low impedance.
    LowImpedance { load: String },
    /// A loudspeaker is missing, dead or not connected.
    Missing { load: String },
    /// The line on these terminals is another one.
    Swapped { line: String },
    /// Behind a joint this line goes on as another one.
    SwappedAt { joint: String, line: String },
    /// Two faults at once, neither of them healthy, swapped or two.
    Two {
        #[cfg_attr(feature = "schema", schema(no_recursion))]
        first: Box<Fault>,
        #[cfg_attr(feature = "schema", schema(no_recursion))]
        second: Box<Fault>,
    },
}

impl Fault {
    /// The single faults it is made of.
    #[must_use]
    pub fn parts(&self) -> Vec<&Self> {
        match self {
            Self::Two { first, second } => vec![first, second],
            one => vec![one],
        }
    }
}

/// Prior weights; they need not add up to one. Defaults are common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Priors {
    /// Nothing wrong.
    pub healthy: f64,
    /// Each open run.
    pub open: f64,
    /// Each run shorted somewhere.
    pub short_along: f64,
    /// Each shorted joint.
    pub short_at: f64,
    /// Each splice gone high.
    pub high_splice: f64,
    /// Each wet joint.
    pub wet: f64,
    /// Each loudspeaker on a wrong tap (shared over its taps).
    pub wrong_tap: f64,
    /// Each loudspeaker on low impedance.
    pub low_impedance: f64,
    /// Each missing loudspeaker.
    pub missing: f64,
    /// Each other line swapped in.
    pub swapped: f64,
    /// Each other line swapped in at a joint both come through.
    pub swapped_at: f64,
    /// All pairs of faults together against all single faults together; among the pairs a pair has its share by the
    /// product of the weights of the two. Counts only where pairs are asked for.
    pub two: f64,
}

impl Default for Priors {
    fn default() -> Self {
        Self {
            healthy: 50.0,
            open: 2.0,
            short_along: 1.0,
            short_at: 1.0,
            high_splice: 1.5,
            wet: 1.0,
            wrong_tap: 1.5,
            low_impedance: 1.0,
            missing: 1.5,
            swapped: 1.0,
            swapped_at: 0.5,
            two: 0.25,
        }
    }
}

/// One departure from the drawing.
#[derive(Debug, Clone)]
pub(crate) enum Alteration {
    /// Of the network.
    Network(Change),
    /// A load that is another one.
    Load {
        /// Which.
        index: usize,
        /// What it is instead.
        load: Arc<Load>,
    },
}

/// One point of a hypothesis.
#[derive(Debug, Clone)]
pub(crate) struct Point {
    pub(crate) alterations: Vec<Alteration>,
    /// Share of the run from its `from` end, or ohm.
    pub(crate) parameter: Option<f64>,
    /// The same of the second of two faults.
    pub(crate) second_parameter: Option<f64>,
    /// Of two faults: the points before and after this one along each grid. Those of a single fault stand beside each other
    /// in its hypothesis.
    pub(crate) neighbours: Vec<Neighbours>,
}

/// The neighbours of a point along one grid.
#[derive(Debug, Clone)]
pub(crate) struct Neighbours {
    pub(crate) before: Vec<Alteration>,
    pub(crate) after: Vec<Alteration>,
    /// How many steps lie between them.
    pub(crate) steps: f64,
}

impl Point {
    /// Nothing wrong.
    pub(crate) fn good() -> Self {
        Self::new(Vec::new(), None)
    }

    /// The conductors touch at a joint.
    pub(crate) fn short_at(joint: usize) -> Self {
        Self::new(vec![Alteration::Network(Change::Across { joint, ohm: CONTACT_OHM })], None)
    }

    fn new(alterations: Vec<Alteration>, parameter: Option<f64>) -> Self {
        Self { alterations, parameter, second_parameter: None, neighbours: Vec::new() }
    }
}

/// A fault with its prior weight and its grid.
#[derive(Debug, Clone)]
pub(crate) struct Hypothesis {
    pub(crate) fault: Fault,
    pub(crate) weight: f64,
    pub(crate) points: Vec<Point>,
    /// Index into the lines that may be on the terminals instead, for a swap.
    pub(crate) swapped_with: Option<usize>,
    /// Points along the grid of each of its (at most two) faults; some of their products may have been left out.
    pub(crate) lattice: [usize; 2],
}

/// How many points unknown sizes have.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Grid {
    /// Places of a short along a run. Fewer blur the distance; more cost time in proportion.
    shorts: usize,
    /// Places of a cut along a run: they matter only where the cable's own capacitance is all a meter sees.
    cuts: usize,
    /// Sizes of a resistance. Fewer blur it; more cost time in proportion.
    sizes: usize,
}

/// For one fault.
pub(crate) const FINE: Grid = Grid { shorts: 9, cuts: 3, sizes: 13 };
/// For each of two.
pub(crate) const COARSE: Grid = Grid { shorts: 5, cuts: 1, sizes: 9 };

/// Resistance of a contact between shorted conductors, ohm (from memory: crushed copper reads a few hundredths).
const CONTACT_OHM: f64 = 0.03;
/// A splice gone high, ohm: below, it does no harm; above, it is open.
const SPLICE_OHM: [f64; 2] = [0.5, 500.0];
/// A wet joint, ohm: below, it is a short; above, no meter at the rack sees it.
const WET_OHM: [f64; 2] = [20.0, 10_000.0];

/// Every hypothesis about `line`; `swaps` are the ways it may have been swapped with others.
pub(crate) fn hypotheses(
    line: &Line,
    network: &Network,
    swaps: &[Fault],
    priors: &Priors,
    grid: Grid,
) -> Vec<Hypothesis> {
    let network_point = |change, parameter| Point::new(vec![Alteration::Network(change)], parameter);
    let mut all = Vec::new();
    let mut push = |fault, weight, points: Vec<Point>, swapped_with| {
        let lattice = [points.len(), 1];
        all.push(Hypothesis { fault, weight, points, swapped_with, lattice });
    };
    push(Fault::Healthy, priors.healthy, vec![Point::good()], None);
    let mut add = |fault, weight, points| push(fault, weight, points, None);
    let share = |k: usize, count: usize| (k as f64 + 0.5) / count as f64;
    for (run, name) in network.run_names().enumerate() {
        let name = || name.to_owned();
        let cuts = (0..grid.cuts).map(|k| share(k, grid.cuts));
        let cuts = cuts.map(|fraction| network_point(Change::Cut { run, fraction }, Some(fraction)));
        add(Fault::Open { run: name() }, priors.open, cuts.collect());
        let shorts = (0..grid.shorts).map(|k| share(k, grid.shorts)).map(|fraction| {
            network_point(Change::ShortAlong { run, fraction, ohm: CONTACT_OHM }, Some(fraction))
        });
        add(Fault::ShortAlong { run: name() }, priors.short_along, shorts.collect());
        let sizes =
            log_grid(SPLICE_OHM, grid.sizes).map(|ohm| network_point(Change::Series { run, ohm }, Some(ohm)));
        add(Fault::HighSplice { run: name() }, priors.high_splice, sizes.collect());
    }
    // What is within a joint's own box is that joint.
    let inner: Vec<usize> = network.series_joints().map(|(_, inner)| inner).collect();
    let joints = network.joints().iter().enumerate().filter(|(joint, _)| !inner.contains(joint));
    for (joint, name) in joints {
        if joint != network.source_index() {
            add(Fault::ShortAt { joint: name.clone() }, priors.short_at, vec![Point::short_at(joint)]);
        }
        let sizes =
            log_grid(WET_OHM, grid.sizes).map(|ohm| network_point(Change::Across { joint, ohm }, Some(ohm)));
        add(Fault::Wet { joint: name.clone() }, priors.wet, sizes.collect());
    }
    for (index, load) in line.loads.iter().enumerate() {
        let replaced = |connection: Connection| {
            let load = Arc::new(Load { connection, ..load.clone() });
            vec![Point::new(vec![Alteration::Load { index, load }], None)]
        };
        let name = || load.name.clone();
        let missing = network_point(Change::Missing { load: index }, None);
        add(Fault::Missing { load: name() }, priors.missing, vec![missing]);
        if let Connection::Tapped { transformer, tap_w } = &load.connection {
            let wrong: Vec<f64> =
                transformer.taps_w.iter().copied().filter(|tap| (tap / tap_w - 1.0).abs() > 1e-3).collect();
            for tap in &wrong {
                let connection = Connection::Tapped { transformer: transformer.clone(), tap_w: *tap };
                let fault = Fault::WrongTap { load: name(), tap_w: *tap };
                add(fault, priors.wrong_tap / wrong.len() as f64, replaced(connection));
            }
            add(Fault::LowImpedance { load: name() }, priors.low_impedance, replaced(Connection::Direct));
        }
    }
    for (index, fault) in swaps.iter().enumerate() {
        let weight = match fault {
            Fault::SwappedAt { .. } => priors.swapped_at,
            _ => priors.swapped,
        };
        push(fault.clone(), weight, vec![Point::good()], Some(index));
    }
    all
}

fn log_grid([low, high]: [f64; 2], sizes: usize) -> impl Iterator<Item = f64> {
    (0..sizes).map(move |k| low * (high / low).powf(k as f64 / (sizes - 1) as f64))
}
